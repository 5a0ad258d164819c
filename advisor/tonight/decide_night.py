"""Settle the night: decide each obligation, bring zones together, plan, until it holds as a whole.

A later look is worth more, but it has to leave time for the runs that may follow from it, on one
supply, with their soaks. So the looks are first chosen as if one zone could always soak while another
runs; where the plan then does not hold, as if all ran one after another, soaks and all.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import partial

from advisor.hours.night import Night
from advisor.hours.window import Window
from advisor.schedule.planner import Plan
from advisor.schedule.request import Request
from advisor.schedule.timing import SPARE, late_or_calm
from advisor.soil_water.requirement import Requirement
from advisor.soil_water.root_zone import RootZone
from advisor.tonight.changes import Earlier
from advisor.tonight.one_answer_per_zone import beside_runs, one_answer_per_zone
from advisor.tonight.zone_request import (
    ZoneRequest,
    as_planned,
    minutes_for,
    notes_of,
    run_time,
    zone_request,
)
from advisor.watering_in.applications import ZoneApplication
from advisor.watering_in.decision import Choice, costs_of, decide
from advisor.watering_in.expected_loss import Rain
from advisor.watering_in.openings import look_trouble, openings

Decided = tuple[ZoneApplication, Choice | None]
LOOK_DUE = timedelta(minutes=15)  # a look is due when it comes within so long


@dataclass(frozen=True, slots=True)
class NightDecision:
    """The decisions, what each zone is to get, the wants as the plan took them, and the plan."""

    decided: list[Decided]
    wanted: list[ZoneRequest]
    requests: tuple[Request, ...]
    plan: Plan


def decide_night(
    *,
    ground: RootZone,
    obligations: tuple[ZoneApplication, ...],
    needs: Sequence[Requirement],
    night: Night,
    now: datetime,
    before: dict[tuple[int, str], Earlier],
    rain_chance: float,
    planned: Callable[[Sequence[Request]], Plan],
) -> NightDecision:
    """Decide and plan. `before` are earlier answers by application and zone, `planned` makes a plan."""
    site = ground.site

    def brought_together(decided: Sequence[Decided], lean: frozenset[int] = frozenset()) -> list[ZoneRequest]:
        return [
            zone_request(
                zone=zone,
                figures=ground.figures[z],
                need=replace(needs[z], wanted_mm=0.0) if z in lean else needs[z],
                obligations=[d for d in decided if d[0].zone_index == z],
                windows=night.windows,
                night=night.night,
                now=now,
                supply_l_min=site.supply.flow_l_min,
                midday=night.midday,
            )
            for z, zone in enumerate(site.zones)
        ]

    def put(wanted: Sequence[ZoneRequest]) -> tuple[Plan, tuple[Request, ...]]:
        tonights = [w for each in wanted for w in each.requests if not _for_another_night(w, night)]
        return late_or_calm(tonights, night.windows, rain_chance, planned)

    deepest = _deepest(obligations, needs)
    index = {zone.name: z for z, zone in enumerate(site.zones)}
    unfit: set[int] = set()
    for interleaved, last in ((True, False), (False, False), (False, True)):

        def takes(depth_mm: float, interleaved: bool = interleaved) -> timedelta:
            depths = {z: min(depth_mm, most) for z, most in deepest.items()}
            return _time_for(ground, depths, interleaved=interleaved)

        decided = decide_all(ground, obligations, night, now, takes, before, unfit if last else ())
        decided = beside_runs(decided, needs, night.ends_at)
        wanted = brought_together(decided)
        plan, requests = put(wanted)
        unfit = {w.zone for w in wanted if w.look_at is not None} & {index[n.zone] for n in plan.not_planned}
        if not unfit:
            break
    settled = NightDecision(decided, wanted, requests, plan)
    for shallow in (False, True):
        lean = _too_long(settled, index)
        if not lean:
            break
        less = [_shallowest(o, c) if shallow and o.zone_index in lean else (o, c) for o, c in decided]
        wanted = brought_together(less, lean)
        plan, requests = put(wanted)
        if len(plan.not_planned) < len(settled.plan.not_planned):
            settled = NightDecision(less, wanted, requests, plan)
    names = [zone.name for zone in site.zones]
    wanted = as_planned(settled.wanted, settled.plan, names, settled.decided)
    plan = replace(settled.plan, notes=(*settled.plan.notes, *notes_of(wanted, names)))
    return replace(settled, decided=one_answer_per_zone(settled.decided, wanted), wanted=wanted, plan=plan)


def _too_long(settled: NightDecision, index: dict[str, int]) -> frozenset[int]:
    """The zones whose run does not fit, though what is due there asks for less than it would bring."""
    ran = {run.zone for run in settled.plan.runs}
    refused = {index[n.zone] for n in settled.plan.not_planned if n.zone not in ran}
    depth = {w.zone: w.effective_mm for w in settled.wanted}
    return frozenset(
        o.zone_index
        for o, c in settled.decided
        if c is not None
        and c.action == "run"
        and o.zone_index in refused
        and o.missing_mm < depth[o.zone_index] - 0.1
    )


def _shallowest(one: ZoneApplication, choice: Choice | None) -> Decided:
    """The decision with a run of no more than what is missing."""
    if choice is None or choice.action != "run":
        return one, choice
    return one, choice.with_run(one.missing_mm)


def decide_all(
    ground: RootZone,
    obligations: tuple[ZoneApplication, ...],
    night: Night,
    now: datetime,
    takes: Callable[[float], timedelta],
    before: dict[tuple[int, str], Earlier],
    no_look: Collection[int] = (),
) -> list[Decided]:
    """Each obligation with its decision, None where it asks nothing any more.

    Products of one round on one zone that ask the same share one decision, and the cost of its water.
    `takes` is the time that a later look has to leave for runs so deep; on the zones `no_look` none of
    this night's looks would leave it.
    """
    alike: dict[tuple[object, ...], list[ZoneApplication]] = {}
    for one in obligations:
        if one.is_open:
            alike.setdefault(_what_it_asks(one), []).append(one)
    made: dict[tuple[object, ...], Choice] = {}
    for key, group in alike.items():
        earlier = before.get((group[0].application.id, group[0].zone))
        made[key] = _decide(
            ground, group, obligations, night, takes, now, earlier, group[0].zone_index in no_look
        )
    return [(one, made[_what_it_asks(one)] if one.is_open else None) for one in obligations]


def _what_it_asks(one: ZoneApplication) -> tuple[object, ...]:
    return (
        one.zone_index,
        one.least_mm,
        one.target_mm,
        one.most_mm,
        one.received_mm,
        one.counts_from,
        one.due_at,
        one.product.kind,
    )


def _deepest(obligations: Sequence[ZoneApplication], needs: Sequence[Requirement]) -> dict[int, float]:
    """By zone the most that watering in may take, on zones whose turf is not run tonight anyway."""
    deepest: dict[int, float] = {}
    for one in obligations:
        if one.is_open and needs[one.zone_index].wanted_mm <= 0:
            deepest[one.zone_index] = max(deepest.get(one.zone_index, 0.0), one.target_mm)
    return deepest


def _time_for(ground: RootZone, depths: dict[int, float], *, interleaved: bool) -> timedelta:
    """How long these depths take by zone: one soaking while another runs, or one after another."""
    minutes = [minutes_for(depth, ground.figures[z]) for z, depth in depths.items()]
    lengths = [run_time(depth, ground.figures[z]) for z, depth in depths.items()]
    if interleaved:
        return max([timedelta(minutes=sum(minutes)), *lengths]) + SPARE
    return sum(lengths, SPARE)


def dry_spans(obligations: Sequence[ZoneApplication], now: datetime) -> dict[str, list[Window]]:
    """By zone the spans from now on in which a product keeps it dry."""
    spans: dict[str, list[Window]] = {}
    for one in obligations:
        if one.dry_until is not None and one.dry_until > now:
            spans.setdefault(one.zone, []).append(Window(now, one.dry_until))
    return spans


def _for_another_night(want: Request, night: Night) -> bool:
    """Whether a want that waits for a look cannot begin before tonight's hours are over."""
    return want.earliest is not None and night.ends_at is not None and want.earliest >= night.ends_at


def _decide(
    ground: RootZone,
    alike: Sequence[ZoneApplication],
    obligations: Sequence[ZoneApplication],
    night: Night,
    takes: Callable[[float], timedelta],
    now: datetime,
    earlier: Earlier | None,
    no_look: bool,
) -> Choice:
    """One decision for products that ask the same of a zone.

    Where the runs of all zones together do not fit before it is due, or a person moves the sprinkler,
    the zone's own run alone has to fit; a shallower one where no more does.
    """
    one = alike[0]
    site, net, figures = ground.site, ground.net_ahead_mm[one.zone_index], ground.figures[one.zone_index]

    def alone(depth_mm: float) -> timedelta:
        return run_time(depth_mm, figures)

    found = openings(
        site=site,
        windows=night.coming,
        one=one,
        obligations=obligations,
        now=now,
        shortest=alone(one.missing_mm),
    )
    whole = one.missing_mm + one.target_mm - one.least_mm
    depth = (
        _deepest_in(found[0].ends_at - found[0].starts_at, one.missing_mm, whole, alone) if found else whole
    )
    due = one.due_at
    together = due is None or any(min(w.ends_at, due) - w.starts_at >= takes(depth) for w in found)
    if site.zones[one.zone_index].by_hand or not together:
        length, times = alone(depth), lambda depth_mm: alone(depth_mm) + SPARE
    else:
        length, times = takes(depth), takes
    asked = earlier is not None and earlier.look_at is not None and earlier.look_at <= now + LOOK_DUE
    closed = no_look or (asked and earlier is not None and earlier.action == "wait")
    return decide(
        obligation=one,
        rain=Rain(ground.weather.starts_at(ground.first), ground.rain_ahead_mm, net),
        openings=found,
        costs=costs_of(site.decision, one.product.kind, sharing=len(alike)),
        run_time=length,
        takes=times,
        now=now,
        units=site.place.units,
        trouble=partial(look_trouble, site=site),
        before=earlier.action if earlier is not None and not closed else None,
        deepest_mm=depth,
        no_look_before=night.ends_at if closed else None,
    )


def _deepest_in(
    room: timedelta, least_mm: float, whole_mm: float, alone: Callable[[float], timedelta]
) -> float:
    """The deepest run up to the whole that fits into `room`; the least one fits."""
    steps = (whole_mm - (whole_mm - least_mm) * tenth / 10.0 for tenth in range(10))
    return next((depth for depth in steps if alone(depth) <= room), least_mm)
