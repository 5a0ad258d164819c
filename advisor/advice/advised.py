"""What an advice and those before it asked to run, and what is recorded of it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from typing import NamedTuple

from advisor.advice.advice import Advice, PlannedRun
from advisor.lawn import Records, Run

NEAR = timedelta(hours=2)  # a recorded run so near an advised one is that one


class Advised(NamedTuple):
    """A run that was advised, with its night, and its record; `not_made`: it was told to count as not made."""

    run: PlannedRun
    record: Run | None
    not_made: bool = False


def advised_before(previous: Advice, records: Records, now: datetime) -> tuple[Advised, ...]:
    """The runs that were advised up to this advice, each with its record; a record is that of one run.

    A run that counts as not made and the one that was planned for it in the same night are the same water.
    Once the later has begun it stands for both; where the earlier is recorded after all, that does.
    """
    known = {(run.zone, run.night) for run in previous.recorded}
    going = (run for run in previous.under_way if (run.zone, run.night) not in known)
    runs = _dated((*going, *previous.taken_as_made, *previous.recorded), previous)
    first, anew = _dated(previous.unrecorded, previous), _dated(previous.runs, previous)
    record = _records_of([*runs, *first, *anew], records.runs)
    same: set[int] = set()
    for run in first:
        for other in anew:
            if (
                run.zone == other.zone
                and run.night == other.night
                and run.condition == other.condition is None
            ):
                if id(run) in record:
                    same.add(id(other))
                elif other.cycles[0].starts_at < now:
                    same.add(id(run))
    return tuple(
        Advised(run, record.get(id(run)), not_made)
        for those, not_made in ((runs, False), (first, True), (anew, False))
        for run in those
        if id(run) not in same
    )


def _dated(runs: Iterable[PlannedRun], previous: Advice) -> list[PlannedRun]:
    """The runs that have times, each with its night."""
    return [run.model_copy(update={"night": run.night or previous.night}) for run in runs if run.cycles]


def _records_of(runs: Sequence[PlannedRun], recorded: Sequence[Run]) -> dict[int, Run]:
    """The record of each run that has one, by the run's identity: the nearest in time first."""
    pairs = [
        (abs(record.started_at - run.cycles[0].starts_at), number, run, record)
        for number, record in enumerate(recorded)
        for run in runs
        if run.zone == record.zone
        and run.cycles[0].starts_at - NEAR <= record.started_at <= run.cycles[-1].ends_at + NEAR
    ]
    found: dict[int, Run] = {}
    taken: set[int] = set()
    for _, number, run, record in sorted(pairs, key=lambda pair: pair[:2]):
        if id(run) not in found and number not in taken:
            found[id(run)] = record
            taken.add(number)
    return found
