"""Hourly weather from a plain CSV file, for owners with their own station and for replay.

A comma-separated UTF-8 text with one header line; lines that begin with # and empty lines are skipped.

    time,temp_c,rh_pct,wind2_m_s,rs_w_m2,rain_mm
    2026-06-17T18:00-05:00,31.2,41,2.4,455,0.0

- `time` is required: ISO 8601 with its offset or Z; it is the START of the hour that the row describes.
- Temperature `temp_c` or `temp_f`; humidity `dew_c`, `dew_f` or `rh_pct` (dew point is preferred).
- Wind `wind10_m_s`, `wind10_km_h`, `wind10_mph` (at 10 m) or `wind2_m_s`, `wind2_km_h`, `wind2_mph` (at 2 m).
- Radiation `rs_w_m2` (the hour's mean) or `rs_mj_m2_h`; cloud `cloud_pct`.
- Rain `rain_mm` or `rain_in`: all that fell in the hour, snow as its water; `snow_mm` the water of the snow.
- Forecast hours may have `chance_pct` and rain members `member_01`, `member_02`, … in mm.

Temperature, humidity, wind and cloud are the hour's means. Every column but `time` may be missing, but
there must be temperature or rain. An empty cell, NaN or NA is unknown. Hours that begin after `now` are
forecast. Rows need not be sorted; hours without a row are unknown. Two rows of the same hour are an
error, because which of them holds cannot be known, and so is a value that cannot be.
"""

from __future__ import annotations

import csv
import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from difflib import get_close_matches
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from advisor.advice import Note, NoteKind, NoteLevel, Variable
from advisor.errors import InputError, ManyProblems
from advisor.files import read_bytes
from advisor.units import YEARS, known_year
from advisor.weather.hour_grid import HOUR_S, place_amounts, place_states, seconds, stamps
from advisor.weather.humidity import dew_point_c
from advisor.weather.weather import Array, Hours, SourceUse, Weather, blank

WIND_2_TO_10 = math.log(67.8 * 10 - 5.42) / 4.87  # FAO-56 equation 47, turned round
TOLD_PER_COLUMN = 3
MOST_HOURS = 24 * 366 * 30
MOST_BYTES = 64_000_000
UNKNOWN = frozenset({"", "nan", "na", "null"})
MPH = 0.44704
WANTED = {
    "temp_c": Variable.TEMPERATURE,
    "dew_c": Variable.HUMIDITY,
    "wind10_m_s": Variable.WIND,
    "rs_mj_m2_h": Variable.RADIATION,
    "rain_mm": Variable.RAIN,
}
"""The columns whose lack is told."""


@dataclass(frozen=True, slots=True)
class Column:
    """What a column means: the series it fills, its factor and offset, what is believed in its own unit."""

    field: str
    factor: float = 1.0
    offset: float = 0.0
    low: float = 0.0
    high: float = math.inf
    hint: str = ""
    amount: bool = False


COLUMNS = {
    "temp_c": Column("temp_c", low=-60, high=60, hint="if it is in °F, name the column temp_f"),
    "temp_f": Column("temp_c", 5 / 9, -160 / 9, low=-76, high=140),
    "dew_c": Column("dew_c", low=-80, high=45, hint="if it is in °F, name the column dew_f"),
    "dew_f": Column("dew_c", 5 / 9, -160 / 9, low=-112, high=113),
    "rh_pct": Column("rh_pct", high=105, hint="relative humidity is in percent"),
    "rain_mm": Column("rain_mm", high=150, hint="rain is the hour's, not the day's", amount=True),
    "rain_in": Column("rain_mm", 25.4, high=6, hint="if it is in mm, name the column rain_mm", amount=True),
    "snow_mm": Column("snow_mm", high=150, hint="snow is its water, in the hour", amount=True),
    "rs_w_m2": Column("rs_mj_m2_h", 0.0036, high=1400, hint="the hour's mean in W/m²", amount=True),
    "rs_mj_m2_h": Column("rs_mj_m2_h", high=5.04, hint="if it is in W/m², name it rs_w_m2", amount=True),
    "cloud_pct": Column("cloud", 0.01, high=100),
    "chance_pct": Column("chance", 0.01, high=100),
    **{
        f"wind{height}_{unit}": Column(
            "wind10_m_s", factor * (1.0 if height == 10 else WIND_2_TO_10), high=60 / factor
        )
        for height in (10, 2)
        for unit, factor in (("m_s", 1.0), ("km_h", 1 / 3.6), ("mph", MPH))
    },
}


def read_csv(
    path: Path, *, latitude_deg: float, longitude_deg: float, elevation_m: float, now: datetime
) -> Weather:
    """The file as Weather for this place. Raises ManyProblems with every error's line, or InputError."""
    name = str(path)
    try:
        text = read_bytes(path, MOST_BYTES).decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError("the weather file is not UTF-8 text", where=name, allowed="CSV in UTF-8") from None
    except OSError as problem:
        raise InputError(f"cannot read the weather file ({problem.strerror})", where=name) from None
    rows = _rows(text, name)
    line, header = next(rows, (1, []))
    columns = _columns(name, line, [cell.strip().lower() for cell in header])
    table = _Table(name, columns)
    for count, (line, cells) in enumerate(rows):
        if count >= MOST_HOURS:
            raise InputError("there are more hours than thirty years have", where=name, line=line)
        table.add(line, cells)
    return _weather(path.name, table.finished(), latitude_deg, longitude_deg, elevation_m, now)


def _rows(text: str, where: str) -> Iterator[tuple[int, list[str]]]:
    """Rows with their 1-based line numbers, without comments and empty lines."""
    for number, line in enumerate(text.splitlines(), 1):
        if line.strip(" ,\t") and not line.lstrip().startswith("#"):
            try:
                yield number, next(csv.reader([line]))
            except csv.Error as error:
                raise InputError(f"a row cannot be read ({error})", where=where, line=number) from None


def _columns(where: str, line: int, names: list[str]) -> list[tuple[str, Column | None]]:
    """Each column's name and meaning (None: the time). Raises ManyProblems."""
    problems: list[InputError] = []
    fills: dict[str, str] = {}
    columns: list[tuple[str, Column | None]] = []
    allowed = "time, " + ", ".join(COLUMNS) + ", member_01 …"

    def problem(what: str, found: str, may: str) -> None:
        problems.append(InputError(what, where=where, line=line, found=found, allowed=may))

    if len(names) == 1 and (";" in names[0] or "\t" in names[0]):
        problem("the columns are not separated by commas", repr(names[0][:40]), "commas")
        raise ManyProblems(problems)
    for name in names:
        is_member = name.startswith("member_") and name[7:].isdecimal()
        column = Column(name, high=150, amount=True) if is_member else COLUMNS.get(name)
        columns.append((name, column))
        if column is None and name != "time":
            near = get_close_matches(name, ["time", *COLUMNS], 1, 0.5)
            problem("unknown column", repr(name) + (f", did you mean {near[0]!r}?" if near else ""), allowed)
            continue
        field = column.field if column else "time"
        if field in fills:
            problem(f"two columns for one thing: {fills[field]!r} and {name!r}", repr(name), "one of them")
        fills[field] = name
    if "time" not in names:
        problem("there is no column 'time'", ", ".join(names)[:80] or "an empty file", allowed)
    if not {"temp_c", "rain_mm"} & fills.keys() and not problems:
        problem("there is neither temperature nor rain", ", ".join(names)[:80], "temp_c or rain_mm")
    if problems:
        raise ManyProblems(problems)
    return columns


class _Table:
    """The cells read so far, and every problem found; `finished` gives the one or raises the other."""

    def __init__(self, where: str, columns: list[tuple[str, Column | None]]) -> None:
        self.where, self.columns = where, columns
        self.times: list[datetime] = []
        self.values: dict[str, list[float]] = {c.field: [] for _, c in columns if c}
        self.amounts = {c.field for _, c in columns if c and c.amount}
        self._seen: dict[datetime, int] = {}
        self._problems: list[InputError] = []
        self._counts: Counter[str] = Counter()

    def add(self, line: int, cells: list[str]) -> None:
        if len(cells) != len(self.columns):
            self._problem(
                "columns", "a row of another length", line, f"{len(cells)} cells", f"{len(self.columns)}"
            )
            return
        row: dict[str, float] = {}
        when: datetime | None = None
        for (name, column), cell in zip(self.columns, cells, strict=True):
            if column is None:
                when = self._time(line, cell.strip())
            else:
                row[column.field] = self._number(line, name, column, cell.strip())
        if when is not None:
            self.times.append(when)
            for field, value in row.items():
                self.values[field].append(value)

    def _time(self, line: int, text: str) -> datetime | None:
        allowed = "ISO 8601 with offset or Z, such as 2026-06-17T20:00-05:00"
        try:
            when = datetime.fromisoformat(text)
        except ValueError:
            kind, what = "time", "a time that cannot be read"
        else:
            first = self._seen.setdefault(when, line) if when.tzinfo and known_year(when) else line
            if not known_year(when):
                kind, what, allowed = "time", "a time that is too far away", f"the years {YEARS}"
            elif when.tzinfo is None:
                kind, what = "time", "a time without its offset from UTC"
            elif (when.minute, when.second, when.microsecond) != (0, 0, 0):
                kind, what, allowed = "time", "a time that is not on the hour", "whole hours"
            elif first != line:
                kind, what = "same", f"the same hour as line {first}; which of them holds cannot be known"
                allowed = "one row an hour"
            else:
                return when
        self._problem(kind, what, line, repr(text), allowed)
        return None

    def _number(self, line: int, name: str, column: Column, text: str) -> float:
        if text.lower() in UNKNOWN:
            return math.nan
        try:
            value = float(text)
        except ValueError:
            value = math.nan
        bounds = f"{column.low:g} to {column.high:.4g}"
        if not math.isfinite(value):
            self._problem(name, f"{name} is not a number", line, repr(text), f"{bounds}, or an empty cell")
        elif not column.low <= value <= column.high:
            hint = f"; {column.hint}" if column.hint else ""
            self._problem(name, f"{name} cannot be", line, text, f"{bounds}, empty where unknown{hint}")
        return value * column.factor + column.offset

    def _problem(self, kind: str, what: str, line: int, found: str, allowed: str) -> None:
        self._counts[kind] += 1
        if self._counts[kind] <= TOLD_PER_COLUMN:
            self._problems.append(InputError(what, where=self.where, line=line, found=found, allowed=allowed))

    def finished(self) -> _Table:
        problems = list(self._problems)
        last = max((p.line or 0 for p in problems), default=0) + 1
        for kind, count in self._counts.items():
            if (more := count - TOLD_PER_COLUMN) > 0:
                problems.append(
                    InputError(f"{more} more problems of this kind ({kind})", where=self.where, line=last)
                )
        if not problems and len(self.times) == 0:
            problems.append(InputError("the weather file has no hours", where=self.where))
        if not problems and max(self.times) - min(self.times) > timedelta(hours=MOST_HOURS):
            span = f"{min(self.times):%Y-%m-%d} to {max(self.times):%Y-%m-%d}"
            problems.append(
                InputError("the hours lie too far apart", where=self.where, found=span, allowed="30 years")
            )
        if problems:
            raise ManyProblems(problems)
        return self


def _weather(
    name: str, table: _Table, latitude: float, longitude: float, elevation: float, now: datetime
) -> Weather:
    at = stamps(table.times)
    order = np.argsort(at, kind="stable")
    told = partial(Note, level=NoteLevel.TOLD, file=name)
    doubted = partial(Note, level=NoteLevel.WARNING, file=name)
    notes: list[Note] = []
    if np.any(order[1:] < order[:-1]):
        notes.append(told(kind=NoteKind.ROWS_SORTED))
    at = at[order]
    first, last = int(seconds(at)[0]) // HOUR_S * HOUR_S, -(-int(seconds(at)[-1]) // HOUR_S) * HOUR_S
    count = (last - first) // HOUR_S + 1
    starts: Hours = np.datetime64(first, "s") + np.arange(count) * np.timedelta64(HOUR_S, "s")
    series = {
        field: _on_hours(at, np.array(values)[order], starts, amount=field in table.amounts)
        for field, values in table.values.items()
    }
    if gaps := int(seconds(at)[-1] - seconds(at)[0]) // HOUR_S + 1 - len(at):
        notes.append(doubted(kind=NoteKind.ROWS_MISSING, count=gaps))
    _fill_dew(name, series, notes)
    members = [series.pop(key) for key in sorted(series) if key.startswith("member_")]
    if "snow_mm" in series and "rain_mm" in series:
        series["snow_mm"] = np.minimum(series["snow_mm"], series["rain_mm"])
    notes += [
        told(kind=NoteKind.COLUMN_MISSING, variable=variable)
        for field, variable in WANTED.items()
        if field not in series
    ]
    weather = blank(latitude, longitude, elevation, starts, len(members))
    filled: dict[str, Any] = dict(series)
    if members:
        filled["members_mm"] = np.stack(members)
    weather = replace(weather, **filled)
    until = weather.starts_at(count)
    if until < now + timedelta(hours=24):
        notes.append(doubted(kind=NoteKind.FILE_ENDS, until=until))
    fell = np.arange(count) < weather.index_at(now)
    basis = np.where(np.isnan(weather.rain_mm), "", np.where(fell, "archive", "model")).astype("<U8")
    use = SourceUse(f"file {name}", "past and coming hours", now, until, members=len(members))
    return replace(weather, rain_basis=basis, sources=(use,), notes=tuple(notes))


def _on_hours(at: Hours, values: Array, starts: Hours, *, amount: bool) -> Array:
    """Rows on the hourly axis; hours of zones at half hours are placed by their overlap."""
    if not np.any(seconds(at) % HOUR_S):
        placed = np.full(len(starts), np.nan)
        placed[(seconds(at) - int(seconds(starts)[0])) // HOUR_S] = values
        return placed
    ends = at + np.timedelta64(HOUR_S, "s")
    return (place_amounts if amount else place_states)(at, ends, values, starts)


def _fill_dew(name: str, series: dict[str, Array], notes: list[Note]) -> None:
    humidity = series.pop("rh_pct", None)
    if humidity is None or "temp_c" not in series:
        return
    said = series.get("dew_c", np.full(len(humidity), np.nan))
    series["dew_c"] = np.where(np.isnan(said), dew_point_c(series["temp_c"], humidity), said)
    notes.append(Note(level=NoteLevel.TOLD, kind=NoteKind.DEW_MADE, file=name))
