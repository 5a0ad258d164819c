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

from advisor.schedule.cycles import ANYWHERE, MinuteSpan, Placed, Room, Task, pack, pack_late, task_of
from advisor.schedule.limits import NightLimits
from advisor.schedule.request import Request

GRID_MIN = 15
MARGIN_MIN = 5
CALM_TIE_M_S = 0.3

TRIES = 1200
"""How many cycles are packed in vain, in all, for requests that do not fit with those before them. After that
a request is only put among the runs as they stand: a night of up to eight zones does not come so far."""

BLOCKS_TRIED = 40
"""So many cycles are tried in blocks too where packing them together fails."""

Asked = tuple[tuple[int, int], ...]


class Arrangement(NamedTuple):
    """What runs, whole or in part, and what does not run at all, whole as it was asked."""

    placed: list[Placed]
    left: list[Task]


class Arranger:
    """Arranges the requests of one night, given in the order of what comes first, within its limits.

    The same tasks are packed once, however often they are asked for on the way.
    """

    def __init__(self, limits: NightLimits, requests: Sequence[Request], tries: int = TRIES) -> None:
        self.limits = limits
        rooms: dict[object, tuple[Room, ...]] = {}
        self.tasks: list[Task] = []
        for order, request in enumerate(requests):
            key = (request.by_hand, request.earliest, request.latest, request.dry)
            if key not in rooms:
                rooms[key] = limits.rooms(request)
            self.tasks.append(task_of(order, request, rooms[key]))
        self._best_of: dict[Asked, list[Placed] | None] = {}
        self._holds_of: dict[Asked, bool] = {}
        self._fits_alone: dict[tuple[int, int], bool] = {}
        self._tries = tries

    def with_parts(self, *, extend: bool = True) -> Arrangement:
        """What runs, whole or in part. Without `extend` shortened runs stay at their least: the same run."""
        placed = self._by_rank(self._most())
        ran = {run.task.order for run in placed}
        left = [task for task in self.tasks if task.order not in ran]
        return Arrangement(self._extended(placed) if extend else placed, left)

    def _versions(self, task: Task) -> list[Task]:
        """The whole task and its least, as far as they would fit if no other ran."""
        least = task.request.least_minutes
        found = [task] if least is None else [task, task.shortened(ceil(least))]
        return [version for version in found if self._fits_alone_in(version)]

    def _fits_alone_in(self, task: Task) -> bool:
        key = (task.order, task.minutes)
        if key not in self._fits_alone:
            fits = self.limits.may_run(task) and self.limits.beside().insert(task) is not None
            self._fits_alone[key] = fits
        return self._fits_alone[key]

    def _most(self) -> list[Placed]:
        """As many of the first as fit together, then every later one that still fits, whole or at its least.

        What is kept of the first tasks does not hang on the tasks that come after them.
        """
        able = [versions for task in self.tasks if (versions := self._versions(task))]
        first = self._first_that_hold([versions[0] for versions in able])
        tasks = [versions[0] for versions in able[:first]]
        placed: list[Placed] | None = None
        for versions in able[first:]:
            for version in versions:
                more = [*tasks, version]
                if sum(task.minutes for task in more) > self.limits.limit:
                    continue
                if self._holds_if_tried(more):
                    tasks, placed = more, None
                    break
                placed = self._best(tasks) or [] if placed is None else placed
                added = self.limits.beside(placed).insert(version)
                if added is not None:
                    tasks, placed = more, [*placed, added]
                    break
        return self._best(tasks) or [] if placed is None else placed

    def _first_that_hold(self, tasks: Sequence[Task]) -> int:
        """How many of the first tasks the night holds together, found by halving."""
        if self._holds(tasks):
            return len(tasks)
        low, high = 0, len(tasks)
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (middle, high) if self._holds(tasks[:middle]) else (low, middle)
        return low

    def _by_rank(self, placed: Sequence[Placed]) -> list[Placed]:
        """The same, and whatever could still be put among the runs that come before it in their place."""
        chosen = {run.task.order: run for run in placed}
        if len(chosen) == len(self.tasks):
            return list(placed)
        kept: list[Placed] = []
        moved = False
        for task in self.tasks:
            run = chosen.get(task.order)
            if run is None or moved:
                added = self._added(task if run is None else run.task, kept)
                moved = moved or (run is None and added is not None)
                run = added
            if run is not None:
                kept.append(run)
        return kept

    def _added(self, task: Task, kept: Sequence[Placed]) -> Placed | None:
        """A task, or its least, among runs that stay where they are."""
        used, beside = sum(run.task.minutes for run in kept), self.limits.beside(kept)
        for version in self._versions(task):
            if used + version.minutes <= self.limits.limit:
                added = beside.insert(version)
                if added is not None:
                    return added
        return None

    def _extended(self, placed: list[Placed]) -> list[Placed]:
        """The shortened runs, in the order of what comes first, as long as they can be beside the others."""
        tasks = sorted((run.task for run in placed), key=lambda task: task.order)
        for i, short in enumerate(tasks):
            whole = self.tasks[short.order]
            low, high = short.minutes, whole.minutes
            while low < high:
                middle = (low + high + 1) // 2
                longer = whole if middle >= whole.minutes else whole.shortened(middle)
                found = self._fitted([*tasks[:i], longer, *tasks[i + 1 :]], longer, placed)
                if found is None:
                    high = middle - 1
                else:
                    low, tasks[i], placed = middle, longer, found
        return placed

    def _fitted(self, tasks: Sequence[Task], longer: Task, placed: Sequence[Placed]) -> list[Placed] | None:
        """All these tasks packed, or the longer one among the others as they stand."""
        if self.limits.cannot_hold(tasks):
            return None
        if self._holds_if_tried(tasks):
            return self._best(tasks)
        others = [run for run in placed if run.task.order != longer.order]
        added = self.limits.beside(others).insert(longer)
        if added is not None:
            return [*others, added]
        kept: list[Placed] = []
        for task in tasks if _cycles(tasks) <= BLOCKS_TRIED else ():
            added = self.limits.beside(kept).insert(task)
            if added is None:
                return None
            kept.append(added)
        return kept or None

    def _holds_if_tried(self, tasks: Sequence[Task]) -> bool:
        """Whether the night holds these tasks together, as far as tries are left to find out."""
        if self._tries <= 0 and _key(tasks) not in self._holds_of:
            return False
        holds = self._holds(tasks)
        if not holds and not self.limits.cannot_hold(tasks):
            self._tries -= _cycles(tasks)
        return holds

    def _holds(self, tasks: Sequence[Task]) -> bool:
        """Whether a packing of these tasks is found."""
        if not tasks:
            return True
        if self.limits.cannot_hold(tasks):
            return False
        key = _key(tasks)
        if key not in self._holds_of:
            night = self.limits
            self._holds_of[key] = (
                pack(tasks, night.carries, night.begin, fixed=night.fixed) is not None
                or pack_late(tasks, night.carries, night.end, fixed=night.fixed) is not None
                or (_cycles(tasks) <= BLOCKS_TRIED and self._best(tasks) is not None)
            )
        return self._holds_of[key]

    def _best(self, tasks: Sequence[Task]) -> list[Placed] | None:
        """All tasks in the calmest hours, in blocks or, where blocks do not fit, packed together."""
        key = _key(tasks)
        if key not in self._best_of:
            night = self.limits
            self._best_of[key] = (_in_blocks(tasks, night) or _together(tasks, night)) if tasks else []
        return self._best_of[key]


def _cycles(tasks: Sequence[Task]) -> int:
    return sum(len(task.cycles) for task in tasks)


def _key(tasks: Sequence[Task]) -> Asked:
    return tuple((task.order, task.minutes) for task in tasks)


def _in_blocks(tasks: Sequence[Task], night: NightLimits) -> list[Placed] | None:
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


def _together(tasks: Sequence[Task], night: NightLimits) -> list[Placed] | None:
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
