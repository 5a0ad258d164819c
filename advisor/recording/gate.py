"""What the gate of the lawn says of records that an owner brings, told as errors about what was written."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from advisor.errors import InputError, ManyProblems, RecordsError, Unlikely
from advisor.lawn import KINDS, Audit, Gate, Outside, OutsideWhy, Record, Site, Weight, kind_of

if TYPE_CHECKING:
    from advisor.store import Store

ANYWAY = "if it is so, say --anyway"


def let_in(
    records: Iterable[Record],
    gate: Gate,
    fields: Mapping[tuple[str, str], str],
    *,
    anyway: bool = False,
    before: Sequence[Outside] = (),
) -> None:
    """Let records through the gate, one after another, or tell what holds them back.

    `fields` gives for a kind and its field the one that the owner wrote. `anyway`: what is unlikely is so.
    `before` is what was outside of the record before it was changed, which does not count again. Raises
    RecordsError for what is recorded already, InputError for what cannot be, Unlikely for what hardly is;
    ManyProblems for several things.
    """
    problems: list[InputError] = []
    for record in records:
        for found in gate.outside(record):
            if found in before or (anyway and found.weight is Weight.UNLIKELY):
                continue
            if found.why is OutsideWhy.RECORDED_ALREADY:
                raise RecordsError(f"{found.what}; nothing was written")
            problem = problem_of(found, record, fields)
            problems += [] if str(problem) in map(str, problems) else [problem]
        gate.let_in(record)
    refused = [each for each in problems if not isinstance(each, Unlikely)]
    several = refused or problems
    if several:
        raise several[0] if len(several) == 1 else ManyProblems(several)


def keep_audit(audit: Audit, site: Site, store: Store, now: datetime) -> Audit:
    """Write an audit, where the gate lets it pass."""
    let_in([audit], Gate(site, store.records(), now), {})
    return store.add_audit(audit)


def problem_of(found: Outside, record: Record, fields: Mapping[tuple[str, str], str]) -> InputError:
    """A finding as an error about the field that the owner wrote."""
    kind = kind_of(record)
    where, field = KINDS[kind].one, fields.get((kind, found.field), found.field)
    if found.weight is Weight.CANNOT_BE:
        return InputError(found.what, where=where, found=found.found, allowed=found.allowed, field=field)
    allowed = f"{found.allowed}; {ANYWAY}" if found.allowed else ANYWAY
    return Unlikely(found.what, where=where, found=found.found, allowed=allowed, field=field)
