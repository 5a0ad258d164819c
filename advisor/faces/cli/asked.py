"""What a command was asked about: names that must be known, and the records that go with a site."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from advisor.errors import InputError, ManyProblems, QuantityError
from advisor.lawn import MOST_RUN_MIN
from advisor.recording import all_named, named
from advisor.units import parse

if TYPE_CHECKING:
    from advisor.faces.cli.options import Opened
    from advisor.lawn import Records


def known_name(found: str, names: Iterable[str], *, what: str, where: str) -> str:
    """The name that `found` means, capitals and spaces aside; InputError with the nearest one."""
    try:
        return named(found, names, what=what, field="")
    except InputError as problem:
        raise problem.at(where) from None


def known_names(found: Iterable[str], names: Iterable[str], *, what: str, where: str) -> list[str]:
    """`known_name` for several, each once; all that are not known are told together."""
    try:
        return list(all_named(found, names, what=what, field=""))
    except InputError as problem:
        raise problem.at(where) from None
    except ManyProblems as several:
        raise ManyProblems([problem.at(where) for problem in several.problems]) from None


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

    from advisor.lawn import Records
    from advisor.store import has_begun

    if opened.demo:
        from advisor.night import demo_records

        found = demo_records()
    elif has_begun(opened.site.records_path):
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
