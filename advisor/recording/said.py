"""What an owner writes, understood: names, local times, quantities.

Every face hands over the text as it was written; an InputError names the `field` it is about.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from difflib import get_close_matches
from zoneinfo import ZoneInfo

from advisor.errors import InputError, ManyProblems, QuantityError
from advisor.lawn import KINDS, Site, close_to, nearest_name, plain
from advisor.sentences import day_words
from advisor.units import YEARS, clock_time, known_year, parse

TIME_FORMS = "16:30 (the last time it was 16:30), 2026-06-16T16:30, 2026-06-16T16:30-05:00"


@dataclass(frozen=True, slots=True)
class SaidTime:
    """A moment that was meant, in UTC; `other` where the clock showed it twice and the other was not taken."""

    at: datetime
    other: datetime | None = None


def named(
    found: str, allowed: Iterable[str], *, what: str, field: str, known: str = " in the site file"
) -> str:
    """The name as it is known; capitals and spaces do not matter, a slip gets a hint.

    `known` says in an error where the names come from.
    """
    names = list(allowed)
    same = {plain(name): name for name in names}.get(plain(found))
    if same is None:
        allowed_words = _nearest(found, names) if names else f"none are{known} yet"
        raise InputError(
            f"there is no such {what}{known}", field=field, found=repr(found), allowed=allowed_words
        )
    return same


def _nearest(found: str, names: Sequence[str]) -> str:
    """The names allowed, the nearest first; a slip in one word of a name is seen too."""
    if nearest_name(found, names) is None:
        by_word = {word: name for name in reversed(names) for word in plain(name).split()}
        near = get_close_matches(plain(found), by_word, n=1)
        return close_to(by_word[near[0]] if near else found, names)
    return close_to(found, names)


def all_named(
    found: Iterable[str], allowed: Iterable[str], *, what: str, field: str, known: str = " in the site file"
) -> tuple[str, ...]:
    """`named` for several, each once; all that are not known are told together."""
    names, meant, problems = list(allowed), [], []
    for each in found:
        try:
            meant.append(named(each, names, what=what, field=field, known=known))
        except InputError as problem:
            problems.append(problem)
    if problems:
        raise problems[0] if len(problems) == 1 else ManyProblems(problems)
    return tuple(dict.fromkeys(meant))


def zone_of(text: str, site: Site, *, field: str = "zone") -> str:
    """A zone as the site writes it."""
    return named(text, [zone.name for zone in site.zones], what="zone", field=field)


def zones_of(text: str, site: Site, *, field: str = "zones") -> tuple[str, ...]:
    """Zones separated by commas, each once, as the site writes them."""
    names = [zone.name for zone in site.zones]
    found = all_named([part for part in text.split(",") if part.strip()], names, what="zone", field=field)
    if not found:
        raise InputError("no zone is named", field=field, found=repr(text), allowed=", ".join(names))
    return found


def product_of(text: str, site: Site, *, field: str = "product") -> str:
    """A product as the site writes it."""
    return named(text, site.products, what="product", field=field)


def kind_of_record(text: str, *, field: str = "kind") -> str:
    """A kind by its name or by what one of it is called: runs, run, gauge reading, rain."""
    names = {kind.one: name for name, kind in KINDS.items()} | {name: name for name in KINDS}
    names |= {name.removesuffix("s"): name for name in KINDS} | {"rain": "gauge"}
    return names.get(text.strip().lower()) or named(text, KINDS, what="kind of record", field=field, known="")


def quantity(text: str, dimension: str, *, field: str) -> float:
    """A quantity with its unit, in SI."""
    try:
        return parse(text, dimension)
    except QuantityError as error:
        raise InputError(error.what, field=field, found=error.found, allowed=error.allowed) from None


def depth_of(text: str, *, field: str) -> float:
    """A depth in mm; 0 needs no unit."""
    return 0.0 if text.strip() == "0" else quantity(text, "depth", field=field)


def dimension_of(product: str, site: Site, *, rate: bool) -> str:
    """The dimension of a product's rate, or of an amount of it, by its form."""
    known = site.products.get(product)
    liquid = known is None or known.kind.form == "liquid"
    if rate:
        return "liquid rate" if liquid else "granule rate"
    return "small volume" if liquid else "mass"


def night_of(text: str, *, field: str = "night") -> date:
    """The local date of a night."""
    try:
        found = date.fromisoformat(text)
    except ValueError:
        raise InputError("a night is a date", field=field, found=repr(text), allowed="2026-06-17") from None
    _refuse_far(found, text, field)
    return found


def moment_of(
    text: str | None,
    site: Site,
    now: datetime,
    *,
    field: str,
    day: date | None = None,
    after: datetime | None = None,
) -> SaidTime:
    """A past time; None is now.

    "16:30" is the last 16:30 before now, or that of the local `day`, or the first from `after` on.
    A time without an offset is local. A time of the future is refused.
    """
    local, now = site.place.zone, now.astimezone(UTC)
    if text is None:
        return SaidTime(now)
    clean = text.strip()
    clock = clock_time(clean)
    if clock is not None:
        found = _clock_time(clock, clean, local, now, field=field, day=day, after=after)
    else:
        parsed = full_time(clean, field=field, allowed=TIME_FORMS)
        found = (
            _settled(parsed, local, now, field=field)
            if parsed.tzinfo is None
            else SaidTime(parsed.astimezone(UTC))
        )
    if found.at > now:
        raise InputError(
            "only what has happened is recorded",
            field=field,
            found=_told(found.at, local),
            allowed=f"up to now, {_told(now, local)}",
        )
    return found


def full_time(text: str, *, field: str, allowed: str) -> datetime:
    """A date with a time, with its offset or without."""
    try:
        parsed = datetime.fromisoformat(text)
    except ValueError:
        parsed = None
    if parsed is None or re.fullmatch(r"[0-9-]+", text):
        raise InputError("a time is not understood", field=field, found=repr(text), allowed=allowed)
    _refuse_far(parsed, text, field)
    return parsed


def _refuse_far(when: date, text: str, field: str) -> None:
    if not known_year(when):
        raise InputError(
            "a time is too far away", field=field, found=repr(text), allowed=f"the years {YEARS}"
        )


def _told(when: datetime, local: ZoneInfo) -> str:
    return f"{day_words(when, local)} {when.astimezone(local):%H:%M}"


def _clock_time(
    clock: time,
    text: str,
    local: ZoneInfo,
    now: datetime,
    *,
    field: str,
    day: date | None,
    after: datetime | None,
) -> SaidTime:
    start = day or (after or now).astimezone(local).date()

    def on(date_: date) -> SaidTime:
        return _settled(datetime.combine(date_, clock), local, now, field=field)

    found = on(start)
    if day is not None:
        return found
    if after is not None and found.at < after:
        if datetime.combine(start + timedelta(days=1), clock, local) > now:
            raise InputError(
                "the end lies before the beginning",
                field=field,
                found=repr(text),
                allowed=f"from {after.astimezone(local):%H:%M} on, or a full time such as 2026-06-16T16:30",
            )
        return on(start + timedelta(days=1))
    if after is None and found.at > now:
        return on(start - timedelta(days=1))
    return found


def _settled(wall: datetime, local: ZoneInfo, now: datetime, *, field: str) -> SaidTime:
    """A wall-clock time as UTC on the two nights of the year when the clocks change."""
    first = wall.replace(tzinfo=local, fold=0).astimezone(UTC)
    second = wall.replace(tzinfo=local, fold=1).astimezone(UTC)
    if first.astimezone(local).replace(tzinfo=None) != wall:
        raise InputError(
            f"this time did not exist on {wall:%Y-%m-%d}: the clocks went forward over it",
            field=field,
            found=f"{wall:%H:%M}",
            allowed=f"{second.astimezone(local):%H:%M} or {first.astimezone(local):%H:%M}",
        )
    if first == second:
        return SaidTime(first)
    return SaidTime(second, first) if second <= now else SaidTime(first, second)
