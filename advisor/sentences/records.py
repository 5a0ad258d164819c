"""Records and what was done with them, in the owner's units and local time."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from shlex import quote
from zoneinfo import ZoneInfo

from advisor.advice import (
    Act,
    AlongWith,
    Carried,
    Consequence,
    Edited,
    Examined,
    Exported,
    Followed,
    FollowedWhy,
    KeptRecord,
    LeftOut,
    LeftOutWhy,
    Recorded,
    RecordKind,
    Removed,
    TakenBack,
)
from advisor.lawn import (
    KINDS,
    Application,
    ArchivedHour,
    Audit,
    GaugeReading,
    ProbeReading,
    RainPair,
    Record,
    Run,
    Site,
    StockChange,
    Weight,
)
from advisor.sentences.unusable import left_out_lines
from advisor.units import show, show_amount
from advisor.wording import clock_of, listed, short_day, verb

WHY_FOLLOWED: Mapping[FollowedWhy, str] = {
    FollowedWhy.KEEPS_LENGTH: "{} moved with it, so that it stays as long as it was",
    FollowedWhy.IN_PROPORTION: "{} followed in proportion",
    FollowedWhy.FROM_MINUTES: "{} follows from the minutes now",
    FollowedWhy.MEASURED_DROPPED: (
        "{} that was measured went with the old minutes and is dropped, so that what fell follows from the minutes "
        "now; if it still holds, give it again with --set depth_mm=…"
    ),
    FollowedWhy.DID_NOT_RUN: "{} is none, because it did not run",
    FollowedWhy.OTHER_ZONE: "{} was advised for the other zone and is dropped; it follows from the minutes now",
    FollowedWhy.SITE_RATE: "{} is now that of the site file for this product",
    FollowedWhy.SITE_DILUTION: "{} of the old equipment is dropped",
    FollowedWhy.USUAL_EQUIPMENT: "{} is now what the product usually goes down with",
    FollowedWhy.CANNOT_TELL: "{} dropped, because this way of measuring cannot tell it",
}
"""Why a field followed; the fields stand in the place of {}."""
FIELD_WORDS: Mapping[str, str] = {
    "ended_at": "the end",
    "minutes": "the minutes",
    "depth_mm": "the depth",
    "rate": "the rate",
    "dilution": "the dilution",
    "method": "the method",
    "uniformity": "the distribution uniformity",
    "christiansen": "Christiansen's coefficient",
    "cans": "the number of cans",
}


def day_words(when: datetime, local: ZoneInfo) -> str:
    """A local date: Wed 17 Jun 2026."""
    return short_day(when.astimezone(local).date(), year=True)


def span_words(start: datetime, end: datetime | None, local: ZoneInfo) -> str:
    """A local time or span: Wed 17 Jun 2026 16:30–17:10."""
    text = f"{day_words(start, local)} {clock_of(start.astimezone(local))}"
    if end is None or end == start:
        return text
    later = "" if day_words(end, local) == day_words(start, local) else f"{day_words(end, local)} "
    return f"{text}–{later}{clock_of(end.astimezone(local))}"


def is_liquid(product: str, site: Site) -> bool:
    """Whether a product is measured by volume; one that the site file does not know is taken to be."""
    known = site.products.get(product)
    return known is None or known.kind.form == "liquid"


def amount_words(change: StockChange, site: Site) -> str:
    """How much of what: 22.0 fl oz Potash solution."""
    liquid = is_liquid(change.product, site)
    return f"{show_amount(abs(change.amount), liquid=liquid, system=site.place.units)} {change.product}"


def record_words(record: Record, site: Site) -> str:
    """A record in the owner's units and local time, without its id."""
    match record:
        case Application():
            text = _application(record, site)
        case Run():
            text = _run(record, site)
        case GaugeReading():
            text = _gauge(record, site)
        case ProbeReading():
            depth = show(record.depletion_mm, "depth", site.place.units)
            text = f"{record.zone} {depth} below field capacity, {_when(record.read_at, site)}"
        case Audit():
            text = _audit(record, site)
        case ArchivedHour() | RainPair():
            text = _by_the_hour(record, site)
        case StockChange():
            text = f"{'used' if record.amount < 0 else 'bought'} {amount_words(record, site)}"
            text += f" ({record.why})" if record.why else ""
            text += f", {_when(record.changed_at, site)}"
    note = getattr(record, "note", "")
    return f"{text} [{note}]" if note else text


def _when(when: datetime, site: Site) -> str:
    return span_words(when, None, site.place.zone)


def _application(record: Application, site: Site) -> str:
    units = site.place.units
    dimension = "liquid rate" if is_liquid(record.product, site) else "granule rate"
    rate = f", {show(record.rate, dimension, units)}" if record.rate else ""
    dilution = f", diluted {show(record.dilution, 'dilution', units)}" if record.dilution else ""
    by = record.method if record.method == "by hand" else f"by {record.method}"
    when = span_words(record.started_at, record.ended_at, site.place.zone)
    return f"{record.product} on {listed(record.zones)} {by}{rate}{dilution}, {when}"


def _run(record: Run, site: Site) -> str:
    depth = "" if record.depth_mm is None else f", {show(record.depth_mm, 'depth', site.place.units)}"
    ran = f"{record.minutes:.3g} min{depth}" if record.minutes else "skipped"
    return (
        f"{record.zone} {ran}, {record.source}, "
        f"{span_words(record.started_at, record.ended_at, site.place.zone)}"
    )


def _gauge(record: GaugeReading, site: Site) -> str:
    since = "the last reading" if record.since is None else _when(record.since, site)
    depth = show(record.depth_mm, "depth", site.place.units)
    return f"{depth} of rain since {since}, read {_when(record.read_at, site)}"


def _audit(record: Audit, site: Site) -> str:
    units = site.place.units
    even = "" if record.uniformity is None else f", uniformity {show(record.uniformity, 'share', units)}"
    cans = f" ({record.cans} cans)" if record.cans else ""
    return (
        f"{record.zone} {show(record.rate_mm_h, 'rate', units)}{even}, {record.method}{cans}, "
        f"{_when(record.measured_at, site)}"
    )


def _by_the_hour(record: ArchivedHour | RainPair, site: Site) -> str:
    units, when = site.place.units, _when(record.starts_at, site)
    if isinstance(record, RainPair):
        return (
            f"{when} and {record.hours} h on: forecast {show(record.mean_mm, 'depth', units)} "
            f"({record.lead_h:g} h ahead), in the gauge {show(record.observed_mm, 'depth', units)}"
        )
    rain = "rain unknown" if record.rain_mm is None else f"rain {show(record.rain_mm, 'depth', units)}"
    return f"{when} {rain}, {record.source or 'source not told'}"


def called(one: KeptRecord) -> str:
    """A record with its kind and number: run 3: Front 18 min, …"""
    return f"{KINDS[one.kind].one} {one.id}: {one.words}"


def recorded_words(done: Recorded, site: Site) -> str:
    """What was recorded, in one line; products put down together share zones, method and times."""
    put_down = [each.record for each in done.records if isinstance(each.record, Application)]
    if len(put_down) > 1:
        together = replace(put_down[0], product=listed(each.product for each in put_down), rate=None)
        told = [f"applications {put_down[0].id}–{put_down[-1].id}: {record_words(together, site)}"]
    else:
        told = [called(each) for each in done.records]
    used = [each.record for each in done.used_up if isinstance(each.record, StockChange)]
    if used:
        told.append(f"used up {listed(amount_words(each, site) for each in used)}")
    return f"Recorded {'; '.join(told)}"


def came_twice_words(taken: datetime, other: datetime, local: ZoneInfo) -> str:
    """A time that the clock showed twice, and which was taken."""
    there = taken.astimezone(local)
    which = "second" if taken > other else "first"
    return (
        f"{there:%H:%M} came twice on {there:%Y-%m-%d}; the {which} was taken "
        f"({there.isoformat(timespec='minutes')}), "
        f"the other is {other.astimezone(local).isoformat(timespec='minutes')}."
    )


def goes_on_words(until: datetime, local: ZoneInfo) -> str:
    """That a run which was recorded is not over yet."""
    return (
        f"It goes on until {clock_of(until.astimezone(local))}; all of its water counts already. If it stops "
        "sooner, edit it (`advisor records edit`)."
    )


def emptied_words(since: datetime, local: ZoneInfo) -> str:
    """From when a reading counts that was taken at a look."""
    return (
        f"It counts from {clock_of(since.astimezone(local))} on, when the gauge was to be emptied; if it was "
        "emptied at another time, say when (--since)."
    )


def waited_words(left: Iterable[LeftOut]) -> str:
    """Which zones were to wait, and for what."""
    by_rule: dict[str, list[str]] = {}
    for each in left:
        by_rule.setdefault(each.only_if, []).append(each.zone)
    return "; ".join(
        f"{listed(zones)} {verb(zones, 'was', 'were')} to run only if {rule}"
        for rule, zones in by_rule.items()
    )


def known_words(left: Iterable[LeftOut]) -> str:
    """Which runs are recorded already: Front (run 1) and Bank (run 2)."""
    return listed(f"{each.zone} (run {each.run_id})" for each in left)


def not_made_words(zones: Iterable[str]) -> str:
    """Which runs count as not made, and what to do if they were."""
    names = tuple(zones)
    return f"{listed(names)} {verb(names, 'counts', 'count')} as not made (name the zone if it ran)"


def left_out_words(left: Sequence[LeftOut], site: Site) -> tuple[str, ...]:
    """A line for each reason why advised runs were not recorded."""
    known = [each for each in left if each.why is LeftOutWhy.RECORDED_ALREADY]
    waited = [each for each in left if each.why is LeftOutWhy.WAITED]
    told = [f"Recorded already: {known_words(known)}."] if known else []
    if waited:
        told.append(f"Not recorded: {waited_words(waited)}. Add --conditional if that was done.")
    told += [
        f"Not recorded: {each.zone}, advised for {_when(each.starts_at, site)}, counts as not made. If it ran: "
        f"`advisor record run {quote(each.zone)} --as-advised`."
        for each in left
        if each.why is LeftOutWhy.NOT_MADE and each.starts_at is not None
    ]
    told += [
        f"Not over yet: {each.zone}, {_when(each.ends_at, site)}; record it then in the same way."
        for each in left
        if each.why is LeftOutWhy.NOT_OVER and each.ends_at is not None
    ]
    return tuple(told)


def edited_words(done: Edited) -> str:
    """What was changed, in one line."""
    return f"Changed {called(done.after)}; was {done.before.words}"


def followed_words(followed: Sequence[Followed]) -> tuple[str, ...]:
    """A line for each reason why more changed than was named."""
    by_why: dict[FollowedWhy, list[str]] = {}
    for each in followed:
        by_why.setdefault(each.why, []).append(FIELD_WORDS[each.field])
    told = (WHY_FOLLOWED[why].format(listed(fields)) for why, fields in by_why.items())
    return tuple(f"{line[:1].upper()}{line[1:]}." for line in told)


def along_words(along: Sequence[AlongWith]) -> tuple[str, ...]:
    """A line for each other record that an edit or a removal concerns; rain pairs are only counted."""
    pairs = sum(each.record.kind is RecordKind.PAIRS for each in along)
    told = [_along(each) for each in along if each.record.kind is not RecordKind.PAIRS]
    if pairs:
        told.append(
            f"{pairs} rain pair{'s' if pairs > 1 else ''} that rested on it went too; those of the last two weeks "
            "are worked out again by the service."
        )
    return tuple(told)


def _along(one: AlongWith) -> str:
    match one.consequence:
        case Consequence.ADDED:
            return f"With it recorded {called(one.record)}."
        case Consequence.CHANGED:
            assert one.before is not None
            return f"With it changed {called(one.record)}; was {one.before.words}."
        case Consequence.REMOVED:
            return f"With it went {called(one.record)}."
        case Consequence.KEPT:
            return (
                f"What it took from the stock stays as it was entered: {called(one.record)}. If that is not so, "
                f"edit stock change {one.record.id}."
            )


def removed_words(done: Removed) -> str:
    """What was taken out, in one line."""
    return f"Removed {called(done.removed)}"


def undone_words(done: TakenBack) -> str:
    """What was taken back."""
    if done.act is None:
        return "There is nothing to undo."
    if done.act is Act.IMPORT:
        return f"Undone: the import of {counted(len(done.gone) + len(done.restored))}."
    told = [f"{called(each)} is gone again" for each in done.gone]
    told += [f"{called(each)} stands as before" for each in done.restored]
    return f"Undone: {'; '.join(told)}"


def exported_words(done: Exported) -> str:
    """What was written, and where."""
    files = f" ({len(done.files)} files)" if len(done.files) > 1 else ""
    told = f"Exported {counted(sum(done.records.values()))} to {done.target}{files}"
    return "\n".join((told, *left_out_lines(done.left_out)))


def carried_words(done: Carried) -> tuple[str, ...]:
    """What an import added, or would, and a line each for what it left out and what it gave other values."""
    added = _by_kind(done.added)
    begin = "Imported" if done.written else "It would import"
    told = [f"{begin} {listed(added) if added else 'nothing new'} from {done.source}"]
    for words, counts in (
        ("There already, left out", done.skipped),
        ("Given the file's values" if done.written else "To be given the file's values", done.replaced),
        ("Held back, left out as you said", done.left_out),
    ):
        parts = _by_kind(counts)
        if parts:
            told.append(f"{words}: {listed(parts)}")
    return tuple(told)


def looked_over_words(done: Carried) -> tuple[str, ...]:
    """What an import would do, what holds it back, line by line, and what to say next."""
    lines = [*carried_words(done)]
    for weight, words in ((Weight.CANNOT_BE, "Cannot be"), (Weight.UNLIKELY, "Hardly is, likely a slip")):
        rows = [each for each in done.held if each.weight is weight]
        lines += [f"{words}:", *(f"  {each.text}" for each in rows)] if rows else []
    if done.held and not done.left_out:
        lines.append(f"Nothing is written: {held_words(done)}. Ways out: {ways_out(done)}.")
    elif done.added or done.replaced:
        lines.append("Nothing is written yet: add --yes to write it.")
    return tuple(lines)


def held_words(done: Carried) -> str:
    """How many rows are held back."""
    count = len({(each.where, each.line) for each in done.held})
    return f"{count} rows are held back" if count > 1 else "1 row is held back"


def ways_out(done: Carried) -> str:
    """What an owner can do about rows that are held back."""
    unlikely = any(each.weight is Weight.UNLIKELY for each in done.held)
    anyway = "; --anyway, if what is unlikely is so" if unlikely else ""
    return f"mend the file; --leave-out, to import the rest without these rows{anyway}"


def examined_words(done: Examined) -> tuple[str, ...]:
    """What is doubtful in the records, a line each, and how to mend it; or that they are sound."""
    if done.ok:
        return (f"The records are sound: {counted(done.looked_through)} looked through.",)
    lines = [f"{each.text[:1].upper()}{each.text[1:]}." for each in done.doubts]
    first = next((each for each in done.doubts if each.kind is not None), None)
    if first is not None:
        lines.append(
            f"To mend one: `advisor records edit {first.id} --kind {first.kind} --set FIELD=VALUE`; to take it out: "
            f"`advisor records remove {first.id} --kind {first.kind}`."
        )
    return tuple(lines)


def counted(number: int) -> str:
    """So many records."""
    return "1 record" if number == 1 else f"{number} records"


def _by_kind(counts: Mapping[RecordKind, int]) -> list[str]:
    return [f"{n} {KINDS[kind].one}{'s' if n > 1 else ''}" for kind, n in counts.items() if n]
