"""Why a request is not in tonight's plan, and what the owner could change.

The reason is found by lifting one limit at a time: the one without which the zone would fit alone
is the one that is told. What would fit alone but not among the runs that come first is told
as such, with their names.

No change to hours or minutes is told that was not tried: the whole night is planned anew with the change,
and the zone has to run in it. Hours before now are tried too, for the next such night.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from advisor.advice import ChangeKind, NotPlannedKind, NotPlannedReason, PossibleChange
from advisor.hours import Window, closed_date
from advisor.schedule.arrange import Arranger
from advisor.schedule.cycles import MinuteSpan, Placed, Task
from advisor.schedule.limits import NightLimits, PlanInputs, from_minute, night_limits
from advisor.schedule.request import Request

LIMITS = {
    "awake": NotPlannedKind.NOBODY_AWAKE,
    "dry": NotPlannedKind.DRY,
    "freeze": NotPlannedKind.FROST,
    "latest": NotPlannedKind.DUE,
    "earliest": NotPlannedKind.NOT_BEFORE,
}
"""The limits that may be lifted, in the order in which they are tried."""
STEP_MIN, MOST_MIN = 15, 12 * 60
TRIAL_CYCLES, LEAST_TRIALS = 600, 4
"""Other nights are tried until so many cycles are planned in all, and at least so many nights: where many zones
do not fit, the later ones are told only of hours and minutes that were tried for an earlier one."""
TRIAL_TRIES = 400
DAYTIME = range(6, 12)  # hours that belong to the night before, or come after sunrise

Why = tuple[NotPlannedReason, tuple[PossibleChange, ...]]


class Trials:
    """The night planned anew in other hours or with more minutes; every trial is made once."""

    def __init__(self, inputs: PlanInputs, requests: Sequence[Request], night: NightLimits) -> None:
        self.night = night
        self._inputs, self._requests = inputs, requests
        self._by_hand = any(request.by_hand for request in requests)
        self._limits: dict[tuple[MinuteSpan, ...], NightLimits] = {night.open: night}
        self._ran: dict[tuple[tuple[MinuteSpan, ...], float], frozenset[int]] = {}
        cycles = sum(len(request.length.cycles) for request in requests)
        self._most = max(LEAST_TRIALS, TRIAL_CYCLES // max(1, cycles))

    def limits(self, spans: Sequence[MinuteSpan], minutes: float) -> NightLimits:
        """The limits of a night with these allowed stretches and so much run time."""
        key = tuple(spans)
        if key not in self._limits:
            windows = [Window(from_minute(a), from_minute(b)) for a, b in spans]
            since = min(self._inputs.now, windows[0].starts_at)
            self._limits[key] = night_limits(self._inputs, windows, any_by_hand=self._by_hand, since=since)
        found = self._limits[key]
        return found if found.limit == minutes else replace(found, limit=minutes)

    def was_tried(self, limits: NightLimits) -> bool:
        """Whether such a night is tried already."""
        return (limits.open, limits.limit) in self._ran

    @property
    def is_over(self) -> bool:
        """Whether no other night is tried any more."""
        return len(self._ran) >= self._most

    def would_run(self, limits: NightLimits) -> frozenset[int]:
        """The requests, by their order, that run whole in such a night; none of one that is not tried."""
        key = (limits.open, limits.limit)
        if key not in self._ran and self.is_over:
            return frozenset()
        if key not in self._ran:
            arranger = Arranger(limits, self._requests, tries=TRIAL_TRIES)
            placed = arranger.with_parts(extend=False).placed
            self._ran[key] = frozenset(
                run.task.order for run in placed if run.task.minutes == arranger.tasks[run.task.order].minutes
            )
        return self._ran[key]


def why_not_planned(task: Task, placed: Sequence[Placed], trials: Trials, inputs: PlanInputs) -> Why:
    """Why a task does not run whole beside what is `placed`, and what would do; each change is enough."""
    reason, changes = _reason(task, placed, trials, inputs)
    ran = sum(run.task.minutes for run in placed if run.task.order == task.order)
    if task.request.least_minutes is not None:  # it is split as it is
        splits = (ChangeKind.SPLIT_DEPTH, ChangeKind.SPLIT_RUNS)
        changes = [change for change in changes if change.kind not in splits]
    return reason.model_copy(update={"runs_minutes": ran}), tuple(changes)


def _told(kind: NotPlannedKind, task: Task, **more: object) -> NotPlannedReason:
    return NotPlannedReason(
        kind=kind,
        minutes=task.minutes,
        soak_minutes=task.length - task.minutes,
        **more,
    )


def _change(kind: ChangeKind) -> PossibleChange:
    return PossibleChange(kind=kind)


def _reason(
    task: Task, placed: Sequence[Placed], trials: Trials, inputs: PlanInputs
) -> tuple[NotPlannedReason, list[PossibleChange]]:
    night, flow = trials.night, task.request.flow_l_min
    if not night.open:
        kind = NotPlannedKind.CLOSED if inputs.closed else NotPlannedKind.NO_HOURS
        return _told(kind, task, closed=inputs.closed), [_change(ChangeKind.MORE_HOURS)]
    if flow is not None and night.carries is not None and flow > night.carries:
        return _told(NotPlannedKind.SUPPLY, task, flow_l_min=flow, supply_l_min=night.carries), [
            _change(ChangeKind.MEASURE_FLOWS),
            _change(ChangeKind.DIVIDE_ZONE),
        ]
    before = [run for run in placed if run.task.order < task.order]
    taken = sum(run.task.minutes for run in before)
    if task.minutes > night.limit:
        return _told(NotPlannedKind.MINUTES, task, limit_minutes=round(night.limit)), [
            *_what_would_do(task, before, trials),
            _change(ChangeKind.SPLIT_DEPTH),
        ]
    if night.beside().insert(task) is None:
        return _alone(task, before, trials)
    first = tuple(run.task.request.zone for run in sorted(before, key=lambda run: run.task.order))
    if taken + task.minutes > night.limit:
        return _told(
            NotPlannedKind.MINUTES_TAKEN,
            task,
            before=first,
            taken_minutes=taken,
            limit_minutes=round(night.limit),
        ), [*_what_would_do(task, before, trials), _change(ChangeKind.SPLIT_RUNS)]
    return _told(NotPlannedKind.CROWDED, task, before=first, taken_minutes=taken), [
        *_what_would_do(task, before, trials),
        *_more_at_once(task, before, night),
        _change(ChangeKind.SPLIT_RUNS),
    ]


def _alone(
    task: Task, before: Sequence[Placed], trials: Trials
) -> tuple[NotPlannedReason, list[PossibleChange]]:
    """Why a zone would not fit even if no other ran."""
    request, night = task.request, trials.night

    def fits(*lifted: str) -> bool:
        return night.beside().insert(task.within(night.rooms(request, lifted))) is not None

    stops = next((limit for limit in LIMITS if fits(limit)), None)
    if stops is None:
        if fits(*LIMITS):
            return _told(NotPlannedKind.SEVERAL, task), [_change(ChangeKind.SPLIT_DEPTH)]
        longest = max(b - a for a, b in night.open)
        return _told(NotPlannedKind.TOO_LONG, task, limit_minutes=longest), [
            *_what_would_do(task, before, trials),
            _change(ChangeKind.SPLIT_DEPTH),
        ]
    kind = LIMITS[stops]
    if kind == NotPlannedKind.NOBODY_AWAKE:
        return _told(kind, task, awake=night.rules.awake), [
            _change(ChangeKind.HOURS_BY_DAY),
            _change(ChangeKind.FIT_VALVE),
        ]
    if kind == NotPlannedKind.DRY:
        return _told(kind, task, until=request.dry[-1].ends_at), []
    if kind == NotPlannedKind.FROST:
        frost = _change(ChangeKind.WAIT_NO_FROST)
        return _told(kind, task, least_temp_c=night.rules.least_temp_c), [frost]
    until = request.latest if kind == NotPlannedKind.DUE else request.earliest
    return _told(kind, task, until=until), _what_would_do(task, before, trials)


def _more_at_once(task: Task, before: Sequence[Placed], night: NightLimits) -> list[PossibleChange]:
    """Flows that would have to be known, or that the supply would need, for zones to run at once."""
    mine = task.request.flow_l_min
    known = [f for run in before if (f := run.task.request.flow_l_min) is not None]
    if night.carries is None:
        return [_change(ChangeKind.ENTER_FLOWS)]
    requests = (*(run.task.request for run in before), task.request)
    unknown = tuple(dict.fromkeys(each.zone for each in requests if each.flow_l_min is None))
    if unknown or mine is None:
        return [PossibleChange(kind=ChangeKind.ENTER_FLOWS, zones=unknown)]
    if known and mine + min(known) > night.carries:
        return [PossibleChange(kind=ChangeKind.RAISE_SUPPLY, flow_l_min=mine + min(known))]
    return []


def _what_would_do(task: Task, before: Sequence[Placed], trials: Trials) -> list[PossibleChange]:
    """Changes to the rules, each enough by itself; empty where neither hours nor minutes would help."""
    night = trials.night
    used = sum(run.task.minutes for run in before) + task.minutes
    more = None if used <= night.limit else used
    limit = max(night.limit, float(used))
    occupied = night.beside(before)

    def fits_beside(allowed: Sequence[MinuteSpan]) -> bool:
        rooms = trials.limits(allowed, limit).rooms(task.request)
        return occupied.insert(task.within(rooms)) is not None

    def runs_in(allowed: Sequence[MinuteSpan]) -> bool:
        limits = trials.limits(allowed, limit)
        if trials.is_over and not trials.was_tried(limits):
            return False
        return fits_beside(allowed) and task.order in trials.would_run(limits)

    if more is not None and runs_in(night.open):
        return [PossibleChange(kind=ChangeKind.MINUTES, minutes=more)]
    earlier = _from_earlier(night, fits_beside, runs_in, is_over=trials.is_over)
    changes = [earlier, _past_sunrise(night, runs_in)]
    return [change.model_copy(update={"minutes": more}) for change in changes if change is not None]


Fits = Callable[[Sequence[MinuteSpan]], bool]


def _from_earlier(
    night: NightLimits, fits_beside: Fits, runs_in: Fits, *, is_over: bool
) -> PossibleChange | None:
    """The latest earlier hour that would do, back to noon, if the night's first hours are not simply past.

    Longer hours are taken to do no less: they are searched by leaps and halving, not one by one, and what
    is told has been tried. `is_over`: only what was tried already is looked at.
    """
    begins = from_minute(night.begin).astimezone(night.local)
    if not any((begins.hour, begins.minute) == (a.hour, a.minute) for a, _ in night.rules.hours):
        return None
    (a, b), *rest = night.open
    steps = []
    for sooner in range(STEP_MIN, MOST_MIN + 1, STEP_MIN):
        since = from_minute(a - sooner).astimezone(night.local)
        if since.hour in DAYTIME or closed_date(since.date(), night.rules) is not None:
            break
        steps.append(sooner)

    def does(step: int, test: Fits) -> bool:
        return test([(a - steps[step], b), *rest])

    if not steps:
        return None
    step = _first(len(steps), 0, lambda i: does(i, fits_beside))
    if step is not None and is_over:
        step = next((i for i in range(step, len(steps)) if does(i, runs_in)), None)
    elif step is not None:
        step = _first(len(steps), step, lambda i: does(i, runs_in))
    if step is None:
        return None
    since = from_minute(a - steps[step]).astimezone(night.local)
    return PossibleChange(kind=ChangeKind.HOURS_FROM, since=since.time())


def _first(count: int, low: int, holds: Callable[[int], bool]) -> int | None:
    """The first number from `low` on, below `count`, for which what holds from there on holds.

    Leaps of 0, 1, 2, 4 and so on until it holds, then halving between there and where it did not.
    """
    high, leap = low, 1
    while high < count and not holds(high):
        low, high, leap = high + 1, min(high + leap, max(count - 1, high + 1)), leap * 2
    if high >= count:
        return None
    while low < high:
        middle = (low + high) // 2
        if holds(middle):
            high = middle
        else:
            low = middle + 1
    return high


def _past_sunrise(night: NightLimits, runs_in: Fits) -> PossibleChange | None:
    """Let runs go on after sunrise to the end of the hours, where sunrise is what ends the night."""
    *rest, (a, b) = night.open
    ends = from_minute(b).astimezone(night.local)
    by_clock = {(0, 0), *((clock.hour, clock.minute) for _, clock in night.rules.hours)}
    if night.rules.finish != "sunrise" or (ends.hour, ends.minute) in by_clock:
        return None
    for _, clock in night.rules.hours:
        until = datetime.combine(ends.date(), clock, night.local)
        more = int((until - ends) / timedelta(minutes=1))
        if 0 < more <= MOST_MIN and runs_in([*rest, (a, b + more)]):
            return PossibleChange(kind=ChangeKind.PAST_SUNRISE)
    return None
