"""The state of the lawn tonight: all that is known at one moment, worked out once and handed on."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from advisor.advice import Advice, RainChance, Reason
from advisor.hours import Night, Window, chances_to_run, look_at_night
from advisor.lawn import Judgement, Records, Site
from advisor.schedule import Air, PlanInputs
from advisor.soil_water import (
    PAST_DAYS,
    Requirement,
    RootZone,
    coming_periods,
    rain_outlook,
    survey,
    turf_requirement,
)
from advisor.tonight.under_way import EarlierRuns, earlier_runs, running, soonest_start, with_runs
from advisor.watering_in import ZoneApplication, zone_applications
from advisor.weather import Weather
from advisor.wording import Say


@dataclass(frozen=True, eq=False, slots=True)
class LawnState:
    """What is known at `now`.

    `records` are as the owner has them; `earlier` what became of runs advised before: those taken as made
    `root_zone` and `applications` take in. `not_understood` are records that the site file does not explain.
    `previous` is the advice before, of this night or of an earlier one, `asked_since` when the first was given.
    """

    site: Site
    records: Records
    weather: Weather
    now: datetime
    night: Night
    earlier: EarlierRuns
    root_zone: RootZone
    applications: tuple[ZoneApplication, ...]
    not_understood: tuple[Reason, ...]
    previous: Advice | None
    asked_since: datetime

    @property
    def say(self) -> Say:
        """How this site's owner reads numbers and times."""
        return Say(self.site.place.units, self.site.place.zone, self.now)

    @property
    def air(self) -> Air:
        """Wind and temperature from the hour of `now` on."""
        first = self.root_zone.first
        return Air(
            first=self.weather.starts_at(first),
            wind10_m_s=self.weather.wind10_m_s[first:].tolist(),
            temp_c=self.weather.temp_c[first:].tolist(),
        )

    def flow_l_min(self, zone: int) -> float | None:
        """What a zone is planned to draw, None where that is not known.

        A zone that draws more than the supply is said to carry does run in the world: it runs alone.
        """
        flow, supply = self.root_zone.figures[zone].flow_l_min, self.site.supply.flow_l_min
        return flow if flow is None or supply is None else min(flow, supply)

    @property
    def plan_inputs(self) -> PlanInputs:
        """What tonight is planned in."""
        site, night = self.site, self.night
        flows = {z.name: self.flow_l_min(i) for i, z in enumerate(site.zones)}
        return PlanInputs(
            windows=night.windows,
            supply=site.supply,
            air=self.air,
            rules=site.rules,
            local=site.place.zone,
            now=self.now,
            next_nights=night.later,
            closed=night.closed,
            running=running(self.earlier, self.records, flows, self.now),
            units=site.place.units,
        )

    @property
    def dry_spans(self) -> dict[str, list[Window]]:
        """By zone the spans from now on in which a product keeps it dry."""
        spans: dict[str, list[Window]] = {}
        for one in self.applications:
            if one.dry_until is not None and one.dry_until > self.now:
                spans.setdefault(one.zone, []).append(Window(self.now, one.dry_until))
        return spans


def lawn_state(
    *, site: Site, records: Records, weather: Weather, now: datetime, previous: Advice | None = None
) -> LawnState:
    """The state of the lawn at `now`, aware. Raises CannotAdvise where the weather does not cover it."""
    night = look_at_night(site, now, soonest_start(previous, now, site.rules))
    earlier = earlier_runs(previous, night.night, records, site.rules, now)
    given = with_runs(records, earlier.assumed, now)
    since = _asked_since(previous, now)
    root_zone = survey(site=site, records=given, weather=weather, now=now, asked_since=since)
    applications, not_understood = zone_applications(
        site=site, records=given, weather=weather, water=root_zone.water, now=now
    )
    return LawnState(
        site=site,
        records=records,
        weather=weather,
        now=now,
        night=night,
        earlier=earlier,
        root_zone=root_zone,
        applications=applications,
        not_understood=not_understood,
        previous=previous,
        asked_since=since,
    )


def _asked_since(previous: Advice | None, now: datetime) -> datetime:
    """Since when advice has been asked for: anew after a pause longer than the balance looks back."""
    if previous is None or previous.now > now or previous.now < now - timedelta(days=PAST_DAYS):
        return now
    return previous.asked_since or previous.now


def judged_anew(lawn: LawnState, judgement: Judgement) -> LawnState:
    """The same lawn by other judged numbers; what they have no part in is not worked out again."""
    site = replace(lawn.site, judgement=judgement)
    if judgement.rain != lawn.site.judgement.rain:
        return lawn_state(
            site=site, records=lawn.records, weather=lawn.weather, now=lawn.now, previous=lawn.previous
        )
    applications, not_understood = zone_applications(
        site=site,
        records=with_runs(lawn.records, lawn.earlier.assumed, lawn.now),
        weather=lawn.weather,
        water=lawn.root_zone.water,
        now=lawn.now,
    )
    return replace(
        lawn,
        site=site,
        root_zone=replace(lawn.root_zone, site=site),
        applications=applications,
        not_understood=not_understood,
    )


@dataclass(frozen=True, slots=True)
class Asked:
    """What is asked of the night: the turf's requirement zone by zone, what lies on the lawn, and the rain
    that may do it, over tonight, a day and three days."""

    requirements: tuple[Requirement, ...]
    applications: tuple[ZoneApplication, ...]
    rain: tuple[RainChance, ...]


def what_is_asked(lawn: LawnState) -> Asked:
    """What the turf and the applications ask of the night."""
    run_at, next_at = chances_to_run(lawn.night, lawn.now)
    return Asked(
        requirements=tuple(
            turf_requirement(
                root_zone=lawn.root_zone,
                zone=z,
                run_at=run_at,
                next_at=next_at,
                decision=lawn.site.decision,
                judgement=lawn.site.judgement,
            )
            for z in range(len(lawn.site.zones))
        ),
        applications=lawn.applications,
        rain=rain_outlook(lawn.root_zone, coming_periods(lawn.now, lawn.night.ends_at)),
    )
