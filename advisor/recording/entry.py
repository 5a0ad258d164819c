"""Recording what happened: an entry as the owner wrote it is understood, then kept as one step that can be undone.

`understood` needs no store, so that a slip makes no records file. `keep` writes. Errors name the field of
the entry.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from advisor.advice import (
    AT_THE_LOOK,
    Asking,
    EntryNote,
    EntryNoteKind,
    Equipment,
    KeptRecord,
    LeftOut,
    LookKind,
    Recorded,
    RecordKind,
    open_advice,
    unusable_told,
)
from advisor.errors import InputError
from advisor.lawn import (
    MOST_RUN_MIN,
    Application,
    Gate,
    GaugeReading,
    ProbeReading,
    Record,
    Records,
    Run,
    Site,
    StockChange,
    Unusable,
    kind_of,
    stock_below_zero,
)
from advisor.recording.gate import let_in
from advisor.recording.put_down import equipment_of, products_of, rate_of, taken
from advisor.recording.said import (
    SaidTime,
    depth_of,
    dimension_of,
    moment_of,
    product_of,
    quantity,
    zone_of,
    zones_of,
)
from advisor.sentences import (
    came_twice_words,
    emptied_words,
    equipment_words,
    goes_on_words,
    record_words,
    seed_warnings,
    span_words,
    unusable_words,
)
from advisor.watering_in import LIQUID_METHODS

if TYPE_CHECKING:
    from advisor.store import Store

RUN_MINUTES = "more than 0 up to 1,440 minutes: 18, '18 min' or '1 h'"

ENTRY_FIELDS = {
    ("applications", "product"): "products",
    ("applications", "started_at"): "at",
    ("applications", "ended_at"): "until",
    ("runs", "started_at"): "at",
    ("runs", "ended_at"): "minutes",
    ("runs", "depth_mm"): "depth",
    ("gauge", "depth_mm"): "amount",
    ("gauge", "read_at"): "at",
    ("probes", "depletion_mm"): "depletion",
    ("probes", "read_at"): "at",
    ("stock", "changed_at"): "at",
}
"""The field of an entry that a field of its record comes from, where it bears another name."""


@dataclass(frozen=True, slots=True)
class ApplicationEntry:
    """Products put down together; what is None was not said."""

    products: tuple[str, ...]
    zones: str | None = None
    at: str | None = None
    until: str | None = None
    method: str | None = None
    dilution: str | None = None
    rate: str | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class RunEntry:
    """One run of one zone."""

    zone: str | None
    minutes: str | None
    at: str | None
    depth: str | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class RainEntry:
    """A reading of the gauge."""

    amount: str
    at: str | None = None
    since: str | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class ProbeEntry:
    """A reading of the soil probe."""

    zone: str
    depletion: str
    at: str | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class StockEntry:
    """Product bought, or used up or lost."""

    product: str
    amount: str
    used: bool = False
    why: str = ""
    at: str | None = None


Entry = ApplicationEntry | RunEntry | RainEntry | ProbeEntry | StockEntry


@dataclass(frozen=True, slots=True)
class Understood:
    """The records that an entry comes to, the moments in it, advised runs that it leaves out, with what an
    application was put down, and until when a run goes on."""

    records: tuple[Record, ...]
    moments: tuple[SaidTime, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    equipment: Equipment | None = None
    goes_on_until: datetime | None = None


def understood(entry: Entry, site: Site, now: datetime) -> Understood:
    """What an entry comes to on this site. InputError or ManyProblems where it cannot be."""
    match entry:
        case ApplicationEntry():
            return _application(entry, site, now)
        case RunEntry():
            return _run(entry, site, now)
        case RainEntry():
            return _rain(entry, site, now)
        case ProbeEntry():
            zone = zone_of(entry.zone, site)
            missing_mm = depth_of(entry.depletion, field="depletion")
            read = moment_of(entry.at, site, now, field="at")
            return Understood((ProbeReading(zone, read.at, missing_mm, entry.note),), (read,))
        case StockEntry():
            product = product_of(entry.product, site)
            much = quantity(entry.amount, dimension_of(product, site, rate=False), field="amount")
            changed = moment_of(entry.at, site, now, field="at")
            amount = -much if entry.used else much
            return Understood((StockChange(product, changed.at, amount, entry.why),), (changed,))


def _application(entry: ApplicationEntry, site: Site, now: datetime) -> Understood:
    names, round_ = products_of(entry.products, site)
    if entry.zones is not None:
        zones = zones_of(entry.zones, site)
    else:
        zones = (round_.zones if round_ else ()) or tuple(zone.name for zone in site.zones)
    begun = moment_of(entry.at, site, now, field="at")
    done = moment_of(entry.until, site, now, field="until", after=begun.at) if entry.until else begun
    if done.at < begun.at:
        raise InputError("the end lies before the beginning", field="until", found=repr(entry.until))
    equipment = equipment_of(entry.method, names, round_, site)
    if entry.dilution is not None:
        ratio = quantity(entry.dilution, "dilution", field="dilution")
        equipment = equipment.model_copy(update={"dilution": ratio})

    def as_said(name: str) -> bool:
        """Whether a product goes down by this equipment: of a mixed lot, what is no liquid is spread."""
        sprayed = equipment.method in LIQUID_METHODS
        return entry.method is not None or not sprayed or site.products[name].kind.form == "liquid"

    start = begun.at.astimezone(site.place.zone).isoformat(timespec="minutes")
    put_down = [
        Application(
            product=name,
            zones=zones,
            started_at=begun.at,
            ended_at=done.at,
            method=equipment.method if as_said(name) else "spreader",
            dilution=equipment.dilution if as_said(name) else None,
            rate=rate_of(name, entry.rate, site),
            round_id=start if len(names) > 1 else "",
            note=entry.note,
        )
        for name in names
    ]
    used = [change for each in put_down if (change := taken(each, site)) is not None]
    moments = (begun,) if done is begun else (begun, done)
    return Understood((*put_down, *used), moments, equipment=equipment)


def _run(entry: RunEntry, site: Site, now: datetime) -> Understood:
    if entry.zone is None or entry.minutes is None or entry.at is None:
        given = {"zone": entry.zone, "minutes": entry.minutes, "at": entry.at}
        raise InputError(
            "a run is a zone, its minutes and when it began",
            field=next(name for name, value in given.items() if value is None),
            allowed="advisor record run Front 18 --at 05:10, or advisor record run --as-advised",
        )
    zone = zone_of(entry.zone, site)
    ran = minutes_of(entry.minutes)
    begun = moment_of(entry.at, site, now, field="at")
    ended_at = begun.at + timedelta(minutes=ran)
    depth_mm = quantity(entry.depth, "depth", field="depth") if entry.depth else None
    run = Run(zone, begun.at, ended_at, ran, depth_mm, note=entry.note)
    return Understood((run,), (begun,), goes_on_until=ended_at if ended_at > now else None)


def minutes_of(text: str, *, field: str = "minutes") -> float:
    """How long water ran; a bare number is minutes."""
    bare = text.strip().replace(".", "", 1).isdecimal()
    try:
        ran = float(text) if bare else quantity(text, "duration", field=field)
    except InputError as problem:
        raise InputError(
            "the minutes of a run are a number, with or without a unit",
            field=field,
            found=problem.found or repr(text),
            allowed=RUN_MINUTES,
        ) from None
    if not 0 < ran <= MOST_RUN_MIN:
        skipped = (
            "a run that did not take place is not recorded; one that was advised: --as-advised --skipped"
        )
        what = skipped if ran == 0 else "no zone runs for so long"
        raise InputError(what, field=field, found=repr(text), allowed=RUN_MINUTES)
    return ran


def _rain(entry: RainEntry, site: Site, now: datetime) -> Understood:
    depth_mm = depth_of(entry.amount, field="amount")
    read = moment_of(entry.at, site, now, field="at")
    if entry.since is None:
        return Understood((GaugeReading(read.at, depth_mm, None, entry.note),), (read,))
    emptied = moment_of(entry.since, site, now, field="since")
    if emptied.at >= read.at:
        raise InputError(
            "the gauge was emptied before it was read",
            field="since",
            found=span_words(emptied.at, None, site.place.zone),
        )
    return Understood((GaugeReading(read.at, depth_mm, emptied.at, entry.note),), (read, emptied))


def keep(meant: Understood, site: Site, store: Store, now: datetime, *, anyway: bool = False) -> Recorded:
    """Write the records as one entry, where the gate lets them pass.

    RecordsError where one of them is there already, InputError where one cannot be, Unlikely where one hardly
    is and it is not said that it is so (`anyway`).
    """
    earlier = store.records()
    records = tuple(_since_emptied(each, earlier, site, store) for each in meant.records)
    let_in(records, Gate(site, earlier, now), ENTRY_FIELDS, anyway=anyway)
    kept = store.add(records)
    put_down = [each for each in kept if isinstance(each, Application)]
    goes_along = [each for each in kept if put_down and isinstance(each, StockChange)]
    return Recorded(
        site=site.place.name,
        records=tuple(as_kept(each, site) for each in kept if each not in goes_along),
        used_up=tuple(as_kept(each, site) for each in goes_along),
        notes=(
            *(
                EntryNote(kind=EntryNoteKind.SEED, text=f"TAKE CARE: {text}.")
                for text in seed_warnings(put_down, earlier.applications, site)
            ),
            *_below_zero(records, earlier, site),
            *_taken_for_granted(meant.equipment),
            *_goes_on(meant.goes_on_until, site),
            *_emptied(records, meant.records, site),
            *(
                EntryNote(
                    kind=EntryNoteKind.CAME_TWICE,
                    text=came_twice_words(moment.at, moment.other, site.place.zone),
                    taken_at=moment.at,
                    other_at=moment.other,
                )
                for moment in meant.moments
                if moment.other is not None
            ),
        ),
        left_out=meant.left_out,
    )


def _since_emptied(record: Record, earlier: Records, site: Site, store: Store) -> Record:
    """A reading that does not say since when, at a look for which the gauge was to be emptied, counts from then.

    Not where the gauge was read in between: then it counts from that reading, as always.
    """
    if not isinstance(record, GaugeReading) or record.since is not None:
        return record
    kept = store.last_advice(site.place.name)
    advice = None if kept is None else open_advice(kept.advice_json)
    if advice is None or any(each.read_at > advice.now for each in earlier.gauge):
        return record
    looks = [look.at for look in advice.next_looks if look.kind is LookKind.GAUGE]
    if not looks or not advice.now < record.read_at <= max(looks) + AT_THE_LOOK:
        return record
    return replace(record, since=advice.now)


def as_kept(record: Record | Unusable, site: Site) -> KeptRecord:
    """A record as it is handed out, or what stands in the place of one."""
    if isinstance(record, Unusable):
        words = unusable_words(record)
        return KeptRecord(
            kind=RecordKind(record.kind), id=record.id, record=unusable_told(record), words=words
        )
    return KeptRecord(
        kind=RecordKind(kind_of(record)), id=record.id, record=record, words=record_words(record, site)
    )


def _below_zero(records: Sequence[Record], present: Records, site: Site) -> list[EntryNote]:
    """What is to be told about stocks that these records took below zero."""
    used = [each for each in records if isinstance(each, StockChange) and each.amount < 0]
    told = stock_below_zero([*present.stock, *used], site, [each.product for each in used])
    return [
        EntryNote(kind=EntryNoteKind.STOCK_BELOW_ZERO, text=f"{each[:1].upper()}{each[1:]}.") for each in told
    ]


def _taken_for_granted(equipment: Equipment | None) -> list[EntryNote]:
    """What is taken for granted about the equipment, where it was not said."""
    words = "" if equipment is None else equipment_words(equipment, Asking.RECORD)
    return [EntryNote(kind=EntryNoteKind.EQUIPMENT, text=words)] if words else []


def _emptied(records: Sequence[Record], said: Sequence[Record], site: Site) -> list[EntryNote]:
    """From when readings count that did not say so themselves."""
    return [
        EntryNote(
            kind=EntryNoteKind.EMPTIED,
            text=emptied_words(each.since, site.place.zone),
            emptied_at=each.since,
        )
        for each, before in zip(records, said, strict=True)
        if isinstance(each, GaugeReading) and each is not before and each.since is not None
    ]


def _goes_on(until: datetime | None, site: Site) -> list[EntryNote]:
    """That a run is not over yet."""
    if until is None:
        return []
    words = goes_on_words(until, site.place.zone)
    return [EntryNote(kind=EntryNoteKind.GOES_ON, text=words, ends_at=until)]
