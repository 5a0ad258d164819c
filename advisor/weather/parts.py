"""Parts of a weather cut out and put end to end, every hourly series with the rest."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from advisor.weather.weather import BY_HOUR, Array, Weather, blank


def cut(weather: Weather, begin: int, end: int) -> Weather:
    """The hours `begin` up to `end` of a weather."""
    parts = {name: getattr(weather, name)[..., begin:end] for name in (*BY_HOUR, "members_mm", "starts")}
    return replace(weather, **parts)


def joined(past: Weather, coming: Weather) -> Weather:
    """One series of both, the hours between them unknown, with members of what is to come alone and the sources
    and notes of `coming`, which begins where `past` ends or later."""
    hours = coming.index_at(past.starts_at(0))
    count = coming.hours - hours
    starts = past.starts[0] + np.arange(count) * np.timedelta64(3600, "s")
    whole = blank(past.latitude_deg, past.longitude_deg, past.elevation_m, starts, len(coming.members_mm))
    members: Array = whole.members_mm
    members[:, -hours:] = coming.members_mm
    series: dict[str, Any] = {"members_mm": members}
    for name in BY_HOUR:
        both = getattr(whole, name)
        both[: past.hours] = getattr(past, name)
        both[-hours:] = getattr(coming, name)
        series[name] = both
    return replace(whole, **series, sources=coming.sources, notes=coming.notes)
