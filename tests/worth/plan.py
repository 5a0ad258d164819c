"""Which seasons the bench lives: places, years, seeds, forecasts, dials and rules, as jobs."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import time, timedelta
from functools import lru_cache
from pathlib import Path

import numpy as np
from worth.open_data import OpenYear, open_year
from worth.places import Part as For
from worth.places import worth, years_of

from advisor.advice import ClimateBasis, ClimateKind, CountedRain
from advisor.lawn import Decision, Site, load_site
from advisor.replay.job import Job, Part
from advisor.replay.made_forecast import RECIPES, Recipe
from advisor.replay.season import at_local
from advisor.soil_water.reference_et import daily_reference_et
from advisor.soil_water.usual_year import LENGTHS, Climate, Month, counted_by_day
from advisor.weather import cut

LAWN = Path(__file__).with_name("lawn.yaml")
TWICE_A_WEEK = frozenset({1, 5})  # Tuesday and Saturday, as many towns have it
HONEST, PRODUCTS, TUNING = "honest", "products", "tuning"
RUN_IN_DAYS = 36
TURF = (Part.OURS, Part.RULES, Part.BOUND)


@dataclass(frozen=True, slots=True)
class Case:
    """One season to live: to which group of the table it belongs, where and when, and by which seed."""

    group: str
    place: str
    year: int
    seed: int

    @property
    def key(self) -> str:
        """Its name among all jobs."""
        return f"{self.group} | {self.place} | {self.year} | {self.seed}"


def case_of(key: str) -> Case:
    """The case of a job's key."""
    group, place, year, seed = key.split(" | ")
    return Case(group, place, int(year), int(seed))


def whole_table() -> list[Case]:
    """All cases of the table, those of every seed first."""
    seeds: Sequence[int] = worth()["seeds"]
    said = worth()["bench"]
    judging = years_of("judging")
    cases = [Case(HONEST, *season, seed) for season in judging for seed in seeds]
    cases += [Case(TUNING, *season, 1) for season in years_of("tuning")]
    cases += [Case(PRODUCTS, *season, seed) for season in judging for seed in seeds[: said["products_seeds"]]]
    few = [(place, year) for place, year in judging if [place, year] in said["few_seasons"]]
    groups = [name for name in RECIPES if name != HONEST] + ["thrifty", "cautious", "two days a week"]
    cases += [Case(group, *season, 1) for group in groups for season in few]
    return cases


def jobs_of(cases: Iterable[Case]) -> Iterator[Job]:
    """The jobs of the cases."""
    for case in cases:
        yield job_of(case)


def job_of(case: Case) -> Job:
    """What is to be worked out for a case."""
    year = open_year(case.place, case.year, case.seed)
    site, recipe = site_at(year), RECIPES.get(case.group, RECIPES[HONEST])
    parts: tuple[Part, ...] = TURF
    if case.group == TUNING:
        parts = (Part.RULES,)
    elif case.group == PRODUCTS:
        parts = (Part.DUTY_NIGHTS, Part.DUTY_RULES)
    elif case.group in ("thrifty", "cautious"):
        site = replace(site, decision=Decision(case.group))
    elif case.group == "two days a week":
        site = replace(site, rules=replace(site.rules, weekdays=TWICE_A_WEEK))
    return Job(
        key=case.key,
        site=site,
        truth=year.weather,
        first=year.first,
        last=year.last,
        recipe=recipe,
        seed=case.seed,
        parts=parts,
        with_rounds=case.group == PRODUCTS,
        climate=usual_year_of(case.place),
    )


SMALL = (
    Case(HONEST, "Seattle", 2015, 1),
    Case(HONEST, "New York EWR", 2013, 1),
    Case(TUNING, "Seattle", 2012, 1),
    Case(PRODUCTS, "New York JFK", 2013, 1),
)
"""The small fixed part of the table that the tests make again: `short` seasons of these cases."""


def short(job: Job, *, after_days: int = 60, days: int = 24, members: int = 11) -> Job:
    """A stretch in the middle of a season, with fewer members and as many days of weather before it as whole
    seasons have."""
    recipe: Recipe = replace(job.recipe, members=min(members, job.recipe.members))
    first = job.first + timedelta(days=after_days)
    begins = job.truth.index_at(at_local(job.site, first - timedelta(days=RUN_IN_DAYS), time(0)))
    return replace(
        job,
        truth=cut(job.truth, begins, job.truth.hours),
        first=first,
        last=first + timedelta(days=days - 1),
        recipe=recipe,
    )


@lru_cache
def lawn() -> Site:
    """The invented lawn of the bench."""
    return load_site(LAWN)


def site_at(year: OpenYear) -> Site:
    """The lawn of the bench moved to a place."""
    site = lawn()
    place = replace(
        site.place,
        latitude_deg=year.latitude_deg,
        longitude_deg=year.longitude_deg,
        elevation_m=year.elevation_m,
        zone=year.time_zone,
    )
    return replace(site, place=place)


@lru_cache
def usual_year_of(place: str) -> Climate:
    """The usual year of a place by all its seasons, for tuning and for judging alike: so a clock here knows more than
    one ever does. Months outside the season stand at nothing."""
    parts: tuple[For, ...] = ("tuning", "judging")
    years = [open_year(name, year) for part in parts for name, year in years_of(part) if name == place]
    eto: list[list[float]] = [[] for _ in range(12)]
    rain: list[list[float]] = [[] for _ in range(12)]
    for year in years:
        demand = daily_reference_et(year.weather, year.time_zone)
        begins = np.flatnonzero(np.diff(demand.day_index, prepend=-1))
        fell = np.add.reduceat(year.weather.rain_mm, begins)
        month = demand.days.astype("datetime64[M]").astype(np.int64) % 12
        for d in np.flatnonzero(np.isfinite(demand.eto_day_mm)):
            eto[month[d]].append(float(demand.eto_day_mm[d]))
            rain[month[d]].append(float(fell[d]))
    months = tuple(
        Month(
            month=i + 1,
            eto_mm_d=float(np.mean(eto[i])) if eto[i] else 0.0,
            rain_mm=float(np.mean(rain[i])) * LENGTHS[i] if rain[i] else 0.0,
            counted_mm=float(counted_by_day(np.array(rain[i])).mean()) * LENGTHS[i] if rain[i] else 0.0,
        )
        for i in range(12)
    )
    basis = ClimateBasis(kind=ClimateKind.HOURS, counted_rain=CountedRain.BY_DAY)
    return Climate(months=months, source=f"the seasons of {place}", basis=basis)
