"""Where the stretches of each zone's water go: minutes, flow and soaks, nothing else.

Time is counted in whole minutes since 1970 (UTC). A `Task` is a want cut into cycles, with the
*rooms* it may use. A room is a tuple of stretches in which its water may run; no run goes from one
room into another, because a dry period or a freeze lies between them.

`pack` is list scheduling: at every event the zone with the least slack (time left minus run
minutes and soaks still to come) starts as soon as the supply carries it, so one zone soaks while
another runs. It is a heuristic (the exact answer is NP-hard); `insert` is exact for one more zone
among runs that stay where they are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil, floor, inf

from advisor.schedule.request import Request

Span = tuple[int, int]
Room = tuple[Span, ...]
ANYWHERE: tuple[Room, ...] = (((0, 10**9),),)
LEAST_HAND_MIN = 10
TINY = 1e-6


@dataclass(frozen=True, slots=True)
class Task:
    """A want in whole minutes. `length` is run time and soaks together, with no waiting."""

    order: int
    want: Request
    cycles: tuple[int, ...]
    soak: int
    rooms: tuple[Room, ...]

    @property
    def minutes(self) -> int:
        """Run time [min]."""
        return sum(self.cycles)

    @property
    def length(self) -> int:
        """Run time and soaks [min]."""
        return sum(self.cycles) + self.soak * (len(self.cycles) - 1)


@dataclass(frozen=True, slots=True)
class Placed:
    """A task with the start minute of each of its cycles."""

    task: Task
    starts: tuple[int, ...]

    @property
    def spans(self) -> list[Span]:
        """The cycles as (start, end)."""
        return [(s, s + n) for s, n in zip(self.starts, self.task.cycles, strict=True)]

    @property
    def end(self) -> int:
        """When the last cycle ends."""
        return self.starts[-1] + self.task.cycles[-1]

    def moved(self, by: int) -> Placed:
        """The same cycles `by` minutes later."""
        return Placed(self.task, tuple(s + by for s in self.starts))


def split(want: Request) -> tuple[int, ...]:
    """The want's minutes as whole-minute cycles."""
    return stretches(want.minutes, want.cycle_min, by_hand=want.by_hand)


def stretches(minutes: float, cycle_min: float | None, *, by_hand: bool = False) -> tuple[int, ...]:
    """Minutes as whole-minute cycles, as even as can be, none over the longest stretch `cycle_min`.

    The total is rounded up, so what is delivered is never less than what is wanted and at most a
    minute more. A stretch is at least a minute, and for a sprinkler moved by hand at least
    ten, even where the soil would puddle sooner. No minutes are no cycle.
    """
    total = ceil(minutes - TINY)
    if cycle_min is None:
        return (total,) if total > 0 else ()
    longest = max(LEAST_HAND_MIN if by_hand else 1, floor(cycle_min + TINY))
    count = -(-total // longest)
    return tuple(total // count + (i < total % count) for i in range(count))


def together(running: Sequence[Request], want: Request, carries: float | None) -> bool:
    """Whether `want` may run while `running` do: known flows within the supply, one by hand at most."""
    if not running:
        return True
    if carries is None or want.flow_l_min is None:
        return False
    flow = want.flow_l_min
    for other in running:
        if other.flow_l_min is None or (want.by_hand and other.by_hand):
            return False
        flow += other.flow_l_min
    return flow <= carries + TINY


def first_fit(room: Room, at: int, minutes: int) -> int | None:
    """The first minute from `at` on at which a cycle fits into a room."""
    for a, b in room:
        start = max(a, at)
        if start + minutes <= b:
            return start
    return None


def chain_fits(task: Task, room: Room, at: int) -> bool:
    """Whether all cycles fit into one room from `at` on, were the zone alone."""
    if room[-1][1] - at < task.length:
        return False
    if len(room) == 1:
        return True
    for minutes in task.cycles:
        start = first_fit(room, at, minutes)
        if start is None:
            return False
        at = start + minutes + task.soak
    return True


def pack(
    tasks: Sequence[Task], carries: float | None, begin: int, *, in_order: bool = False
) -> list[Placed] | None:
    """All tasks from `begin` on, as early as list scheduling brings them; None if it fails.

    `in_order`: at every event by the tasks' own order instead of by least slack.
    """
    count = len(tasks)
    room: list[Room | None] = [None] * count
    ready = [begin] * count
    starts: list[list[int]] = [[] for _ in tasks]
    left = [task.length for task in tasks]
    running: list[tuple[int, int]] = []
    open_tasks = list(range(count))
    at = begin
    while open_tasks:
        running = [r for r in running if r[0] > at]
        later: float = min((end for end, _ in running), default=inf)
        able: list[tuple[float, int]] = []
        for i in open_tasks:
            task = tasks[i]
            start = _next_start(task, room[i], max(at, ready[i]), len(starts[i]))
            if start is None:
                return None
            if start > at:
                later = min(later, start)
            else:
                end = (room[i] or task.rooms[-1])[-1][1]
                able.append((task.order if in_order else end - left[i], i))
        for _, i in sorted(able):
            task, k = tasks[i], len(starts[i])
            if not together([tasks[j].want for _, j in running], task.want, carries):
                continue
            if room[i] is None:
                room[i] = next(r for r in task.rooms if first_fit(r, at, task.cycles[0]) == at)
            starts[i].append(at)
            end = at + task.cycles[k]
            running.append((end, i))
            later = min(later, end)
            ready[i] = end + task.soak
            left[i] -= task.cycles[k] + task.soak
            if k + 1 == len(task.cycles):
                open_tasks.remove(i)
            else:
                later = min(later, ready[i])
        at = int(later) if open_tasks else at
    return [Placed(task, tuple(s)) for task, s in zip(tasks, starts, strict=True)]


def pack_late(tasks: Sequence[Task], carries: float | None, end: int) -> list[Placed] | None:
    """All tasks as late as list scheduling brings them, over by `end`: `pack` with time reversed."""
    mirrored = [
        replace(
            task,
            cycles=task.cycles[::-1],
            rooms=tuple(tuple((-b, -a) for a, b in room[::-1]) for room in task.rooms[::-1]),
        )
        for task in tasks
    ]
    packed = pack(mirrored, carries, -end)
    if packed is None:
        return None
    return [
        Placed(task, tuple(-b for _, b in reversed(found.spans)))
        for task, found in zip(tasks, packed, strict=True)
    ]


def insert(task: Task, placed: Sequence[Placed], carries: float | None) -> Placed | None:
    """One more task among runs that stay: every cycle as early as it can be; None if it cannot."""
    taken = [(a, b, other.task.want) for other in placed for a, b in other.spans]
    ends = sorted({b for _, b, _ in taken})
    for room in task.rooms:
        starts: list[int] = []
        at = room[0][0]
        for minutes in task.cycles:
            for early in sorted({at, *(a for a, _ in room if a > at), *(b for b in ends if b > at)}):
                if first_fit(room, early, minutes) == early and _is_free(
                    task.want, early, early + minutes, taken, carries
                ):
                    starts.append(early)
                    at = early + minutes + task.soak
                    break
            else:
                break
        if len(starts) == len(task.cycles):
            return Placed(task, tuple(starts))
    return None


def _is_free(
    want: Request, start: int, end: int, taken: Sequence[tuple[int, int, Request]], carries: float | None
) -> bool:
    over = [(a, b, other) for a, b, other in taken if a < end and b > start]
    moments = {start, *(a for a, _, _ in over if a > start)}
    return all(together([o for a, b, o in over if a <= m < b], want, carries) for m in moments)


def _next_start(task: Task, room: Room | None, at: int, done: int) -> int | None:
    """The first minute from `at` on at which the next cycle fits, were the zone alone."""
    if room is not None:
        return first_fit(room, at, task.cycles[done])
    for candidate in task.rooms:
        start = first_fit(candidate, at, task.cycles[0])
        if start is not None and chain_fits(task, candidate, start):
            return start
    return None
