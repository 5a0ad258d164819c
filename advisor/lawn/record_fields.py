"""What each field of a record may hold: the kinds of record, their fields, and what is wrong with one.

The store, the files and the commands all read this, so that a record that one of them lets pass is
a record for the others too.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import MISSING, dataclass, fields
from datetime import UTC, datetime
from functools import cache
from types import MappingProxyType
from typing import Any, get_args, get_type_hints

from advisor.lawn.records import (
    AUDIT_METHODS,
    METHODS,
    RUN_SOURCES,
    Application,
    ArchivedHour,
    Audit,
    GaugeReading,
    ProbeReading,
    RainPair,
    Record,
    Records,
    Run,
    StockChange,
    Unusable,
    Wrong,
)
from advisor.units import known_year


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of record.

    `one` is what a single record is called, `time` the field it is ordered by, `until` the field
    that says when it was over, `key` the fields that may stand only once.
    """

    name: str
    one: str
    type: type[Any]
    time: str
    until: str
    key: tuple[str, ...] = ()


KINDS: Mapping[str, Kind] = MappingProxyType(
    {
        kind.name: kind
        for kind in (
            Kind("applications", "application", Application, "started_at", "ended_at"),
            Kind("runs", "run", Run, "started_at", "ended_at"),
            Kind("gauge", "gauge reading", GaugeReading, "read_at", "read_at"),
            Kind("probes", "probe reading", ProbeReading, "read_at", "read_at"),
            Kind("audits", "audit", Audit, "measured_at", "measured_at"),
            Kind("archive", "archived hour", ArchivedHour, "starts_at", "starts_at", ("starts_at", "source")),
            Kind("pairs", "rain pair", RainPair, "starts_at", "starts_at", ("starts_at", "hours", "lead_h")),
            Kind("stock", "stock change", StockChange, "changed_at", "changed_at"),
        )
    }
)
_NAME_OF = {kind.type: kind.name for kind in KINDS.values()}


@dataclass(frozen=True, slots=True)
class Field:
    """One field: it holds "text", "number", "whole", "time" or "names" (a tuple of texts)."""

    name: str
    holds: str
    optional: bool
    required: bool


_HOLDS = {str: "text", float: "number", int: "whole", datetime: "time", tuple: "names"}


@cache
def fields_of(kind: str) -> tuple[Field, ...]:
    """The fields of one kind of record, in their order, `id` last."""
    hints = get_type_hints(KINDS[kind].type)
    found = []
    for entry in fields(KINDS[kind].type):
        hint = hints[entry.name]
        inner = [part for part in get_args(hint) if part is not type(None)]
        optional = type(None) in get_args(hint)
        plain = inner[0] if optional else hint
        holds = _HOLDS[getattr(plain, "__origin__", plain)]
        found.append(Field(entry.name, holds, optional, entry.default is MISSING))
    return tuple(found)


def kind_of(record: Record) -> str:
    """The name of the record's kind, e.g. "runs"."""
    return _NAME_OF[type(record)]


def called(record: Record | Unusable) -> str:
    """A record by its kind and number: run 3."""
    kind = record.kind if isinstance(record, Unusable) else kind_of(record)
    return f"{KINDS[kind].one} {record.id}"


def of_kind(records: Records, kind: str) -> tuple[Record, ...]:
    """All records of one kind."""
    found: tuple[Record, ...] = getattr(records, kind)
    return found


def gathered(everything: Iterable[Record]) -> Records:
    """Records from loose ones, each kind in the order of time (equal times keep their order)."""
    heaps: dict[str, list[Record]] = {name: [] for name in KINDS}
    for record in everything:
        heaps[kind_of(record)].append(record)
    ordered = {
        name: tuple(sorted(heap, key=lambda r, field=KINDS[name].time: getattr(r, field)))  # type: ignore[misc]
        for name, heap in heaps.items()
    }
    return Records(**ordered)  # type: ignore[arg-type]


def plain_values(record: Record) -> dict[str, Any]:
    """The record as plain values for JSON: times as ISO text in UTC, names as a list."""
    row: dict[str, Any] = {}
    for field in fields_of(kind_of(record)):
        value = getattr(record, field.name)
        if isinstance(value, datetime):
            value = f"{value.astimezone(UTC).replace(tzinfo=None).isoformat()}Z"
        elif isinstance(value, tuple):
            value = list(value)
        row[field.name] = value
    return row


def unusable_values(there: Unusable) -> dict[str, Any]:
    """What makes no sense as a record, for JSON: where it stands, and what is wrong."""
    wrong = [{"field": each.field, "found": each.found, "allowed": each.allowed} for each in there.wrong]
    return {"kind": there.kind, "id": there.id, "wrong": wrong}


def built(kind: str, row: Mapping[str, Any]) -> Record:
    """The record that `plain` made plain; the row must be sound, as `row_problems` would find it."""
    values: dict[str, Any] = {}
    for field in fields_of(kind):
        if field.name in row:
            value = row[field.name]
            if value is not None and field.holds == "time":
                value = datetime.fromisoformat(value).astimezone(UTC)
            elif value is not None and field.holds == "number":
                value = float(value)
            elif field.holds == "names":
                value = tuple(value)
            values[field.name] = value
    record: Record = KINDS[kind].type(**values)
    return record


_ALLOWED = {
    "text": "text",
    "number": "a number",
    "whole": "a whole number",
    "time": "a time with its offset, 2026-06-17T21:30:00Z",
    "names": "a list of names",
}


def _shown(value: object) -> str:
    words = ascii(value) if isinstance(value, str) and not value.isprintable() else repr(value)
    return words if len(words) <= 60 else words[:57] + "..."


def _is_text(value: object) -> bool:
    if not isinstance(value, str) or "\0" in value:
        return False
    try:
        value.encode()
    except UnicodeEncodeError:
        return False
    return True


def _is_time(value: object) -> bool:
    if not isinstance(value, str):
        return False
    try:
        parsed = datetime.fromisoformat(value)
    except ValueError:
        return False
    return _is_known_time(parsed)


def _is_known_time(value: datetime) -> bool:
    """Whether the time knows its zone and is no slip of the pen by centuries."""
    return value.tzinfo is not None and known_year(value)


def _is_number(value: object) -> bool:
    if isinstance(value, bool) or not isinstance(value, int | float):
        return False
    try:
        return math.isfinite(float(value))
    except OverflowError:
        return False


def _is_whole(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and abs(value) < 2**63


def _are_names(value: object) -> bool:
    return isinstance(value, list) and all(_is_text(name) and bool(name.strip()) for name in value)


_HOLDS_WELL: Mapping[str, Callable[[object], bool]] = {
    "text": _is_text,
    "number": _is_number,
    "whole": _is_whole,
    "time": _is_time,
    "names": _are_names,
}


def row_problems(kind: str, row: Mapping[str, Any]) -> tuple[Wrong, ...]:
    """What is wrong with the plain values of one record; empty when `built` may take them."""
    known = {field.name: field for field in fields_of(kind)}
    wrong = [Wrong(name, "not a field of this kind", ", ".join(known)) for name in row if name not in known]
    for name, field in known.items():
        if name not in row:
            if field.required:
                wrong.append(Wrong(name, "missing", _ALLOWED[field.holds]))
        elif row[name] is None and not field.optional:
            wrong.append(Wrong(name, "empty", _ALLOWED[field.holds]))
        elif row[name] is not None and not _HOLDS_WELL[field.holds](row[name]):
            wrong.append(Wrong(name, _shown(row[name]), _ALLOWED[field.holds]))
    return tuple(wrong) or _sense(built(kind, row))


def record_problems(record: Record) -> tuple[Wrong, ...]:
    """What is wrong with a record that a program made; empty when it may be kept."""
    kind = kind_of(record)
    naive = [
        Wrong(field.name, repr(value), _ALLOWED["time"])
        for field in fields_of(kind)
        if isinstance(value := getattr(record, field.name), datetime) and not _is_known_time(value)
    ]
    return tuple(naive) or row_problems(kind, plain_values(record))


@dataclass(frozen=True, slots=True)
class Range:
    """From where to where a number may be, in its SI unit; `above`: `low` itself is too little."""

    low: float
    high: float
    above: bool = False

    def holds(self, value: float) -> bool:
        """Whether a value lies in the range."""
        return (self.low < value if self.above else self.low <= value) and value <= self.high

    def __str__(self) -> str:
        return f"{'more than ' if self.above else ''}{self.low:,g} {'up ' if self.above else ''}to {self.high:,g}"


MOST_RUN_MIN = 1440.0
"""No zone runs for more than a day."""
MOST_MM_H = 250.0
"""No lawn sprinkler gives more; beyond it a unit or a minute is wrong (common practice, no source)."""
_MOST_MM = 2000.0
_DEPTH = Range(0.0, _MOST_MM)
_HOURLY_MM = Range(0.0, 500.0)
RANGES: Mapping[tuple[str, str], Range] = {
    # as wide as the site file's
    ("applications", "dilution"): Range(0.5, 10_000.0),
    # 100 L or 100 kg on a square metre: common practice, no source
    ("applications", "rate"): Range(0.0, 100_000.0, above=True),
    ("runs", "minutes"): Range(0.0, MOST_RUN_MIN),
    ("runs", "depth_mm"): Range(0.0, 1000.0),
    # no gauge on a lawn holds more, and no root zone of turf: common practice, no source
    ("gauge", "depth_mm"): _DEPTH,
    ("probes", "depletion_mm"): _DEPTH,
    ("audits", "rate_mm_h"): Range(0.0, MOST_MM_H, above=True),
    ("audits", "uniformity"): Range(0.0, 1.0),
    # 1 − Σ|x − mean| / Σx cannot come below −1 for readings that are none of them negative
    ("audits", "christiansen"): Range(-1.0, 1.0),
    ("audits", "cans"): Range(0, 1000),
    # somewhat wider than the extremes that the World Meteorological Organization lists (from memory): 305 mm in
    # 42 minutes, −89.2 to 56.7 °C, gusts of 113 m/s; and the sun outside the air, 4.9 MJ/m² in an hour
    ("archive", "rain_mm"): _HOURLY_MM,
    ("archive", "snow_mm"): _HOURLY_MM,
    ("archive", "temp_c"): Range(-90.0, 60.0),
    ("archive", "dew_c"): Range(-100.0, 45.0),
    ("archive", "wind10_m_s"): Range(0.0, 115.0),
    ("archive", "rs_mj_m2_h"): Range(0.0, 5.04),
    ("pairs", "hours"): Range(1, 240),
    ("pairs", "lead_h"): Range(0.0, 1000.0),
    ("pairs", "mean_mm"): Range(0.0, 5000.0),
    ("pairs", "spread_mm"): Range(0.0, 5000.0),
    ("pairs", "observed_mm"): Range(0.0, 20_000.0),
    ("pairs", "members"): Range(0, 100_000),
    # a hundred tonnes, or cubic metres: common practice, no source
    ("stock", "amount"): Range(-1e8, 1e8),
} | {(kind, "id"): Range(0, 2**63 - 1) for kind in KINDS}
"""What no value of a field can lie outside of, wherever the lawn is."""
_NAMED = {"product", "zone"}
_ONE_OF = {
    ("applications", "method"): METHODS,
    ("runs", "source"): RUN_SOURCES,
    ("audits", "method"): AUDIT_METHODS,
}


def _sense(record: Record) -> tuple[Wrong, ...]:
    """What makes no sense in values that are each of the right sort."""
    kind = kind_of(record)
    return (
        *(
            wrong
            for field in fields_of(kind)
            for wrong in _alone(kind, field.name, getattr(record, field.name))
        ),
        *_together(record),
    )


def _alone(kind: str, name: str, value: Any) -> Iterator[Wrong]:
    """What makes no sense in one value, whatever the others are."""
    if value is None:
        return
    bounds = RANGES.get((kind, name))
    if bounds is not None and not bounds.holds(value):
        yield Wrong(name, repr(value), str(bounds))
    if name in _NAMED and not value.strip():
        yield Wrong(name, repr(value), "a name")
    allowed = _ONE_OF.get((kind, name))
    if allowed is not None and value not in allowed:
        yield Wrong(name, repr(value), ", ".join(allowed))


def _together(record: Record) -> Iterator[Wrong]:
    """What makes no sense in a kind of record, or in its values beside each other."""
    if isinstance(record, Application | Run) and record.ended_at < record.started_at:
        yield Wrong("ended_at", record.ended_at.isoformat(), "not before started_at")
    match record:
        case Application() if not record.zones or len(set(record.zones)) < len(record.zones):
            yield Wrong("zones", repr(list(record.zones)), "at least one zone, each once")
        case GaugeReading() if record.since is not None and record.since >= record.read_at:
            yield Wrong("since", record.since.isoformat(), "a time before read_at")
        case ArchivedHour() if record.starts_at.timestamp() % 3600:
            yield Wrong("starts_at", record.starts_at.isoformat(), "the start of a whole hour UTC")


def is_sound(record: Record) -> bool:
    """Whether nothing is wrong with a record, told quickly: what `record_problems` would tell in words.

    Its values may be of any type, as a file held them.
    """
    tests = _tests(kind_of(record))
    return all(test(getattr(record, name)) for name, test in tests) and not any(_together(record))


def fits(kind: str, name: str, value: object) -> bool:
    """Whether a value, of any type, may stand in a field, whatever stands beside it."""
    return dict(_tests(kind))[name](value)


@cache
def _tests(kind: str) -> tuple[tuple[str, Callable[[Any], bool]], ...]:
    """For each field of a kind whether it may hold a value."""
    return tuple((field.name, _test(kind, field)) for field in fields_of(kind))


def _test(kind: str, field: Field) -> Callable[[Any], bool]:
    name, bounds, allowed = field.name, RANGES.get((kind, field.name)), _ONE_OF.get((kind, field.name))

    def holds(value: Any) -> bool:
        match field.holds:
            case "text":
                if allowed is not None:
                    return value in allowed
                return _is_text(value) and (name not in _NAMED or bool(value.strip()))
            case "time":
                return isinstance(value, datetime) and _is_known_time(value)
            case "names":
                return isinstance(value, tuple) and _are_names(list(value))
        is_number = type(value) is int or (field.holds == "number" and type(value) is float)
        return is_number and (bounds is None or bounds.holds(value))

    return (lambda value: value is None or holds(value)) if field.optional else holds
