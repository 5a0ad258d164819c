"""The night's plan: made from requests, and finished with conditions, the midday's cooling and checks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from advisor.advice import Check, GaugeCondition
from advisor.schedule import Plan, check_plan
from advisor.sentences import condition_words
from advisor.tonight.decide_night import NightDecision
from advisor.tonight.lawn_state import LawnState
from advisor.tonight.syringe import syringe_at_midday
from advisor.tonight.zone_request import ZoneRequest


@dataclass(frozen=True, slots=True)
class NightPlan:
    """The plan of the night, with the midday after it, and the checks that it keeps every rule."""

    plan: Plan
    checks: tuple[Check, ...]


def plan_night(lawn: LawnState, decided: NightDecision) -> NightPlan:
    """The plan that the decisions hold in, finished and checked."""
    plan = _with_conditions(lawn, decided.plan, decided.zone_requests)
    checks = check_plan(
        plan,
        requests=decided.requests,
        inputs=lawn.plan_inputs,
        sunrise_at=lawn.night.sun.at,
    )
    whole, midday = syringe_at_midday(lawn.root_zone, plan, lawn.dry_spans, lawn.plan_inputs)
    return NightPlan(whole, (*checks, *midday))


def _with_conditions(lawn: LawnState, plan: Plan, zone_requests: Sequence[ZoneRequest]) -> Plan:
    """The plan with the condition on every run that waits for a look at the gauge."""
    names = [zone.name for zone in lawn.site.zones]
    conditions = {
        names[each.zone]: GaugeCondition(look_at=each.look_at, under_mm=each.under_mm)
        for each in zone_requests
        if each.look_at is not None and each.under_mm is not None
    }
    runs = []
    for planned in plan.runs:
        run = planned.model_copy(update={"night": lawn.night.night})
        if run.zone in conditions:
            run = run.model_copy(update={"condition": conditions[run.zone]})
            run = run.model_copy(update={"only_if": condition_words(lawn.say, run)})
        runs.append(run)
    return replace(plan, runs=tuple(runs))
