"""What the Advice says of each zone: its verdict, its run, and the reasons with their numbers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from advisor.advice import (
    Action,
    NotPlanned,
    PlannedRun,
    Reason,
    ReasonKind,
    RunPurpose,
    Term,
    ZoneAdvice,
    ZoneVerdict,
)
from advisor.sentences import all_told, joined
from advisor.soil_water import Requirement, balance_terms
from advisor.tonight.decide_night import NightDecision
from advisor.tonight.lawn_state import Asked, LawnState
from advisor.tonight.plan_night import NightPlan
from advisor.tonight.zone_request import ZoneRequest

Kind = ReasonKind


@dataclass(frozen=True, slots=True)
class _Zone:
    """All that is known of one zone when its part of the Advice is written.

    `run` is its run of the night, `cooling` that of the midday, `left` what does not fit; `waits`,
    `rained` and `stuck` are the products that wait for a look, are left to the rain, or find no hours.
    """

    requirement: Requirement
    request: ZoneRequest
    run: PlannedRun | None
    cooling: PlannedRun | None
    left: NotPlanned | None
    waits: tuple[str, ...]
    rained: tuple[str, ...]
    stuck: tuple[str, ...]

    @property
    def verdict(self) -> ZoneVerdict:
        """What tonight is for this zone, the midday's cooling aside."""
        if self.run is not None:
            return ZoneVerdict.RUN if self.run.condition is None else ZoneVerdict.WAIT
        if self.left is not None:
            return ZoneVerdict.CANNOT
        if self.waits or self.request.later_at is not None:
            return ZoneVerdict.WAIT
        if self.stuck:
            return ZoneVerdict.CANNOT
        if self.rained or self.requirement.left_to_rain:
            return ZoneVerdict.LEAVE_TO_RAIN
        return ZoneVerdict.NOT_NEEDED


def zone_advice(
    lawn: LawnState, asked: Asked, decided: NightDecision, plan: NightPlan
) -> tuple[ZoneAdvice, ...]:
    """One ZoneAdvice a zone, in the order of the site file."""
    terms = balance_terms(lawn.root_zone)
    return tuple(
        _one(lawn, _zone(zone.name, asked.requirements[z], decided, plan), terms[z])
        for z, zone in enumerate(lawn.site.zones)
    )


def _zone(name: str, requirement: Requirement, decided: NightDecision, plan: NightPlan) -> _Zone:
    runs = [run for run in plan.plan.runs if run.zone == name]
    mine = [(o, c) for o, c in decided.decided if o.zone_index == requirement.zone and c is not None]

    def named(action: Action) -> tuple[str, ...]:
        return tuple(dict.fromkeys(o.product.name for o, c in mine if c.action == action))

    return _Zone(
        requirement=requirement,
        request=decided.zone_requests[requirement.zone],
        run=next((run for run in runs if run.why != RunPurpose.COOL), None),
        cooling=next((run for run in runs if run.why == RunPurpose.COOL), None),
        left=next((left for left in plan.plan.not_planned if left.zone == name), None),
        waits=named(Action.WAIT),
        rained=named(Action.RAIN),
        stuck=tuple(dict.fromkeys(o.product.name for o, c in mine if not c.can_run)),
    )


def _one(lawn: LawnState, zone: _Zone, terms: tuple[Term, ...]) -> ZoneAdvice:
    need, figures = zone.requirement, lawn.root_zone.figures[zone.requirement.zone]
    name, verdict, run = lawn.site.zones[need.zone].name, zone.verdict, zone.run
    found = [*_begun(lawn, name), *_reasons(zone)]
    if zone.cooling is not None:
        found.append(
            Reason(
                kind=Kind.COOLS_AT_MIDDAY,
                at=zone.cooling.cycles[0].starts_at,
                minutes=zone.cooling.minutes,
                depth_mm=zone.cooling.depth_mm,
            )
        )
        if verdict in (ZoneVerdict.NOT_NEEDED, ZoneVerdict.LEAVE_TO_RAIN):
            verdict, run = ZoneVerdict.RUN, zone.cooling
    reasons = all_told(lawn.say, found)
    minutes, depth_mm = (run.minutes, run.depth_mm) if run else (0.0, 0.0)
    is_firm = run is not None and run.condition is None
    return ZoneAdvice(
        zone=name,
        verdict=verdict,
        minutes_firm=minutes if is_firm else 0.0,
        minutes_conditional=0.0 if is_firm else minutes,
        depth_firm_mm=depth_mm if is_firm else 0.0,
        depth_conditional_mm=0.0 if is_firm else depth_mm,
        cycles=len(run.cycles) if run else 0,
        starts_at=run.cycles[0].starts_at if run else None,
        reason=joined(reasons),
        reasons=reasons,
        depletion_mm=need.depletion_mm,
        depletion_low_mm=need.low_mm,
        depletion_high_mm=need.high_mm,
        allowed_mm=need.allowed_mm,
        total_available_mm=figures.taw_mm,
        rate_mm_h=figures.rate_mm_h,
        rate_basis=figures.rate_basis,
        rate_low_mm_h=figures.low_mm_h,
        rate_high_mm_h=figures.high_mm_h,
        multiplier=figures.multiplier,
        minutes_low=minutes * figures.rate_mm_h / figures.high_mm_h,
        minutes_high=minutes * figures.rate_mm_h / figures.low_mm_h,
        terms=terms,
    )


def _begun(lawn: LawnState, name: str) -> list[Reason]:
    """The run that the zone has under way, before it in a moment or behind it tonight."""
    found = []
    for run in (*lawn.earlier.under_way, *lawn.earlier.made_in(lawn.night.night)):
        if run.zone == name:
            starts_at, ends_at = run.cycles[0].starts_at, run.cycles[-1].ends_at
            kind = Kind.RUN_UNDER_WAY if ends_at > lawn.now else Kind.RUN_TAKEN_AS_MADE
            kind = Kind.RUN_STANDS if starts_at > lawn.now else kind
            found.append(Reason(kind=kind, at=starts_at, until=ends_at))
    return found


def _reasons(zone: _Zone) -> list[Reason]:
    """Why the zone is run or not, in the order in which it is told."""
    need, request, verdict = zone.requirement, zone.request, zone.verdict
    if verdict == ZoneVerdict.RUN and zone.run is not None:
        return _of_a_run(zone, zone.run)
    if verdict == ZoneVerdict.CANNOT:
        stuck = Reason(kind=Kind.NO_HOURS, products=zone.stuck)
        why = stuck if zone.left is None else Reason(kind=Kind.NOT_PLANNED, other=zone.left.why)
        return [why, *_left_alone(need)]
    if verdict == ZoneVerdict.WAIT:
        if zone.waits:
            return [Reason(kind=Kind.GAUGE_DECIDES, products=zone.waits), *_can_wait(need)]
        return [Reason(kind=Kind.WATERED_IN_LATER, at=request.later_at), *_can_wait(need)]
    if verdict == ZoneVerdict.LEAVE_TO_RAIN:
        if need.left_to_rain:
            return [*_left_alone(need), Reason(kind=Kind.RAIN_FILLS_THE_SOIL, depth_mm=need.room_mm)]
        return [Reason(kind=Kind.PRODUCTS_LEFT_TO_RAIN, products=zone.rained), *_can_wait(need)]
    return _can_wait(need)


def _of_a_run(zone: _Zone, run: PlannedRun) -> list[Reason]:
    need, request = zone.requirement, zone.request
    if run.why == RunPurpose.SEED:
        return [Reason(kind=Kind.SEED_KEPT_MOIST)]
    if request.serves and not (request.turf_mm > 0 and request.effective_mm <= request.turf_mm + 1e-6):
        waters = Reason(kind=Kind.WATERS_IN, products=request.serves, depth_mm=run.effective_mm)
        return [waters, *_left_alone(need)]
    return [*_left_alone(need), *_puts_back(request, run)]


def _puts_back(request: ZoneRequest, run: PlannedRun) -> list[Reason]:
    if request.held:
        found = [
            Reason(
                kind=Kind.PUTS_BACK_A_PART,
                depth_mm=run.effective_mm,
                of_mm=request.turf_mm,
                day=request.rest_on,
            )
        ]
    else:
        found = [Reason(kind=Kind.PUTS_BACK, depth_mm=run.effective_mm)]
        if request.capped_by:
            found.append(Reason(kind=Kind.CAPPED, products=(request.capped_by,)))
    if request.serves:
        found.append(Reason(kind=Kind.WATERS_IN_TOO, products=request.serves))
    return found


def _left_alone(need: Requirement) -> list[Reason]:
    """Where the grass stands, and where it would stand at the next chance without a run."""
    used = _used(need)
    if need.next_at is None:
        return [used]
    alone = Reason(
        kind=Kind.LEFT_ALONE,
        depth_mm=need.next_mm,
        of_mm=need.allowed_mm,
        high_mm=used.high_mm,
        until=need.next_at,
        chance=need.chance_past,
    )
    return [used, alone]


def _used(need: Requirement) -> Reason:
    """What the grass has used of its allowance, with the range where it is not sure."""
    return Reason(
        kind=Kind.USED,
        depth_mm=need.depletion_mm,
        of_mm=need.allowed_mm,
        low_mm=need.low_mm if need.is_unsure else None,
        high_mm=need.high_mm if need.is_unsure else None,
    )


def _can_wait(need: Requirement) -> list[Reason]:
    """Where the grass stands that is not run for its own sake, and why that will do."""
    short = Reason(kind=Kind.TOO_LITTLE_FOR_A_RUN, depth_mm=need.unmet_mm, until=need.next_at)
    if need.depletion_mm <= need.allowed_mm or need.next_at is None:
        is_short = need.wanted_mm <= 0 and not need.left_to_rain and need.next_mm > need.allowed_mm
        return [*_left_alone(need), *([short] if is_short and need.next_at is not None else [])]
    used = _used(need)
    if need.next_mm >= need.depletion_mm:
        return [used, short]
    back = Reason(
        kind=Kind.RAIN_BRINGS_BACK, depth_mm=need.next_mm, until=need.next_at, chance=need.chance_past
    )
    return [used, back]


def turf_runs(
    plan: NightPlan, zone_requests: Sequence[ZoneRequest], names: Sequence[str]
) -> list[PlannedRun]:
    """The firm runs that are made for the turf alone."""
    serving = {names[each.zone] for each in zone_requests if each.serves}
    return [
        run
        for run in plan.plan.runs
        if run.why == RunPurpose.TURF and run.condition is None and run.zone not in serving
    ]
