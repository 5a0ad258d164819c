"""advise(): from the site, the records, the weather and the time to one Advice. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime

from advisor.advice.advice import Advice, SourceUsed
from advisor.hours.night import chances_to_run, look_at_night
from advisor.lawn.records import Records
from advisor.lawn.site_values import Site
from advisor.schedule.checks import check_plan
from advisor.schedule.limits import Air
from advisor.schedule.planner import Plan, make_plan
from advisor.schedule.request import Request
from advisor.soil_water.rain_outlook import coming_periods, rain_outlook
from advisor.soil_water.requirement import turf_requirement
from advisor.soil_water.root_zone import RootZone, survey
from advisor.tonight.cautions import cautions, meeting_seed
from advisor.tonight.changes import changes_since, earlier_answers
from advisor.tonight.decide_night import decide_night, dry_spans
from advisor.tonight.fingerprint import inputs_digest
from advisor.tonight.report import application_advice, next_looks, with_conditions, zone_advice
from advisor.tonight.sentences import steps, window_words
from advisor.tonight.syringe import syringe_at_midday
from advisor.tonight.under_way import after, doubts, not_recorded, runs_under_way, told_under_way, with_runs
from advisor.tonight.unknowns import unknowns
from advisor.watering_in.applications import zone_applications
from advisor.weather.own_words import in_own_words
from advisor.weather.weather import Weather
from advisor.wording import Say


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
    obligations, not_understood = zone_applications(
        site=site, records=given, weather=weather, water=ground.water, now=now
    )
    run_at, next_at = chances_to_run(night, now)
    needs = [
        turf_requirement(ground=ground, zone=z, run_at=run_at, next_at=next_at, decision=site.decision)
        for z in range(len(site.zones))
    ]
    air = _air(ground)
    rain = rain_outlook(ground, coming_periods(now, night.ends_at))

    def planned(asked: Sequence[Request]) -> Plan:
        return make_plan(
            requests=after(asked, begun, now),
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

    settled = decide_night(
        ground=ground,
        obligations=obligations,
        needs=needs,
        night=night,
        now=now,
        before=earlier_answers(previous, night.night),
        rain_chance=rain[0].chance_1mm,
        planned=planned,
    )
    decided, wanted, requests = settled.decided, settled.wanted, settled.requests
    plan = with_conditions(say, settled.plan, wanted, [z.name for z in site.zones])
    looks = next_looks(say, ground, needs, plan, wanted)
    checks = check_plan(
        plan,
        requests=requests,
        windows=night.windows,
        supply=site.supply,
        air=air,
        rules=site.rules,
        zone=site.place.zone,
        sunrise_at=night.sun.at,
    )
    plan, midday_checks = syringe_at_midday(say, ground, plan, dry_spans(obligations, now), air)
    zones = told_under_way(say, zone_advice(say, ground, needs, wanted, decided, plan), begun)
    meet_seed = meeting_seed(site, records, obligations)
    put_down = application_advice(say, ground, decided, plan, meet_seed)
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


def _air(ground: RootZone) -> Air:
    weather = ground.weather
    return Air(
        first=weather.starts_at(ground.first),
        wind10_m_s=weather.wind10_m_s[ground.first :].tolist(),
        temp_c=weather.temp_c[ground.first :].tolist(),
    )
