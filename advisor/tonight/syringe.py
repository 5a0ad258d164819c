"""Cooling turf at midday: one light run on hot days, for zones in the mode "syringe" until its last day.

Less than 0.1 in (2.5 mm) cools the leaves, and for minutes only (University of Nebraska); it is no
irrigation for the roots beyond its own small depth. It is planned for the coming midday alone, where the
owner's hours allow water by day, and asks for the same room as any run: flow, soaks, dry periods, people awake.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, time, timedelta

import numpy as np

from advisor.advice import Check, PlanNote, PlanNoteKind, RunPurpose
from advisor.hours import Window, local_hours, overlap, windows_for, without
from advisor.lawn import Site, Zone
from advisor.schedule import TURF, Plan, PlanInputs, Request, check_plan, make_plan
from advisor.science.sprinkler import run_minutes
from advisor.soil_water import RootZone, ZoneFigures

MODE, WHY = "syringe", RunPurpose.COOL
MIDDAY = (time(11), time(14))
DAY = timedelta(days=1)


def syringe_at_midday(
    root_zone: RootZone, plan: Plan, dry: Mapping[str, Sequence[Window]], inputs: PlanInputs
) -> tuple[Plan, tuple[Check, ...]]:
    """The night's plan with the coming midday's cooling runs after it, and their checks.

    `dry`: by zone the spans in which it has to stay dry; `inputs` what the night was planned in. The plan is
    returned as it is where no zone is in the mode, the day is not hot, or no allowed hour lies at midday.
    """
    site, now = root_zone.site, inputs.now.astimezone(inputs.local)
    day = now.date() if now.time() < MIDDAY[1] else now.date() + DAY
    zones = [(i, z) for i, z in enumerate(site.zones) if _is_on(z, day)]
    taken = [Window(c.starts_at, c.ends_at) for run in plan.runs for c in run.cycles]
    windows = without(midday_windows(inputs, day), taken) if zones else ()
    if not windows or not _hottest(root_zone, day) >= site.judgement.light.hot_c:
        return plan, ()
    left = site.rules.minutes_a_night
    if left is not None:
        left -= sum(r.minutes for r in plan.runs)
    at_midday = replace(
        inputs,
        windows=windows,
        rules=replace(site.rules, finish="window", minutes_a_night=left),
        next_nights=(),
        closed=(),
    )
    requests = [
        _request(zone, root_zone.figures[i], site, tuple(dry.get(zone.name, ()))) for i, zone in zones
    ]
    midday = make_plan(requests, at_midday)
    found = check_plan(midday, requests=requests, inputs=at_midday, sunrise_at=None)
    notes = tuple(
        PlanNote(kind=PlanNoteKind.NO_COOLING, zones=(n.zone,), reason=n.reason) for n in midday.not_planned
    )
    both = replace(plan, runs=(*plan.runs, *midday.runs), notes=(*plan.notes, *notes))
    return both, tuple(check.model_copy(update={"for_midday": True}) for check in found)


def _request(zone: Zone, figures: ZoneFigures, site: Site, dry: tuple[Window, ...]) -> Request:
    flow, supply_l_min, cool_mm = figures.flow_l_min, site.supply.flow_l_min, site.judgement.light.cool_mm
    if flow is not None and supply_l_min is not None:
        flow = min(flow, supply_l_min)
    return Request(
        zone=zone.name,
        depth_mm=cool_mm,
        effective_mm=cool_mm / figures.multiplier,
        minutes=run_minutes(depth_mm=cool_mm, rate_mm_h=figures.rate_mm_h),
        cycle_min=figures.cycle_min,
        soak_min=figures.soak_min,
        priority=TURF,
        urgency=1.0,
        area_m2=zone.area_m2,
        flow_l_min=flow,
        dry=dry,
        by_hand=zone.by_hand,
        why=WHY,
    )


def midday_windows(inputs: PlanInputs, day: date) -> tuple[Window, ...]:
    """The allowed stretches from 11:00 to 14:00 local on one date, from when the owner can act on."""
    whole, soonest = replace(inputs.rules, finish="window"), inputs.now + inputs.rules.act_within
    allowed = [
        window
        for night in (day - DAY, day)
        for window in windows_for(rules=whole, night=night, local=inputs.local, sunrise_at=None, now=soonest)
    ]
    return overlap(allowed, local_hours([MIDDAY], day, day, inputs.local))


def _is_on(zone: Zone, day: date) -> bool:
    return zone.mode == MODE and (zone.mode_until is None or day <= zone.mode_until)


def _hottest(root_zone: RootZone, day: date) -> float:
    """The forecast maximum of a local date, NaN where it is not known."""
    at = np.flatnonzero(root_zone.reference_et.days == np.datetime64(day))
    return float(root_zone.reference_et.tmax_c[at[0]]) if len(at) else float("nan")
