"""What a season came to: its water, what the grass went short of, and whether products got their water in time.

All depths are means over the zones, weighted by nothing, in mm a season; the truth is the true lawn's.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import timedelta

import numpy as np

from advisor.advice import hand_moves
from advisor.lawn import Application, Records
from advisor.replay.season import Lived, Season, truly_given
from advisor.replay.true_lawn import gross
from advisor.science.balance import Balance
from advisor.soil_water import Water, irrigation_by_hour
from advisor.watering_in import ZoneApplication, zone_applications
from advisor.weather import Array

TINY_MM = 0.05  # deeper past the allowance than this counts as a day past it
MOMENT = timedelta(minutes=1)


@dataclass(frozen=True, slots=True)
class GrassScores:
    """What the grass had of a season.

    `demand_mm` potential evapotranspiration, `unmet_mm` the part that the turf went short of;
    `days_past` the share of days on which depletion passed the allowance, `past_mm` how far on the mean day;
    `drained_mm` water that went below the roots, `runoff_mm` rain that ran off.
    """

    demand_mm: float
    unmet_mm: float
    days_past: float
    past_mm: float
    drained_mm: float
    runoff_mm: float


@dataclass(frozen=True, slots=True)
class DutyScores:
    """What became of the products that had to be watered in, counted by product and zone.

    `on_time`: had their least depth by the due time; `by_rain` those of them by rain alone; `needless`: it
    was watered before it had its least depth, though rain alone would have done it in time; `false_waits`: not on
    time and not watered;
    `past_most`: had more water than it bears.
    """

    count: int
    on_time: int
    by_rain: int
    needless: int
    false_waits: int
    past_most: int


@dataclass(frozen=True, slots=True)
class Scores:
    """A season in numbers.

    `water_mm` is gross; `owed_mm` the water that the soil was left short of at the end, which whoever compares
    adds to it; `looks` counts by local hour 0–23; `hand_moves` counts what a person does by hand, every start, move and
    turning off on the whole lawn; plain rules plan none.
    """

    nights: int
    water_mm: float
    owed_mm: float
    runs: float
    hand_moves: int
    looks: tuple[int, ...]
    refused: int
    grass: GrassScores
    duties: DutyScores

    @property
    def spent_mm(self) -> float:
        """Its water with what it owes: what is to be compared."""
        return self.water_mm + self.owed_mm


def scores(season: Season, lived: Lived) -> Scores:
    """What a season that was lived came to on the true lawn."""
    lawn = season.lawn
    runs = truly_given(season.site, lawn, lived.runs)
    water = lawn.water(runs)
    course = season.course(water.irrigation_mm[:, None])
    zones = len(lawn.site.zones)
    looks = [0] * 24
    for at in lived.looks:
        looks[at.astimezone(season.site.place.zone).hour] += 1
    return Scores(
        nights=(season.last - season.first).days + 1,
        water_mm=sum(given.gross_mm for given in water.given) / zones,
        owed_mm=float((gross(lawn) * course.depletion_mm[:, 0, -1]).mean()),
        runs=len(runs) / zones,
        hand_moves=len(hand_moves(lived.planned)),
        looks=tuple(looks),
        refused=len(lived.refused),
        grass=grass_of(season, course)[0],
        duties=duty_scores(season, water),
    )


def grass_of(season: Season, course: Balance) -> tuple[GrassScores, ...]:
    """What the grass had by every member of a course (z, m, h) over the hours that are judged."""
    lawn, judged = season.lawn, season.judged
    depletion = course.depletion_mm
    etc = lawn.etc_mm[:, None, judged]
    unmet = (etc - course.etc_actual_mm).sum(axis=2)
    drained = course.percolation_mm.sum(axis=2)
    past = _by_day(depletion - lawn.allowed_mm[:, None, judged])
    past = np.maximum(past, 0.0)
    zones = len(lawn.taw_mm)
    return tuple(
        GrassScores(
            demand_mm=float(etc.sum()) / zones,
            unmet_mm=float(unmet[:, m].mean()),
            days_past=float((past[:, m] > TINY_MM).mean()),
            past_mm=float(past[:, m].mean()),
            drained_mm=float(drained[:, m].mean()),
            runoff_mm=float(lawn.runoff_mm[:, judged].sum()) / zones,
        )
        for m in range(depletion.shape[1])
    )


def _by_day(values: Array) -> Array:
    """The highest value of every 24 hours, (z, m, d)."""
    days = values.shape[2] // 24
    return np.asarray(values[:, :, : 24 * days].reshape(*values.shape[:2], days, 24).max(axis=3))


def duty_scores(season: Season, water: Water) -> DutyScores:
    """What became of every product that had to be watered in on the true lawn, whose due time is judged."""
    dry = replace(water, irrigation_mm=np.zeros_like(water.irrigation_mm), given=())
    found = [0] * 6
    for application in season.applications:
        for one in _at_due(season, application, water):
            assert one.due_at is not None
            on_time = one.settled_at is not None
            rained = _by_rain(season, one, dry)
            watered = _watered_before(season, one, water)
            counted = (True, on_time, on_time and not watered, watered and rained)
            ends = (not on_time and not watered, one.lost_mm > 0)
            found = [n + int(is_so) for n, is_so in zip(found, (*counted, *ends), strict=True)]
    return DutyScores(*found)


def _at_due(season: Season, application: Application, water: Water) -> list[ZoneApplication]:
    """How one application stood on each zone, at the due time of each, where it asks for water."""
    lawn = season.lawn
    records = Records(applications=(application,))
    first, _ = zone_applications(
        site=lawn.site, records=records, weather=lawn.weather, water=water, now=application.ended_at + MOMENT
    )
    due = {one.due_at for one in first if one.due_at is not None and one.due_at <= season.ends_at}
    found: list[ZoneApplication] = []
    for at in sorted(due):
        then, _ = zone_applications(
            site=lawn.site, records=records, weather=lawn.weather, water=water, now=at
        )
        found += [one for one in then if one.due_at == at]
    return found


def _by_rain(season: Season, one: ZoneApplication, dry: Water) -> bool:
    """Whether rain alone would have brought it its least depth in time."""
    assert one.due_at is not None
    alone, _ = zone_applications(
        site=season.lawn.site,
        records=Records(applications=(one.application,)),
        weather=season.lawn.weather,
        water=dry,
        now=one.due_at,
    )
    return any(each.zone == one.zone and each.settled_at is not None for each in alone)


def _watered_before(season: Season, one: ZoneApplication, water: Water) -> bool:
    """Whether a run gave it water before it had its least depth or was due; water after that is the turf's."""
    assert one.due_at is not None
    until = one.settled_at or one.due_at
    given, _ = irrigation_by_hour(season.lawn.weather, water.given, one.zone_index, one.counts_from, until)
    return bool(given.sum() > 0.0)
