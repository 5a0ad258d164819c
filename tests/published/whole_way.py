"""Days of a published example sent the whole way: an hourly file, read, settled, and advised upon.

What the example gives of a day is written into an owner's hourly CSV; `advise` is asked on the evening after,
and what is read is the balance that it hands out, with the values that the program computed on its way there.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from types import ModuleType
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pyet.combination
import pyet.rad_utils
import pytest
from made import made_site

from advisor.advice.advice import Term
from advisor.lawn.records import Records
from advisor.lawn.site_values import Place, Site
from advisor.night import csv_weather, settled
from advisor.science import evapotranspiration, radiation
from advisor.soil_water import reference_et
from advisor.tonight.advise import advise

BEFORE, AFTER = 6, 4
"""Days of the same weather before the one looked at, and after it."""

ROOMS: dict[str, tuple[ModuleType, str]] = {
    "P": (pyet.combination, "calc_press"),
    "gamma": (pyet.combination, "calc_psy"),
    "slope": (pyet.combination, "calc_vpc"),
    "es": (pyet.combination, "calc_es"),
    "ea": (pyet.combination, "calc_ea"),
    "Rn": (pyet.combination, "calc_rad_net"),
    "Rns": (pyet.rad_utils, "calc_rad_short"),
    "Rnl": (pyet.rad_utils, "calc_rad_long"),
    "Ra": (evapotranspiration, "extraterrestrial_radiation"),
    "Rso": (evapotranspiration, "clear_sky_radiation"),
    "Rs of the range": (evapotranspiration, "radiation_from_temperature"),
    "dr": (radiation, "inverse_distance"),
    "declination": (radiation, "declination"),
    "sunset angle": (radiation, "sunset_angle"),
    "u2": (reference_et, "wind_at_2m"),
}
"""Where the program computes each intermediate value: the room that looks the function up, and its name."""


@dataclass(frozen=True)
class Found:
    """What `advise` says of the day, the intermediate values of that day, and what stood in on it."""

    term: Term
    values: Mapping[str, float]
    stand_ins: tuple[str, ...]

    @property
    def eto_mm(self) -> float:
        """Reference evapotranspiration as the balance hands it out, mm."""
        return self.term.eto_mm


@dataclass(frozen=True)
class Example:
    """A place and a day of its year, and by column of the hourly file the values of the day's 24 hours."""

    latitude_deg: float
    elevation_m: float
    day: date
    columns: Mapping[str, Any]
    longitude_deg: float = 0.0
    zone: str = "Etc/UTC"

    def site(self) -> Site:
        """An invented lawn there."""
        place = Place(
            "Example", self.latitude_deg, self.longitude_deg, self.elevation_m, ZoneInfo(self.zone), "metric"
        )
        return made_site(place=place)


def two_halves(at_tmin: float, at_tmax: float) -> np.ndarray:
    """Twelve hours of one value and twelve of the other, as warm as the day becomes from 9 to 21 o'clock."""
    hours = np.arange(24)
    return np.where((hours >= 9) & (hours < 21), at_tmax, at_tmin)


def sun(example_rs: float) -> np.ndarray:
    """A day's radiation over hours of light about noon; the hours add up to the day, MJ/m²/h."""
    light = np.maximum(0.0, np.cos((np.arange(24) + 0.5 - 12.0) / 12.5 * np.pi)) ** 0.8
    return example_rs * light / light.sum()


def through(example: Example, folder: Path) -> Found:
    """The example through the file, the reader, the checks and `advise`."""
    site, local = example.site(), ZoneInfo(example.zone)
    now = datetime.combine(example.day + timedelta(days=1), time(18), local)
    path = folder / "hours.csv"
    _write(path, example, local)
    with recorded() as values:
        weather = settled(csv_weather(path, site, now), Records(), now)
        demand = reference_et.daily_reference_et(weather, local)
        values.clear()
        advice = advise(site=site, records=Records(), weather=weather, now=now)
    term = next(t for t in advice.zones[0].terms if t.day == example.day)
    at = int(np.flatnonzero(demand.days == np.datetime64(example.day))[0])
    picked = {name: _of_the_day(value, example.day, at, len(demand.days)) for name, value in values.items()}
    return Found(term, picked, tuple(str(each) for each in demand.stand_ins[at]))


def _write(path: Path, example: Example, local: ZoneInfo) -> None:
    given = {name: np.broadcast_to(v, (24,)) for name, v in example.columns.items()} | {
        "rain_mm": np.zeros(24)
    }
    with path.open("w", encoding="utf-8", newline="") as file:
        rows = csv.writer(file)
        rows.writerow(["time", *given])
        for shift in range(-BEFORE, AFTER + 1):
            midnight = datetime.combine(example.day + timedelta(days=shift), time(0), local).astimezone(UTC)
            for hour in range(24):
                at = midnight + timedelta(hours=hour)
                rows.writerow([at.isoformat(), *(repr(float(values[hour])) for values in given.values())])


@contextmanager
def recorded() -> Iterator[dict[str, object]]:
    """Writes down what each of `ROOMS` returns while the program runs; the last value stays."""
    values: dict[str, object] = {}

    def listening(name: str, own: Callable[..., object]) -> Callable[..., object]:
        def call(*args: object, **named: object) -> object:
            values[name] = own(*args, **named)
            return values[name]

        return call

    with pytest.MonkeyPatch.context() as patch:
        for name, (room, function) in ROOMS.items():
            patch.setattr(room, function, listening(name, getattr(room, function)))
        yield values


def _of_the_day(value: Any, day: date, at: int, days: int) -> float:
    if isinstance(value, pd.Series):
        return float(value.loc[pd.Timestamp(day)])
    array = np.asarray(value)
    return float(array[at]) if array.shape == (days,) else float(array)
