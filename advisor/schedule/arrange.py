"""Which requests run in one night, and when: the packing of the whole, and parts where the whole does not fit.

Zones that may use the same hours are packed into one block (one zone soaks while another runs),
and the block is put where the wind is lowest; where hours are equally calm, the latest that
are over a little before the end of the night. Where blocks do not fit, all zones are packed
together over the whole night.

No run is left out that would fit among the runs that come before it, so nothing gives way to a lesser
need. Only requests that name their `least_minutes` are shortened. A shortened run keeps its rank: lesser
requests give way to its least, and it is then made as long as it can be without pushing out a run that fits.

Least wind: wind and sun carry off sprinkler water, so calm hours before dawn are preferred (common
practice, no source). A difference below `CALM_TIE_M_S` is not worth moving for.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil
from typing import NamedTuple

from advisor.schedule.cycles import ANYWHERE, MinuteSpan, Placed, Task, pack, pack_late, task_of
from advisor.schedule.limits import NightLimits
from advisor.schedule.request import Request

GRID_MIN = 15
MARGIN_MIN = 5
CALM_TIE_M_S = 0.3

Asked = tuple[tuple[int, int], ...]


class Arrangement(NamedTuple):
    """What runs, whole or in part, and what does not run at all, whole as it was asked."""

    placed: list[Placed]
    left: list[Task]


class Arranger:
    """Arranges the requests of one night, given in the order of what comes first, within its limits.

    The same tasks are packed once, however often they are asked for on the way.
    """

    def __init__(self, limits: NightLimits, requests: Sequence[Request]) -> None:
        self.limits = limits
        rooms: dict[object, tuple[tuple[MinuteSpan, ...], ...]] = {}
        self.tasks: list[Task] = []
        for order, request in enumerate(requests):
            key = (request.by_hand, request.earliest, request.latest, request.dry)
            if key not in rooms:
                rooms[key] = limits.rooms(request)
            self.tasks.append(task_of(order, request, rooms[key]))
        self._best_of: dict[Asked, list[Placed] | None] = {}
        self._fits_alone: dict[tuple[int, int], bool] = {}
        self._whole_of: dict[Asked, Arrangement] = {}

    def whole(self, tasks: Sequence[Task]) -> Arrangement:
        """Place all that fits; the rest is left, and could not be put among the runs before it."""
        key = _key(tasks)
        if key not in self._whole_of:
            self._whole_of[key] = self._arranged(tasks)
        return self._whole_of[key]

    def with_parts(self, *, extend: bool = True) -> Arrangement:
        """What runs, whole or in part. Without `extend` shortened runs stay at their least: the same run."""
        tried = list(self.tasks)
        found = self.whole(tried)
        parts: list[int] = []
        while True:
            short = next(
                (t for t in found.left if t.request.least_minutes is not None and t.order not in parts), None
            )
            if short is None:
                break
            parts.append(short.order)
            tried = _with(tried, short.shortened(_least(short)))
            found = self.whole(tried)
        for order in sorted(parts) if extend else ():
            if order in {run.task.order for run in found.placed}:
                tried, found = self._extended(order, tried, found)
        return Arrangement(found.placed, [self.tasks[task.order] for task in found.left])

    def _extended(self, order: int, tried: list[Task], found: Arrangement) -> tuple[list[Task], Arrangement]:
        """The run of one shortened task as long as it can be with the same runs beside it."""
        whole = self.tasks[order]
        out = {task.order for task in found.left}
        low, high = _least(whole), whole.minutes
        while low < high:
            middle = (low + high + 1) // 2
            longer = _with(tried, whole if middle >= whole.minutes else whole.shortened(middle))
            if not self.limits.cannot_hold([task for task in longer if task.order not in out]):
                then = self.whole(longer)
                if {task.order for task in then.left} == out:
                    tried, found, low = longer, then, middle
                    continue
            high = middle - 1
        return tried, found

    def _arranged(self, tasks: Sequence[Task]) -> Arrangement:
        limits = self.limits
        best = self._most([t for t in tasks if limits.may_run(t) and self.fits_alone(t)])
        if len(best) == len(tasks):
            return Arrangement(best, [])
        chosen = {run.task.order: run for run in best}
        kept: list[Placed] = []
        left: list[Task] = []
        moved = False
        for task in tasks:
            run = chosen.get(task.order)
            if run is None or moved:
                fits = limits.may_run(task) and _minutes(kept) + task.minutes <= limits.limit
                fits = fits and self.fits_alone(task)
                added = limits.beside(kept).insert(task) if fits else None
                moved = moved or (run is None and added is not None)
                run = added
            if run is None:
                left.append(task)
            else:
                kept.append(run)
        return Arrangement(kept, left)

    def fits_alone(self, task: Task) -> bool:
        """Whether it would fit if no other ran."""
        key = (task.order, task.minutes)
        if key not in self._fits_alone:
            self._fits_alone[key] = self.limits.beside().insert(task) is not None
        return self._fits_alone[key]

    def _most(self, tasks: list[Task]) -> list[Placed]:
        """As many of the first as fit together, then every later one that still fits.

        What is kept of the first tasks does not hang on the tasks that come after them.
        """
        first = len(tasks)
        while (kept := self._best(tasks[:first])) is None:
            first -= 1
        for task in tasks[first:]:
            if _minutes(kept) + task.minutes > self.limits.limit:
                continue
            packed = self._best([*(run.task for run in kept), task])
            if packed is None:
                added = self.limits.beside(kept).insert(task)
                packed = [*kept, added] if added is not None else kept
            kept = packed
        return kept

    def _best(self, tasks: list[Task]) -> list[Placed] | None:
        """All tasks in the calmest hours, in blocks or, where blocks do not fit, packed together."""
        if not tasks:
            return []
        if self.limits.cannot_hold(tasks):
            return None
        key = _key(tasks)
        if key not in self._best_of:
            self._best_of[key] = _in_blocks(tasks, self.limits) or _together(tasks, self.limits)
        return self._best_of[key]


def _key(tasks: Sequence[Task]) -> Asked:
    return tuple((task.order, task.minutes) for task in tasks)


def _least(task: Task) -> int:
    return ceil(task.request.least_minutes or 0.0)


def _with(tasks: Sequence[Task], changed: Task) -> list[Task]:
    return [changed if task.order == changed.order else task for task in tasks]


def _minutes(placed: Sequence[Placed]) -> int:
    return sum(run.task.minutes for run in placed)


def _in_blocks(tasks: list[Task], night: NightLimits) -> list[Placed] | None:
    groups: dict[object, list[Task]] = {}
    for task in tasks:
        groups.setdefault(task.rooms, []).append(task)
    found: list[Placed] = []
    taken: list[MinuteSpan] = [(draw.start, draw.end) for draw in night.fixed]
    for group in sorted(groups.values(), key=_open_minutes):
        block = _block([task.within(ANYWHERE) for task in group], night)
        length = max(run.end for run in block)
        starts = sorted(
            {s for room in group[0].rooms for a, b in room for s in _grid(a, b, length, taken, night.end)}
        )
        if not starts:
            return None
        spans = [span for run in block for span in run.spans]
        costs = [night.calm.mean_over((a + s, b + s) for a, b in spans) for s in starts]
        at = _calm_and_late(starts, costs)
        found += [Placed(group[i], run.moved(at).starts) for i, run in enumerate(block)]
        taken.append((at, at + length))
    return found


def _block(tasks: list[Task], night: NightLimits) -> list[Placed]:
    """The tasks from minute 0 on, by their own order if that takes no longer, else by least slack."""
    by_order = pack(tasks, night.carries, 0, in_order=True)
    by_slack = pack(tasks, night.carries, 0) if max(len(t.cycles) for t in tasks) > 1 else by_order
    assert by_order is not None, "a block has no limits that it could fail"
    assert by_slack is not None
    return min(by_order, by_slack, key=lambda block: max(run.end for run in block))


def _open_minutes(group: list[Task]) -> int:
    return sum(b - a for room in group[0].rooms for a, b in room)


def _grid(a: int, b: int, length: int, taken: Sequence[MinuteSpan], night_end: int) -> list[int]:
    """The starts to try for a block of `length` in the stretch [a, b) outside what is taken."""
    free = [(a, b)]
    for c, d in taken:
        free = [(x, y) for p, q in free for x, y in ((p, min(q, c)), (max(p, d), q)) if x < y]
    starts: list[int] = []
    for x, y in free:
        last = y - length
        if y == night_end and last - MARGIN_MIN >= x:
            last -= MARGIN_MIN
        if last >= x:
            starts += [*range(last, x, -GRID_MIN), x]
    return starts


def _together(tasks: list[Task], night: NightLimits) -> list[Placed] | None:
    """All tasks packed over the whole night from several starts: the calmest, then the latest."""
    carries, fixed = night.carries, night.fixed
    first = pack(tasks, carries, night.begin, fixed=fixed)
    late = pack_late(tasks, carries, night.end - MARGIN_MIN, fixed=fixed) or pack_late(
        tasks, carries, night.end, fixed=fixed
    )
    found = [packed for packed in (first, late) if packed is not None]
    if first is not None:
        spare = night.end - max(run.end for run in first)
        for delay in range(60, spare + 1, 60):
            packed = pack(tasks, carries, night.begin + delay, fixed=fixed)
            if packed is None:
                break
            found.append(packed)
    if not found:
        return None
    found.sort(key=lambda packed: max(run.end for run in packed))
    return found[_calm_and_late(range(len(found)), [night.calm.mean(packed) for packed in found])]


def _calm_and_late(choices: Sequence[int], costs: Sequence[float]) -> int:
    """The last choice whose mean wind is within a trifle of the least."""
    least = min(costs) + CALM_TIE_M_S
    return max(choice for choice, cost in zip(choices, costs, strict=True) if cost <= least)
