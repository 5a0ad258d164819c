"""From decisions and plan to the parts of the Advice: zones, applications, next looks."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np

from advisor.advice.advice import ApplicationAdvice, NextLook, NotPlanned, Option, PlannedRun, ZoneAdvice
from advisor.advice.water_need import NeedBasis
from advisor.schedule.planner import Plan
from advisor.sentences.watering_in import need_words
from advisor.soil_water.daily_balance import balance_terms
from advisor.soil_water.requirement import Requirement
from advisor.soil_water.root_zone import RootZone
from advisor.tonight.alarms import alarms_of
from advisor.tonight.sentences import (
    EVENING_H,
    NO_HOURS,
    application_words,
    look_words,
    no_run_fits,
    skip_words,
    waters_in,
    zone_reason,
)
from advisor.tonight.syringe import WHY as SYRINGE
from advisor.tonight.syringe import syringe_words
from advisor.tonight.zone_request import ZoneRequest, minutes_for
from advisor.watering_in.applications import RAN_OFF_MM, ZoneApplication
from advisor.watering_in.conflicts import conflict_notes, runoff_notes
from advisor.watering_in.decision import Choice
from advisor.wording import Say, listed

Decided = tuple[ZoneApplication, Choice | None]
SKIP_CHANCE = 0.1  # a look before a turf run is worth it from this chance of needless water on
SAME_MM = 0.3  # a run of whole minutes is no other run than the one that was weighed
SEEN_BEFORE = timedelta(minutes=10)


def zone_advice(
    say: Say,
    ground: RootZone,
    needs: Sequence[Requirement],
    wanted: Sequence[ZoneRequest],
    decided: Sequence[Decided],
    plan: Plan,
) -> tuple[ZoneAdvice, ...]:
    """One ZoneAdvice a zone, in the order of the site file."""
    runs = {r.zone: r for r in plan.runs if r.why != SYRINGE}
    cooling = {r.zone: r for r in plan.runs if r.why == SYRINGE}
    refused = {n.zone: n for n in plan.not_planned}
    terms = balance_terms(ground)
    made = []
    for z, zone in enumerate(ground.site.zones):
        figures, need, want, run = ground.figures[z], needs[z], wanted[z], runs.get(zone.name)
        mine = [(o, c) for o, c in decided if o.zone_index == z and c is not None]
        waits = list(dict.fromkeys(o.product.name for o, c in mine if c is not None and c.action == "wait"))
        rained = list(dict.fromkeys(o.product.name for o, c in mine if c is not None and c.action == "rain"))
        stuck = listed(dict.fromkeys(o.product.name for o, c in mine if c is not None and no_run_fits(c)))
        if run is not None:
            verdict = "wait" if run.only_if else "run"
        elif zone.name in refused:
            verdict = "cannot"
        elif waits or want.later_at is not None:
            verdict = "wait"
        elif stuck:
            verdict = "cannot"
        elif rained or need.left_to_rain:
            verdict = "leave to rain"
        else:
            verdict = "not needed"
        why_not = f"{_capital(NO_HOURS)}: only rain can water in {stuck}." if stuck else ""
        why_not = refused[zone.name].why if zone.name in refused else why_not
        reason = zone_reason(say, verdict, need, want, run, waits or rained, why_not)
        cool = cooling.get(zone.name)
        if cool is not None:
            reason = f"{reason} {syringe_words(say, cool)}"
            if verdict in ("not needed", "leave to rain"):
                verdict, run = "run", cool
        run_min = run.minutes if run else 0.0
        made.append(
            ZoneAdvice(
                zone=zone.name,
                verdict=verdict,
                depth_mm=run.depth_mm if run else 0.0,
                minutes=run_min,
                cycles=len(run.cycles) if run else 0,
                starts_at=run.cycles[0].starts_at if run else None,
                reason=reason,
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
                minutes_low=run_min * figures.rate_mm_h / figures.high_mm_h,
                minutes_high=run_min * figures.rate_mm_h / figures.low_mm_h,
                terms=terms[z],
            )
        )
    return tuple(made)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def application_advice(
    say: Say,
    ground: RootZone,
    decided: Sequence[Decided],
    plan: Plan,
    meet_seed: Collection[ZoneApplication] = (),
) -> tuple[ApplicationAdvice, ...]:
    """One ObligationAdvice per application and zone, in the order of application.

    `meet_seed` are those that meet seed they harm, and seed that meets them."""
    runs = {r.zone: r for r in plan.runs if r.why != SYRINGE}
    refused = {n.zone: n for n in plan.not_planned}
    made = []
    for i, (one, choice) in enumerate(decided):
        run = runs.get(one.zone)
        watered_at = run.cycles[-1].ends_at if run is not None and waters_in(one, run) else None
        notes = conflict_notes(say, decided, i, watered_at)
        made.append(_one(say, ground, one, choice, run, notes, refused.get(one.zone), one in meet_seed))
    return tuple(made)


def _one(
    say: Say,
    ground: RootZone,
    one: ZoneApplication,
    choice: Choice | None,
    run: PlannedRun | None,
    conflicts: tuple[str, ...],
    refused: NotPlanned | None,
    meets_seed: bool,
) -> ApplicationAdvice:
    figures = ground.figures[one.zone_index]
    top_up = 0.0 if choice is None else choice.top_up_mm
    if choice is not None and choice.action == "wait":
        top_up = choice.look_top_up_mm
    top_up_min = float(np.ceil(minutes_for(top_up, figures)))
    served = choice is not None and waters_in(one, run)
    if one.status == "keep dry":
        action = "keep dry"
    elif choice is None:
        light = one.product.kind.light_runs_per_day > 0 and one.status == "nothing asked"
        action = "keep moist" if light else "none"
    else:
        action = "run" if served else choice.action
    chance_wet = None
    if one.status == "keep dry" and one.dry_until is not None:
        chance_wet = _chance_between(ground, say.now, one.dry_until, 1.0)
    return ApplicationAdvice(
        application_id=one.application.id,
        product=one.product.name,
        kind=one.product.kind.name,
        zone=one.zone,
        status=one.status,
        action=action,
        words=application_words(say, one, choice, top_up_min, run, refused),
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
        members=ground.rain_ahead_mm.shape[0],
        calibrated=ground.calibration.pairs > 0,
        top_up_mm=top_up,
        top_up_minutes=top_up_min,
        options=() if choice is None else _options(choice, run if served else None),
        notes=(*conflicts, *_notes(say, one, choice, chance_wet)),
        sources_differ=tuple(
            f"{d.on}: taken {d.taken}, elsewhere {d.other} ({d.source})"
            for d in one.product.kind.disagreements
        ),
        source=one.need_source,
        chance_wet=chance_wet,
        alarms=alarms_of(one, choice, chance_wet, meets_seed),
    )


def _options(choice: Choice, made: PlannedRun | None) -> tuple[Option, ...]:
    """The ways; the run as it is planned where one is made, which then is the answer."""
    other = made is not None and abs(made.effective_mm - choice.top_up_mm) > SAME_MM
    ways = choice.with_run(made.effective_mm).ways if made is not None and other else choice.ways
    run_at = choice.expected_loss.run_at if made is None else made.cycles[0].starts_at
    return tuple(
        Option(
            action=w.action,
            cost=w.cost,
            top_up_mm=w.top_up_mm,
            look_at=w.look_at,
            under_mm=w.under_mm,
            starts_at=run_at if w.action == "run" else None,
        )
        for w in ways
    )


def _notes(
    say: Say, one: ZoneApplication, choice: Choice | None, chance_wet: float | None
) -> tuple[str, ...]:
    kind = one.product.kind
    notes = []
    if one.need_reason.basis == NeedBasis.MINUTES and one.is_open:
        notes.append(f"{_capital(need_words(one.need_reason, say.units))}.")
    if chance_wet is not None:
        notes.append(
            f"Chance of {say.depth(1.0)} of rain or more while it must stay dry: {say.chance(chance_wet)}."
        )
    notes += runoff_notes(say, one, RAN_OFF_MM)
    if kind.single_event and one.is_open:
        notes.append("Light showers do not add up: it wants its water in one go.")
    if choice is not None and choice.chance_too_much >= 0.05:
        notes.append(
            f"Chance of more than {say.depth(one.most_mm)}, which would carry some away: {say.chance(choice.chance_too_much)}."
        )
    if choice is not None and choice.share_known < 0.999:
        known = say.chance(choice.share_known)
        notes.append(f"The forecast covers {known} of the time until it is due.")
    return tuple(notes)


def _chance_between(ground: RootZone, begin: datetime, end: datetime, mm: float) -> float:
    zero = ground.weather.starts_at(ground.first).timestamp()
    a, b = (begin.timestamp() - zero) / 3600.0, (end.timestamp() - zero) / 3600.0
    hours = np.arange(ground.hours_ahead, dtype=np.float64)
    weight = np.clip(np.minimum(hours + 1.0, b) - np.maximum(hours, a), 0.0, 1.0)
    return float((ground.rain_ahead_mm @ weight >= mm).mean())


def with_conditions(say: Say, plan: Plan, wanted: Sequence[ZoneRequest], names: Sequence[str]) -> Plan:
    """The plan with the condition written on every run that waits for a look."""
    rules = {names[w.zone]: (w.look_at, w.under_mm) for w in wanted if w.look_at and w.under_mm is not None}
    runs = []
    for run in plan.runs:
        look_at, under = rules.get(run.zone, (None, None))
        if look_at is not None and under is not None:
            words = f"the gauge shows under {say.depth(under)} at {say.clock(look_at)}"
            run = run.model_copy(update={"only_if": words})
        runs.append(run)
    return replace(plan, runs=tuple(runs))


def next_looks(
    say: Say, ground: RootZone, needs: Sequence[Requirement], plan: Plan, wanted: Sequence[ZoneRequest]
) -> tuple[NextLook, ...]:
    """The looks that the answers rest on, earliest first, and at last the next evening."""
    planned = {r.zone: r for r in plan.runs}
    grouped: dict[tuple[datetime, float], dict[str, float]] = {}
    for want in wanted:
        if want.look_at is None or want.under_mm is None:
            continue
        name = ground.site.zones[want.zone].name
        run = planned.get(name)
        rule = grouped.setdefault((want.look_at, want.under_mm), {})
        rule[name] = run.minutes if run is not None else float(np.ceil(want.requests[0].minutes))
    looks = [
        NextLook(
            at=at.astimezone(UTC),
            zones=tuple(rule),
            under_mm=under,
            minutes=rule,
            words=look_words(say, at, under, rule),
        )
        for (at, under), rule in grouped.items()
    ]
    by_zone = {ground.site.zones[n.zone].name: n for n in needs}
    serving = {ground.site.zones[w.zone].name for w in wanted if w.serves}
    turf_runs = [r for r in plan.runs if r.why == "turf" and not r.only_if and r.zone not in serving]
    if turf_runs:
        start = min(r.cycles[0].starts_at for r in turf_runs)
        over = max(by_zone[r.zone].spare_mm for r in turf_runs)
        if start - SEEN_BEFORE > say.now and _chance_between(ground, say.now, start, over) >= SKIP_CHANCE:
            at = start - SEEN_BEFORE
            zones = tuple(r.zone for r in turf_runs)
            looks.append(
                NextLook(
                    at=at, zones=zones, under_mm=None, minutes={}, words=skip_words(say, at, over, zones)
                )
            )
    local = say.now.astimezone(say.zone).replace(fold=0)
    today = local.hour < EVENING_H
    evening = local.replace(hour=20, minute=0) if today else local + timedelta(days=1)
    looks.append(
        NextLook(
            at=evening.astimezone(UTC),
            zones=(),
            under_mm=None,
            minutes={},
            words=f"Ask again {'this' if today else 'tomorrow'} evening, {say.clock(evening)}.",
        )
    )
    return tuple(sorted(looks, key=lambda look: look.at))
