"""What the Advice says of each application on each zone: its verdict and the reasons with their numbers."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from math import ceil

from advisor.advice import (
    Action,
    ApplicationAdvice,
    NeedBasis,
    NotPlanned,
    Option,
    PlannedRun,
    Reason,
    ReasonKind,
    RunPurpose,
    Status,
)
from advisor.lawn import Judgement
from advisor.schedule import minutes_for
from advisor.sentences import all_told, joined
from advisor.soil_water import chance_of
from advisor.tonight.alarms import alarms_of
from advisor.tonight.decide_night import NightDecision
from advisor.tonight.lawn_state import LawnState
from advisor.tonight.plan_night import NightPlan
from advisor.watering_in import Choice, Decided, ZoneApplication, conflict_reasons

Kind = ReasonKind
SAME_MM = 0.3  # a run of whole minutes is no other run than the one that was weighed
LOST_MM = 0.5  # more than it bears from here on is told
WORTH_TELLING = 0.05
ALL_KNOWN = 0.999


@dataclass(frozen=True, eq=False, slots=True)
class _Told:
    """One application, its decision, and what the plan does on its zone."""

    one: ZoneApplication
    choice: Choice | None
    run: PlannedRun | None
    left: NotPlanned | None
    top_up_mm: float
    top_up_min: float
    chance_wet: float | None
    judgement: Judgement

    @property
    def is_served(self) -> bool:
        """Whether tonight's run is made in any case and is deep enough for it."""
        return (
            self.choice is not None
            and self.run is not None
            and self.run.condition is None
            and self.run.effective_mm >= self.one.missing_mm - 1e-6
        )

    @property
    def action(self) -> Action:
        """What to do about it."""
        if self.one.status == Status.KEEP_DRY:
            return Action.KEEP_DRY
        if self.choice is None:
            light = self.one.product.kind.light_runs_per_day > 0
            is_seed = light and self.one.status == Status.NOTHING_ASKED
            return Action.KEEP_MOIST if is_seed else Action.NONE
        return Action.RUN if self.is_served else self.choice.action


def application_advice(
    lawn: LawnState,
    decided: NightDecision,
    plan: NightPlan,
    meet_seed: Collection[ZoneApplication] = (),
) -> tuple[ApplicationAdvice, ...]:
    """One ApplicationAdvice per application and zone, in the order of application.

    `meet_seed` are those that meet seed they harm, and seed that meets them."""
    runs = {r.zone: r for r in plan.plan.runs if r.why != RunPurpose.COOL}
    refused = {n.zone: n for n in plan.plan.not_planned}
    made = []
    for number, (one, choice) in enumerate(decided.decided):
        told = _told(lawn, one, choice, runs.get(one.zone), refused.get(one.zone))
        made.append(_one(lawn, told, decided.decided, number, one in meet_seed))
    return tuple(made)


def _told(
    lawn: LawnState,
    one: ZoneApplication,
    choice: Choice | None,
    run: PlannedRun | None,
    left: NotPlanned | None,
) -> _Told:
    top_up = 0.0
    if choice is not None:
        top_up = choice.look_top_up_mm if choice.action == Action.WAIT else choice.top_up_mm
    chance_wet = None
    if one.status == Status.KEEP_DRY and one.dry_until is not None:
        chance_wet = chance_of(lawn.root_zone, lawn.now, one.dry_until, lawn.site.judgement.alarms.rain_mm)
    minutes = float(ceil(minutes_for(top_up, lawn.root_zone.figures[one.zone_index])))
    return _Told(one, choice, run, left, top_up, minutes, chance_wet, lawn.site.judgement)


def _one(
    lawn: LawnState, told: _Told, decided: Sequence[Decided], number: int, meets_seed: bool
) -> ApplicationAdvice:
    one, choice, say = told.one, told.choice, lawn.say
    watered_at = told.run.cycles[-1].ends_at if told.run is not None and told.is_served else None
    reasons = all_told(say, _reasons(told))
    notes = all_told(say, (*conflict_reasons(decided, number, lawn.now, watered_at), *_notes(told)))
    return ApplicationAdvice(
        application_id=one.application.id,
        product=one.product.name,
        kind=one.product.kind.name,
        zone=one.zone,
        status=one.status,
        action=told.action,
        words=joined(reasons),
        reasons=reasons,
        least_mm=one.least_mm,
        target_mm=one.target_mm,
        most_mm=one.most_mm,
        received_mm=one.received_mm,
        rain_received_mm=one.rain_received_mm,
        irrigation_received_mm=one.irrigation_received_mm,
        lost_mm=one.lost_mm,
        applied_at=one.application.ended_at.astimezone(UTC),
        dry_until=one.dry_until,
        due_at=one.due_at,
        chance=None if choice is None else choice.chance,
        chance_too_much=None if choice is None else choice.chance_too_much,
        rain_mean_mm=0.0 if choice is None else choice.mean_mm,
        rain_low_mm=0.0 if choice is None else choice.low_mm,
        rain_high_mm=0.0 if choice is None else choice.high_mm,
        members=lawn.root_zone.rain_ahead_mm.shape[0],
        calibrated=lawn.root_zone.calibration.pairs > 0,
        top_up_mm=told.top_up_mm,
        top_up_minutes=told.top_up_min,
        options=() if choice is None else _options(lawn, told, choice),
        notes=tuple(note.text for note in notes),
        note_reasons=notes,
        sources_differ=tuple(
            f"{d.on}: taken {d.taken}, elsewhere {d.other} ({d.source})"
            for d in one.product.kind.disagreements
        ),
        source=one.need_source,
        chance_wet=told.chance_wet,
        alarms=alarms_of(one, choice, told.chance_wet, meets_seed, told.judgement.alarms),
    )


def _options(lawn: LawnState, told: _Told, choice: Choice) -> tuple[Option, ...]:
    """The ways; the run as it is planned where one is made, which then is the answer."""
    firm = told.run if told.run is not None and told.run.condition is None else None
    made = firm if told.is_served else None
    other = made is not None and abs(made.effective_mm - choice.top_up_mm) > SAME_MM
    ways = choice.with_run(made.effective_mm).ways if made is not None and other else choice.ways
    run_at = choice.expected_loss.run_at if made is None else made.cycles[0].starts_at
    if told.left is not None and choice.can_run_before(lawn.night.ends_at) and made is None:
        run_at = None
    figures = lawn.root_zone.figures[told.one.zone_index]
    options = []
    for way in ways:
        is_planned = firm is not None and way.action == told.action == Action.RUN
        minutes = firm.minutes if firm is not None and is_planned else minutes_for(way.top_up_mm, figures)
        options.append(
            Option(
                action=way.action,
                cost=way.cost,
                top_up_mm=way.top_up_mm,
                minutes=float(ceil(round(minutes, 6))),
                chosen=way.action == told.action,
                look_at=way.look_at,
                under_mm=way.under_mm,
                starts_at=run_at if way.action == Action.RUN else None,
            )
        )
    return tuple(options)


def _reasons(told: _Told) -> Iterator[Reason]:
    """The verdict, in the order in which it is told."""
    one, choice = told.one, told.choice
    if one.status == Status.WASHED:
        wet_mm = one.in_dry_period_mm
        yield (
            Reason(kind=Kind.WASHED_OFF_WHILE_DRY, depth_mm=wet_mm)
            if wet_mm > 0
            else Reason(kind=Kind.WASHED_AWAY)
        )
        return
    if choice is not None and one.status == Status.OVERDUE:
        yield Reason(kind=Kind.OVERDUE)
    if one.in_dry_period_mm > 0:
        yield Reason(kind=Kind.WETTED_WHILE_DRY, depth_mm=one.in_dry_period_mm)
    is_dry = one.status == Status.KEEP_DRY and one.dry_until is not None
    if choice is None:
        if is_dry:
            yield Reason(kind=Kind.NO_RUN_BEFORE_THEN, until=one.dry_until)
        else:
            yield from _asks_nothing(one)
        return
    if is_dry:
        yield Reason(kind=Kind.KEEP_DRY_UNTIL, until=one.dry_until)
    yield from _act(told, choice)
    yield from _so_far(one, told.judgement.applications.trace_mm)
    yield Reason(
        kind=Kind.CHANCE_OF_RAIN,
        of_mm=one.least_mm,
        until=choice.by,
        chance=choice.chance,
        depth_mm=choice.mean_mm,
        low_mm=choice.low_mm,
        high_mm=choice.high_mm,
    )


def _asks_nothing(one: ZoneApplication) -> Iterator[Reason]:
    """What is said of an application that asks nothing of water any more, or never did."""
    kind = one.product.kind
    if one.status == Status.WATERED_IN:
        yield Reason(kind=Kind.WATERED_IN, depth_mm=one.received_mm, of_mm=one.least_mm)
        if one.lost_mm > LOST_MM:
            yield Reason(kind=Kind.MORE_THAN_IT_BEARS, depth_mm=one.lost_mm)
        else:
            yield Reason(kind=Kind.NOTHING_MORE)
    elif kind.light_runs_per_day > 0:
        yield Reason(kind=Kind.KEEP_MOIST, count=kind.light_runs_per_day, days=kind.for_days)
    else:
        yield Reason(kind=Kind.NOTHING_TO_WATER_IN, need=one.need_reason)


def _so_far(one: ZoneApplication, trace_mm: float) -> Iterator[Reason]:
    if one.received_mm <= trace_mm:
        return
    if one.product.kind.single_event:
        yield Reason(kind=Kind.HAD_IN_ONE_GO, depth_mm=one.received_mm, of_mm=one.least_mm)
    else:
        short = max(0.0, one.least_mm - one.received_mm)
        yield Reason(kind=Kind.HAD_SO_FAR, depth_mm=one.received_mm, of_mm=short)


def _act(told: _Told, choice: Choice) -> Iterator[Reason]:
    """The one thing to do about it."""
    one, run = told.one, told.run
    if run is not None and told.is_served:
        yield Reason(
            kind=Kind.RUN_WATERS_IT_IN, at=run.cycles[0].starts_at, minutes=run.minutes, zones=(one.zone,)
        )
    elif choice.action == Action.WAIT and choice.look_at is not None:
        yield Reason(
            kind=Kind.LOOK_AND_RUN,
            at=choice.look_at,
            depth_mm=choice.under_mm,
            zones=(one.zone,),
            minutes=run.minutes if run is not None else told.top_up_min,
        )
    elif run is not None and run.condition is None:
        yield Reason(kind=Kind.RUN_BRINGS_A_PART, depth_mm=run.effective_mm, of_mm=one.missing_mm)
        if choice.action == Action.RAIN:
            yield Reason(kind=Kind.REST_TO_RAIN)
    elif choice.action == Action.RUN:
        yield _not_yet(told, choice)
    elif choice.chance_too_much >= told.judgement.alarms.likely:
        yield Reason(kind=Kind.TOO_MUCH_RAIN_COMES, chance=choice.chance_too_much)
    elif not choice.can_run:
        yield Reason(kind=Kind.ONLY_RAIN)
    elif not choice.expected_loss.may_rain:
        yield Reason(kind=Kind.NOT_WORTH_A_RUN)
    else:
        yield Reason(kind=Kind.LEFT_TO_RAIN)


def _not_yet(told: _Told, choice: Choice) -> Reason:
    """It is to be run, and not tonight."""
    needs = {"depth_mm": choice.top_up_mm, "minutes": told.top_up_min, "zones": (told.one.zone,)}
    if told.left is not None:
        return Reason(kind=Kind.NEEDS_NOT_TONIGHT, other=told.left.why, day=told.left.waits_for, **needs)
    return Reason(kind=Kind.NEEDS_LATER, at=choice.expected_loss.run_at, **needs)


def _notes(told: _Told) -> Iterator[Reason]:
    """What else matters tonight about it."""
    one, choice = told.one, told.choice
    if one.is_open and one.need_reason.basis == NeedBasis.MINUTES:
        yield Reason(kind=Kind.NEED_EXPLAINED, need=one.need_reason)
    if told.chance_wet is not None:
        yield Reason(
            kind=Kind.CHANCE_OF_RAIN_ON_IT, depth_mm=told.judgement.alarms.rain_mm, chance=told.chance_wet
        )
    if one.runoff_mm >= told.judgement.applications.ran_off_mm and one.status != Status.WASHED:
        yield Reason(kind=Kind.RAN_OFF, depth_mm=one.runoff_mm)
    if one.product.kind.single_event and one.is_open:
        yield Reason(kind=Kind.ONE_GO)
    if choice is not None and choice.chance_too_much >= WORTH_TELLING:
        yield Reason(kind=Kind.CHANCE_OF_TOO_MUCH, depth_mm=one.most_mm, chance=choice.chance_too_much)
    if choice is not None and choice.share_known < ALL_KNOWN:
        yield Reason(kind=Kind.FORECAST_COVERS, chance=choice.share_known)


def keep_dry_until(applications: Sequence[ApplicationAdvice]) -> dict[str, datetime]:
    """The zones that must stay dry, and until when."""
    return {
        one.zone: one.dry_until
        for one in applications
        if one.status == Status.KEEP_DRY and one.dry_until is not None
    }
