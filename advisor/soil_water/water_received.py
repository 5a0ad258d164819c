"""What each zone has received: rain that entered and irrigation by uniformity-aware depth, by hour."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import ceil

import numpy as np

from advisor.lawn.records import Run
from advisor.soil_water.zone_figures import ZoneFigures
from advisor.weather.weather import Array, Weather


@dataclass(frozen=True, slots=True)
class Given:
    """One recorded run: gross depth on a zone, and the depth it is counted as, in mm."""

    zone_index: int
    started_at: datetime
    ended_at: datetime
    gross_mm: float
    effective_mm: float


@dataclass(frozen=True, eq=False, slots=True)
class Water:
    """Water by hour over the whole weather series, past and the source's own forecast.

    Shapes: `rain_mm` liquid at the ground (h,), `net_mm` what entered the soil (z, h), `runoff_mm`
    (z, h), `irrigation_mm` effective irrigation (z, h). `given` the runs behind it, to the minute.
    """

    rain_mm: Array
    net_mm: Array
    runoff_mm: Array
    irrigation_mm: Array
    given: tuple[Given, ...]


def hour_weights(weather: Weather, first: datetime, last: datetime) -> Array:
    """The fraction of each hour that lies in [first, last); shape (h,)."""
    zero = weather.starts_at(0).timestamp()
    begin, end = (first.timestamp() - zero) / 3600.0, (last.timestamp() - zero) / 3600.0
    hours = np.arange(weather.hours, dtype=np.float64)
    return np.asarray(np.clip(np.minimum(hours + 1.0, end) - np.maximum(hours, begin), 0.0, 1.0))


def given_by(runs: Sequence[Run], zones: Sequence[str], figures: Sequence[ZoneFigures]) -> tuple[Given, ...]:
    """The depth of each recorded run.

    A run's depth is what was recorded, else its minutes at the zone's rate. A run without length is
    taken as one minute.
    """
    index = {name: i for i, name in enumerate(zones)}
    given: list[Given] = []
    for run in runs:
        z = index.get(run.zone)
        if z is None or (run.minutes <= 0 and not run.depth_mm):
            continue
        depth = run.depth_mm
        if depth is None:
            depth = run.minutes / 60.0 * figures[z].rate_mm_h
        ended_at = max(run.ended_at, run.started_at + timedelta(minutes=1))
        given.append(Given(z, run.started_at, ended_at, depth, depth / figures[z].multiplier))
    return tuple(given)


def irrigation_by_hour(
    weather: Weather, given: Sequence[Given], zone_index: int, first: datetime, last: datetime
) -> tuple[Array, Array]:
    """Effective and gross depth given to a zone in [first, last), by hour, mm; shape (h,) each.

    A run is spread evenly over the time it took.
    """
    effective, gross = np.zeros(weather.hours), np.zeros(weather.hours)
    zero = weather.starts_at(0).timestamp()
    low, high = (first.timestamp() - zero) / 3600.0, (last.timestamp() - zero) / 3600.0
    for run in given:
        if run.zone_index != zone_index:
            continue
        begin, end = ((t.timestamp() - zero) / 3600.0 for t in (run.started_at, run.ended_at))
        a, b = max(begin, low, 0.0), min(end, high, float(weather.hours))
        if b <= a:
            continue
        for hour in range(int(a), ceil(b)):
            share = (min(hour + 1.0, b) - max(float(hour), a)) / (end - begin)
            effective[hour] += run.effective_mm * share
            gross[hour] += run.gross_mm * share
    return effective, gross
