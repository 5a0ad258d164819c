"""What the commands that record share: the store, local times, names of the site, and a record in words."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from advisor.errors import InputError, RecordsError
from advisor.lawn.bounds import beyond, stock_below_zero
from advisor.lawn.fields import close_to, plain
from advisor.lawn.record_fields import KINDS, kind_of, of_kind
from advisor.lawn.records import (
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
)
from advisor.lawn.site_values import Site
from advisor.units import clock_time, show, show_amount
from advisor.wording import listed, short_day

if TYPE_CHECKING:
    from advisor.faces.cli.options import Opened
    from advisor.store import Store

TIME_FORMS = "16:30 (the last time it was 16:30), 2026-06-16T16:30, 2026-06-16T16:30-05:00"
UNDO = "undo: advisor records undo"
THROWAWAY = "Demo: this went into a throwaway copy of the invented records; nothing is kept."


def open_records(opened: Opened, *, create: bool = True) -> Store:
    """The site's records; with --demo a throwaway copy of the demo's."""
    from advisor.store import open_store

    if not opened.demo:
        return open_store(opened.site.records_path, create=create)
    from advisor.lawn.records_file import read
    from advisor.shipped import shipped

    return open_store(None, seed=read(shipped("data", "demo_records.json")))


def named(
    found: str, allowed: Iterable[str], *, what: str, where: str, known: str = " in the site file"
) -> str:
    """The name as the site writes it; capitals and spaces do not matter, a slip gets a hint.

    `known` says in an error where the names come from.
    """
    names = list(allowed)
    same = {plain(name): name for name in names}.get(plain(found))
    if same is None:
        raise InputError(
            f"there is no such {what}{known}", where=where, found=repr(found), allowed=close_to(found, names)
        )
    return same


def zones_of(text: str, site: Site, *, where: str = "--zones") -> tuple[str, ...]:
    """Zones separated by commas, each once, as the site writes them."""
    names = [zone.name for zone in site.zones]
    found = [named(part, names, what="zone", where=where) for part in text.split(",") if part.strip()]
    if not found:
        raise InputError("no zone is named", where=where, found=repr(text), allowed=", ".join(names))
    return tuple(dict.fromkeys(found))


def moment_of(
    text: str,
    opened: Opened,
    *,
    where: str,
    day: date | None = None,
    after: datetime | None = None,
) -> tuple[datetime, str]:
    """A past time in UTC and, where the clock showed it twice, a word on which was taken.

    "16:30" is the last 16:30 before now, or that of the local `day`, or the first from `after` on.
    A time without an offset is local. A time of the future is refused.
    """
    zone, now = opened.site.place.zone, opened.now.astimezone(UTC)
    clock = clock_time(text)
    if clock is not None:
        found, word = _on_its_day(clock, zone, now, where=where, day=day, after=after)
    else:
        try:
            parsed = datetime.fromisoformat(text.strip())
        except ValueError:
            parsed = None
        if parsed is None or re.fullmatch(r"[0-9-]+", text.strip()):
            raise InputError("a time is not understood", where=where, found=repr(text), allowed=TIME_FORMS)
        found, word = (
            _settled(parsed, zone, now, where=where)
            if parsed.tzinfo is None
            else (parsed.astimezone(UTC), "")
        )
    if found > now:
        raise InputError(
            "only what has happened is recorded",
            where=where,
            found=f"{_day(found, zone)} {found.astimezone(zone):%H:%M}",
            allowed=f"up to now, {_day(now, zone)} {now.astimezone(zone):%H:%M}",
        )
    return found, word


def _on_its_day(
    clock: time, zone: ZoneInfo, now: datetime, *, where: str, day: date | None, after: datetime | None
) -> tuple[datetime, str]:
    start = day or (after or now).astimezone(zone).date()
    found, word = _settled(datetime.combine(start, clock), zone, now, where=where)
    if day is None and after is not None and found < after:
        if datetime.combine(start + timedelta(days=1), clock, zone) > now:
            raise InputError(
                "the end lies before the beginning",
                where=where,
                found=repr(f"{clock:%H:%M}"),
                allowed=f"from {after.astimezone(zone):%H:%M} on, or a full time such as 2026-06-16T16:30",
            )
        return _settled(datetime.combine(start + timedelta(days=1), clock), zone, now, where=where)
    if day is None and after is None and found > now:
        return _settled(datetime.combine(start - timedelta(days=1), clock), zone, now, where=where)
    return found, word


def _settled(local: datetime, zone: ZoneInfo, now: datetime, *, where: str) -> tuple[datetime, str]:
    """A wall-clock time as UTC on the two nights of the year when the clocks change."""
    first = local.replace(tzinfo=zone, fold=0).astimezone(UTC)
    second = local.replace(tzinfo=zone, fold=1).astimezone(UTC)
    if first.astimezone(zone).replace(tzinfo=None) != local:
        raise InputError(
            f"this time did not exist on {local:%Y-%m-%d}: the clocks went forward over it",
            where=where,
            found=f"{local:%H:%M}",
            allowed=f"{second.astimezone(zone):%H:%M} or {first.astimezone(zone):%H:%M}",
        )
    if first == second:
        return first, ""
    taken, other = (second, first) if second <= now else (first, second)
    which = "second" if taken == second else "first"
    return taken, (
        f"{local:%H:%M} came twice on {local:%Y-%m-%d}; the {which} was taken "
        f"({taken.astimezone(zone).isoformat(timespec='minutes')}), "
        f"the other is {other.astimezone(zone).isoformat(timespec='minutes')}."
    )


def refuse_doubled(store: Store, records: Iterable[Record]) -> None:
    """A sentence when the very same thing is recorded already."""
    present = store.records()
    for record in records:
        content = _content(record)
        for there in of_kind(present, kind_of(record)):
            if _content(there) == content:
                raise RecordsError(
                    f"this is recorded already as {KINDS[kind_of(record)].one} {there.id}; nothing was written"
                )


def refuse_beyond(records: Iterable[Record], present: Records, site: Site) -> None:
    """A sentence when a value is far out of what this lawn, its products and its sky allow."""
    for record in records:
        found = beyond(record, site, present.gauge)
        if found is not None:
            where = KINDS[kind_of(record)].one
            raise InputError(found.what, where=where, found=found.found, allowed=found.allowed)


def below_zero(records: Iterable[Record], present: Records, site: Site) -> list[str]:
    """What is to be told about stocks that these records took below zero."""
    used = [each for each in records if isinstance(each, StockChange) and each.amount < 0]
    told = stock_below_zero([*present.stock, *used], site, [each.product for each in used])
    return [f"{each[:1].upper()}{each[1:]}." for each in told]


def _content(record: Record) -> Record:
    """What makes two entries the same, whatever round or note they bear."""
    if isinstance(record, Application):
        return replace(record, id=0, note="", round_id="")
    return record if isinstance(record, StockChange) else replace(record, id=0)


def _day(when: datetime, zone: ZoneInfo) -> str:
    return short_day(when.astimezone(zone), year=True)


def when(start: datetime, end: datetime | None, site: Site) -> str:
    """A local time or span: Wed 17 Jun 2026 16:30–17:10."""
    zone = site.place.zone
    text = f"{_day(start, zone)} {start.astimezone(zone):%H:%M}"
    if end is None or end == start:
        return text
    later = "" if _day(end, zone) == _day(start, zone) else f"{_day(end, zone)} "
    return f"{text}–{later}{end.astimezone(zone):%H:%M}"


def in_words(record: Record, site: Site) -> str:
    """A record in the owner's units and local time, without its id."""
    units = site.place.units
    match record:
        case Application():
            rate = (
                f", {show(record.rate, dimension_of(record.product, site, ' rate'), units)}"
                if record.rate
                else ""
            )
            dilution = f", diluted {show(record.dilution, 'dilution', units)}" if record.dilution else ""
            by = record.method if record.method == "by hand" else f"by {record.method}"
            text = f"{record.product} on {listed(record.zones)} {by}{rate}{dilution}, "
            text += when(record.started_at, record.ended_at, site)
        case Run():
            depth = "" if record.depth_mm is None else f", {show(record.depth_mm, 'depth', units)}"
            ran = f"{record.minutes:.3g} min{depth}" if record.minutes else "skipped"
            text = f"{record.zone} {ran}, {record.source}, {when(record.started_at, record.ended_at, site)}"
        case GaugeReading():
            since = "the last reading" if record.since is None else when(record.since, None, site)
            text = f"{show(record.depth_mm, 'depth', units)} of rain since {since}, read {when(record.read_at, None, site)}"
        case ProbeReading():
            depth = show(record.depletion_mm, "depth", units)
            text = f"{record.zone} {depth} below field capacity, {when(record.read_at, None, site)}"
        case Audit():
            even = (
                "" if record.uniformity is None else f", uniformity {show(record.uniformity, 'share', units)}"
            )
            cans = f" ({record.cans} cans)" if record.cans else ""
            text = f"{record.zone} {show(record.rate_mm_h, 'rate', units)}{even}, {record.method}{cans}, "
            text += when(record.measured_at, None, site)
        case ArchivedHour():
            rain = (
                "rain unknown" if record.rain_mm is None else f"rain {show(record.rain_mm, 'depth', units)}"
            )
            text = f"{when(record.starts_at, None, site)} {rain}, {record.source or 'source not told'}"
        case RainPair():
            text = (
                f"{when(record.starts_at, None, site)} and {record.hours} h on: forecast {show(record.mean_mm, 'depth', units)} "
                f"({record.lead_h:g} h ahead), in the gauge {show(record.observed_mm, 'depth', units)}"
            )
        case StockChange():
            text = f"{'used' if record.amount < 0 else 'bought'} {amount_of(record, site)}"
            text += f" ({record.why})" if record.why else ""
            text += f", {when(record.changed_at, None, site)}"
    note = getattr(record, "note", "")
    return f"{text} [{note}]" if note else text


def amount_of(change: StockChange, site: Site) -> str:
    """How much of what: 22.0 fl oz Potash solution."""
    liquid = dimension_of(change.product, site, "") == "small volume"
    return f"{show_amount(abs(change.amount), liquid=liquid, system=site.place.units)} {change.product}"


def dimension_of(product: str, site: Site, of: str) -> str:
    """The dimension of a product's rate (`of` " rate") or amount (`of` ""), by its form."""
    known = site.products.get(product)
    liquid = known is None or known.kind.form == "liquid"
    if of:
        return "liquid rate" if liquid else "granule rate"
    return "small volume" if liquid else "mass"
