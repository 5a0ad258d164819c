"""Records that make no sense: what is wrong with them, and the way to mend them or take them out."""

from __future__ import annotations

from collections.abc import Sequence

from advisor.advice import UnusableRecord
from advisor.lawn import Unusable, called

MOST_TOLD = 5


def unusable_words(there: Unusable) -> str:
    """What is wrong with it, without its number: cannot be used: minutes is 'abc'; allowed: a number."""
    return f"cannot be used: {' and '.join(map(str, there.wrong))}"


def unusable_sentence(there: Unusable) -> str:
    """A record that is left out, with the way out."""
    name = called(there)
    fields = " ".join(dict.fromkeys(f"--set {wrong.field}=…" for wrong in there.wrong))
    return (
        f"{name[:1].upper()}{name[1:]} {unusable_words(there)}. Mend it (`advisor records edit {there.id} "
        f"--kind {there.kind} {fields}`) or take it out (`advisor records remove {there.id} --kind {there.kind}`)."
    )


def left_out_lines(told: Sequence[UnusableRecord]) -> tuple[str, ...]:
    """A line for each record that was left out, as far as they are few."""
    lines = tuple(each.text for each in told[:MOST_TOLD])
    more = len(told) - len(lines)
    return (*lines, f"And {more} more: `advisor records check` names them.") if more else lines
