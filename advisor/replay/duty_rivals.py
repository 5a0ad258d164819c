"""A season lived by plain rules for what is to be watered in, with a rule of the turf beside it.

Such an owner knows what ours knows, and of the turf the true depletion; where water is due for a product
the run is as deep as ours would be and comes at the first allowed moment.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

import numpy as np

from advisor.advice import Action
from advisor.errors import CannotAdvise
from advisor.lawn import Records, Run
from advisor.replay.nights import season_nights, within_the_night
from advisor.replay.past_nights import RUNS_BELOW, raw_chance
from advisor.replay.rivals import Family, told_evening
from advisor.replay.season import Diary, Lived, Season, Sky
from advisor.schedule import length_for
from advisor.tonight import decide_night, lawn_state, what_is_asked
from advisor.weather import Array


@dataclass(frozen=True, slots=True)
class _Due:
    """A run that a rule wants for a product."""

    zone: int
    at: datetime
    depth_mm: float


def live_by_rules(season: Season, sky: Sky, *, turf: Family, duty: str) -> Lived:
    """A season by the first rule of a family for the turf and by one of `RUNS_BELOW` for products."""
    return _RuleOwner(season, sky, turf, duty).live()


class _RuleOwner:
    """Keeps the same diary as ours, and decides by rules."""

    def __init__(self, season: Season, sky: Sky, turf: Family, duty: str) -> None:
        self.season, self.sky, self.turf, self.duty = season, sky, turf, duty
        self.diary = Diary(season, sky)

    def live(self) -> Lived:
        """The whole season."""
        lawn = self.season.lawn
        nights = season_nights(self.season)
        zones = len(lawn.taw_mm)
        state = np.zeros((zones, 1))
        self.turf.begin()
        ends = [*(night.at for night in nights), self.season.ends_at]
        for night, (now, until) in zip(nights, pairwise(ends), strict=True):
            self.diary.read_gauge(now)
            due, dry_until = self.due(now, until)
            depth = np.zeros((zones, 1))
            if night.run is not None:
                evening = told_evening(lawn, night, state, self.sky if self.turf.hears else None)
                depth = within_the_night(lawn, self.turf.depths(evening), night.minutes)
                run_at = lawn.weather.starts_at(night.run)
                for zone, kept_dry in dry_until.items():
                    depth[zone] = 0.0 if kept_dry > run_at else depth[zone]
            self.run(due, depth, lawn.weather.starts_at(night.run or night.asked))
            hours = slice(night.asked, night.until)
            water = lawn.water(self.diary.lived.runs).irrigation_mm[:, None, hours]
            state = lawn.course(water, start_mm=state, hours=hours).depletion_mm[:, :, -1]
        return self.diary.lived

    def due(self, now: datetime, until: datetime) -> tuple[dict[int, _Due], Mapping[int, datetime]]:
        """The runs before the next evening that the rule wants for products, and until when zones stay dry."""
        records = self.diary.records(now)
        if not records.applications:
            return {}, {}
        dry = self.dry_until(records)
        if RUNS_BELOW[self.duty] <= 0.0:  # never run: what is open need not be known
            return {}, dry
        try:
            records, weather = self.diary.known(now, learns=False)
            lawn = lawn_state(site=self.season.site, records=records, weather=weather, now=now)
        except CannotAdvise:  # an evening without a forecast
            return {}, dry
        found: dict[int, _Due] = {}
        if any(one.is_open for one in lawn.applications):
            decided = decide_night(lawn, what_is_asked(lawn), plans=False)
            for one, choice in decided.decided:
                if choice is None or choice.expected_loss.run_at is None:
                    continue
                at, chance = choice.expected_loss.run_at, raw_chance(weather, choice.expected_loss)
                if at < until and chance < RUNS_BELOW[self.duty]:
                    ways = [w.top_up_mm for w in choice.ways if w.action == Action.RUN]
                    before = found.get(one.zone_index)
                    depth = max([*ways, before.depth_mm if before is not None else 0.0])
                    found[one.zone_index] = _Due(one.zone_index, at, depth)
        return found, dry

    def dry_until(self, records: Records) -> Mapping[int, datetime]:
        """Until when zones stay dry, by the times of what was put down."""
        site = self.season.site
        found: dict[int, datetime] = {}
        index = {zone.name: i for i, zone in enumerate(site.zones)}
        for one in records.applications:
            ends = one.ended_at + timedelta(hours=site.products[one.product].kind.dry_h)
            for zone in one.zones:
                found[index[zone]] = max(ends, found.get(index[zone], ends))
        return found

    def run(self, due: Mapping[int, _Due], turf_mm: Array, run_at: datetime) -> None:
        """Make the runs: for the turf and for a product on one zone the deeper of the two does both."""
        site, figures = self.season.site, self.season.lawn.ground.figures
        for zone in range(len(figures)):
            wanted = due.get(zone)
            depth = float(turf_mm[zone, 0])
            at = run_at if wanted is None else wanted.at
            depth = depth if wanted is None else max(depth, wanted.depth_mm)
            if depth <= 0:
                continue
            length = length_for(depth, figures[zone])
            self.diary.lived.runs.append(
                Run(
                    zone=site.zones[zone].name,
                    started_at=at,
                    ended_at=at + max(length.takes, timedelta(minutes=1)),
                    minutes=length.minutes,
                    depth_mm=depth * figures[zone].multiplier,
                    id=len(self.diary.lived.runs) + 1,
                )
            )
