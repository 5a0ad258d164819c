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


class _Line:
    """What `pack` knows of the supply while it goes along: what runs, and what it still carries."""

    def __init__(self, carries: float | None) -> None:
        self._carries = carries
        self._running: list[tuple[int, float | None, bool]] = []
        self.spare = inf
        self.by_hand = False

    def until(self, at: int) -> None:
        """Turn off what has ended at `at`."""
        self._running = [each for each in self._running if each[0] > at]
        self._account()

    def start(self, end: int, request: Request) -> None:
        """Turn one zone on."""
        self._running.append((end, request.flow_l_min, request.by_hand))
        self._account()

    def takes(self, request: Request) -> bool:
        """Whether a zone may run beside what runs: known flows within the supply, one by hand at most."""
        if not self._running:
            return True
        if request.flow_l_min is None or (request.by_hand and self.by_hand):
            return False
        return request.flow_l_min <= self.spare + TINY

    @property
    def ends(self) -> float:
        """When the first of what runs ends."""
        return min((each[0] for each in self._running), default=inf)

    def _account(self) -> None:
        flows = [flow for _, flow, _ in self._running]
        known = [flow for flow in flows if flow is not None]
        self.by_hand = any(by_hand for _, _, by_hand in self._running)
        if not flows:
            self.spare = inf
        elif self._carries is None or len(known) < len(flows):
            self.spare = -inf
        else:
            self.spare = self._carries - sum(known)


class _Waiting:
    """One task on its way through `pack`."""

    __slots__ = ("done", "index", "left", "ready", "room", "starts", "task")

    def __init__(self, index: int, task: Task, begin: int) -> None:
        self.index, self.task = index, task
        self.room: Room | None = None
        self.ready, self.done, self.left = begin, 0, task.length
        self.starts: list[int] = []

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
    tasks: Sequence[Task], carries: float | None, begin: int, *, in_order: bool = False
) -> list[Placed] | None:
    """All tasks from `begin` on, as early as list scheduling brings them; None if it fails.

    `in_order`: at every event by the tasks' own order instead of by least slack.
    """
    everyone = [_Waiting(i, task, begin) for i, task in enumerate(tasks)]
    queue = sorted((each.rank(in_order), each.index) for each in everyone)
    flows = sorted(f for f in (task.request.flow_l_min for task in tasks) if f is not None)
    least_flow = flows[0] if flows else inf
    line = _Line(carries)
    at = begin
    while queue:
        line.until(at)
        later: float = inf
        begun: list[tuple[float, int]] = []
        for entry in queue:
            if line.spare + TINY < least_flow:
                break  # nothing can join what runs before some of it ends
            waiting = everyone[entry[1]]
            start = waiting.next_start(at)
            if start is None:
                return None
            if start > at:
                later = min(later, start)
            elif line.takes(waiting.task.request):
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


def pack_late(tasks: Sequence[Task], carries: float | None, end: int) -> list[Placed] | None:
    """All tasks as late as list scheduling brings them, over by `end`: `pack` with time reversed."""
    packed = pack([task.mirrored() for task in tasks], carries, -end)
    if packed is None:
        return None
    return [
        Placed(task, tuple(-b for _, b in reversed(found.spans)))
        for task, found in zip(tasks, packed, strict=True)
    ]


class Occupied:
    """Runs that stay where they are, as one more zone meets them."""

    def __init__(self, placed: Sequence[Placed], carries: float | None) -> None:
        self._carries = carries
        self._spans = [(a, b, run.task.request) for run in placed for a, b in run.spans]
        self._all = merged((a, b) for a, b, _ in self._spans)

    def blocked(self, request: Request) -> list[MinuteSpan]:
        """When a zone cannot run beside them, in order."""
        flow, carries = request.flow_l_min, self._carries
        if carries is None or flow is None:
            return self._all
        edges = sorted({m for a, b, _ in self._spans for m in (a, b)})
        found: list[MinuteSpan] = []
        for a, b in pairwise(edges):
            on = [other for c, d, other in self._spans if c <= a < d]
            flows = [other.flow_l_min for other in on]
            known = [f for f in flows if f is not None]
            unknown = len(known) < len(flows)
            hands = request.by_hand and any(other.by_hand for other in on)
            if on and (unknown or hands or sum(known, flow) > carries + TINY):
                found.append((a, b))
        return merged(found)

    def insert(self, task: Task) -> Placed | None:
        """One more task: every cycle as early as it can be; None if it cannot."""
        blocked = self.blocked(task.request)
        for room in task.rooms:
            starts = _chain(task, _outside(room, blocked))
            if starts is not None:
                return Placed(task, starts)
        return None


def insert(task: Task, placed: Sequence[Placed], carries: float | None) -> Placed | None:
    """One more task among runs that stay: every cycle as early as it can be; None if it cannot."""
    return Occupied(placed, carries).insert(task)


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
