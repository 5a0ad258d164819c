"""The owner's own season, from the records alone: what it cost, and what it would have cost otherwise.

The true weather is what was archived night by night, with the rain that the gauge read; the runs are those
recorded, whoever planned them. Beside them go: running whenever the soil asks, whatever rain is told, at our
depth; the clock by the usual year; and the least water that one who knew all could have left each zone
no shorter with. All are compared by the water put on with what it takes at the end to fill the soil again. Every way begins with the soil full on the first evening. Depths are means over the area.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from functools import partial

import numpy as np

from advisor.advice import OwnSeason, OwnWay, OwnWayKind, WaterBeside
from advisor.errors import CannotAdvise
from advisor.lawn import Records, Run, Site
from advisor.replay.duty_rivals import live_by_rules
from advisor.replay.equal_unmet import ALIKE_MM, mixture
from advisor.replay.foresight import UNMET_PRICES, foresight
from advisor.replay.past_nights import ALWAYS
from advisor.replay.rivals import Clock, Deficit, watered_by
from advisor.replay.scores import duty_scores
from advisor.replay.season import EVENING, Season, at_local
from advisor.replay.true_lawn import TrueLawn, gross, true_lawn
from advisor.sentences import own_season_words
from advisor.soil_water import Climate
from advisor.weather import Array, Weather, blank, cut, hours_between, settle_past
from advisor.wording import Say

LEAST_NIGHTS = 14
LEAST_KNOWN = 0.8
"""Below these a season tells nothing: our judgement, no source."""
PRICES = (1.0, 1.3, *UNMET_PRICES)
"""Of unmet demand to one who knew all: closer where an owner left the grass far shorter than any advice does."""
TOLD_DAYS = (31, 10)  # the past and the coming days that a rule may look at
DAY = timedelta(days=1)


def recorded_weather(site: Site, records: Records, begin: datetime, end: datetime) -> Weather:
    """The hours from `begin` to `end` as archive and gauge of the records know them; NaN where they do not."""
    place = site.place
    empty = blank(place.latitude_deg, place.longitude_deg, place.elevation_m, hours_between(begin, end), 0)
    told = [*(hour.starts_at for hour in records.archive), *(gauge.read_at for gauge in records.gauge)]
    after = max([end, *told]) + timedelta(hours=1)  # a reading made later tells of earlier rain too
    days = -(-(after - min([begin, *told])) // DAY) + 1
    known = settle_past(empty, gauge=records.gauge, archive=records.archive, now=after, reach_days=days)
    first = known.index_at(empty.starts_at(0))
    return replace(cut(known, first, first + empty.hours), sources=(), notes=())


def own_season(
    *,
    site: Site,
    records: Records,
    now: datetime,
    first: date | None = None,
    last: date | None = None,
    climate: Climate | None = None,
) -> OwnSeason:
    """The season of the local evenings `first` to `last`, by default all that is archived up to `now`.

    The clock is left out where there is no usual year. Raises CannotAdvise where too little is known.
    """
    first, last = _span(site, records, now, first, last)
    if last < first:
        raise CannotAdvise(f"the season ends before it begins: from {first} to {last}")
    begin, end = (at_local(site, day, time(0)) for day in (first - DAY, last + 2 * DAY))
    whole = recorded_weather(site, records, begin, end)
    judged = slice(*(whole.index_at(at_local(site, day, EVENING)) for day in (first, last + DAY)))
    known = (np.isfinite(whole.rain_mm) & np.isfinite(whole.temp_c))[judged]
    _enough(first, last, float(known.mean()) if known.size else 0.0)
    truth = replace(whole, rain_mm=np.nan_to_num(whole.rain_mm), snow_mm=np.nan_to_num(whole.snow_mm))
    lawn = true_lawn(site, truth, records.audits)
    since, until = (at_local(site, day, EVENING) for day in (first, last + DAY))
    mine = [r for r in records.runs if since <= r.started_at < until]
    applied = [a for a in records.applications if since <= a.ended_at < until]
    season = Season(site, lawn, first, last, tuple(applied))
    found = _Ways(season)
    followed = found.of_runs(OwnWayKind.FOLLOWED, mine)
    beside = partial(_beside, followed, [zone.name for zone in site.zones])
    sky = _AsItCame(truth)
    always = live_by_rules(season, sky, turf=Deficit("", (1.0,), (1.0,)), duty=ALWAYS)
    ways = [followed.told, beside(found.of_runs(OwnWayKind.ALWAYS, always.runs))]
    if climate is not None:
        ways.append(beside(found.of_clock(climate)))
    ways.append(beside(found.of_foresight(followed.unmet_mm)))
    plain = OwnSeason(
        site=site.place.name,
        first=first,
        last=last,
        nights=(last - first).days + 1,
        known=round(float(known.mean()), 4),
        by_gauge=round(float((whole.rain_basis[judged] == "gauge").mean()), 4),
        runs_recorded=sum(run.minutes > 0 or bool(run.depth_mm) for run in mine),
        demand_mm=found.over_area(lawn.etc_mm[:, judged].sum(axis=1)),
        rain_mm=round(float(truth.rain_mm[judged].sum()), 2),
        ways=tuple(ways),
    )
    say = Say(site.place.units, site.place.zone, now)
    return plain.model_copy(update={"sentences": tuple(own_season_words(say, plain))})


def _span(
    site: Site, records: Records, now: datetime, first: date | None, last: date | None
) -> tuple[date, date]:
    """The evenings asked for, or all that the archive holds whole."""
    hours = [h.starts_at for h in records.archive if h.rain_mm is not None and h.starts_at < now]
    if not hours:
        raise CannotAdvise(
            "no weather has been kept in the records, so the season cannot be told; `advisor serve` keeps it "
            f"night by night, and from {LEAST_NIGHTS} nights on there is something to tell"
        )
    earliest, latest = (at.astimezone(site.place.zone) for at in (min(hours), max(hours)))
    begins = earliest.date() + DAY * (1 if earliest.time() <= EVENING else 2)
    ends = latest.date() - DAY * (1 if latest.time() >= EVENING else 2)
    return first or begins, last or ends


def _enough(first: date, last: date, known: float) -> None:
    """Refuse a season of which there is nothing to say."""
    nights = (last - first).days + 1
    if nights < LEAST_NIGHTS:
        raise CannotAdvise(
            f"a season of {max(0, nights)} nights, {first:%Y-%m-%d} to {last:%Y-%m-%d}, tells nothing; "
            f"at least {LEAST_NIGHTS} nights of kept weather are needed"
        )
    if known < LEAST_KNOWN:
        raise CannotAdvise(
            f"of {first:%Y-%m-%d} to {last:%Y-%m-%d} the records know the weather of only {known:.0%} of the "
            f"hours; at least {LEAST_KNOWN:.0%} are needed, so ask for the time in which the weather was kept"
        )


@dataclass(frozen=True, eq=False)
class _AsItCame:
    """A sky that tells the weather that came. For a rule that asks no forecast it only sets how deep it runs."""

    truth: Weather

    def told_at(self, now: datetime) -> Weather:
        """What was and what is to come."""
        here = self.truth.index_at(now)
        back, ahead = (24 * days for days in TOLD_DAYS)
        begin, end = max(0, here - back), min(self.truth.hours, here + ahead)
        told = cut(self.truth, begin, end)
        members = np.tile(np.where(np.arange(begin, end) < here, np.nan, told.rain_mm), (3, 1))
        return replace(told, members_mm=members)


@dataclass(frozen=True, eq=False)
class _Way:
    """A way with what each zone went short of, (z,)."""

    told: OwnWay
    unmet_mm: Array


class _Ways:
    """Reckons ways up on one season's true lawn."""

    def __init__(self, season: Season) -> None:
        self.season, self.lawn, self.judged = season, season.lawn, season.judged
        self.areas = np.array([zone.area_m2 for zone in season.lawn.site.zones])

    def over_area(self, by_zone: Array) -> float:
        """A mean over the area."""
        return round(float((by_zone * self.areas).sum() / self.areas.sum()), 3)

    def of_runs(self, way: OwnWayKind, runs: Sequence[Run]) -> _Way:
        """A way that is known by its runs."""
        water = self.lawn.water(runs)
        zones = len(self.areas)
        put_on = np.zeros(zones)
        for given in water.given:
            put_on[given.zone_index] += given.gross_mm
        unmet, owed = self._left(water.irrigation_mm)
        duties = duty_scores(self.season, water)
        counted = (duties.count, duties.on_time) if duties.count else (None, None)
        return self._told(way, put_on, owed, unmet, (len(water.given) / zones, *counted))

    def of_clock(self, climate: Climate) -> _Way:
        """The clock as its sheet says, whatever falls."""
        clock = Clock(self.lawn, climate, rain_stop=False, scales=(1.0,))
        irrigation, runs = watered_by(self.season, clock, None)
        put_on = gross(self.lawn) * irrigation[:, 0].sum(axis=1)
        unmet, owed = self._left(irrigation[:, 0])
        return self._told(OwnWayKind.CLOCK, put_on, owed, unmet, (float(runs[0]), None, None))

    def of_foresight(self, unmet_mm: Array) -> _Way:
        """Zone by zone the least water, with what is owed, that leaves no more unmet than `unmet_mm` (z,); where no
        course leaves as little, the one that leaves least."""
        zones = len(self.areas)
        put_on, owed, left, runs = (np.zeros(zones) for _ in range(4))
        for z in range(zones):
            points = foresight(replace(self.season, lawn=_one_zone(self.lawn, z)), PRICES)
            pairs = [(point.grass.unmet_mm, point.spent_mm) for point in points]
            for weight, point in zip(mixture(pairs, float(unmet_mm[z])), points, strict=True):
                put_on[z] += weight * point.water_mm
                owed[z] += weight * point.owed_mm
                left[z] += weight * point.grass.unmet_mm
                runs[z] += weight * point.runs
        return self._told(OwnWayKind.FORESIGHT, put_on, owed, left, (float(runs.mean()), None, None))

    def _left(self, irrigation_mm: Array) -> tuple[Array, Array]:
        """What each zone went short of, and what it is owed at the end, gross; (z,) each."""
        course = self.season.course(irrigation_mm[:, None])
        unmet = self.lawn.etc_mm[:, self.judged] - course.etc_actual_mm[:, 0]
        return np.asarray(unmet.sum(axis=1)), gross(self.lawn) * course.depletion_mm[:, 0, -1]

    def _told(
        self,
        way: OwnWayKind,
        put_on: Array,
        owed: Array,
        unmet: Array,
        counts: tuple[float, int | None, int | None],
    ) -> _Way:
        price = self.season.site.supply.water_cost_per_m3
        litres, owed_litres = (float((mm * self.areas).sum()) for mm in (put_on, owed))
        told = OwnWay(
            way=way,
            litres=round(litres, 1),
            water_mm=self.over_area(put_on),
            owed_litres=round(owed_litres, 1),
            owed_mm=self.over_area(owed),
            unmet_mm=self.over_area(unmet),
            runs=round(counts[0], 2),
            cost=round(litres / 1000.0 * price, 2) if price else None,
            cost_with_owed=round((litres + owed_litres) / 1000.0 * price, 2) if price else None,
            products=counts[1],
            on_time=counts[2],
        )
        return _Way(told, unmet)


def _beside(mine: _Way, zones: Sequence[str], other: _Way) -> OwnWay:
    """Another way with how it stands to the season as it was."""
    shorter = tuple(
        name for name, more in zip(zones, other.unmet_mm - mine.unmet_mm, strict=True) if more > ALIKE_MM
    )
    more = other.told.water_mm + other.told.owed_mm - mine.told.water_mm - mine.told.owed_mm
    beside = WaterBeside.MORE if more > 0 else WaterBeside.LESS
    if abs(more) < ALIKE_MM:
        beside = WaterBeside.AS_MUCH
    if (
        shorter and other.told.way is OwnWayKind.FORESIGHT
    ):  # which is nothing but the least water for as good grass
        beside = WaterBeside.NOT_COMPARABLE
    return other.told.model_copy(update={"beside": beside, "shorter_zones": shorter})


def _one_zone(lawn: TrueLawn, z: int) -> TrueLawn:
    """The lawn of one zone alone."""
    part = slice(z, z + 1)
    return replace(
        lawn,
        site=replace(lawn.site, zones=lawn.site.zones[part]),
        ground=replace(lawn.ground, figures=lawn.ground.figures[part]),
        etc_mm=lawn.etc_mm[part],
        p=lawn.p[part],
        taw_mm=lawn.taw_mm[part],
        net_mm=lawn.net_mm[part],
        runoff_mm=lawn.runoff_mm[part],
    )
