"""What there is to say of keeping: an advice that could not be kept, records put back or begun anew."""

from __future__ import annotations

from datetime import datetime
from typing import assert_never
from zoneinfo import ZoneInfo

from advisor.advice import Adopted, AdoptedHow, NotKept, RecordsLooked, Restored
from advisor.errors import RecordsError
from advisor.wording import short_day


def not_kept(error: RecordsError) -> NotKept:
    """An advice that the records would not take, as a fact with its sentences."""
    words = (
        f"Not kept in the records: {error.why}. The advice itself is whole. Until it is kept (the service tries again "
        "by itself, otherwise ask again), the next advice does not know of it, the evening's message may come twice, "
        "and `advisor record run --as-advised` will not find it."
    )
    return NotKept(fault=error.fault, error=error.why, words=words)


def held_words(found: RecordsLooked, local: ZoneInfo) -> str:
    """What a file of records holds, or why it holds nothing that can be used."""
    if not found.sound:
        return f"nothing that can be used ({found.why})"
    newest = (
        "" if found.newest_at is None else f", the last thing done {moment_words(found.newest_at, local)}"
    )
    return f"{_many(sum(found.records.values()), 'record')} and {_many(found.advices, 'advice')}{newest}"


def _many(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def moment_words(when: datetime, local: ZoneInfo) -> str:
    """A day with its year and a time of the site."""
    here = when.astimezone(local)
    return f"{short_day(here)} {here:%Y %H:%M}"


def restored_words(done: Restored, local: ZoneInfo) -> tuple[str, ...]:
    """What was put back, in the place of what, and where that is kept."""
    put, took = (
        ("would be put back", "It would take the place of")
        if done.dry_run
        else ("is put back", "It took the place of")
    )
    kept = "would be kept beside it" if done.dry_run else f"is kept as {done.kept_as}"
    replaced = done.replaced
    return (
        *(f"Passed over: {one.path}: {one.why}." for one in done.passed_over),
        f"{done.backup.path} {put}: {held_words(done.backup, local)}.",
        "Nothing stood in its place."
        if replaced is None
        else f"{took} {replaced.path}, which {kept}: {held_words(replaced, local)}.",
        *(("Nothing was changed (--dry-run).",) if done.dry_run else ()),
    )


def adopted_words(done: Adopted, path: str) -> tuple[str, ...]:
    """What became of records that were said to be this lawn's."""
    match done.how:
        case AdoptedHow.ALREADY:
            return (f"{path} are the records of this lawn already; nothing was changed.",)
        case AdoptedHow.TAKEN:
            return (f"{path} are the records of this lawn from now on.",)
        case AdoptedHow.BEGUN:
            kept = (f"What stood there is kept as {done.kept_as}.",) if done.kept_as else ()
            return (f"{path} begin anew and are empty.", *kept)
    assert_never(done.how)
