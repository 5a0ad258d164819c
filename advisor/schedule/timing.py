"""When in the night the plan is put: as late as it fits where rain may still come, else in the calm."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import timedelta

from advisor.hours.window import Window
from advisor.schedule.planner import Plan
from advisor.schedule.request import SEED, Request

DOUBTFUL = 0.2  # from this chance of at least 1 mm before the window ends a run is best left late
SPARE = timedelta(minutes=20)


def late_or_calm(
    requests: Sequence[Request],
    windows: Sequence[Window],
    rain_chance: float,
    make: Callable[[Sequence[Request]], Plan],
) -> tuple[Plan, tuple[Request, ...]]:
    """The night's plan and the wants as it took them.

    Where rain is likely enough to make a run needless, all runs but the light ones of seed are kept to the
    end of the night, so that the gauge can be read first; but nothing is left out for that, and what is
    left out is not told to be so for that.
    """
    asked = tuple(requests)
    if windows and asked and rain_chance >= DOUBTFUL:
        needed = sum((_length(w) for w in asked if w.priority != SEED), SPARE)
        begin = windows[-1].ends_at - needed
        late = tuple(
            w if w.priority == SEED else replace(w, earliest=max(begin, w.earliest or begin)) for w in asked
        )
        plan = make(late)
        if not plan.not_planned:
            return plan, late
        left = {n.zone for n in plan.not_planned}  # in whole or in part
        mixed = tuple(a if a.zone in left else b for a, b in zip(asked, late, strict=True))
        plan, calm = make(mixed), make(asked)
        if _missing(calm) >= _missing(plan):
            return plan, mixed
        return calm, asked
    return make(asked), asked


def _missing(plan: Plan) -> tuple[int, float]:
    """How many zones do not run at all, and the minutes that are not planned."""
    ran = {run.zone for run in plan.runs}
    return sum(n.zone not in ran for n in plan.not_planned), sum(n.minutes for n in plan.not_planned)


def _length(want: Request) -> timedelta:
    """Run time with its soaks."""
    pauses = 0.0
    if want.cycle_min is not None and want.cycle_min > 0:
        pauses = want.soak_min * max(0, -int(-want.minutes // want.cycle_min) - 1)
    return timedelta(minutes=want.minutes + pauses)
