"""What is doubtful in records that are each sound: what contradicts another, the site or the clock."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import UTC, datetime, timedelta, tzinfo
from typing import TYPE_CHECKING

from advisor.advice import Doubt, RecordKind
from advisor.lawn import (
    KINDS,
    Application,
    GaugeReading,
    Record,
    Records,
    Run,
    kind_of,
    of_kind,
    out_of_bounds,
    stock_below_zero,
)

if TYPE_CHECKING:
    from advisor.lawn import Site


def doubts(records: Records, *, site: Site | None = None, now: datetime | None = None) -> list[Doubt]:
    """Each thing that is doubtful, with the record to mend."""
    local = UTC if site is None else site.place.zone
    found = [*_runs(records.runs, local), *_gauge(records.gauge, local)]
    if site is not None:
        found += _unknown_names(records, site)
        found += [
            _doubt(record, f"{_called(record)}: {beyond}") for record, beyond in out_of_bounds(records, site)
        ]
        found += [Doubt(text=text) for text in stock_below_zero(records.stock, site, site.products)]
    if now is not None:
        found += _future(records, now, local)
    return found


def _at(when: datetime, local: tzinfo) -> str:
    """A local time; one in UTC says so."""
    there = when.astimezone(local)
    return f"{there:%Y-%m-%d %H:%M}" + (" UTC" if local is UTC else "")


def _doubt(record: Record, text: str) -> Doubt:
    return Doubt(text=text, kind=RecordKind(kind_of(record)), id=record.id)


def _called(record: Record) -> str:
    return f"{KINDS[kind_of(record)].one} {record.id}"


def _runs(runs: Iterable[Run], local: tzinfo) -> Iterator[Doubt]:
    latest: dict[str, Run] = {}
    for run in sorted(runs, key=lambda r: r.started_at):
        if run.minutes > (run.ended_at - run.started_at) / timedelta(minutes=1) + 1:
            yield _doubt(
                run,
                f"{_called(run)} on {run.zone} says {run.minutes:g} min but lasts from "
                f"{_at(run.started_at, local)} to {_at(run.ended_at, local)}",
            )
        before = latest.get(run.zone)
        if before is not None and run.minutes and run.started_at < before.ended_at:
            yield _doubt(
                run,
                f"{_called(run)} on {run.zone} begins at {_at(run.started_at, local)}, before "
                f"{_called(before)} ends at {_at(before.ended_at, local)}: the same water may be counted twice",
            )
        if run.minutes and (before is None or run.ended_at > before.ended_at):
            latest[run.zone] = run


def _gauge(readings: Iterable[GaugeReading], local: tzinfo) -> Iterator[Doubt]:
    before: GaugeReading | None = None
    for reading in sorted(readings, key=lambda r: r.read_at):
        if before is not None and reading.read_at == before.read_at:
            yield _doubt(
                reading, f"{_called(before)} and {_called(reading)} were read at the same time: remove one"
            )
        elif before is not None and reading.since is not None and reading.since < before.read_at:
            yield _doubt(
                reading,
                f"{_called(reading)} counts rain since {_at(reading.since, local)}, before "
                f"{_called(before)} was read at {_at(before.read_at, local)}: "
                "the same rain may be counted twice",
            )
        before = reading


def _unknown_names(records: Records, site: Site) -> Iterator[Doubt]:
    zones, products = {zone.name for zone in site.zones}, set(site.products)
    for kind in KINDS:
        for record in of_kind(records, kind):
            named = record.zones if isinstance(record, Application) else (getattr(record, "zone", None),)
            for name in named:
                if name is not None and name not in zones:
                    yield _doubt(
                        record, f"{_called(record)} names the zone {name!r}, which {site.path} does not have"
                    )
            product = getattr(record, "product", None)
            if product is not None and product not in products:
                yield _doubt(
                    record,
                    f"{_called(record)} names the product {product!r}, which {site.path} does not have",
                )


def _future(records: Records, now: datetime, local: tzinfo) -> Iterator[Doubt]:
    for kind, sort in KINDS.items():
        for record in of_kind(records, kind):
            until: datetime = getattr(record, sort.until)
            if until > now:
                yield _doubt(record, f"{_called(record)} is of the future: {_at(until, local)}")
