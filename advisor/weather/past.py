"""What fell, not what was forecast: the past from the owner's gauge, the archive, then the source.

A gauge total is spread over its hours by what the archive or the source said of those hours, evenly
where they said nothing or nothing fell there; its sum is kept exactly. A later reading so changes the
past, and the advice with it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np

from advisor.lawn.records import ArchivedHour, GaugeReading
from advisor.science.snow import snow_share
from advisor.weather.weather import SERIES, Array, Note, Weather, blank

FIRST_READING_H = 24.0
REACH_DAYS = 45
RECORDS = "the records"
ARCHIVED = ("rain_mm", "temp_c", "dew_c", "wind10_m_s", "rs_mj_m2_h", "snow_mm")


def settle_past(
    weather: Weather, *, gauge: Sequence[GaugeReading], archive: Sequence[ArchivedHour], now: datetime
) -> Weather:
    """`weather` with the hours before `now` as they were measured or archived, longer if these reach back.

    Archived values replace the source's own past. Then the gauge replaces the rain of the time it
    covers: from `since`, else from the reading before, else (the first) 24 hours; in a partly
    covered hour what the model gave for the rest of it stays. `rain_basis` says per hour what the
    rain rests on. Readings that cannot be (ahead of `now`, negative, of no time) are left out and
    told; of two that overlap the later covers only what the earlier left. The series reaches back
    at most 45 days.
    """
    notes: list[Note] = []
    spans = _covered(gauge, now, notes)
    limit = now - timedelta(days=REACH_DAYS)
    past = [hour for hour in archive if limit <= hour.starts_at <= now - timedelta(hours=1)]
    spans = [span for span in spans if span[1] > limit]
    begins = [hour.starts_at for hour in past] + [max(span[0], limit) for span in spans]
    if not begins:
        return replace(weather, notes=(*weather.notes, *notes)) if notes else weather
    settled = reaching(weather, min(begins), max((span[1] for span in spans), default=now))
    settled = with_hours(settled, past, "as archived when they were new", notes)
    if spans:
        settled = _with_gauge(settled, spans, notes)
    return replace(settled, notes=(*settled.notes, *notes))


Span = tuple[datetime, datetime, float]


def _covered(gauge: Sequence[GaugeReading], now: datetime, notes: list[Note]) -> list[Span]:
    """The usable readings as (from, to, mm), in the order of time, none overlapping another."""
    spans: list[Span] = []
    before: datetime | None = None
    for reading in sorted(gauge, key=lambda r: (r.read_at, r.id)):
        told = f"the gauge reading of {reading.read_at.astimezone(UTC):%Y-%m-%d %H:%M} UTC"
        if reading.read_at > now:
            notes.append(Note("warning", f"{told} lies ahead and is left out"))
            continue
        if not math.isfinite(reading.depth_mm) or reading.depth_mm < 0:
            notes.append(Note("warning", f"{told} of {reading.depth_mm:g} mm cannot be and is left out"))
            continue
        since = reading.since
        if since is None:
            since = before
        if since is None:
            since = reading.read_at - timedelta(hours=FIRST_READING_H)
            notes.append(Note("told", f"the first gauge reading is taken to cover {FIRST_READING_H:g} hours"))
        if before is not None and since < before < reading.read_at:
            notes.append(Note("warning", f"{told} overlaps the one before and counts from that one on"))
            since = before
        if before is not None and reading.read_at == before:
            notes.append(Note("warning", f"{told} was entered twice; the last entry counts"))
            since, _, _ = spans.pop()
        if since >= reading.read_at:
            notes.append(Note("warning", f"{told} covers no time and is left out"))
            continue
        spans.append((since, reading.read_at, float(reading.depth_mm)))
        before = reading.read_at
    return spans


def reaching(weather: Weather, first: datetime, last: datetime) -> Weather:
    """`weather` from no later than `first` to no earlier than `last`, the added hours unknown."""
    before = max(0, -weather.index_at(first))
    after = max(0, weather.index_at(last) + 1 - weather.hours)
    if before == after == 0:
        return weather
    count = before + weather.hours + after
    starts = weather.starts[0] + np.arange(-before, count - before) * np.timedelta64(3600, "s")
    place = (weather.latitude_deg, weather.longitude_deg, weather.elevation_m)
    longer = blank(*place, starts, weather.members_mm.shape[0])
    for name in (*SERIES, "members_mm", "rain_basis", "air_from"):
        getattr(longer, name)[..., before : before + weather.hours] = getattr(weather, name)
    return replace(longer, sources=weather.sources, notes=weather.notes)


def with_hours(weather: Weather, past: Sequence[ArchivedHour], told: str, notes: list[Note]) -> Weather:
    """Archived or observed values in place of the source's own, for the hours that have them.

    `told` ends the note "… past hours of rain are …", which is added to `notes`.
    """
    if not past:
        return weather
    zero = weather.starts_at(0).timestamp()
    at = np.array([(hour.starts_at.timestamp() - zero) // 3600 for hour in past], dtype=np.int64)
    inside = (at >= 0) & (at < weather.hours)
    fixed: dict[str, Any] = {}
    rained = np.zeros(weather.hours, dtype=bool)
    for name in ARCHIVED:
        values = np.array([getattr(hour, name) for hour in past], dtype=np.float64)
        known = inside & np.isfinite(values)
        series = getattr(weather, name).copy()
        if name == "snow_mm" and rained.any():
            warm = replace(weather, temp_c=fixed["temp_c"])
            series = _snow(warm, fixed["rain_mm"], rained)
        series[at[known]] = values[known]
        fixed[name] = series
        if name == "rain_mm":
            rained[at[known]] = True
        if name == "temp_c":
            fixed["air_from"] = weather.air_from.copy()
            fixed["air_from"][at[known]] = [
                hour.source or RECORDS for hour, its in zip(past, known, strict=True) if its
            ]
    fixed["rain_basis"] = weather.rain_basis.copy()
    fixed["rain_basis"][rained] = "archive"
    count = int(rained.sum())
    rain = "1 past hour of rain is" if count == 1 else f"{count} past hours of rain are"
    notes.append(Note("told", f"{rain} {told}"))
    return replace(weather, **fixed)


def _with_gauge(weather: Weather, spans: Sequence[Span], notes: list[Note]) -> Weather:
    """The rain and snow of the covered time from the gauge."""
    modelled, hours = weather.rain_mm, np.arange(weather.hours, dtype=np.float64)
    zero = weather.starts_at(0).timestamp()
    measured, covered = np.zeros(weather.hours), np.zeros(weather.hours)
    even = 0
    for since, until, depth in spans:
        begin, end = (since.timestamp() - zero) / 3600.0, (until.timestamp() - zero) / 3600.0
        part = np.clip(np.minimum(hours + 1.0, end) - np.maximum(hours, begin), 0.0, 1.0)
        if not part.any():
            continue
        shape = part * np.nan_to_num(modelled, nan=0.0)
        if depth > 0 and not shape.sum() > 0:
            even += 1
            shape = _even(part, modelled)
        if begin < 0:  # what fell before the series begins is not ours to place
            depth *= (end - max(begin, 0.0)) / (end - begin)
        measured += depth * shape / shape.sum() if depth > 0 else 0.0
        covered += part
    covered = np.minimum(covered, 1.0)
    touched = covered > 0
    rest = (1.0 - covered) * modelled
    unplaced = np.isnan(modelled) & (covered < 0.999)
    rest = np.where(covered >= 0.999, 0.0, np.where(unplaced & (measured > 0), 0.0, rest))
    rain = np.where(touched, measured + rest, modelled)
    basis = weather.rain_basis.copy()
    basis[touched & (covered >= 0.5) & np.isfinite(rain)] = "gauge"
    notes.append(
        Note("told", f"past rain is from {_readings(len(spans))}, spread over the hours by the model")
    )
    if even:
        are = "is" if even == 1 else "are"
        notes.append(Note("told", f"{_readings(even)} {are} spread evenly: the model had no rain there"))
    return replace(weather, rain_mm=rain, snow_mm=_snow(weather, rain, touched), rain_basis=basis)


def _readings(count: int) -> str:
    return "1 gauge reading" if count == 1 else f"{count} gauge readings"


def _even(part: Array, modelled: Array) -> Array:
    """Even weights; an hour of unknown rain that is only partly covered is passed over if it can be."""
    whole = np.where((part < 0.999) & np.isnan(modelled), 0.0, part)
    return whole if whole.sum() > 0 else part


def _snow(weather: Weather, rain: Array, touched: Any) -> Array:
    """Snow in the measured hours: the modelled share of the rain, else the share by temperature."""
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(weather.rain_mm > 0, weather.snow_mm / weather.rain_mm, snow_share(weather.temp_c))
    share = np.where(np.isnan(share), snow_share(weather.temp_c), share)
    share = np.clip(np.nan_to_num(share, nan=0.0), 0.0, 1.0)
    return np.where(touched, rain * share, weather.snow_mm)
