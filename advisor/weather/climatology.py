"""What usually comes, where no forecast can be had: past days of this place stand in for coming ones.

Each member follows another stretch of past days, hour by hour, so that a wet day keeps its shape and
a wet spell its length; everything else is the mean of the past days at that hour.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import Any

import numpy as np

from advisor.advice import Note, NoteKind, NoteLevel
from advisor.science.snow import split
from advisor.weather.hour_grid import seconds
from advisor.weather.weather import Array, SourceUse, Weather, blank

LEAST_DAYS = 14
AHEAD_H = 240
MOST_MEMBERS = 31
MEANS = ("temp_c", "dew_c", "wind10_m_s", "rs_mj_m2_h", "cloud")


def known_days(weather: Weather, until: datetime) -> Array:
    """The UTC days before `until` with all temperatures and rain known: their first hours, shape (d,)."""
    last = min(weather.hours, max(0, weather.index_at(until)))
    known = np.isfinite(weather.temp_c[:last]) & np.isfinite(weather.rain_mm[:last])
    first = int(-(seconds(weather.starts[:1])[0] // 3600) % 24)
    whole = known[first : first + (last - first) // 24 * 24] if last > first else known[:0]
    return np.asarray(first + 24.0 * np.flatnonzero(whole.reshape(-1, 24).all(axis=1)))


def usual_weather(past: Weather, until: datetime, now: datetime) -> Weather | None:
    """`past` up to the hour of `now`, and then ten days as usual; None with under 14 known days before `until`.

    `past` may lie in other years; hours between its end and `now` are unknown.
    """
    days = known_days(past, until).astype(np.int64)
    if len(days) < LEAST_DAYS:
        return None
    take = days[:, None] + np.arange(24)  # (day, hour of day)
    now_h = int(now.timestamp() // 3600)
    starts = (np.arange(now_h, now_h + AHEAD_H) * 3600).astype("datetime64[s]")
    hour = (now_h + np.arange(AHEAD_H)) % 24
    count = min(MOST_MEMBERS, len(days))
    begin = np.arange(count) * len(days) // count
    onward = (now_h % 24 + np.arange(AHEAD_H)) // 24
    rows = (begin[:, None] + onward[None, :]) % len(days)
    rain = past.rain_mm[take]
    ahead: dict[str, Any] = {name: _mean(getattr(past, name)[take])[hour] for name in MEANS}
    mean = rain.mean(axis=0)[hour]
    _, snow = split(mean, ahead["temp_c"])
    weather = blank(past.latitude_deg, past.longitude_deg, past.elevation_m, starts, count)
    use = SourceUse(
        "climatology",
        "in place of a forecast",
        past.sources[0].fetched_at if past.sources else past.starts_at(int(days[-1]) + 24),
        weather.starts_at(AHEAD_H),
        past.sources[0].attribution if past.sources else "",
        count,
    )
    note = Note(level=NoteLevel.WARNING, kind=NoteKind.AS_USUAL, count=len(days))
    return replace(
        weather,
        **ahead,
        rain_mm=mean,
        snow_mm=snow,
        chance=(rain > 0.1).mean(axis=0)[hour],
        members_mm=rain[rows, hour[None, :]],
        rain_basis=np.full(AHEAD_H, "model", dtype="<U8"),
        sources=(use,),
        notes=(note,),
    )


def _mean(values: Array) -> Array:
    """The mean over days of the known values, NaN where none is."""
    known = np.isfinite(values)
    count = known.sum(axis=0)
    total = np.where(known, values, 0.0).sum(axis=0)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)
