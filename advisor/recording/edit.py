"""Editing one record: the fields that the owner names, and what follows from them.

A field that is named always stands as it was written. What follows where it is not named too:

run
    `started_at` moved: `ended_at` moves with it, so that the run stays as long as it was.
    `minutes` changed: the span to `ended_at`, soaks included, and a depth that was advised follow in
    proportion. `ended_at` changed: the minutes and an advised depth follow in proportion. A depth that the
    owner measured belongs to the old minutes: it is dropped, never scaled, so that the depth follows from
    the minutes again. Minutes of 0: it did not run, so that no depth and no span is left.
    `zone` changed: a depth that was advised for the old zone is dropped; one that was measured stays.
    `depth_mm` changed: nothing follows, it is a measurement.
application
    `started_at` moved: `ended_at` moves with it. `product` changed: a rate that was the site file's own
    becomes that of the new product, and so does any rate where a liquid becomes a granule or the other way
    round, and its method what it usually goes down with. `method` changed: the dilution is that of the equipment that is named, and one that came from
    the site file's equipment for the old method is dropped. `product`, `zones`, `rate` and the end change
    what it took from the stock with them, unless the owner has entered another amount there. Other products
    of its round stay as they are.
gauge reading
    Nothing of its own follows: a span that is said (`since`) is a fact of its own. Rain pairs that rested on
    the reading are taken out, because they hold the old rain against a forecast.
probe reading
    Nothing follows.
audit
    `method` changed to one that cannot tell the evenness: both coefficients are dropped, and the cans too
    where no can stood out.
stock change
    Nothing follows. One that an application took goes by its application: its product and time are not
    edited here. `product` changed from a liquid to a granule or back takes its amount with it.
archived hour, rain pair
    Nothing follows.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

from advisor.advice import (
    AlongWith,
    Consequence,
    Edited,
    Followed,
    FollowedWhy,
    Removed,
)
from advisor.errors import InputError
from advisor.lawn import (
    FIRST_READING,
    KINDS,
    Application,
    Audit,
    Field,
    Gate,
    GaugeReading,
    RainPair,
    Record,
    Records,
    Run,
    Site,
    StockChange,
    Unusable,
    called,
    close_to,
    fields_of,
    fits,
    kind_of,
    record_problems,
)
from advisor.recording.as_advised import SOURCE
from advisor.recording.entry import as_kept
from advisor.recording.gate import let_in
from advisor.recording.put_down import is_worked_out, said_equipment, taken, taken_by
from advisor.recording.said import (
    dimension_of,
    kind_of_record,
    moment_of,
    product_of,
    quantity,
    zone_of,
    zones_of,
)
from advisor.watering_in import LIQUID_METHODS, usual_equipment
from advisor.wording import listed, verb

if TYPE_CHECKING:
    from advisor.store import Store

DIMENSIONS = {
    "minutes": "duration",
    "dilution": "dilution",
    "rate_mm_h": "rate",
    "uniformity": "share",
    "christiansen": "share",
    "temp_c": "temperature",
    "dew_c": "temperature",
    "wind10_m_s": "wind",
}
UNIT_IN_NAME = re.compile(r".*_(mm|mm_h|c|m_s|m2_h|h)$|minutes|hours|members|cans|uniformity|christiansen")
STAND_IN: Mapping[str, Callable[[datetime], Any]] = {
    "text": lambda _: "",
    "number": lambda _: 0.0,
    "whole": lambda _: 0,
    "time": lambda now: now,
    "names": lambda _: (),
}
"""What stands for a value that makes no sense until its new one is read."""
CANS_OF = {"flow meter": 0, "single can": 1}
"""The ways of measuring that cannot tell the evenness, and how many cans stand out in each."""


@dataclass(frozen=True, slots=True)
class _Revised:
    """A record with what was named and what follows, and which fields followed why."""

    record: Record
    followed: tuple[Followed, ...] = ()


def edit_record(
    site: Site,
    store: Store,
    now: datetime,
    *,
    kind: str,
    number: int,
    changes: Sequence[str],
    anyway: bool = False,
) -> Edited:
    """Give fields of one record other values ("minutes=5 min"), with all that follows, as one entry.

    `anyway`: what is unlikely of the values that are new is so.
    """
    sort = kind_of_record(kind)
    before = store.find(sort, number)
    records = store.records()
    gate = Gate(site, records, now)
    if isinstance(before, Unusable):
        return _mended(before, changes, site, store, now, gate, anyway=anyway)
    named = changes_of(changes, before, site, now)
    _refuse_another_owner(before, named, records, site)
    revised = revise(before, named, site)
    _refuse_unsound(revised.record, named)
    let_in([revised.record], gate, {}, anyway=anyway, before=gate.outside(before))
    along = _along(before, revised.record, records, site)
    added = store.revise(
        "edit",
        changed=[revised.record, *(each.new for each in along if each.old and each.new)],
        gone=[each.old for each in along if each.old and not each.new],
        new=[each.new for each in along if each.new and not each.old],
    )
    return Edited(
        site=site.place.name,
        before=as_kept(before, site),
        after=as_kept(revised.record, site),
        followed=revised.followed,
        along=tuple(_told(each, added, site) for each in along),
    )


def remove_record(site: Site, store: Store, *, kind: str, number: int) -> Removed:
    """Take one record out, with what it took from the stock and the rain pairs that rested on it, as one entry."""
    before = store.find(kind_of_record(kind), number)
    if isinstance(before, Unusable):
        store.revise("remove", gone=[before])
        return Removed(site=site.place.name, removed=as_kept(before, site))
    along = _along(before, None, store.records(), site)
    store.revise("remove", gone=[before, *(each.old for each in along if each.old)])
    return Removed(
        site=site.place.name,
        removed=as_kept(before, site),
        along=tuple(_told(each, (), site) for each in along),
    )


def _mended(
    before: Unusable,
    texts: Sequence[str],
    site: Site,
    store: Store,
    now: datetime,
    gate: Gate,
    *,
    anyway: bool,
) -> Edited:
    """A record that made no sense, with values for what was wrong; nothing else follows from it."""
    broken = [name for name, value in before.values.items() if not fits(before.kind, name, value)]
    in_place = {**before.values, **{name: STAND_IN[_holds(before.kind, name)](now) for name in broken}}
    stands: Any = KINDS[before.kind].type(**in_place)
    named = changes_of(texts, stands, site, now)
    missing = [name for name in broken if name not in named]
    if missing:
        raise InputError(
            f"{called(before)} cannot be used before {listed(missing)} {verb(missing)} mended too",
            field="changes",
            allowed=" ".join(f"--set {name}=…" for name in missing),
        )
    after: Any = replace(stands, **named)
    _refuse_unsound(after, named)
    let_in([after], gate, {}, anyway=anyway)
    store.revise("edit", changed=[after])
    return Edited(site=site.place.name, before=as_kept(before, site), after=as_kept(after, site))


def _holds(kind: str, name: str) -> str:
    return next(field.holds for field in fields_of(kind) if field.name == name)


def changes_of(texts: Iterable[str], record: Record, site: Site, now: datetime) -> dict[str, Any]:
    """Fields and their new values; a bare number is in the unit that the field's name says.

    "none" empties a field that may be empty. "16:30" is on the local day that stands there.
    """
    fields = {field.name: field for field in fields_of(kind_of(record)) if field.name != "id"}
    split = [(text, *(part.strip() for part in text.partition("="))) for text in texts]
    changes: dict[str, Any] = {}
    for text, name, equals, value in sorted(split, key=lambda each: each[1] != "product"):
        if not equals or name not in fields:
            raise InputError(
                f"a change of this {KINDS[kind_of(record)].one} is FIELD=VALUE",
                field="changes",
                found=repr(text),
                allowed=close_to(name, fields),
            )
        changes |= _value(fields[name], value, record, site, now)
        if name == "product":  # the unit of a rate or an amount is that of the new product
            record = replace(record, **{name: changes[name]})
    return changes


def _value(field: Field, text: str, record: Record, site: Site, now: datetime) -> Mapping[str, Any]:
    """The value of a field; equipment that is named as a method brings its dilution."""
    name = field.name
    if field.optional and text.lower() in ("", "none"):
        return {name: None}
    if field.holds == "names":
        return {name: zones_of(text, site, field=name)}
    if name == "zone":
        return {name: zone_of(text, site)}
    if name == "product":
        return {name: product_of(text, site)}
    if name == "method" and isinstance(record, Application):
        equipment = said_equipment(text, site)
        method, dilution = equipment.method, equipment.dilution
        return {name: method} if dilution is None else {name: method, "dilution": dilution}
    if field.holds == "time":
        there: datetime = getattr(record, name) or getattr(record, KINDS[kind_of(record)].time)
        day = there.astimezone(site.place.zone).date()
        return {name: moment_of(text, site, now, field=name, day=day).at}
    if field.holds == "text":
        return {name: text}
    return {name: _number(field, text, record, site)}


def _number(field: Field, text: str, record: Record, site: Site) -> float | int:
    try:
        bare = int(text) if field.holds == "whole" else float(text)
    except ValueError:
        bare = None
    if bare is not None and UNIT_IN_NAME.fullmatch(field.name):
        return bare
    if field.holds == "whole":
        raise InputError("a whole number is asked here", field=field.name, found=repr(text))
    dimension = DIMENSIONS.get(field.name) or ("depth" if field.name.endswith("_mm") else None)
    product = getattr(record, "product", None)
    if product is not None and field.name in ("rate", "amount"):
        dimension = dimension_of(product, site, rate=field.name == "rate")
    if dimension is None:
        raise InputError("a number is asked here", field=field.name, found=repr(text))
    return quantity(text, dimension, field=field.name)


# -- what follows within the record


def revise(before: Record, named: Mapping[str, Any], site: Site) -> _Revised:
    """The record with the values that were named and all that follows within it."""
    after: Any = replace(before, **named)
    match before:
        case Run():
            return _run(before, after, named)
        case Application():
            return _application(before, after, named, site)
        case Audit() if "method" in named and after.method in CANS_OF:
            return _cannot_tell(after, named)
    return _Revised(after)


def _run(before: Run, after: Run, named: Mapping[str, Any]) -> _Revised:
    followed: list[Followed] = []
    share = _share_of_run(before, after, named)
    if "ended_at" not in named and ("started_at" in named or "minutes" in named):
        span = before.ended_at - before.started_at
        if "minutes" in named:
            span = share * span if before.minutes else timedelta(minutes=after.minutes)
        after = replace(after, ended_at=after.started_at + span)
        why = FollowedWhy.IN_PROPORTION if "minutes" in named else FollowedWhy.KEEPS_LENGTH
        followed += _if_other("ended_at", before, after, why)
    if "minutes" not in named and "ended_at" in named:
        span = after.ended_at - after.started_at
        ran = share * before.minutes if before.minutes else span / timedelta(minutes=1)
        after = replace(after, minutes=max(ran, 0.0))
        followed += _if_other("minutes", before, after, FollowedWhy.IN_PROPORTION)
    if "depth_mm" not in named and before.depth_mm is not None:
        depth_mm, why = _depth(before, after, share)
        after = replace(after, depth_mm=depth_mm)
        followed += _if_other("depth_mm", before, after, why)
    return _Revised(after, tuple(followed))


def _share_of_run(before: Run, after: Run, named: Mapping[str, Any]) -> float:
    """How much of the recorded run is left: by its minutes, or by its span where only that was named."""
    if "minutes" in named:
        return after.minutes / before.minutes if before.minutes else 1.0
    span = before.ended_at - before.started_at
    if "ended_at" in named and span > timedelta():
        return (after.ended_at - after.started_at) / span
    return 1.0


def _depth(before: Run, after: Run, share: float) -> tuple[float | None, FollowedWhy]:
    """The depth of a run where no new one was named, and why."""
    assert before.depth_mm is not None
    advised = before.source == SOURCE
    if after.minutes == 0 and before.minutes:
        return (0.0 if advised else None), FollowedWhy.DID_NOT_RUN
    if advised and after.zone != before.zone:
        return None, FollowedWhy.OTHER_ZONE
    if after.minutes == before.minutes:
        return before.depth_mm, FollowedWhy.IN_PROPORTION
    if advised and before.minutes:
        return share * before.depth_mm, FollowedWhy.IN_PROPORTION
    return None, FollowedWhy.MEASURED_DROPPED if before.minutes else FollowedWhy.FROM_MINUTES


def _application(before: Application, after: Application, named: Mapping[str, Any], site: Site) -> _Revised:
    followed: list[Followed] = []
    if "started_at" in named and "ended_at" not in named:
        after = replace(after, ended_at=after.started_at + (before.ended_at - before.started_at))
        followed += _if_other("ended_at", before, after, FollowedWhy.KEEPS_LENGTH)
    if "product" in named and "rate" not in named and before.rate is not None:
        old, new = site.products.get(before.product), site.products[after.product]
        other_form = dimension_of(before.product, site, rate=True) != dimension_of(
            after.product, site, rate=True
        )
        if other_form or (old is not None and before.rate == old.rate):
            after = replace(after, rate=new.rate)
            followed += _if_other("rate", before, after, FollowedWhy.SITE_RATE)
    if "product" in named and "method" not in named:
        product = site.products[after.product]
        fits_method = (after.method in LIQUID_METHODS) == (product.kind.form == "liquid")
        if not fits_method and after.method != "by hand":
            usual = usual_equipment(site, [product])
            after = replace(after, method=usual.method, dilution=named.get("dilution", usual.dilution))
            for name in ("method", "dilution"):
                followed += _if_other(name, before, after, FollowedWhy.USUAL_EQUIPMENT)
    if "method" in named and after.method != before.method and after.dilution == before.dilution is not None:
        of_equipment = {each.dilution for each in site.sprayers if each.method == before.method}
        if "dilution" not in named and before.dilution in of_equipment:
            after = replace(after, dilution=None)
            followed += _if_other("dilution", before, after, FollowedWhy.SITE_DILUTION)
    return _Revised(after, tuple(followed))


def _cannot_tell(after: Audit, named: Mapping[str, Any]) -> _Revised:
    """An audit by a way of measuring that cannot tell the evenness."""
    dropped: dict[str, Any] = {"uniformity": None, "christiansen": None, "cans": CANS_OF[after.method]}
    changed: Any = replace(after, **{name: v for name, v in dropped.items() if name not in named})
    return _Revised(
        changed,
        tuple(each for name in dropped for each in _if_other(name, after, changed, FollowedWhy.CANNOT_TELL)),
    )


def _if_other(field: str, before: Record, after: Record, why: FollowedWhy) -> list[Followed]:
    same = getattr(before, field) == getattr(after, field)
    return [] if same else [Followed(field=field, why=why)]


# -- what follows in other records


@dataclass(frozen=True, slots=True)
class _Other:
    """Another record as it stands and as it will: no `old` is a new one, no `new` one that goes."""

    old: Record | None
    new: Record | None
    consequence: Consequence


def _along(before: Record, after: Record | None, records: Records, site: Site) -> list[_Other]:
    """Other records that an edit concerns, or a removal (`after` None)."""
    if isinstance(before, Application):
        other = _stock_along(before, after if isinstance(after, Application) else None, records, site)
        return [] if other is None else [other]
    if isinstance(before, GaugeReading):
        if isinstance(after, GaugeReading) and replace(after, note=before.note) == before:
            return []
        readings = (before, after) if isinstance(after, GaugeReading) else (before,)
        return [_Other(pair, None, Consequence.REMOVED) for pair in _resting_on(readings, records)]
    return []


def _stock_along(
    before: Application, after: Application | None, records: Records, site: Site
) -> _Other | None:
    there = taken_by(before, records.stock, site)
    if after is None:
        return None if there is None else _Other(there, None, Consequence.REMOVED)
    amount_asked = any(getattr(before, name) != getattr(after, name) for name in ("product", "zones", "rate"))
    if not amount_asked and before.ended_at == after.ended_at:
        return None
    wanted = taken(after, site)
    if there is None:
        new = wanted is not None and taken(before, site) is None
        return _Other(None, wanted, Consequence.ADDED) if new else None
    if before.product == after.product and not is_worked_out(there, before, site):
        moved = replace(there, changed_at=after.ended_at)
        return _Other(there, moved, Consequence.KEPT if amount_asked else Consequence.CHANGED)
    if wanted is None:
        return _Other(there, None, Consequence.REMOVED)
    return _Other(there, replace(wanted, id=there.id, why=there.why), Consequence.CHANGED)


def _resting_on(readings: Sequence[GaugeReading], records: Records) -> list[RainPair]:
    """The rain pairs whose period overlaps what these readings, or the reading after them, count."""
    others = [each for each in records.gauge if each.id != readings[0].id]
    spans = []
    for reading in readings:
        earlier = [each.read_at for each in others if each.read_at < reading.read_at]
        later = [each.read_at for each in others if each.read_at > reading.read_at and each.since is None]
        begin = reading.since or max(earlier, default=reading.read_at - FIRST_READING)
        moved = len(readings) == 1 or readings[0].read_at != readings[1].read_at
        spans.append((begin, min(later, default=reading.read_at) if moved else reading.read_at))
    begin, end = min(each[0] for each in spans), max(each[1] for each in spans)
    return [
        pair
        for pair in records.pairs
        if pair.starts_at < end and pair.starts_at + timedelta(hours=pair.hours) > begin
    ]


def _told(other: _Other, added: Sequence[Record], site: Site) -> AlongWith:
    """What became of another record; a new one has its id in `added`."""
    stands = added[0] if other.old is None else other.new or other.old
    return AlongWith(
        consequence=other.consequence,
        record=as_kept(stands, site),
        before=None if other.old is None or other.new is None else as_kept(other.old, site),
    )


def _refuse_unsound(after: Record, named: Mapping[str, Any]) -> None:
    """InputError for a record that makes no sense."""
    wrong = record_problems(after)
    if wrong:
        worst = next((each for each in wrong if each.field in named), wrong[0])
        raise InputError(
            f"this {KINDS[kind_of(after)].one} cannot be so",
            field=worst.field,
            found=worst.found,
            allowed=worst.allowed,
        )


def _refuse_another_owner(before: Record, named: Mapping[str, Any], records: Records, site: Site) -> None:
    """A stock change that an application took has its product and time from it."""
    if not isinstance(before, StockChange):
        return
    for field in ("product", "changed_at"):
        if field in named and named[field] != getattr(before, field):
            for each in records.applications:
                if taken_by(each, records.stock, site) == before:
                    raise InputError(
                        f"this is what application {each.id} took from the stock",
                        field=field,
                        allowed=f"edit application {each.id}, and the stock follows",
                    )
    if "product" in named and "amount" not in named:
        units = {dimension_of(name, site, rate=False) for name in (before.product, named["product"])}
        if len(units) > 1:
            raise InputError(
                "an amount by volume says nothing of one by weight",
                field="amount",
                allowed="amount=… with it",
            )
