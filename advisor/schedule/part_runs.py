"""Part of a run where the whole does not fit: the turf's own refill, down to a depth that is still worth it.

Only wants that name their `least_minutes` are shortened. A shortened run keeps its rank: lesser wants give
way to its least, and it is then made as long as it can be without pushing out a run that fits.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from math import ceil

from advisor.schedule.cycles import Placed, Task, split

Arrange = Callable[[list[Task]], tuple[list[Placed], list[Task]]]


def shortened(task: Task, minutes: float) -> Task:
    """The same zone with so many minutes, and the depth they deliver."""
    share = minutes / task.want.minutes
    want = replace(
        task.want,
        minutes=float(minutes),
        depth_mm=task.want.depth_mm * share,
        effective_mm=task.want.effective_mm * share,
    )
    return replace(task, want=want, cycles=split(want))


def with_part_runs(
    tasks: Sequence[Task], arrange: Arrange, *, extend: bool = True
) -> tuple[list[Placed], list[Task]]:
    """What runs, whole or in part, and the tasks that do not run at all, whole as they were asked.

    Without `extend` the shortened runs stay at their least: the same zones run.
    """
    whole = {task.order: task for task in tasks}
    tried = list(tasks)
    placed, left = arrange(tried)
    parts: list[int] = []
    while True:
        short = next((t for t in left if t.want.least_minutes is not None and t.order not in parts), None)
        if short is None:
            break
        parts.append(short.order)
        tried = _with(tried, shortened(short, ceil(short.want.least_minutes or 0.0)))
        placed, left = arrange(tried)
    for order in sorted(parts) if extend else ():
        if order not in {run.task.order for run in placed}:
            continue
        out = {task.order for task in left}
        low, high = ceil(whole[order].want.least_minutes or 0.0), whole[order].minutes
        while low < high:
            middle = (low + high + 1) // 2
            longer = _with(tried, _of(whole[order], middle))
            found = arrange(longer)
            if {task.order for task in found[1]} == out:
                tried, (placed, left) = longer, found
                low = middle
            else:
                high = middle - 1
    return placed, [whole[task.order] for task in left]


def _of(whole: Task, minutes: int) -> Task:
    return whole if minutes >= whole.minutes else shortened(whole, minutes)


def _with(tasks: Sequence[Task], changed: Task) -> list[Task]:
    return [changed if task.order == changed.order else task for task in tasks]
