"""Plain rules that a careful owner might water the turf by, as strong as they can be made.

They know more than we do: the true depletion of every zone each evening, the true demand of the day that
ends, and what water was truly given. Each is not one rule but a family over triggers, depths or scales,
so that its whole frontier of water against demand unmet is seen. All members of a family are tried
at once, (z, m).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from typing import Protocol

import numpy as np

from advisor.errors import CannotAdvise
from advisor.replay.nights import SeasonNight, season_nights, within_the_night
from advisor.replay.scores import GrassScores, grass_of
from advisor.replay.season import Season, Sky
from advisor.replay.true_lawn import TrueLawn, gross
from advisor.science.turf import crop_coefficient
from advisor.soil_water import LENGTHS, Climate
from advisor.weather import Array

TRIGGERS = (0.5, 0.7, 0.85, 1.0, 1.15, 1.3, 1.5)  # shares of the allowed depletion
REFILLS = (0.4, 0.6, 0.8, 1.0)  # shares of the depletion at the run
SCALES = (0.3, 0.5, 0.7, 0.85, 1.0, 1.15, 1.3, 1.6, 2.0, 2.5)  # of the usual year's need
RAIN_STOP_MM = 6.0  # so much in a day stops a clock's next run (common practice, no source)
HALF = 0.5


@dataclass(frozen=True, eq=False, slots=True)
class Evening:
    """What a rule knows: true depletion (z, m), allowed depletion and the day's use (z,), the hours to the run
    and to the next chance after it, the rain of the last day, and the members' rain until that chance (e,),
    empty where none is told."""

    night: SeasonNight
    depletion_mm: Array
    allowed_mm: Array
    used_mm_d: Array
    fell_mm: float
    told_mm: Array

    @property
    def at_run_mm(self) -> Array:
        """Depletion expected when the run is made, without rain."""
        assert self.night.run is not None
        return self._after(self.night.run)

    @property
    def at_next_mm(self) -> Array:
        """The same at the next chance to run."""
        return self._after(self.night.next)

    def _after(self, hour: int) -> Array:
        used = self.used_mm_d * (hour - self.night.asked) / 24.0
        return np.asarray(self.depletion_mm + used[:, None])


class Family(Protocol):
    """Rules tried at once: their `names`, whether they hear the forecast, and the depths that they put on."""

    names: tuple[str, ...]
    hears: bool

    def begin(self) -> None:
        """Forget what earlier seasons left."""

    def depths(self, evening: Evening) -> Array:
        """Effective depths (z, m) for tonight, mm."""


class Deficit:
    """Run where depletion would pass a share of the allowance by the next chance; fill a share of it.

    `forecast`: "" knows nothing of rain to come, "median" takes half of the members' word for it, "half"
    leaves out the run where at least half of the members bring what it would.
    """

    def __init__(
        self, forecast: str = "", triggers: Sequence[float] = TRIGGERS, refills: Sequence[float] = REFILLS
    ) -> None:
        pairs = list(product(triggers, refills))
        self.forecast, self.hears = forecast, bool(forecast)
        self.trigger, self.refill = (np.array(each) for each in zip(*pairs, strict=True))
        self.names = tuple(f"at {t:.2f} fill {r:.1f}" for t, r in pairs)

    def begin(self) -> None:
        """Nothing is kept from night to night."""

    def depths(self, evening: Evening) -> Array:
        """See `Family`."""
        rain = (
            float(np.median(evening.told_mm)) if self.forecast == "median" and len(evening.told_mm) else 0.0
        )
        wants = evening.at_next_mm - rain >= self.trigger * evening.allowed_mm[:, None]
        depth = np.where(wants, self.refill * np.maximum(evening.at_run_mm - rain, 0.0), 0.0)
        if self.forecast == "half" and len(evening.told_mm):
            brings = (evening.told_mm[None, None, :] >= depth[:, :, None]).mean(axis=2)
            depth = np.where(brings >= HALF, 0.0, depth)
        return np.asarray(depth)


class Clock:
    """A clock by the usual year: each zone's need by month, given whenever the allowance is used up on paper.

    The members are scales of the usual need, as a clock's owner turns it up or down. With `rain_stop` a
    run after a wet day is left out.
    """

    hears = False

    def __init__(
        self, lawn: TrueLawn, climate: Climate, *, rain_stop: bool, scales: Sequence[float] = SCALES
    ):
        months = np.arange(12)
        middle = np.datetime64("2025-01-15") + (months * 30.4).astype(int)
        kc = crop_coefficient(kc_month=np.array([z.turf.kc_month for z in lawn.site.zones]), days=middle)
        kc = np.asarray(kc) * np.array([[z.exposure] for z in lawn.site.zones])
        eto = np.array([m.eto_mm_d for m in climate.months])
        rain = np.array([m.counted_mm for m in climate.months]) / np.array(LENGTHS)
        self.need_mm_d = np.maximum(kc * eto - rain, 0.0)  # (z, 12)
        self.scale, self.rain_stop = np.array(scales), rain_stop
        self.names = tuple(f"× {scale:.2f}" for scale in scales)
        self.bank = np.zeros((len(lawn.site.zones), len(scales)))

    def begin(self) -> None:
        """Nothing is due yet."""
        self.bank[:] = 0.0

    def depths(self, evening: Evening) -> Array:
        """See `Family`."""
        month = evening.night.at.month - 1
        self.bank += self.need_mm_d[:, month][:, None] * self.scale
        due = self.bank >= evening.allowed_mm[:, None] - 0.5 * self.need_mm_d[:, month][:, None]
        depth = np.where(due, self.bank, 0.0)
        self.bank = np.where(due, 0.0, self.bank)
        return np.zeros_like(depth) if self.rain_stop and evening.fell_mm >= RAIN_STOP_MM else depth


@dataclass(frozen=True, slots=True)
class Point:
    """One rule of a family over one season: gross water and the water that it left the soil short of at the end
    (mm), runs a zone, and what the grass had."""

    rule: str
    water_mm: float
    owed_mm: float
    runs: float
    grass: GrassScores

    @property
    def spent_mm(self) -> float:
        """Its water with what it owes: what is to be compared."""
        return self.water_mm + self.owed_mm


def frontier(season: Season, family: Family, sky: Sky) -> tuple[Point, ...]:
    """Every rule of a family lived through a season."""
    irrigation, runs = watered_by(season, family, sky)
    return points(season, family.names, irrigation, runs)


def watered_by(season: Season, family: Family, sky: Sky | None) -> tuple[Array, Array]:
    """What every rule of a family puts on through a season (z, m, h), effective, and its runs of a zone (m,)."""
    lawn, nights = season.lawn, season_nights(season)
    rules = len(family.names)
    irrigation = np.zeros((len(lawn.taw_mm), rules, season.judged.stop))
    state = np.zeros((len(lawn.taw_mm), rules))
    runs = np.zeros(rules)
    family.begin()
    for night in nights:
        if night.run is not None:
            depth = family.depths(told_evening(lawn, night, state, sky if family.hears else None))
            depth = within_the_night(lawn, depth, night.minutes)
            irrigation[:, :, night.run] += depth
            runs += (depth > 0).mean(axis=0)
        hours = slice(night.asked, night.until)
        state = lawn.course(irrigation[:, :, hours], start_mm=state, hours=hours).depletion_mm[:, :, -1]
    return irrigation, runs


def points(season: Season, names: Sequence[str], irrigation: Array, runs: Array) -> tuple[Point, ...]:
    """The rules' seasons reckoned up from the water (z, m, h) that they put on."""
    course = season.course(irrigation)
    takes = gross(season.lawn)[:, None]
    water = (takes * irrigation.sum(axis=2)).mean(axis=0)
    owed = (takes * course.depletion_mm[:, :, -1]).mean(axis=0)
    each = grass_of(season, course)
    return tuple(
        Point(name, float(water[m]), float(owed[m]), float(runs[m]), each[m]) for m, name in enumerate(names)
    )


def told_evening(lawn: TrueLawn, night: SeasonNight, state: Array, sky: Sky | None) -> Evening:
    """What rules know on one evening; the forecast where a `sky` is given."""
    day = slice(max(0, night.asked - 24), night.asked)
    told = np.zeros(0)
    if sky is not None:
        told = _told_mm(sky, night)
    return Evening(
        night=night,
        depletion_mm=state,
        allowed_mm=lawn.allowed_mm[:, night.asked + 12],
        used_mm_d=lawn.etc_mm[:, day].sum(axis=1),
        fell_mm=float(np.nan_to_num(lawn.weather.rain_mm[day]).sum()),
        told_mm=told,
    )


def _told_mm(sky: Sky, night: SeasonNight) -> Array:
    """The rain of each member until the next chance to run, (e,); none on an evening without a forecast."""
    try:
        weather = sky.told_at(night.at)
    except CannotAdvise:
        return np.zeros(0)
    first = weather.index_at(night.at)
    members = weather.members_mm[:, first : first + night.next - night.asked]
    return np.asarray(members[np.isfinite(members).all(axis=1)].sum(axis=1))
