"""The night's plan: which zone runs when, inside the owner's rules, in the calmest hours.

Order of what comes first: watering in that is due, then seed, then the driest turf. Water that is
due is planned whole or not at all; a refill of the turf may be cut. How runs are laid into the night is
in `arrange`; what does not fit is told with why (`not_planned`).

What does not run tonight waits for the first coming night with room for it: those nights are filled in
order with what is left over, by the same limits. What they will want for themselves is not known yet and
takes no room there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

from advisor.advice import Cycle, NoLaterNight, NotPlanned, PlannedRun, PlanNote, PlanNoteKind, PlanWind
from advisor.schedule.arrange import Arrangement, Arranger
from advisor.schedule.cycles import Placed, Task
from advisor.schedule.limits import NightLimits, PlanInputs, from_minute, night_limits
from advisor.schedule.not_planned import TRIAL_TRIES, Trials, why_not_planned
from advisor.schedule.request import SEED, Request
from advisor.sentences import change_words, not_planned_words
from advisor.wording import Say

DOUBTFUL = 0.2  # from this chance of at least 1 mm before the window ends a run is best left late
SPARE = timedelta(minutes=20)
TINY = 1e-6


@dataclass(frozen=True, slots=True)
class Arranged:
    """How a plan came about: its requests in the order of what comes first, the night, and the packing."""

    requests: tuple[Request, ...]
    night: NightLimits
    arrangement: Arrangement
    tasks: tuple[Task, ...]

    @property
    def short(self) -> list[tuple[Task, int]]:
        """What does not run whole, and how many of its minutes do not run [min]."""
        ran = {run.task.order: run.task.minutes for run in self.arrangement.placed}
        rests = ((task, task.minutes - ran.get(task.order, 0)) for task in self.tasks)
        return [(task, rest) for task, rest in rests if rest > 0]


@dataclass(frozen=True, slots=True)
class Plan:
    """What runs, what does not and why, what is worth knowing about it, and its wind, None when unknown.

    Fresh from `Planner.plan` the reasons of what does not run are not worked out yet: `Planner.explained`
    adds them, and the night that it waits for.
    """

    runs: tuple[PlannedRun, ...] = ()
    not_planned: tuple[NotPlanned, ...] = ()
    notes: tuple[PlanNote, ...] = ()
    wind: PlanWind | None = None
    arranged: Arranged | None = field(default=None, compare=False, repr=False)

    @property
    def missing(self) -> tuple[int, float]:
        """How many zones do not run at all, and the minutes that are not planned."""
        ran = {run.zone for run in self.runs}
        return sum(n.zone not in ran for n in self.not_planned), sum(n.minutes for n in self.not_planned)


class Planner:
    """Plans requests into one night, to the minute; at most one request a zone.

    Zones run one after another, or together as far as their known flows stay within the supply. Nothing
    runs in hours below `rules.least_temp_c`; an unknown temperature stops nothing but is noted.
    """

    def __init__(self, inputs: PlanInputs) -> None:
        self.inputs = inputs

    def plan(self, requests: Sequence[Request]) -> Plan:
        """The plan of these requests, in any order; those of no minutes are passed over."""
        asked = [request for request in requests if request.minutes > 0]
        if len({request.zone for request in asked}) < len(asked):
            raise ValueError("a plan takes at most one request a zone")
        asked.sort(key=lambda request: (request.priority, -request.urgency))
        by_hand = any(request.by_hand for request in asked)
        night = night_limits(self.inputs, self.inputs.windows, any_by_hand=by_hand)
        arranger = Arranger(night, asked)
        arrangement = arranger.with_parts()
        arranged = Arranged(tuple(asked), night, arrangement, tuple(arranger.tasks))
        placed = sorted(arrangement.placed, key=lambda run: (run.starts[0], run.task.order))
        return Plan(
            runs=tuple(_run(run) for run in placed),
            not_planned=tuple(_left(task, rest) for task, rest in arranged.short),
            notes=_notes(placed, night),
            wind=_wind(placed, night),
            arranged=arranged,
        )

    def explained(self, plan: Plan) -> Plan:
        """The plan with why each part of it does not run, what would help and the night it waits for."""
        arranged = plan.arranged
        if arranged is None or not plan.not_planned:
            return plan
        say = Say(self.inputs.units, self.inputs.local, self.inputs.now)
        trials = Trials(self.inputs, arranged.requests, arranged.night)
        later = self._first_nights(arranged)
        told = []
        for (task, _), left in zip(arranged.short, plan.not_planned, strict=True):
            reason, changes = why_not_planned(task, arranged.arrangement.placed, trials, self.inputs)
            waits_for = later.get(task.order)
            if waits_for is None and self.inputs.next_nights:
                latest, begins = task.request.latest, self.inputs.next_nights[0].windows[0].starts_at
                due_before = latest is not None and latest <= begins
                no_later = NoLaterNight.DUE_BEFORE if due_before else NoLaterNight.NO_ROOM
                reason = reason.model_copy(update={"no_later": no_later})
            told.append(
                left.model_copy(
                    update={
                        "why": not_planned_words(say, left.zone, reason),
                        "reason": reason,
                        "waits_for": waits_for,
                        "could_change": tuple(change_words(say, change) for change in changes),
                        "changes": changes,
                    }
                )
            )
        return replace(plan, not_planned=tuple(told))

    def late_or_calm(
        self, requests: Sequence[Request], rain_chance: float
    ) -> tuple[Plan, tuple[Request, ...]]:
        """The night's plan and the requests as it took them.

        Where rain is likely enough to make a run needless, all runs but the light ones of seed are kept to
        the end of the night, so that the gauge can be read first; but nothing is left out for that, and
        what is left out is not told to be so for that.
        """
        asked, windows = tuple(requests), self.inputs.windows
        if not windows or not asked or rain_chance < DOUBTFUL:
            return self.plan(asked), asked
        needed = sum((request.length.takes for request in asked if request.priority != SEED), SPARE)
        begin = windows[-1].ends_at - needed
        late = tuple(
            r if r.priority == SEED else replace(r, earliest=max(begin, r.earliest or begin)) for r in asked
        )
        plan = self.plan(late)
        if not plan.not_planned:
            return plan, late
        left = {n.zone for n in plan.not_planned}  # in whole or in part
        mixed = tuple(a if a.zone in left else b for a, b in zip(asked, late, strict=True))
        plan, calm = self.plan(mixed), self.plan(asked)
        return (plan, mixed) if calm.missing >= plan.missing else (calm, asked)

    def _first_nights(self, arranged: Arranged) -> dict[int, date]:
        """By the order of each task that is short the local date on which water would run in the first of
        the coming nights that has room for it; absent where none has."""
        waiting = {task.order: task.shortened(rest).request for task, rest in arranged.short}
        by_hand = any(request.by_hand for request in arranged.requests)
        found: dict[int, date] = {}
        for _, windows in self.inputs.next_nights:
            orders = [order for order in waiting if order not in found]
            if not orders:
                break
            night = night_limits(self.inputs, windows, any_by_hand=by_hand)
            arranger = Arranger(night, [waiting[order] for order in orders], tries=TRIAL_TRIES)
            for run in arranger.with_parts().placed:
                begins = from_minute(run.starts[0]).astimezone(self.inputs.local)
                found[orders[run.task.order]] = begins.date()
        return found


def make_plan(requests: Sequence[Request], inputs: PlanInputs) -> Plan:
    """The plan of one night, with the reasons for what is not in it."""
    planner = Planner(inputs)
    return planner.explained(planner.plan(requests))


def _run(run: Placed) -> PlannedRun:
    request, minutes = run.task.request, run.task.minutes
    depth_mm = request.depth_mm * minutes / request.minutes
    return PlannedRun(
        zone=request.zone,
        depth_mm=depth_mm,
        effective_mm=request.effective_mm * minutes / request.minutes,
        minutes=minutes,
        cycles=tuple(Cycle(starts_at=from_minute(a), ends_at=from_minute(b)) for a, b in run.spans),
        litres=request.area_m2 * depth_mm,
        by_hand=request.by_hand,
        why=request.why,
    )


def _left(task: Task, rest_min: int) -> NotPlanned:
    return NotPlanned(
        zone=task.request.zone,
        depth_mm=task.request.depth_mm * rest_min / task.minutes,
        minutes=float(rest_min),
        why="",
        waits_for=None,
        could_change=(),
    )


def _notes(placed: Sequence[Placed], night: NightLimits) -> tuple[PlanNote, ...]:
    notes: list[PlanNote] = []
    if placed and night.temperature_unknown(placed):
        notes.append(PlanNote(kind=PlanNoteKind.TEMPERATURE_UNKNOWN))
    if placed and not night.calm.known:
        notes.append(PlanNote(kind=PlanNoteKind.WIND_UNKNOWN))
    elif placed and night.calm.gaps:
        notes.append(PlanNote(kind=PlanNoteKind.WIND_GAPS))
    for run in placed:
        takes, longest = run.task.request.cycle_min, max(run.task.cycles)
        if takes is not None and longest > takes + TINY:
            notes.append(
                PlanNote(
                    kind=PlanNoteKind.PUDDLES_SOONER,
                    zones=(run.task.request.zone,),
                    minutes=longest,
                    soil_minutes=takes,
                )
            )
    return tuple(notes)


def _wind(placed: Sequence[Placed], night: NightLimits) -> PlanWind | None:
    """The mean wind of the run minutes beside that of all allowed hours."""
    if not placed or not night.calm.known:
        return None
    return PlanWind(during_m_s=night.calm.mean(placed), allowed_m_s=night.calm.mean_over(night.open))
