"""Decide the night: each application, each zone as a whole, and a plan in which all of it holds.

A later look is worth more, but it has to leave time for the runs that may follow from it, on one
supply, with their soaks. So the looks are first chosen as if one zone could always soak while another
runs; where the plan then does not hold, as if all ran one after another, soaks and all.

One answer a zone: a run that is made tonight in any case, for the turf or for another product, is no
longer in question for what also lies there, so nothing waits for a look beside it. And where several
products wait for a look, the zone has one look and one rule.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import cache, cached_property, partial

from advisor.advice import Action, Period
from advisor.schedule import SPARE, Plan, Planner, Request, length_for
from advisor.soil_water import Requirement
from advisor.tonight.changes import Earlier, earlier_answers
from advisor.tonight.lawn_state import Asked, LawnState
from advisor.tonight.zone_request import ZoneRequest, as_planned, notes_of, zone_request
from advisor.watering_in import (
    Choice,
    Decided,
    Question,
    Rain,
    ZoneApplication,
    bears_mm,
    costs_of,
    decide,
    look_trouble,
    openings,
)


@dataclass(frozen=True, slots=True)
class NightDecision:
    """The decisions, what each zone is to get, the requests as the plan took them, and the plan."""

    decided: tuple[Decided, ...]
    zone_requests: tuple[ZoneRequest, ...]
    requests: tuple[Request, ...]
    plan: Plan


@dataclass(frozen=True)
class _Night:
    """What all steps of the decision share."""

    lawn: LawnState
    asked: Asked
    planner: Planner | None
    earlier: dict[tuple[int, str], Earlier]

    @cached_property
    def index(self) -> dict[str, int]:
        """Zone names by their number."""
        return {zone.name: z for z, zone in enumerate(self.lawn.site.zones)}

    def put(self, decided: Sequence[Decided], lean: Collection[int] = ()) -> NightDecision:
        """The decisions with their requests, planned; on the zones `lean` the turf asks for nothing."""
        requirements = [
            replace(each, wanted_mm=0.0) if each.zone in lean else each for each in self.asked.requirements
        ]
        asked = tuple(
            zone_request(self.lawn, requirement, [d for d in decided if d[0].zone_index == requirement.zone])
            for requirement in requirements
        )
        ends_at = self.lawn.night.ends_at
        tonights = [
            request
            for each in asked
            for request in each.requests
            if not (request.earliest is not None and ends_at is not None and request.earliest >= ends_at)
        ]
        chance = next(each.chance_1mm for each in self.asked.rain if each.label == Period.TONIGHT)
        if self.planner is None:
            return NightDecision(tuple(decided), asked, tuple(tonights), Plan())
        plan, requests = self.planner.late_or_calm(tonights, chance)
        return NightDecision(tuple(decided), asked, requests, plan)

    def time_for(self, depth_mm: float, *, interleaved: bool) -> timedelta:
        """How long runs of at most so much take on all zones where water may be due: one soaking while
        another runs, or one after another."""
        figures = self.lawn.root_zone.figures
        depths = {z: min(depth_mm, most) for z, most in self.deepest.items()}
        zones = self.lawn.site.zones
        lengths = [length_for(mm, figures[z], by_hand=zones[z].by_hand) for z, mm in depths.items()]
        if interleaved:
            water = timedelta(minutes=sum(length.minutes for length in lengths))
            return max([water, *(length.takes for length in lengths)]) + SPARE
        return sum((length.takes for length in lengths), SPARE)

    @cached_property
    def deepest(self) -> dict[int, float]:
        """By zone the most that watering in may take, on zones whose turf is not run tonight anyway."""
        deepest: dict[int, float] = {}
        for one in self.asked.applications:
            if one.is_open and self.asked.requirements[one.zone_index].wanted_mm <= 0:
                deepest[one.zone_index] = max(deepest.get(one.zone_index, 0.0), one.target_mm)
        return deepest


def decide_night(lawn: LawnState, asked: Asked, *, plans: bool = True) -> NightDecision:
    """Decide and plan. Without `plans` all runs are taken to fit and the plan stays empty."""
    planner = Planner(lawn.plan_inputs) if plans else None
    night = _Night(lawn, asked, planner, earlier_answers(lawn.previous, lawn.night.night))
    found = _turf_where_starved(night, _shallower_where_too_long(night, _first_that_holds(night)))
    plan = found.plan if planner is None else planner.explained(found.plan)
    names = [zone.name for zone in lawn.site.zones]
    zone_requests = tuple(as_planned(found.zone_requests, plan, names, found.decided))
    return replace(
        found,
        decided=tuple(_one_look_a_zone(found.decided, zone_requests)),
        zone_requests=zone_requests,
        plan=replace(plan, notes=(*plan.notes, *notes_of(zone_requests, names))),
    )


def _first_that_holds(night: _Night) -> NightDecision:
    """The first way of leaving time for looks whose runs the plan holds; else without those looks."""
    unfit: set[int] = set()
    for interleaved, last in ((True, False), (False, False), (False, True)):
        takes = cache(partial(night.time_for, interleaved=interleaved))
        decided = decide_all(night, takes, unfit if last else frozenset())
        found = night.put(_beside_runs(night, decided))
        waiting = {each.zone for each in found.zone_requests if each.look_at is not None}
        unfit = waiting & {night.index[left.zone] for left in found.plan.not_planned}
        if not unfit:
            break
    return found


def _shallower_where_too_long(night: _Night, found: NightDecision) -> NightDecision:
    """The same with shallower runs where a run does not fit though less would do, if more fits then."""
    decided = found.decided
    for shallow in (False, True):
        lean = _too_long(found, night.index)
        if not lean:
            break
        less = [_shallowest(o, c) if shallow and o.zone_index in lean else (o, c) for o, c in decided]
        tried = night.put(less, lean)
        if len(tried.plan.not_planned) < len(found.plan.not_planned):
            found = tried
    return found


def _turf_where_starved(night: _Night, found: NightDecision) -> NightDecision:
    """The same, where a zone whose run is due and does not fit at all gets what its turf can have instead.

    A run that is due is made whole or not at all, a refill of the turf may be cut: half of the water is
    better than none, and what is due is then left to the rain after it.
    """
    starved = {
        zone
        for zone in _refused(found, night.index)
        if night.asked.requirements[zone].wanted_mm > 0
        and any(o.zone_index == zone and c is not None and c.action == Action.RUN for o, c in found.decided)
    }
    if not starved:
        return found
    less = [
        (o, c.with_rain() if c is not None and o.zone_index in starved and c.action == Action.RUN else c)
        for o, c in found.decided
    ]
    tried = night.put(less)
    return tried if len(_refused(tried, night.index)) < len(_refused(found, night.index)) else found


def _refused(found: NightDecision, index: dict[str, int]) -> frozenset[int]:
    """The zones that ask for water and get none tonight."""
    ran = {run.zone for run in found.plan.runs}
    return frozenset(index[left.zone] for left in found.plan.not_planned if left.zone not in ran)


def _too_long(found: NightDecision, index: dict[str, int]) -> frozenset[int]:
    """The zones whose run does not fit, though what is due there asks for less than it would bring."""
    refused = _refused(found, index)
    depth = {each.zone: each.effective_mm for each in found.zone_requests}
    return frozenset(
        o.zone_index
        for o, c in found.decided
        if c is not None
        and c.action == Action.RUN
        and o.zone_index in refused
        and o.missing_mm < depth[o.zone_index] - 0.1
    )


def _shallowest(one: ZoneApplication, choice: Choice | None) -> Decided:
    """The decision with a run of no more than what is missing."""
    if choice is None or choice.action != Action.RUN:
        return one, choice
    return one, choice.with_run(one.missing_mm)


def decide_all(night: _Night, takes: Callable[[float], timedelta], no_look: Collection[int]) -> list[Decided]:
    """Each application with its decision, None where it asks nothing any more.

    Products of one round on one zone that ask the same share one decision, and the cost of its water.
    `takes` is the time that a later look has to leave for runs so deep; on the zones `no_look` none of
    this night's looks would leave it.
    """
    alike: dict[tuple[object, ...], list[ZoneApplication]] = {}
    for one in night.asked.applications:
        if one.is_open:
            alike.setdefault(_what_it_asks(one), []).append(one)
    made = {
        key: decide(_question(night, group, takes, group[0].zone_index in no_look))
        for key, group in alike.items()
    }
    return [(one, made[_what_it_asks(one)] if one.is_open else None) for one in night.asked.applications]


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


def _question(
    night: _Night, alike: Sequence[ZoneApplication], takes: Callable[[float], timedelta], no_look: bool
) -> Question:
    """What is to be decided for products that ask the same of a zone.

    Where the runs of all zones together do not fit before it is due, or a person moves the sprinkler,
    the zone's own run alone has to fit; a shallower one where no more does.
    """
    one, lawn = alike[0], night.lawn
    site, root_zone = lawn.site, lawn.root_zone
    figures = root_zone.figures[one.zone_index]
    by_hand = site.zones[one.zone_index].by_hand

    def alone(depth_mm: float) -> timedelta:
        return length_for(depth_mm, figures, by_hand=by_hand).takes

    found = openings(
        site=site,
        windows=lawn.night.coming,
        one=one,
        obligations=night.asked.applications,
        now=lawn.now,
        shortest=alone(one.missing_mm),
    )
    whole = one.missing_mm + one.target_mm - one.least_mm
    depth = whole
    if found:
        depth = _deepest_in(found[0].ends_at - found[0].starts_at, one.missing_mm, whole, alone)
    due = one.due_at
    together = due is None or any(min(w.ends_at, due) - w.starts_at >= takes(depth) for w in found)
    if by_hand or not together:
        length, times = alone(depth), lambda depth_mm: alone(depth_mm) + SPARE
    else:
        length, times = takes(depth), takes
    earlier = night.earlier.get((one.application.id, one.zone))
    soon = timedelta(minutes=site.judgement.looks.due_min)
    closed = no_look or _was_asked(earlier, lawn.now + soon)
    return Question(
        application=one,
        rain=Rain(
            lawn.weather.starts_at(root_zone.first),
            root_zone.rain_ahead_mm,
            root_zone.net_ahead_mm[one.zone_index],
        ),
        openings=tuple(found),
        costs=costs_of(site.decision, site.judgement, one.product.kind, sharing=len(alike)),
        judgement=site.judgement,
        run_time=length,
        takes=times,
        now=lawn.now,
        units=site.place.units,
        trouble=partial(look_trouble, site=site),
        before=earlier.action if earlier is not None and not closed else None,
        deepest_mm=depth,
        no_look_before=lawn.night.ends_at if closed else None,
    )


def _was_asked(earlier: Earlier | None, by: datetime) -> bool:
    """Whether an earlier answer was to wait for a look that is due by then: then the question is closed."""
    return (
        earlier is not None
        and earlier.action == Action.WAIT
        and earlier.look_at is not None
        and earlier.look_at <= by
    )


def _deepest_in(
    room: timedelta, least_mm: float, whole_mm: float, alone: Callable[[float], timedelta]
) -> float:
    """The deepest run up to the whole that fits into `room`; the least one fits."""
    steps = (whole_mm - (whole_mm - least_mm) * tenth / 10.0 for tenth in range(10))
    return next((depth for depth in steps if alone(depth) <= room), least_mm)


def _beside_runs(night: _Night, decided: Sequence[Decided]) -> list[Decided]:
    """The decisions, where nothing waits on a zone that is run tonight anyway.

    What waited there is served by a deeper run, or is left to the rain after that run, whichever is
    expected to cost less.
    """
    ends_at = night.lawn.night.ends_at
    return [(o, _beside(o, c, decided, night.asked.requirements[o.zone_index], ends_at)) for o, c in decided]


def _beside(
    one: ZoneApplication,
    choice: Choice | None,
    decided: Sequence[Decided],
    requirement: Requirement,
    ends_at: datetime | None,
) -> Choice | None:
    if choice is None or choice.action != Action.WAIT or not choice.can_run_before(ends_at):
        return choice
    on_zone = [(o, c) for o, c in decided if o.zone_index == one.zone_index and c is not None]
    runs = [c.top_up_mm for _, c in on_zone if c.action == Action.RUN and c.can_run_before(ends_at)]
    bears = min(bears_mm(o) for o, _ in on_zone if o.most_mm > 0)
    sure_mm = max([*runs, min(requirement.wanted_mm, bears), 0.0])
    if sure_mm <= 0:
        return choice
    depths = [sure_mm, *(float(d) for d in choice.expected_loss.depths() if d > sure_mm)]
    best = min(depths, key=choice.expected)
    return choice.with_run(best) if best >= one.missing_mm - 1e-6 else choice.with_rain()


def _one_look_a_zone(decided: Sequence[Decided], zone_requests: Sequence[ZoneRequest]) -> list[Decided]:
    """The decisions with the zone's one look and one rule in the place of each product's own."""
    rules = {
        each.zone: (each.look_at, each.under_mm, each.effective_mm)
        for each in zone_requests
        if each.look_at is not None and each.under_mm is not None
    }
    told: list[Decided] = []
    for one, choice in decided:
        if choice is not None and choice.action == Action.WAIT and one.zone_index in rules:
            look_at, under_mm, depth_mm = rules[one.zone_index]
            assert look_at is not None
            assert under_mm is not None
            choice = choice.with_look(look_at, under_mm, depth_mm)
        told.append((one, choice))
    return told
