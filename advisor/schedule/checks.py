"""Named checks that a plan keeps every rule, said with each advice: passed, or why not.

The checks look at the printed runs alone (times, minutes, litres), not at how they were found.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from math import isclose

from advisor.advice import Check, CheckFailure, CheckName, Cycle, NotPlanned, PlannedRun
from advisor.schedule.limits import PlanInputs, Running
from advisor.schedule.planner import Plan
from advisor.schedule.request import Request
from advisor.sentences import check_words
from advisor.wording import Say

HOUR, MINUTE = timedelta(hours=1), timedelta(minutes=1)
TINY = 1e-6


@dataclass(frozen=True, slots=True)
class _Printed:
    """What is checked: the runs with what was asked, what is told as left, and what they were planned in."""

    asked: Mapping[str, Request]
    runs: tuple[PlannedRun, ...]
    left: tuple[NotPlanned, ...]
    inputs: PlanInputs
    sunrise_at: datetime | None

    @property
    def pairs(self) -> list[tuple[PlannedRun, Request]]:
        """Each run with its request."""
        return [(run, self.asked[run.zone]) for run in self.runs if run.zone in self.asked]

    @property
    def cycles(self) -> Iterator[tuple[Cycle, Request]]:
        """Each stretch of water with its request."""
        return ((cycle, request) for run, request in self.pairs for cycle in run.cycles)


def check_plan(
    plan: Plan,
    *,
    requests: Sequence[Request],
    inputs: PlanInputs,
    sunrise_at: datetime | None,
) -> tuple[Check, ...]:
    """Check a plan against what the planner was given; `sunrise_at` as `windows_for` was given it."""
    asked = {request.zone: request for request in requests if request.minutes > 0}
    printed = _Printed(asked, plan.runs, plan.not_planned, inputs, sunrise_at)
    say = Say(inputs.units, inputs.local, inputs.now)
    checks = []
    for name, check in CHECKS.items():
        failure = next(iter(check(printed)), None)
        why = "" if failure is None else check_words(say, failure)
        checks.append(Check(name=name, passed=failure is None, why=why, failure=failure))
    return tuple(checks)


Failures = Iterable[CheckFailure]


def _zone(check: CheckName, request: Request) -> CheckFailure:
    return CheckFailure(check=check, zones=(request.zone,))


def _answered(p: _Printed) -> Failures:
    ran = [run.zone for run in p.runs]
    answered = sorted(ran + [left.zone for left in p.left if left.zone not in ran])
    if answered != sorted(p.asked):
        yield CheckFailure(check=CheckName.ANSWERED, zones=tuple(sorted(p.asked)), answered=tuple(answered))


def _allowed(p: _Printed) -> Failures:
    windows = p.inputs.windows
    for cycle, request in p.cycles:
        if not any(w.starts_at <= cycle.starts_at and cycle.ends_at <= w.ends_at for w in windows):
            yield _zone(CheckName.ALLOWED_HOURS, request)


def _by_sunrise(p: _Printed) -> Failures:
    """Runs after sunrise only if the rules end with the hours or all hours come after it."""
    windows, sunrise_at = p.inputs.windows, p.sunrise_at
    if p.inputs.rules.finish != "sunrise" or sunrise_at is None:
        return
    if windows and windows[0].starts_at >= sunrise_at:
        return
    for cycle, request in p.cycles:
        if cycle.ends_at > sunrise_at:
            yield _zone(CheckName.SUNRISE, request)


def _in_time(p: _Printed) -> Failures:
    for cycle, request in p.cycles:
        early = request.earliest is not None and cycle.starts_at < request.earliest
        if early or (request.latest is not None and cycle.ends_at > request.latest):
            yield _zone(CheckName.IN_TIME, request)


def _dry(p: _Printed) -> Failures:
    for run, request in p.pairs:
        first, last = run.cycles[0].starts_at, run.cycles[-1].ends_at
        if any(first < dry.ends_at and last > dry.starts_at for dry in request.dry):
            yield _zone(CheckName.DRY, request)


def _frost(p: _Printed) -> Failures:
    air, least = p.inputs.air, p.inputs.rules.least_temp_c
    for run, request in p.pairs:
        first = (run.cycles[0].starts_at - air.first) // HOUR
        last = -((air.first - run.cycles[-1].ends_at) // HOUR)
        if any(temp < least for temp in air.temp_c[max(0, first) : max(0, last)]):
            yield CheckFailure(check=CheckName.FROST, zones=(request.zone,), least_temp_c=least)


def _soaks(p: _Printed) -> Failures:
    for run, request in p.pairs:
        for one, two in pairwise(run.cycles):
            if two.starts_at - one.ends_at < request.soak_min * MINUTE:
                yield _zone(CheckName.SOAKS, request)


def _flow(p: _Printed) -> Failures:
    """At every start: one zone, or known flows that the supply carries; one at most by hand."""
    carries, planned = p.inputs.supply.flow_l_min, list(p.cycles)
    cycles: list[tuple[Cycle | Running, Request | Running]] = [*planned, *((r, r) for r in p.inputs.running)]
    for cycle, _ in cycles:
        on = [each for other, each in cycles if other.starts_at <= cycle.starts_at < other.ends_at]
        known = [each.flow_l_min for each in on if each.flow_l_min is not None]
        zones = tuple(each.zone for each in on)
        if carries is not None and sum(known) > carries + TINY:
            yield CheckFailure(check=CheckName.FLOW, zones=zones)
        if len(on) > 1 and (carries is None or len(known) < len(on)):
            yield CheckFailure(check=CheckName.FLOW, zones=zones, flows_known=False)
        if sum(each.by_hand for each in on) > 1:
            yield CheckFailure(check=CheckName.FLOW, zones=zones, at=cycle.starts_at)


def _minutes(p: _Printed) -> Failures:
    total, most = sum(run.minutes for run, _ in p.pairs), p.inputs.rules.minutes_a_night
    if most is not None and total > most + TINY:
        yield CheckFailure(check=CheckName.MINUTES, minutes=total, of_minutes=most)


def _awake(p: _Printed) -> Failures:
    start, end = p.inputs.rules.awake
    for cycle, request in p.cycles:
        if not request.by_hand or start == end:
            continue
        moment = cycle.starts_at
        while moment < cycle.ends_at:
            clock = moment.astimezone(p.inputs.local).time()
            is_awake = start <= clock < end if start < end else clock >= start or clock < end
            if not is_awake:
                yield CheckFailure(check=CheckName.AWAKE, zones=(request.zone,), at=moment)
            moment += MINUTE


def _depth(p: _Printed) -> Failures:
    """What was wanted, or, of requests that may be cut, at least their least and the rest told as left."""
    rests = {left.zone: left.minutes for left in p.left}
    for run, request in p.pairs:
        ran = sum((c.ends_at - c.starts_at for c in run.cycles), timedelta()) / MINUTE
        told, wanted = ran + rests.get(run.zone, 0.0), request.minutes
        least = request.least_minutes
        failure = CheckFailure(check=CheckName.DEPTH, zones=(run.zone,), minutes=ran, of_minutes=wanted)
        if not isclose(ran, run.minutes) or not wanted - TINY <= told < wanted + 1 + TINY:
            yield failure
        if told > ran and (least is None or ran < least - TINY):
            yield failure.model_copy(update={"is_cut": True})
        if not isclose(run.depth_mm * wanted, request.depth_mm * ran, abs_tol=TINY):
            yield failure.model_copy(update={"depth_mm": run.depth_mm})


def _litres(p: _Printed) -> Failures:
    for run, request in p.pairs:
        if not isclose(run.litres, run.depth_mm * request.area_m2, abs_tol=TINY):
            yield CheckFailure(
                check=CheckName.LITRES,
                zones=(run.zone,),
                litres=run.litres,
                depth_mm=run.depth_mm,
                area_m2=request.area_m2,
            )


CHECKS: Mapping[CheckName, Callable[[_Printed], Failures]] = {
    CheckName.ANSWERED: _answered,
    CheckName.ALLOWED_HOURS: _allowed,
    CheckName.SUNRISE: _by_sunrise,
    CheckName.IN_TIME: _in_time,
    CheckName.DRY: _dry,
    CheckName.FROST: _frost,
    CheckName.SOAKS: _soaks,
    CheckName.FLOW: _flow,
    CheckName.MINUTES: _minutes,
    CheckName.AWAKE: _awake,
    CheckName.DEPTH: _depth,
    CheckName.LITRES: _litres,
}
