"""advise(): from the site, the records, the weather and the time to one Advice. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime

from advisor.advice.advice import Advice, SourceUsed
from advisor.advice.assemble import next_looks, obligation_advice, with_conditions, zone_advice
from advisor.advice.cautions import cautions, meeting_seed
from advisor.advice.changes import changes_since, earlier_answers
from advisor.advice.cooling import cool_at_midday
from advisor.advice.digest import inputs_digest
from advisor.advice.ground import Ground, survey
from advisor.advice.need import turf_need
from advisor.advice.night_room import Air
from advisor.advice.nights import chances_to_run, look_at_night
from advisor.advice.obligations import find_obligations
from advisor.advice.outlook import coming_periods, rain_outlook
from advisor.advice.plan import Plan, make_plan
from advisor.advice.plan_check import check_plan
from advisor.advice.say import Say
from advisor.advice.settle import dry_spans, settle
from advisor.advice.under_way import after, doubts, not_recorded, runs_under_way, told_under_way, with_runs
from advisor.advice.unknowns import unknowns
from advisor.advice.wants import Want
from advisor.advice.words import steps, window_words
from advisor.lawn.records import Records
from advisor.lawn.site import Site
from advisor.weather.own_words import in_own_words
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
    begun = runs_under_way(previous, night.night, records, now)
    given = with_runs(records, begun, now)
    ground = survey(site=site, records=given, weather=weather, now=now)
    obligations, not_understood = find_obligations(
        site=site, records=given, weather=weather, water=ground.water, now=now
    )
    run_at, next_at = chances_to_run(night, now)
    needs = [
        turf_need(ground=ground, zone=z, run_at=run_at, next_at=next_at, decision=site.decision)
        for z in range(len(site.zones))
    ]
    air = _air(ground)
    rain = rain_outlook(ground, coming_periods(now, night.ends_at))

    def planned(asked: Sequence[Want]) -> Plan:
        return make_plan(
            wants=after(asked, begun, now),
            windows=night.windows,
            supply=site.supply,
            air=air,
            rules=site.rules,
            zone=site.place.zone,
            now=now,
            next_nights=night.later,
            closed_because=night.closed,
            units=site.place.units,
        )

    settled = settle(
        ground=ground,
        obligations=obligations,
        needs=needs,
        night=night,
        now=now,
        before=earlier_answers(previous, night.night),
        rain_chance=rain[0].chance_1mm,
        planned=planned,
    )
    decided, wanted, wants = settled.decided, settled.wanted, settled.wants
    plan = with_conditions(say, settled.plan, wanted, [z.name for z in site.zones])
    looks = next_looks(say, ground, needs, plan, wanted)
    checks = check_plan(
        plan,
        wants=wants,
        windows=night.windows,
        supply=site.supply,
        air=air,
        rules=site.rules,
        zone=site.place.zone,
        sunrise_at=night.sun.at,
    )
    plan, midday_checks = cool_at_midday(say, ground, plan, dry_spans(obligations, now), air)
    zones = told_under_way(say, zone_advice(say, ground, needs, wanted, decided, plan), begun)
    meet_seed = meeting_seed(site, records, obligations)
    put_down = obligation_advice(say, ground, decided, plan, meet_seed)
    to_do = steps(say, plan.runs, looks, zones, put_down, begun)
    advice = Advice(
        site=site.place.name,
        time_zone=site.place.zone.key,
        units=site.place.units,
        now=now.astimezone(UTC),
        night=night.night,
        window_starts_at=night.windows[0].starts_at if night.windows else None,
        window_ends_at=night.ends_at,
        window_words=window_words(say, night, plan),
        headline=" ".join(to_do),
        steps=to_do,
        zones=zones,
        obligations=put_down,
        runs=plan.runs,
        under_way=begun,
        not_planned=plan.not_planned,
        next_looks=looks,
        rain=rain,
        unknowns=(
            *not_understood,
            *doubts(begun, not_recorded(previous, night.night, records)),
            *unknowns(say, ground, needs),
        ),
        changes=(),
        cautions=cautions(ground, obligations, plan.runs, meet_seed),
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
        provenance=tuple(
            dict.fromkeys(
                in_own_words(n.text, site.place.units, site.place.zone)
                for n in (*weather.notes, *ground.notes)
                if n.level != "warning"
            )
        ),
        checks=(*checks, *midday_checks),
        inputs_digest=inputs_digest(site, records, weather, now),
    )
    if previous is None or previous.night != advice.night:
        return advice
    return advice.model_copy(update={"changes": changes_since(say, previous, advice)})


def _air(ground: Ground) -> Air:
    weather = ground.weather
    return Air(
        first=weather.starts_at(ground.first),
        wind10_m_s=weather.wind10_m_s[ground.first :].tolist(),
        temp_c=weather.temp_c[ground.first :].tolist(),
    )
