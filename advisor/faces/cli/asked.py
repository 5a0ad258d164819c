"""What a command was asked about: names that must be known, and the records that go with a site."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches
from typing import TYPE_CHECKING

from advisor.errors import InputError, ManyProblems, QuantityError
from advisor.lawn.bounds import MOST_RUN_MIN
from advisor.units import parse

if TYPE_CHECKING:
    from advisor.faces.cli.options import Opened
    from advisor.lawn.records import Records


def known_name(found: str, names: Iterable[str], *, what: str, where: str) -> str:
    """The name that `found` means, capitals and spaces aside; InputError with the nearest one."""
    named = list(names)
    folded = {_folded(name): name for name in named}
    meant = folded.get(_folded(found))
    if meant is not None:
        return meant
    by_word = {word: name for name in reversed(named) for word in _folded(name).split()}
    near = get_close_matches(_folded(found), folded, 1) or get_close_matches(_folded(found), by_word, 1)
    hint = f"did you mean {(folded | by_word)[near[0]]!r}? " if near else ""
    allowed = f"{hint}one of {', '.join(named)}" if named else "none are in the site file yet"
    raise InputError(f"there is no such {what}", where=where, found=repr(found), allowed=allowed)


def known_names(found: Iterable[str], names: Iterable[str], *, what: str, where: str) -> list[str]:
    """`known_name` for several, each once; all that are not known are told together."""
    named, meant, problems = list(names), [], []
    for each in found:
        try:
            meant.append(known_name(each, named, what=what, where=where))
        except InputError as problem:
            problems.append(problem)
    if problems:
        raise ManyProblems(problems)
    return list(dict.fromkeys(meant))


def _folded(name: str) -> str:
    return " ".join(name.split()).casefold()


def quantity(text: str, dimension: str, *, where: str) -> float:
    """A quantity given on the command line, in SI; InputError names the option."""
    try:
        return parse(text, dimension)
    except QuantityError as error:
        raise InputError(error.what, where=where, found=error.found, allowed=error.allowed) from None


def quantities(text: str, dimension: str, *, where: str) -> list[float]:
    """Several numbers with one unit after them, "20 22 25 mL", in SI."""
    words = text.replace(";", " ").split()
    unit: list[str] = []
    while words and not words[-1].replace(".", "", 1).isdigit():
        unit.insert(0, words.pop())
    if not words:
        raise InputError(
            "some numbers and one unit are wanted", where=where, found=repr(text), allowed='"20 22 25 mL"'
        )
    return [quantity(f"{word} {' '.join(unit)}", dimension, where=where) for word in words]


def run_time(minutes: float, *, where: str) -> float:
    """The minutes of one run; InputError where no run is that long, or none at all."""
    if not 0.0 < minutes <= MOST_RUN_MIN:
        raise InputError(
            "the run time cannot be",
            where=where,
            found=f"{minutes:g}",
            allowed=f"above 0, up to {MOST_RUN_MIN:g}",
        )
    return minutes


def records_of(opened: Opened) -> Records:
    """The records up to the moment asked about; none where nothing has been recorded yet."""
    from dataclasses import replace

    from advisor.lawn.records import Records

    if opened.demo:
        from advisor.night import demo_records

        found = demo_records()
    elif opened.site.records_path.exists():
        from advisor.store import open_store

        with open_store(opened.site.records_path) as store:
            found = store.records(since=opened.now)
    else:
        return Records()
    return replace(
        found,
        audits=tuple(a for a in found.audits if a.measured_at <= opened.now),
        stock=tuple(s for s in found.stock if s.changed_at <= opened.now),
    )
