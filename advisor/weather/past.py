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
from functools import partial
from typing import Any

import numpy as np

from advisor.advice import Note, NoteKind, NoteLevel
from advisor.lawn import ArchivedHour, GaugeReading
from advisor.science.hour_shares import hour_shares, hours_after
from advisor.science.snow import snow_share
from advisor.weather.weather import BY_HOUR, Array, Weather, blank

FIRST_READING_H = 24
REACH_DAYS = 45
RECORDS = "the records"
ARCHIVED = ("rain_mm", "temp_c", "dew_c", "wind10_m_s", "rs_mj_m2_h", "snow_mm")


def settle_past(
    weather: Weather,
    *,
    gauge: Sequence[GaugeReading],
    archive: Sequence[ArchivedHour],
    now: datetime,
    reach_days: int = REACH_DAYS,
) -> Weather:
    """`weather` with the hours before `now` as they were measured or archived, longer if these reach back.

    Archived values replace the source's own past. Then the gauge replaces the rain of the time it
    covers: from `since`, else from the reading before, else (the first) 24 hours; in a partly
    covered hour what the model gave for the rest of it stays. `rain_basis` says per hour what the
    rain rests on. Readings that cannot be (ahead of `now`, negative, of no time) are left out and
    told; of two that overlap the later covers only what the earlier left. `gauge_mm` and `gauge_share`
    keep apart what was measured, so that of the hour of `now` that alone counts as fallen. The series
    reaches back at most `reach_days`.
    """
    notes: list[Note] = []
    spans = _covered(gauge, now, notes)
    limit = now - timedelta(days=reach_days)
    past = [hour for hour in archive if limit <= hour.starts_at <= now - timedelta(hours=1)]
    spans = [span for span in spans if span[1] > limit]
    begins = [hour.starts_at for hour in past] + [max(span[0], limit) for span in spans]
    if not begins:
        return replace(weather, notes=(*weather.notes, *notes)) if notes else weather
    settled = reaching(weather, min(begins), max((span[1] for span in spans), default=now))
    settled = with_hours(settled, past, notes)
    if spans:
        settled = _with_gauge(settled, spans, notes)
    return replace(settled, notes=(*settled.notes, *notes))


Span = tuple[datetime, datetime, float]


def _covered(gauge: Sequence[GaugeReading], now: datetime, notes: list[Note]) -> list[Span]:
    """The usable readings as (from, to, mm), in the order of time, none overlapping another."""
    spans: list[Span] = []
    before: datetime | None = None
    for reading in sorted(gauge, key=lambda r: (r.read_at, r.id)):
        doubted = partial(Note, level=NoteLevel.WARNING, at=reading.read_at.astimezone(UTC))
        if reading.read_at > now:
            notes.append(doubted(kind=NoteKind.GAUGE_AHEAD))
            continue
        if not math.isfinite(reading.depth_mm) or reading.depth_mm < 0:
            notes.append(doubted(kind=NoteKind.GAUGE_IMPOSSIBLE, depth_mm=reading.depth_mm))
            continue
        since = reading.since or before
        if since is None:
            since = reading.read_at - timedelta(hours=FIRST_READING_H)
            notes.append(Note(level=NoteLevel.TOLD, kind=NoteKind.GAUGE_FIRST, hours=FIRST_READING_H))
        if before is not None and since < before < reading.read_at:
            notes.append(doubted(kind=NoteKind.GAUGE_OVERLAPS))
            since = before
        if before is not None and reading.read_at == before:
            notes.append(doubted(kind=NoteKind.GAUGE_TWICE))
            since, _, _ = spans.pop()
        if since >= reading.read_at:
            notes.append(doubted(kind=NoteKind.GAUGE_NO_TIME))
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
    for name in (*BY_HOUR, "members_mm"):
        getattr(longer, name)[..., before : before + weather.hours] = getattr(weather, name)
    return replace(longer, sources=weather.sources, notes=weather.notes)


def with_hours(
    weather: Weather, past: Sequence[ArchivedHour], notes: list[Note], *, observed_by: str = ""
) -> Weather:
    """Archived values in place of the source's own, for the hours that have them; told in `notes`.

    `observed_by` names the station that observed them, where they are no archived ones.
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
    kind = NoteKind.PAST_OBSERVED if observed_by else NoteKind.PAST_ARCHIVED
    notes.append(Note(level=NoteLevel.TOLD, kind=kind, hours=int(rained.sum()), source=observed_by))
    return replace(weather, **fixed)


def _with_gauge(weather: Weather, spans: Sequence[Span], notes: list[Note]) -> Weather:
    """The rain and snow of the covered time from the gauge."""
    modelled, first = weather.rain_mm, weather.starts_at(0)
    measured, covered = np.zeros(weather.hours), np.zeros(weather.hours)
    even = 0
    for since, until, depth in spans:
        part = hour_shares(first, weather.hours, since, until)
        if not part.any():
            continue
        shape = part * np.nan_to_num(modelled, nan=0.0)
        if depth > 0 and not shape.sum() > 0:
            even += 1
            shape = _even(part, modelled)
        if since < first:  # what fell before the series begins is not ours to place
            depth *= hours_after(first, until) / hours_after(since, until)
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
    notes.append(Note(level=NoteLevel.TOLD, kind=NoteKind.GAUGE_SPREAD, count=len(spans)))
    if even:
        notes.append(Note(level=NoteLevel.TOLD, kind=NoteKind.GAUGE_SPREAD_EVENLY, count=even))
    return replace(
        weather,
        rain_mm=rain,
        snow_mm=_snow(weather, rain, touched),
        rain_basis=basis,
        gauge_mm=measured,
        gauge_share=covered,
    )


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
