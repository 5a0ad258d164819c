"""A record held against the others: what is there already, and what would be counted twice."""

from __future__ import annotations

from bisect import bisect_left, insort
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import TypeVar

from advisor.lawn.bounds import LONGEST_SPAN, at_words, cannot, unlikely
from advisor.lawn.outside import Outside, OutsideWhy
from advisor.lawn.record_fields import KINDS, called, kind_of
from advisor.lawn.records import (
    Application,
    Audit,
    GaugeReading,
    ProbeReading,
    Record,
    Run,
    StockChange,
)
from advisor.lawn.site_values import Site

A_YEAR = timedelta(days=366)
TWICE_APPLIED = timedelta(hours=12)
TWICE_READ = timedelta(hours=3)
TWICE_BOUGHT = timedelta(hours=24)
LOOKED_ROUND = timedelta(days=3)
"""Further away in time no record is held against another: a run lasts a day at most."""
Why = OutsideWhy
R = TypeVar("R", Application, Run, GaugeReading, ProbeReading, Audit, StockChange)


class Known:
    """Records that stand, by kind and in the order of time."""

    def __init__(self, records: Iterable[Record]) -> None:
        self._of: defaultdict[type[Record], list[tuple[datetime, int, Record]]] = defaultdict(list)
        for record in records:
            self.add(record)

    def add(self, record: Record) -> None:
        """Take one more record as standing."""
        there = self._of[type(record)]
        insort(there, (_time(record), len(there), record), key=lambda entry: entry[:2])

    def near(self, record: R, within: timedelta = LOOKED_ROUND) -> list[R]:
        """The records of the same kind whose time is near, oldest first; not the record itself."""
        there, at = self._of[type(record)], _time(record)
        first = bisect_left(there, at - within, key=lambda entry: entry[0])
        found: list[R] = []
        for when, _, other in there[first:]:
            if when > at + within:
                break
            if isinstance(other, type(record)) and (other.id != record.id or not record.id):
                found.append(other)
        return found

    def put_down_at(self, change: StockChange) -> bool:
        """Whether a stock change is what an application took."""
        return change.amount < 0 and any(
            isinstance(each, Application)
            and (each.product, each.ended_at) == (change.product, change.changed_at)
            for _, _, each in self._of[Application]
        )


def _time(record: Record) -> datetime:
    when: datetime = getattr(record, KINDS[kind_of(record)].time)
    return when


def crossing(record: Record, known: Known, site: Site) -> Iterator[Outside]:
    """What of a record does not go with those that stand; at most one thing, the gravest."""
    match record:
        case Application():
            yield from _first(_same(record, known), _applied_twice(record, known, site))
        case Run():
            yield from _first(_same(record, known), _overlapping(record, known, site))
        case GaugeReading():
            yield from _first(_same(record, known), _read_twice(record, known, site))
        case ProbeReading():
            yield from _first(_same(record, known), _probed_twice(record, known))
        case Audit():
            yield from _same(record, known)
        case StockChange() if not known.put_down_at(record):
            yield from _first(_bought_twice(record, known, site))


def _first(*checks: Iterator[Outside]) -> Iterator[Outside]:
    for check in checks:
        found = next(check, None)
        if found is not None:
            yield found
            return


def _same(record: R, known: Known) -> Iterator[Outside]:
    content = _content(record)
    for other in known.near(record, timedelta()):
        if _content(other) == content:
            yield cannot(Why.RECORDED_ALREADY, "", f"this is recorded already as {_called(other)}")


def _called(other: Record) -> str:
    return called(other) if other.id else f"another {KINDS[kind_of(other)].one} that comes with it"


def _content(record: Record) -> Record:
    """What makes two entries the same, whatever round or note they bear."""
    if isinstance(record, Application):
        return replace(record, id=0, note="", round_id="")
    return replace(record, id=0)


def _applied_twice(record: Application, known: Known, site: Site) -> Iterator[Outside]:
    for other in known.near(record, TWICE_APPLIED):
        both = [zone for zone in record.zones if zone in other.zones]
        if other.product == record.product and both:
            yield unlikely(
                Why.PERHAPS_TWICE,
                "started_at",
                f"{_called(other)} put {record.product} on {', '.join(both)} at {at_words(other.started_at, site)}; "
                "it may be the same one",
                at_words(record.started_at, site),
                "once in 12 hours",
            )


def _overlapping(record: Run, known: Known, site: Site) -> Iterator[Outside]:
    if not record.minutes:
        return
    for other in known.near(record):
        if other.zone != record.zone or not other.minutes:
            continue
        if other.started_at <= record.started_at < other.ended_at or (
            record.started_at < other.started_at < record.ended_at
        ):
            yield unlikely(
                Why.COUNTED_TWICE,
                "started_at",
                f"{_called(other)} on {other.zone} lasts from {at_words(other.started_at, site)} to "
                f"{at_words(other.ended_at, site)}, so that the same water may be counted twice",
                f"{at_words(record.started_at, site)} to {at_words(record.ended_at, site)}",
                "one run of a zone at a time",
            )


def _read_twice(record: GaugeReading, known: Known, site: Site) -> Iterator[Outside]:
    readings = known.near(record, LONGEST_SPAN)
    for other in readings:
        if other.read_at == record.read_at:
            what = f"{_called(other)} was read at the same time"
            yield cannot(
                Why.COUNTED_TWICE,
                "read_at",
                what,
                at_words(record.read_at, site),
                "another time, or edit or remove that one",
            )
    for other in readings:
        since = record.since
        if since is not None and since < other.read_at < record.read_at:
            yield unlikely(
                Why.COUNTED_TWICE,
                "since",
                f"{_called(other)} was read in between, at {at_words(other.read_at, site)}, so that the same rain "
                "may be counted twice",
                at_words(since, site),
                f"from {at_words(other.read_at, site)} on",
            )
        elif other.since is not None and other.since < record.read_at < other.read_at:
            yield unlikely(
                Why.COUNTED_TWICE,
                "read_at",
                f"{_called(other)} counts the rain from {at_words(other.since, site)} to "
                f"{at_words(other.read_at, site)} already, so that the same rain may be counted twice",
                at_words(record.read_at, site),
            )
    for other in readings:
        alike = record.depth_mm > 0 and other.depth_mm == record.depth_mm and record.since is None
        if alike and timedelta() < record.read_at - other.read_at <= TWICE_READ:
            yield unlikely(
                Why.PERHAPS_TWICE,
                "read_at",
                f"{_called(other)} has the same depth and was read shortly before, at "
                f"{at_words(other.read_at, site)}; it may be the same rain",
                at_words(record.read_at, site),
            )


def _probed_twice(record: ProbeReading, known: Known) -> Iterator[Outside]:
    for other in known.near(record, timedelta()):
        if other.zone == record.zone:
            what = f"{_called(other)} is of the same zone and time, and tells another depth"
            yield unlikely(Why.PERHAPS_TWICE, "read_at", what)


def _bought_twice(record: StockChange, known: Known, site: Site) -> Iterator[Outside]:
    for other in known.near(record, TWICE_BOUGHT):
        if (other.product, other.amount) == (record.product, record.amount) and not known.put_down_at(other):
            done = "used" if record.amount < 0 else "bought"
            yield unlikely(
                Why.PERHAPS_TWICE,
                "amount",
                f"{_called(other)} says that the same amount of {record.product} was {done} at "
                f"{at_words(other.changed_at, site)}; it may be the same one",
                at_words(record.changed_at, site),
                "once in 24 hours",
            )


class Days:
    """The local days of records: whether one lies a year away from all others."""

    def __init__(self, days: Iterable[date]) -> None:
        self._days: Sequence[date] = sorted(set(days))

    def is_alone(self, day: date) -> bool:
        """Whether no other day lies within a year."""
        at = bisect_left(self._days, day)
        around = [*self._days[max(at - 1, 0) : at], *(d for d in self._days[at : at + 2] if d != day)]
        return all(abs(other - day) > A_YEAR for other in around)
