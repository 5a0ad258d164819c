"""What each zone has received: rain that entered and irrigation by uniformity-aware depth, by hour."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from advisor.lawn import Run
from advisor.science.hour_shares import hour_shares, hour_shares_from, hours_after
from advisor.soil_water.zone_figures import ZoneFigures
from advisor.weather import Array, Weather


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
    """Water that has come by `now`, by hour over the whole weather series; none from then on.

    Shapes: `rain_mm` liquid at the ground (h,), `net_mm` what entered the soil (z, h), `runoff_mm`
    (z, h), `irrigation_mm` effective irrigation (z, h). `given` the runs behind it, to the minute.
    Of the hour of `now` rain holds what the gauge measured alone: a forecast of it is still to come.
    """

    rain_mm: Array
    net_mm: Array
    runoff_mm: Array
    irrigation_mm: Array
    given: tuple[Given, ...]


def hour_weights(weather: Weather, first: datetime, last: datetime) -> Array:
    """The fraction of each hour that lies in [first, last); shape (h,)."""
    return hour_shares(weather.starts_at(0), weather.hours, first, last)


def fallen_weights(weather: Weather, first: datetime, last: datetime, now: datetime) -> Array:
    """The fraction of what has fallen in each hour that lies in [first, last); shape (h,).

    What has fallen in the hour of `now` fell in the part of it that is over.
    """
    weights = hour_weights(weather, first, min(last, now))
    running = weather.index_at(now)
    if 0 <= running < weather.hours and weights[running] > 0.0:
        weights[running] /= hours_after(weather.starts_at(running), now)
    return np.minimum(weights, 1.0)


def before_now(values: Array, begin: int, first: int) -> Array:
    """Hourly amounts (…, h) of water that has come, from `begin` up to the hour `first` of now (…, p).

    What has come in that hour is had with the hour before it, since the balance ahead begins with it.
    """
    past = np.array(values[..., begin:first])
    if first > begin:
        past[..., -1] = np.where(np.isnan(past[..., -1]), 0.0, past[..., -1]) + values[..., first]
    return past


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
    for run in given:
        if run.zone_index != zone_index or run.ended_at <= first or run.started_at >= last:
            continue
        begin, end = max(run.started_at, first), min(run.ended_at, last)
        hour, share = hour_shares_from(weather.starts_at(0), weather.hours, begin, end)
        touched = slice(hour, hour + len(share))
        share /= hours_after(run.started_at, run.ended_at)
        effective[touched] += run.effective_mm * share
        gross[touched] += run.gross_mm * share
    return effective, gross
