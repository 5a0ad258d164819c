"""What each zone has received: rain that entered and irrigation by uniformity-aware depth, by hour."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from advisor.advice.zone_facts import ZoneFacts
from advisor.lawn.records import Run
from advisor.weather.weather import Array, Weather


@dataclass(frozen=True, eq=False, slots=True)
class Water:
    """Water by hour over the whole weather series, past and the source's own forecast.

    Shapes: `rain_mm` liquid at the ground (h,), `net_mm` what entered the soil (z, h), `runoff_mm`
    (z, h), `irrigation_mm` effective irrigation (z, h), `gross_irrigation_mm` (z, h).
    `unclear` names the zones with a run whose depth is not known.
    """

    rain_mm: Array
    net_mm: Array
    runoff_mm: Array
    irrigation_mm: Array
    gross_irrigation_mm: Array
    unclear: tuple[str, ...]


def hour_weights(weather: Weather, first: datetime, last: datetime) -> Array:
    """The fraction of each hour that lies in [first, last); shape (h,)."""
    zero = weather.starts_at(0).timestamp()
    begin, end = (first.timestamp() - zero) / 3600.0, (last.timestamp() - zero) / 3600.0
    hours = np.arange(weather.hours, dtype=np.float64)
    return np.asarray(np.clip(np.minimum(hours + 1.0, end) - np.maximum(hours, begin), 0.0, 1.0))


def irrigation_by_hour(
    weather: Weather, runs: Sequence[Run], zones: Sequence[str], facts: Sequence[ZoneFacts]
) -> tuple[Array, tuple[str, ...]]:
    """Gross depth of the recorded runs by zone and hour, mm, shape (z, h), and the zones not clear.

    A run's depth is what was recorded, else its minutes at the zone's rate; it is spread evenly over
    the hours it took.
    """
    gross = np.zeros((len(zones), weather.hours))
    index = {name: i for i, name in enumerate(zones)}
    unclear: set[str] = set()
    zero = weather.starts_at(0).timestamp()
    for run in runs:
        z = index.get(run.zone)
        if z is None or (run.minutes <= 0 and not run.depth_mm):
            continue
        depth = run.depth_mm
        if depth is None:
            depth = run.minutes / 60.0 * facts[z].rate_mm_h
            if facts[z].rate_basis == "guess":
                unclear.add(run.zone)
        begin, end = (run.started_at.timestamp() - zero) / 3600.0, (run.ended_at.timestamp() - zero) / 3600.0
        if end <= 0 or begin >= weather.hours:
            continue
        end = max(end, begin + 1 / 60)
        first, last = max(0, int(begin)), min(weather.hours, int(np.ceil(end)))
        edges = np.clip(np.arange(first, last + 1, dtype=np.float64), begin, end)
        gross[z, first:last] += depth * np.diff(edges) / (end - begin)
    return gross, tuple(name for name in zones if name in unclear)
