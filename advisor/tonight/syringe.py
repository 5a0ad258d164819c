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

from advisor.advice.advice import Check, PlannedRun
from advisor.hours.window import Window
from advisor.hours.windows import local_hours, windows_for
from advisor.lawn.site_values import Rules, Zone
from advisor.schedule.checks import check_plan
from advisor.schedule.limits import Air
from advisor.schedule.planner import Plan, make_plan
from advisor.schedule.request import TURF, Request
from advisor.science.sprinkler import run_minutes
from advisor.soil_water.root_zone import RootZone
from advisor.wording import Say, minutes

MODE, WHY = "syringe", "cool the grass"
COOL_MM = 1.5  # under the 2.5 mm of the source
HOT_C = 32.0  # common practice, no source
MIDDAY = (time(11), time(14))
DAY = timedelta(days=1)


def syringe_at_midday(
    say: Say, ground: RootZone, plan: Plan, dry: Mapping[str, Sequence[Window]], air: Air
) -> tuple[Plan, tuple[Check, ...]]:
    """The night's plan with the coming midday's cooling runs after it, and their checks.

    `dry`: by zone the spans in which it has to stay dry. The plan is returned as it is where no zone is
    in the mode, the day is not hot, or no allowed hour lies at midday.
    """
    site = ground.site
    local = say.now.astimezone(say.zone)
    day = local.date() if local.time() < MIDDAY[1] else local.date() + DAY
    zones = [(i, z) for i, z in enumerate(site.zones) if _is_on(z, day)]
    windows = _free(midday_windows(site.rules, day, say), plan) if zones else ()
    if not windows or not _hottest(ground, day) >= HOT_C:
        return plan, ()
    left = site.rules.minutes_a_night
    if left is not None:
        left -= sum(r.minutes for r in plan.runs)
    rules = replace(site.rules, finish="window", minutes_a_night=left)
    requests = []
    for i, zone in zones:
        figures = ground.figures[i]
        flow = figures.flow_l_min
        if flow is not None and site.supply.flow_l_min is not None:
            flow = min(flow, site.supply.flow_l_min)
        requests.append(
            Request(
                zone=zone.name,
                depth_mm=COOL_MM,
                effective_mm=COOL_MM / figures.multiplier,
                minutes=run_minutes(depth_mm=COOL_MM, rate_mm_h=figures.rate_mm_h),
                cycle_min=figures.cycle_min,
                soak_min=figures.soak_min,
                priority=TURF,
                urgency=1.0,
                area_m2=zone.area_m2,
                flow_l_min=flow,
                dry=tuple(dry.get(zone.name, ())),
                by_hand=zone.by_hand,
                why=WHY,
            )
        )
    midday = make_plan(
        requests=requests,
        windows=windows,
        supply=site.supply,
        air=air,
        rules=rules,
        zone=say.zone,
        now=say.now,
        units=site.place.units,
    )
    found = check_plan(
        midday,
        requests=requests,
        windows=windows,
        supply=site.supply,
        air=air,
        rules=rules,
        zone=say.zone,
        sunrise_at=None,
    )
    notes = tuple(f"No cooling of {n.zone} at midday: {n.why}" for n in midday.not_planned)
    both = replace(plan, runs=(*plan.runs, *midday.runs), notes=(*plan.notes, *notes))
    return both, tuple(c.model_copy(update={"name": f"midday: {c.name}"}) for c in found)


def syringe_words(say: Say, run: PlannedRun) -> str:
    """What the cooling run is for."""
    return (
        f"At {say.clock(run.cycles[0].starts_at)} {minutes(run.minutes)} ({say.depth(run.depth_mm)}) cool the grass "
        "in the heat, for minutes only; that is no watering of the roots."
    )


def midday_windows(rules: Rules, day: date, say: Say) -> tuple[Window, ...]:
    """The allowed stretches from 11:00 to 14:00 local on one date, from now on."""
    whole = replace(rules, finish="window")
    noon = local_hours([MIDDAY], day, day, say.zone)
    allowed = (
        window
        for night in (day - DAY, day)
        for window in windows_for(rules=whole, night=night, zone=say.zone, sunrise_at=None, now=say.now)
    )
    return tuple(
        Window(max(w.starts_at, m.starts_at), min(w.ends_at, m.ends_at))
        for w in allowed
        for m in noon
        if max(w.starts_at, m.starts_at) < min(w.ends_at, m.ends_at)
    )


def _free(windows: Sequence[Window], plan: Plan) -> tuple[Window, ...]:
    """The windows without the stretches in which the night's own runs have water on."""
    free = list(windows)
    for cycle in (c for run in plan.runs for c in run.cycles):
        free = [
            part
            for w in free
            for part in (
                Window(w.starts_at, min(w.ends_at, cycle.starts_at)),
                Window(max(w.starts_at, cycle.ends_at), w.ends_at),
            )
            if part.starts_at < part.ends_at
        ]
    return tuple(free)


def _is_on(zone: Zone, day: date) -> bool:
    return zone.mode == MODE and (zone.mode_until is None or day <= zone.mode_until)


def _hottest(ground: RootZone, day: date) -> float:
    """The forecast maximum of a local date, NaN where it is not known."""
    at = np.flatnonzero(ground.demand.days == np.datetime64(day))
    return float(ground.demand.tmax_c[at[0]]) if len(at) else float("nan")
