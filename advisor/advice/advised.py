"""What an advice and those before it asked to run in any case, and what is recorded of it."""

from __future__ import annotations

from datetime import timedelta

from advisor.advice.advice import Advice, PlannedRun
from advisor.lawn import Records, Run

NEAR = timedelta(hours=2)  # a recorded run so near an advised one is that one


def advised_before(previous: Advice, records: Records) -> tuple[PlannedRun, ...]:
    """The runs that were to be made in any case, each with its night.

    Where a run was planned again in its own night because an earlier one is not recorded, the earlier one
    stands for both: it is the same water.
    """
    earlier = [
        run
        for run in (*previous.under_way, *previous.taken_as_made, *previous.unrecorded)
        if run.condition is None
    ]
    again = {
        run.zone
        for run in previous.unrecorded
        if run.night in (None, previous.night) and record_of(run, records) is None
    }
    anew = [run for run in previous.runs if run.condition is None and run.zone not in again]
    return tuple(
        run if run.night is not None else run.model_copy(update={"night": previous.night})
        for run in (*earlier, *anew)
    )


def record_of(run: PlannedRun, records: Records) -> Run | None:
    """The recorded run that an advised one is, the nearest to its start."""
    first, last = run.cycles[0].starts_at - NEAR, run.cycles[-1].ends_at + NEAR
    near = [r for r in records.runs if r.zone == run.zone and first <= r.started_at <= last]
    return min(near, key=lambda r: abs(r.started_at - run.cycles[0].starts_at), default=None)
