"""advise(): from the site, the records, the weather and the time to one Advice. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from functools import partial

from advisor.advice.advice import Advice, SourceUsed
from advisor.advice.assemble import Decided, next_looks, obligation_advice, with_conditions, zone_advice
from advisor.advice.cautions import cautions
from advisor.advice.changes import changes_since, earlier_answers
from advisor.advice.cover import Choice, costs_of, decide
from advisor.advice.digest import inputs_digest
from advisor.advice.ground import Ground, survey
from advisor.advice.need import TurfNeed, turf_need
from advisor.advice.night_room import Air
from advisor.advice.nights import Night, chances_to_run, look_at_night
from advisor.advice.obligations import Obligation, find_obligations
from advisor.advice.openings import look_trouble, openings
from advisor.advice.outlook import coming_periods, rain_outlook
from advisor.advice.plan import Plan, make_plan
from advisor.advice.plan_check import check_plan
from advisor.advice.prospect import Rain
from advisor.advice.say import Say
from advisor.advice.timing import SPARE, late_or_calm
from advisor.advice.unknowns import unknowns
from advisor.advice.wanted import minutes_for, run_time, zone_want
from advisor.advice.wants import Want
from advisor.advice.words import headline, window_words
from advisor.lawn.records import Records
from advisor.lawn.site import Site
from advisor.weather.weather import Weather


def advise(
    *, site: Site, records: Records, weather: Weather, now: datetime, previous: Advice | None = None
) -> Advice:
    """Tonight's advice. The same inputs give the same advice; `now` is aware.

    `previous` is the advice given before: for the same night an answer stands while it costs hardly
    more than the best, and what did change is told. Raises CannotAdvise where the weather does not
    cover `now`.
    """
    say = Say(site.place.units, site.place.zone, now)
    night = look_at_night(site, now)
    ground = survey(site=site, records=records, weather=weather, now=now)
    obligations, not_understood = find_obligations(
        site=site, records=records, weather=weather, water=ground.water, now=now
    )
    run_at, next_at = chances_to_run(night, now)
    needs = [
        turf_need(ground=ground, zone=z, run_at=run_at, next_at=next_at, decision=site.decision)
        for z in range(len(site.zones))
    ]
    air = _air(ground)
    rain = rain_outlook(ground, coming_periods(now, night.ends_at))
    before = earlier_answers(previous, night.night)

    def planned(asked: Sequence[Want]) -> Plan:
        return make_plan(
            wants=asked,
            windows=night.windows,
            supply=site.supply,
            air=air,
            rules=site.rules,
            zone=site.place.zone,
            now=now,
            next_nights=[day for day, _ in night.later],
            closed_because=night.closed,
            units=site.place.units,
        )

    for interleaved in (True, False):
        together = time_for_all(ground, obligations, needs, interleaved=interleaved)
        decided = decide_all(ground, obligations, night, now, together, before)
        wanted = [
            zone_want(
                zone=zone,
                facts=ground.facts[z],
                need=needs[z],
                obligations=[d for d in decided if d[0].zone_index == z],
                windows=night.windows,
                night=night.night,
                now=now,
                supply_l_min=site.supply.flow_l_min,
            )
            for z, zone in enumerate(site.zones)
        ]
        tonights = [w for each in wanted for w in each.wants if not _for_another_night(w, night)]
        plan, wants = late_or_calm(tonights, night.windows, rain[0].chance_1mm, planned)
        conditional = {site.zones[w.zone].name for w in wanted if w.look_at is not None}
        if not any(n.zone in conditional for n in plan.not_planned):
            break
    plan = with_conditions(say, plan, wanted, [z.name for z in site.zones])
    looks = next_looks(say, ground, needs, plan, wanted)
    zones = zone_advice(say, ground, needs, wanted, decided, plan)
    dry = [o.zone for o, _ in decided if o.status == "keep dry"]
    advice = Advice(
        site=site.place.name,
        time_zone=site.place.zone.key,
        units=site.place.units,
        now=now.astimezone(UTC),
        night=night.night,
        window_starts_at=night.windows[0].starts_at if night.windows else None,
        window_ends_at=night.ends_at,
        window_words=window_words(say, night, plan),
        headline=headline(
            say, plan.runs, looks, [(z.zone, z.verdict) for z in zones], list(dict.fromkeys(dry))
        ),
        zones=zones,
        obligations=obligation_advice(say, ground, decided, plan),
        runs=plan.runs,
        not_planned=plan.not_planned,
        next_looks=looks,
        rain=rain,
        unknowns=(*not_understood, *unknowns(say, ground, needs)),
        changes=(),
        cautions=cautions(ground, obligations, plan.runs),
        sources=tuple(
            SourceUsed(
                name=s.name,
                serves=s.serves,
                fetched_at=s.fetched_at,
                reaches_until=s.reaches_until,
                members=s.members,
                attribution=s.attribution,
            )
            for s in weather.sources
        ),
        provenance=tuple(dict.fromkeys(n.text for n in (*weather.notes, *ground.notes))),
        checks=check_plan(
            plan,
            wants=wants,
            windows=night.windows,
            supply=site.supply,
            air=air,
            rules=site.rules,
            zone=site.place.zone,
            sunrise_at=night.sun.at,
        ),
        inputs_digest=inputs_digest(site, records, weather, now),
    )
    if previous is None or previous.night != advice.night:
        return advice
    return advice.model_copy(update={"changes": changes_since(say, previous, advice)})


def decide_all(
    ground: Ground,
    obligations: tuple[Obligation, ...],
    night: Night,
    now: datetime,
    together: timedelta,
    before: dict[tuple[int, str], str],
) -> list[Decided]:
    """Each obligation with its decision, None where it asks nothing any more.

    Products of one round on one zone that ask the same share one decision, and the cost of its water.
    `together` is the time that a later look has to leave for the runs.
    """
    alike: dict[tuple[object, ...], list[Obligation]] = {}
    for one in obligations:
        if one.is_open:
            alike.setdefault(_what_it_asks(one), []).append(one)
    made: dict[tuple[object, ...], Choice] = {}
    for key, group in alike.items():
        earlier = before.get((group[0].application.id, group[0].zone))
        made[key] = _decide(ground, group, obligations, night, together, now, earlier)
    return [(one, made[_what_it_asks(one)] if one.is_open else None) for one in obligations]


def _what_it_asks(one: Obligation) -> tuple[object, ...]:
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


def time_for_all(
    ground: Ground, obligations: Sequence[Obligation], needs: Sequence[TurfNeed], *, interleaved: bool
) -> timedelta:
    """How long it takes to water in all that is open on zones whose turf is not run tonight anyway.

    `interleaved`: one zone soaks while another runs; otherwise one after another, soaks and all.
    """
    minutes, lengths = [0.0], [timedelta()]
    deepest: dict[int, float] = {}
    for one in obligations:
        if one.is_open and needs[one.zone_index].wanted_mm <= 0:
            deepest[one.zone_index] = max(deepest.get(one.zone_index, 0.0), one.target_mm)
    for z, depth in deepest.items():
        minutes.append(minutes_for(depth, ground.facts[z]))
        lengths.append(run_time(depth, ground.facts[z]))
    if interleaved:
        return max(max(lengths), timedelta(minutes=sum(minutes))) + SPARE
    return sum(lengths, SPARE)


def _for_another_night(want: Want, night: Night) -> bool:
    """Whether a want that waits for a look cannot begin before tonight's hours are over."""
    return want.earliest is not None and night.ends_at is not None and want.earliest >= night.ends_at


def _decide(
    ground: Ground,
    alike: Sequence[Obligation],
    obligations: Sequence[Obligation],
    night: Night,
    together: timedelta,
    now: datetime,
    earlier: str | None,
) -> Choice:
    one = alike[0]
    site, net = ground.site, ground.net_ahead_mm[one.zone_index]
    return decide(
        obligation=one,
        rain=Rain(ground.weather.starts_at(ground.first), ground.rain_ahead_mm, net),
        openings=openings(site=site, windows=night.coming, one=one, obligations=obligations, now=now),
        costs=costs_of(site.decision, one.product.kind, sharing=len(alike)),
        run_time=together,
        now=now,
        units=site.place.units,
        trouble=partial(look_trouble, site=site),
        before=earlier,
    )


def _air(ground: Ground) -> Air:
    weather = ground.weather
    return Air(
        first=weather.starts_at(ground.first),
        wind10_m_s=weather.wind10_m_s[ground.first :].tolist(),
        temp_c=weather.temp_c[ground.first :].tolist(),
    )
