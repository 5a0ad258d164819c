"""What an Open-Meteo body holds: places, stamps and columns, or the SourceError that says why not.

Two kinds of stamp are read: `timeformat=unixtime` (true UTC seconds) and iso8601, which stands at ONE
fixed offset, `utc_offset_seconds`, for the whole body: utc = stamp − offset, whatever the zone's
name or its summer time. A null is unknown and stays so.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import partial
from typing import Any

import numpy as np

from advisor.advice import Note, NoteKind, NoteLevel, Variable
from advisor.errors import SourceError
from advisor.weather.hour_grid import HOUR_S, Seconds
from advisor.weather.weather import Array

EARLIEST = int(datetime(1940, 1, 1, tzinfo=UTC).timestamp())
LATEST = int(datetime(2100, 1, 1, tzinfo=UTC).timestamp())


@dataclass(frozen=True, slots=True)
class Column:
    """How one of the service's columns becomes one of ours.

    `field` is the Weather series; `at` is "instant" (valid at the stamp) or "preceding hour" (a sum
    or mean over the hour that ends at the stamp); `units` maps the service's unit to (factor, offset);
    `low`–`high` is what is believed, in our unit.
    """

    field: str
    variable: Variable
    at: str
    units: Mapping[str, tuple[float, float]]
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Block:
    """The hourly block of one place.

    `first` is the UTC second of the first stamp, `index` (n,) each stamp's whole hours after it,
    `span` how many hours lie between first and last stamp.
    """

    source: str
    columns: Mapping[str, Any]
    units: Mapping[str, Any]
    first: int
    index: Seconds
    span: int
    notes: tuple[Note, ...]

    def series(self, name: str, column: Column) -> tuple[Array | None, list[Note]]:
        """The column `name` in our unit at stamps first … first + span, shape (span + 1,).

        None with a note when there is no such column or it cannot be trusted as a whole.
        """
        raw, unit = self.columns.get(name), self.units.get(name)
        if raw is None:
            return None, []
        dropped = partial(Note, level=NoteLevel.DROPPED, source=self.source, variable=column.variable)
        reason = self._wrong_with(raw, unit, column)
        if reason or not isinstance(unit, str):
            return None, [dropped(kind=NoteKind.LEFT_OUT, reason=reason)]
        values, odd = _numbers(raw)
        factor, offset = column.units[unit]
        values = values * factor + offset
        outside = np.isfinite(values) & ((values < column.low) | (values > column.high))
        values[outside] = np.nan
        notes = []
        if odd:
            notes.append(dropped(kind=NoteKind.NO_NUMBERS, count=odd))
        if outside.any():
            count = int(outside.sum())
            notes.append(dropped(kind=NoteKind.VALUES_OUTSIDE, count=count, low=column.low, high=column.high))
        placed = np.full(self.span + 1, np.nan)
        placed[self.index] = values
        return placed, notes

    def _wrong_with(self, raw: Any, unit: Any, column: Column) -> str:
        """Why a column cannot be trusted as a whole, in one clause; "" where it can."""
        if not isinstance(raw, list) or len(raw) != len(self.index):
            found = f"{len(raw)} values" if isinstance(raw, list) else type(raw).__name__
            return f"{found} for {len(self.index)} hours"
        if unit == "undefined":
            return "the model does not have it"
        if not isinstance(unit, str) or unit not in column.units:
            return f"unit {_short(unit)!r}; known: {', '.join(column.units)}"
        return ""

    def starts(self) -> np.ndarray[Any, np.dtype[np.datetime64]]:
        """The starts of the hours between first and last stamp, shape (span,)."""
        return np.datetime64(self.first, "s") + np.arange(self.span) * np.timedelta64(HOUR_S, "s")


def _numbers(raw: Sequence[Any]) -> tuple[Array, int]:
    """Numbers with null as NaN, and how many entries were neither a sane number nor null."""
    values, odd = np.full(len(raw), np.nan), 0
    for i, entry in enumerate(raw):
        if entry is None:
            continue
        if type(entry) in (int, float) and -1e9 < entry < 1e9:
            values[i] = entry
        else:
            odd += 1
    return values, odd


def places_in(payload: Any, source: str) -> list[dict[str, Any]]:
    """The places of a body, one or many, as a list. Raises SourceError for an error body or another shape."""
    found = payload if isinstance(payload, list) else [payload]
    if not found or not all(isinstance(place, dict) for place in found):
        raise SourceError(source, "sent JSON of another shape than a forecast")
    for place in found:
        if place.get("error"):
            raise SourceError(source, f"reported an error: {_short(place.get('reason', 'no reason given'))}")
    return found


def _short(text: object) -> str:
    return " ".join(str(text).split())[:200]


def number_in(place: Mapping[str, Any], key: str, low: float, high: float) -> float:
    """A finite number between the bounds, or NaN."""
    value: Any = place.get(key)
    return float(value) if type(value) in (int, float) and low <= value <= high else math.nan


def block_in(place: Mapping[str, Any], source: str) -> Block:
    """The hourly block of a place with its stamps in order. Raises SourceError in one sentence."""
    columns, units = place.get("hourly"), place.get("hourly_units")
    if not isinstance(columns, dict) or not isinstance(units, dict):
        raise SourceError(source, "sent no hourly values with their units")
    raw = columns.get("time")
    if not isinstance(raw, list) or len(raw) < 2:
        raise SourceError(source, "sent fewer than two hours")
    at, notes = _utc_seconds(raw, place, source)
    step = np.diff(at)
    if np.any(step <= 0):
        where = datetime.fromtimestamp(int(at[int(np.argmax(step <= 0)) + 1]), UTC)
        raise SourceError(source, f"sent hours twice or out of order, at {where:%Y-%m-%d %H:%M} UTC")
    if np.any(step % HOUR_S) or np.median(step) != HOUR_S:
        raise SourceError(source, f"sent steps of {np.median(step) / 60:g} min where hours were asked for")
    span = int((at[-1] - at[0]) // HOUR_S)
    if span > 1.25 * len(at) + 48:
        raise SourceError(source, f"sent only {len(at)} of the {span + 1} hours that it spans")
    if missing := span + 1 - len(at):
        notes.append(Note(level=NoteLevel.WARNING, kind=NoteKind.HOURS_MISSING, source=source, count=missing))
    return Block(source, columns, units, int(at[0]), (at - at[0]) // HOUR_S, span, tuple(notes))


def _utc_seconds(raw: Sequence[Any], place: Mapping[str, Any], source: str) -> tuple[Seconds, list[Note]]:
    if all(type(t) is int for t in raw):
        at = [int(t) for t in raw]
    elif all(isinstance(t, str) for t in raw):
        offset = place.get("utc_offset_seconds")
        if type(offset) is not int or abs(offset) > 15 * 3600:
            raise SourceError(source, f"sent local times without a usable offset from UTC; found {offset!r}")
        at = []
        for text in raw:
            try:
                when = datetime.fromisoformat(text)
                utc = (when - timedelta(seconds=offset)).replace(tzinfo=UTC) if when.tzinfo is None else when
            except (ValueError, OverflowError):
                raise SourceError(source, f"sent a time that cannot be read: {_short(text)!r}") from None
            at.append(int(utc.timestamp()))
    else:
        raise SourceError(source, "sent times that are neither all seconds nor all text")
    if not all(EARLIEST <= t <= LATEST for t in at):
        raise SourceError(source, "sent times outside the years 1940–2100")
    seconds, notes = np.array(at, dtype=np.int64), []
    if past := int(seconds[0] % HOUR_S):
        # zones at half hours: the values belong to the whole UTC hour below the label
        seconds = seconds - past
        kind, minutes = NoteKind.STAMPS_SET_BACK, past // 60
        notes.append(Note(level=NoteLevel.TOLD, kind=kind, source=source, minutes=minutes))
    return seconds, notes


def wait_in_words(reason: str, now: datetime) -> str:
    """When to ask again after HTTP 429, which the service tells only in its reason's wording."""
    text, utc = reason.lower(), now.astimezone(UTC)
    if "minutely" in text:
        return "ask again in about a minute and a half"
    if "hourly" in text:
        return f"ask again after {utc.replace(minute=2) + timedelta(hours=1):%H:%M} UTC"
    if "daily" in text:
        tomorrow = utc.replace(hour=0, minute=2) + timedelta(days=1)
        return f"ask again after {tomorrow:%Y-%m-%d %H:%M} UTC"
    if "concurrent" in text:
        return "ask again in a few seconds"
    return "ask again later"
