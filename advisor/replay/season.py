"""A season lived by an owner who asks every evening and does what is said.

Every evening the gauge is read and recorded, then `advise` is asked. What it plans is made and recorded
as advised; when it says to look again, the owner reads the gauge at that time, records it, asks again and
follows the new answer. So the rule that is printed with a look ("run only if the gauge shows less than so
much") is never followed by its letter here: that owner asks, who could have followed it instead. Forecast
and gauge become pairs, from which later evenings learn. The sky tells what it would have told at that time,
the true lawn decides what the gauge shows. The season begins with a full root zone on the first evening,
for every way of watering alike, and the owner knows it: as after a soaking, read by a probe.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from typing import Protocol

import numpy as np

from advisor.advice import Action, Advice, LookKind, PlannedRun
from advisor.errors import CannotAdvise
from advisor.lawn import Application, GaugeReading, ProbeReading, RainPair, Records, Round, Run, Site
from advisor.night import RECORDS_DAYS, settled
from advisor.replay.past_nights import PastNight
from advisor.replay.true_lawn import TrueLawn
from advisor.science.balance import Balance
from advisor.science.hour_shares import hour_shares
from advisor.tonight import advise
from advisor.weather import Array, ForecastDay, Weather, forecast_day, pairs_of

EVENING = time(20, 15)
APPLIED = (time(16, 30), time(17, 10))
FIRST_ROUND_DAYS = 7  # after the season's first day
WET_DAY_MM = 1.0  # after so much since the morning nothing is put down that day
MORNING = time(6)
MOST_LOOKS = 12  # between two evenings; an advice that asked for more would never come to an end
GAUGE_MARK_MM = 0.1
GAUGE_MAY_COME_AFTER = timedelta(days=14)


class Sky(Protocol):
    """Whoever tells the weather as it was told at a time: the past, and what was to come."""

    def told_at(self, now: datetime) -> Weather:
        """The weather as it was told at `now`, not yet settled."""


@dataclass(frozen=True, eq=False, slots=True)
class Season:
    """What is lived: the site as its file has it, the lawn as it truly is, the local evenings from `first`
    to `last`, what is put down on them, and what a soil probe showed; by none the root zone is full on the
    first evening, which is what the truth begins with."""

    site: Site
    lawn: TrueLawn
    first: date
    last: date
    applications: tuple[Application, ...] = ()
    evening: time = EVENING
    probes: tuple[ProbeReading, ...] = ()

    def evenings(self) -> Iterator[datetime]:
        """When the owner asks, night by night."""
        day = self.first
        while day <= self.last:
            yield at_local(self.site, day, self.evening)
            day += timedelta(days=1)

    @property
    def begins_at(self) -> datetime:
        """The first evening."""
        return at_local(self.site, self.first, self.evening)

    @property
    def ends_at(self) -> datetime:
        """The evening after the last."""
        return at_local(self.site, self.last + timedelta(days=1), self.evening)

    @property
    def judged(self) -> slice:
        """The hours of the truth that are judged: from the first evening to the evening after the last."""
        return slice(self.lawn.hour(self.begins_at), self.lawn.hour(self.ends_at))

    @property
    def probed(self) -> tuple[ProbeReading, ...]:
        """What the owner knows of the soil: the readings, or that it is full on the first evening."""
        return self.probes or tuple(ProbeReading(zone.name, self.begins_at, 0.0) for zone in self.site.zones)

    def course(self, irrigation_mm: Array) -> Balance:
        """The true root zone over the hours that are judged, full at their begin, with irrigation (z, m, h) by
        the hours of the truth."""
        return self.lawn.course(irrigation_mm[:, :, self.judged], hours=self.judged)

    def fell_mm(self, since: datetime, until: datetime) -> float:
        """What a gauge emptied at `since` holds at `until`."""
        weather = self.lawn.weather
        share = hour_shares(weather.starts_at(0), weather.hours, since, until)
        return float(np.nan_to_num(weather.rain_mm) @ share)


def at_local(site: Site, day: date, clock: time) -> datetime:
    """A local time of the site."""
    return datetime.combine(day, clock, site.place.zone).astimezone(UTC)


@dataclass(slots=True)
class Lived:
    """What became of a season: what ran, what was looked at and when, and what could not be planned.

    `planned` are the runs that our advice planned, one for one of `runs`, with their cycles. `duty_nights` are
    the evenings on which something new had to be watered in, as they were known then; `first_answers` counts
    what was said of it; `why_refused` is why no advice could be given the first time that it was `refused`.
    """

    runs: list[Run] = field(default_factory=list)
    planned: list[PlannedRun] = field(default_factory=list)
    looks: list[datetime] = field(default_factory=list)
    asked: int = 0
    refused: list[datetime] = field(default_factory=list)
    why_refused: str = ""
    not_planned: int = 0
    checks_failed: int = 0
    duty_nights: list[PastNight] = field(default_factory=list)
    first_answers: dict[str, int] = field(default_factory=dict)


def applications_of(site: Site, lawn: TrueLawn, first: date, last: date) -> tuple[Application, ...]:
    """The rounds of the site file as their owner would go them: first a week into the season, then as often
    as each says, in the late afternoon, a day later while the day has been wet, never in a blackout."""
    found: list[Application] = []
    for number, each in enumerate(site.rounds):
        day = first + timedelta(days=FIRST_ROUND_DAYS + 3 * number)
        while day <= last:
            put_off = _put_off(site, lawn, each, day)
            if put_off:
                day += timedelta(days=1)
                continue
            found += _round(site, each, day)
            day += timedelta(days=each.every_days)
    found.sort(key=lambda application: application.started_at)
    return tuple(replace(application, id=number) for number, application in enumerate(found, 1))


def _put_off(site: Site, lawn: TrueLawn, each: Round, day: date) -> bool:
    """Whether the day is blacked out for a round, or too wet."""
    if any(span.first <= day <= span.last for span in each.blackouts):
        return True
    weather = lawn.weather
    morning, done = (at_local(site, day, clock) for clock in (MORNING, APPLIED[1]))
    share = hour_shares(weather.starts_at(0), weather.hours, morning, done)
    return float(np.nan_to_num(weather.rain_mm) @ share) >= WET_DAY_MM


def _round(site: Site, each: Round, day: date) -> list[Application]:
    sprayer = next((s for s in site.sprayers if s.name == each.sprayer), None)
    began, done = (at_local(site, day, clock) for clock in APPLIED)
    return [
        Application(
            product=product,
            zones=each.zones or tuple(zone.name for zone in site.zones),
            started_at=began,
            ended_at=done,
            method=sprayer.method if sprayer is not None else "tank",
            dilution=sprayer.dilution if sprayer is not None else None,
            round_id=f"{each.name} {day:%Y-%m-%d}",
        )
        for product in each.products
    ]


def live(season: Season, sky: Sky) -> Lived:
    """The season as it is lived by our advice."""
    owner = _Owner(season, sky)
    evenings = [*season.evenings(), season.ends_at]
    for now, until in pairwise(evenings):
        owner.one_evening(now, until)
    return owner.lived


class Diary:
    """What an owner writes down through a season, and what the program keeps beside it."""

    def __init__(self, season: Season, sky: Sky) -> None:
        self.season, self.sky, self.lived = season, sky, Lived()
        self.gauge: list[GaugeReading] = []
        self.pairs: list[RainPair] = []
        self.foretold: list[ForecastDay] = []
        self.emptied_at = season.begins_at - timedelta(days=1)

    def read_gauge(self, now: datetime) -> None:
        """Read the gauge in its marks, and empty it."""
        held = round(self.season.fell_mm(self.emptied_at, now) / GAUGE_MARK_MM) * GAUGE_MARK_MM
        self.gauge.append(GaugeReading(now, round(held, 1), since=self.emptied_at, id=len(self.gauge) + 1))
        self.emptied_at = now

    def records(self, now: datetime) -> Records:
        """What is recorded by now, as far back as it is read."""
        since = now - timedelta(days=RECORDS_DAYS)
        return Records(
            applications=tuple(a for a in self.season.applications if since <= a.ended_at <= now),
            runs=tuple(r for r in self.lived.runs if since <= r.ended_at and r.started_at <= now),
            gauge=tuple(g for g in self.gauge if since <= g.read_at),
            probes=tuple(p for p in self.season.probed if since <= p.read_at <= now),
            pairs=tuple(self.pairs),
        )

    def known(self, now: datetime, *, learns: bool) -> tuple[Records, Weather]:
        """The records and the settled weather of this moment; forecast and gauge become pairs if it `learns`."""
        told = self.sky.told_at(now)
        records = self.records(now)
        weather = settled(told, records, now)
        return (self._learn(records, weather, told, now) if learns else records), weather

    def _learn(self, records: Records, weather: Weather, told: Weather, now: datetime) -> Records:
        """The records with the pairs that the gauge has made of earlier forecasts; this one is kept too."""
        over = [day for day in self.foretold if day.starts_at + timedelta(hours=24) <= now]
        fresh = pairs_of(over, self.pairs, weather)
        changed = {(pair.starts_at, pair.lead_h) for pair in fresh}
        self.pairs = [p for p in self.pairs if (p.starts_at, p.lead_h) not in changed] + list(fresh)
        ahead = forecast_day(told, now)
        self.foretold = [day for day in self.foretold if day.starts_at > now - GAUGE_MAY_COME_AFTER]
        self.foretold += [ahead] if ahead is not None else []
        return replace(records, pairs=tuple(self.pairs))


class _Owner:
    """Asks, follows, records."""

    def __init__(self, season: Season, sky: Sky) -> None:
        self.season, self.diary = season, Diary(season, sky)
        self.previous: Advice | None = None
        self.seen: set[tuple[int, str]] = set()

    @property
    def lived(self) -> Lived:
        """What has become of the season so far."""
        return self.diary.lived

    def one_evening(self, now: datetime, until: datetime) -> None:
        """From one evening's ask to the next: the advice, its looks, and the runs between them."""
        advice, at = self.ask(now, evening=True), now
        for _ in range(MOST_LOOKS):
            if advice is None:
                return
            look = next((each for each in advice.next_looks if at < each.at < until), None)
            self.run(advice, at, until if look is None else look.at)
            if look is None or look.kind is LookKind.EVENING:
                return
            at = look.at
            self.lived.looks.append(at)
            advice = self.ask(at, evening=False)

    def ask(self, now: datetime, *, evening: bool) -> Advice | None:
        """Read the gauge and ask; None where no advice can be given."""
        self.diary.read_gauge(now)
        self.lived.asked += 1
        try:
            records, weather = self.diary.known(now, learns=evening)
            advice = advise(
                site=self.season.site, records=records, weather=weather, now=now, previous=self.previous
            )
        except CannotAdvise as error:
            self.lived.refused.append(now)
            self.lived.why_refused = self.lived.why_refused or str(error)
            return None
        self.lived.not_planned += len(advice.not_planned)
        self.lived.checks_failed += sum(not check.passed for check in advice.checks)
        if evening:
            self.note_duties(advice, records, weather, now)
        self.previous = advice
        return advice

    def run(self, advice: Advice, since: datetime, until: datetime) -> None:
        """Make the planned runs that begin before the next look or evening, and record them."""
        for planned in advice.runs:
            if planned.condition is None and since <= planned.cycles[0].starts_at < until:
                self.lived.runs.append(as_made(planned, len(self.lived.runs) + 1))
                self.lived.planned.append(planned)

    def note_duties(self, advice: Advice, records: Records, weather: Weather, now: datetime) -> None:
        """Keep the evenings on which something new has to be watered in."""
        fresh = [
            one
            for one in advice.obligations
            if one.action not in (Action.NONE, Action.KEEP_DRY, Action.KEEP_MOIST)
            and (one.application_id, one.zone) not in self.seen
        ]
        if not fresh:
            return
        self.seen |= {(one.application_id, one.zone) for one in fresh}
        for one in fresh:
            self.lived.first_answers[one.action] = self.lived.first_answers.get(one.action, 0) + 1
        truth = self.season.lawn.weather
        fell = np.nan_to_num(truth.rain_mm[truth.index_at(now) :])
        self.lived.duty_nights.append(PastNight(self.season.site, records, weather, now, fell))


def as_made(planned: PlannedRun, number: int) -> Run:
    """The record of a planned run that was made."""
    return Run(
        zone=planned.zone,
        started_at=planned.cycles[0].starts_at,
        ended_at=planned.cycles[-1].ends_at,
        minutes=planned.minutes,
        depth_mm=planned.depth_mm,
        source="as advised",
        id=number,
    )


def truly_given(site: Site, lawn: TrueLawn, runs: Sequence[Run]) -> tuple[Run, ...]:
    """The runs with the depth that the true lawn got from their minutes, where its rate is another."""
    figures = {z.name: f for z, f in zip(lawn.site.zones, lawn.ground.figures, strict=True)}
    same = site is lawn.site
    return tuple(
        r if same else replace(r, depth_mm=r.minutes / 60.0 * figures[r.zone].rate_mm_h) for r in runs
    )
