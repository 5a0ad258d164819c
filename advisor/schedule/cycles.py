"""Where the stretches of each zone's water go: minutes, flow and soaks, nothing else.

Time is counted in whole minutes since 1970 (UTC). A `Task` is a request cut into cycles, with the
*rooms* it may use. A room is a tuple of stretches in which its water may run; no run goes from one
room into another, because a dry period or a freeze lies between them.

`pack` is list scheduling: at every event the zone with the least slack (time left minus run
minutes and soaks still to come) starts as soon as the supply carries it, so one zone soaks while
another runs. It is a heuristic (the exact answer is NP-hard); `insert` is exact for one more zone
among runs that stay where they are.
"""

from __future__ import annotations

from bisect import insort
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from math import inf
from typing import NamedTuple

from advisor.schedule.request import Request

MinuteSpan = tuple[int, int]
Room = tuple[MinuteSpan, ...]
ANYWHERE: tuple[Room, ...] = (((0, 10**9),),)
TINY = 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class Task:
    """A request in whole minutes. `minutes` is its run time, `length` that and the soaks between its cycles,
    with no waiting; `order` its rank among the requests of the night."""

    order: int
    request: Request
    cycles: tuple[int, ...]
    soak: int
    rooms: tuple[Room, ...]
    minutes: int = field(init=False)
    length: int = field(init=False)

    def __post_init__(self) -> None:
        minutes = sum(self.cycles)
        object.__setattr__(self, "minutes", minutes)
        object.__setattr__(self, "length", minutes + self.soak * (len(self.cycles) - 1))

    def within(self, rooms: tuple[Room, ...]) -> Task:
        """The same in other rooms."""
        return Task(self.order, self.request, self.cycles, self.soak, rooms)

    def shortened(self, minutes: float) -> Task:
        """The same zone with so many minutes, and the depth they deliver."""
        request = self.request.shortened(minutes)
        length = request.length
        return Task(self.order, request, length.cycles, length.soak, self.rooms)

    def mirrored(self) -> Task:
        """The same with time reversed."""
        rooms = tuple(tuple((-b, -a) for a, b in room[::-1]) for room in self.rooms[::-1])
        return Task(self.order, self.request, self.cycles[::-1], self.soak, rooms)


@dataclass(frozen=True, slots=True)
class Placed:
    """A task with the start minute of each of its cycles."""

    task: Task
    starts: tuple[int, ...]

    @property
    def spans(self) -> list[MinuteSpan]:
        """The cycles as (start, end)."""
        return [(s, s + n) for s, n in zip(self.starts, self.task.cycles, strict=True)]

    @property
    def end(self) -> int:
        """When the last cycle ends."""
        return self.starts[-1] + self.task.cycles[-1]

    def moved(self, by: int) -> Placed:
        """The same cycles `by` minutes later."""
        return Placed(self.task, tuple(s + by for s in self.starts))


def task_of(order: int, request: Request, rooms: tuple[Room, ...]) -> Task:
    """A request as the packing takes it."""
    length = request.length
    return Task(order, request, length.cycles, length.soak, rooms)


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


def merged(spans: Iterable[MinuteSpan]) -> list[MinuteSpan]:
    """The spans in order, with those that touch or overlap made one."""
    joined: list[MinuteSpan] = []
    for a, b in sorted(spans):
        if joined and a <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(b, joined[-1][1]))
        else:
            joined.append((a, b))
    return joined


class Draw(NamedTuple):
    """A stretch in which something draws water: `flow_l_min` None when unknown."""

    start: int
    end: int
    flow_l_min: float | None
    by_hand: bool

    def mirrored(self) -> Draw:
        """The same with time reversed."""
        return self._replace(start=-self.end, end=-self.start)


def may_join(request: Request, on: Sequence[Draw], carries: float | None) -> bool:
    """Whether a zone may run beside what is on: known flows within the supply, one by hand at most."""
    if not on:
        return True
    flow = request.flow_l_min
    if carries is None or flow is None or (request.by_hand and any(draw.by_hand for draw in on)):
        return False
    known = [draw.flow_l_min for draw in on if draw.flow_l_min is not None]
    return len(known) == len(on) and sum(known, flow) <= carries + TINY


class _Line:
    """What `pack` knows of the supply while it goes along: what runs, and what it still carries.

    `fixed` are draws that stay where they are.
    """

    def __init__(self, carries: float | None, fixed: Sequence[Draw]) -> None:
        self._carries, self._fixed = carries, fixed
        self._own: list[Draw] = []
        self._on: list[Draw] = []
        self._at = 0
        self.spare = inf
        self.ends: float = inf
        """When the first of what runs, or is fixed, ends."""

    def until(self, at: int) -> None:
        """Turn off what has ended at `at`."""
        self._at = at
        if self._fixed or self.ends <= at:
            self._own = [draw for draw in self._own if draw.end > at]
            self._account()

    def start(self, end: int, request: Request) -> None:
        """Turn one zone on."""
        self._own.append(Draw(self._at, end, request.flow_l_min, request.by_hand))
        self._account()

    def takes(self, request: Request, minutes: int) -> bool:
        """Whether a zone may run from now on beside what runs, and beside what is fixed until it ends."""
        if not may_join(request, self._on, self._carries):
            return False
        return not self._fixed or all(
            may_join(
                request, [d for d in (*self._own, *self._fixed) if d.start <= begin < d.end], self._carries
            )
            for begin in (draw.start for draw in self._fixed)
            if self._at < begin < self._at + minutes
        )

    def _account(self) -> None:
        self._on = on = self._own
        if self._fixed:
            self._on = [*on, *(d for d in self._fixed if d.start <= self._at < d.end)]
            on = [*on, *self._fixed]
        self.ends = min((d.end for d in on if d.end > self._at), default=inf)
        if not self._on:
            self.spare = inf
        elif self._carries is None:
            self.spare = -inf
        else:
            flows = [draw.flow_l_min for draw in self._on]
            self.spare = -inf if None in flows else self._carries - sum(f for f in flows if f is not None)


class _Waiting:
    """One task on its way through `pack`."""

    __slots__ = ("done", "index", "left", "plain", "ready", "room", "starts", "task")

    def __init__(self, index: int, task: Task, begin: int) -> None:
        self.index, self.task = index, task
        self.room: Room | None = None
        self.ready, self.done, self.left = begin, 0, task.length
        self.starts: list[int] = []
        plain = len(task.rooms) == 1 and len(task.rooms[0]) == 1
        self.plain = task.rooms[0][0] if plain else None  # the one stretch it may use, if there is but one

    def rank(self, in_order: bool) -> float:
        """What comes first: the least slack, or the task's own order."""
        if in_order:
            return self.task.order
        room = self.room or self.task.rooms[-1]
        return room[-1][1] - self.left

    def next_start(self, at: int) -> int | None:
        """The first minute from `at` on at which the next cycle fits, were the zone alone."""
        at = max(at, self.ready)
        task, room = self.task, self.room
        if room is not None:
            return first_fit(room, at, task.cycles[self.done])
        if self.plain is not None:
            begin, end = self.plain
            at = max(at, begin)
            return at if end - at >= task.length else None
        for candidate in task.rooms:
            start = first_fit(candidate, at, task.cycles[0])
            if start is not None and chain_fits(task, candidate, start):
                return start
        return None

    def start(self, at: int) -> int:
        """Begin the next cycle, and say when it ends."""
        task = self.task
        minutes = task.cycles[self.done]
        if self.room is None:
            self.room = next(r for r in task.rooms if first_fit(r, at, minutes) == at)
        self.starts.append(at)
        self.done += 1
        self.left -= minutes + task.soak
        self.ready = at + minutes + task.soak
        return at + minutes


def pack(
    tasks: Sequence[Task],
    carries: float | None,
    begin: int,
    *,
    in_order: bool = False,
    fixed: Sequence[Draw] = (),
) -> list[Placed] | None:
    """All tasks from `begin` on, as early as list scheduling brings them; None if it fails.

    `in_order`: at every event by the tasks' own order instead of by least slack. `fixed` is what draws
    water anyway.
    """
    everyone = [_Waiting(i, task, begin) for i, task in enumerate(tasks)]
    queue = sorted((each.rank(in_order), each.index) for each in everyone)
    flows = [inf if task.request.flow_l_min is None else task.request.flow_l_min for task in tasks]
    least_flow = min(flows, default=inf)
    line = _Line(carries, fixed)
    share = _shares(tasks, carries)
    end = max((room[-1][1] for task in tasks for room in task.rooms), default=begin)
    volume = sum(s * task.minutes for s, task in zip(share, tasks, strict=True))
    at = begin
    while queue:
        if volume > end - at + TINY:
            return None
        line.until(at)
        later: float = inf
        begun: list[tuple[float, int]] = []
        for entry in queue:
            if line.spare + TINY < least_flow:
                break  # nothing can join what runs before some of it ends
            if line.spare + TINY < flows[entry[1]]:
                continue  # nor can this one, before something ends
            waiting = everyone[entry[1]]
            start = waiting.next_start(at)
            if start is None:
                return None
            if start > at:
                later = min(later, start)
            elif line.takes(waiting.task.request, waiting.task.cycles[waiting.done]):
                volume -= share[entry[1]] * waiting.task.cycles[waiting.done]
                line.start(waiting.start(at), waiting.task.request)
                begun.append(entry)
        for entry in begun:
            queue.remove(entry)
            waiting = everyone[entry[1]]
            if waiting.done < len(waiting.task.cycles):
                insort(queue, (waiting.rank(in_order), waiting.index))
                later = min(later, waiting.ready)
        at = int(min(later, line.ends)) if queue else at
    return [Placed(each.task, tuple(each.starts)) for each in everyone]


def _shares(tasks: Sequence[Task], carries: float | None) -> list[float]:
    """The least part of the supply that each task takes while it runs, 0–1."""
    flows = (task.request.flow_l_min for task in tasks)
    return [1.0 if carries is None or flow is None else min(1.0, flow / carries) for flow in flows]


def pack_late(
    tasks: Sequence[Task], carries: float | None, end: int, *, fixed: Sequence[Draw] = ()
) -> list[Placed] | None:
    """All tasks as late as list scheduling brings them, over by `end`: `pack` with time reversed."""
    mirrored = [draw.mirrored() for draw in fixed]
    packed = pack([task.mirrored() for task in tasks], carries, -end, fixed=mirrored)
    if packed is None:
        return None
    return [
        Placed(task, tuple(-b for _, b in reversed(found.spans)))
        for task, found in zip(tasks, packed, strict=True)
    ]


class Occupied:
    """Runs that stay where they are, and what else is fixed, as one more zone meets them."""

    def __init__(self, placed: Sequence[Placed], carries: float | None, fixed: Sequence[Draw] = ()) -> None:
        self._carries = carries
        self._draws = [*fixed]
        for run in placed:
            flow, by_hand = run.task.request.flow_l_min, run.task.request.by_hand
            self._draws += [Draw(a, b, flow, by_hand) for a, b in run.spans]
        self._all = merged((draw.start, draw.end) for draw in self._draws)

    def blocked(self, request: Request) -> list[MinuteSpan]:
        """When a zone cannot run beside them, in order."""
        if self._carries is None or request.flow_l_min is None:
            return self._all
        edges = sorted({m for draw in self._draws for m in (draw.start, draw.end)})
        return merged(
            (a, b)
            for a, b in pairwise(edges)
            if not may_join(request, [d for d in self._draws if d.start <= a < d.end], self._carries)
        )

    def insert(self, task: Task) -> Placed | None:
        """One more task: every cycle as early as it can be; None if it cannot."""
        blocked = self.blocked(task.request)
        for room in task.rooms:
            starts = _chain(task, _outside(room, blocked))
            if starts is not None:
                return Placed(task, starts)
        return None


def _outside(room: Room, blocked: Sequence[MinuteSpan]) -> Sequence[MinuteSpan]:
    """The stretches of a room outside what is blocked, both in order."""
    if not blocked:
        return room
    free: list[MinuteSpan] = []
    for a, b in room:
        for c, d in blocked:
            if d <= a:
                continue
            if c >= b:
                break
            if c > a:
                free.append((a, c))
            a = d
        if a < b:
            free.append((a, b))
    return free


def _chain(task: Task, free: Sequence[MinuteSpan]) -> tuple[int, ...] | None:
    """The starts of all cycles in free stretches, each as early as it can be."""
    starts: list[int] = []
    stretch, at = 0, -inf
    for minutes in task.cycles:
        while stretch < len(free) and max(free[stretch][0], at) + minutes > free[stretch][1]:
            stretch += 1
        if stretch == len(free):
            return None
        start = int(max(free[stretch][0], at))
        starts.append(start)
        at = start + minutes + task.soak
    return tuple(starts)
