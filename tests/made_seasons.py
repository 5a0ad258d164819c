"""Invented seasons for tests: a truth of some weeks with bursts of rain, and the lawn and evenings in it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time

import numpy as np
from made import CHICAGO, made_site, made_weather, made_zone

from advisor.lawn.products import Product
from advisor.lawn.site_values import Round, Site
from advisor.lawn.tables import kind_table
from advisor.replay.made_forecast import RECIPES, MadeForecasts, Recipe
from advisor.replay.season import Season, applications_of
from advisor.replay.true_lawn import true_lawn
from advisor.weather.weather import Array, Weather

FIRST, LAST = date(2026, 6, 15), date(2026, 7, 14)
HONEST = replace(RECIPES["honest"], members=7, days=5)


def made_truth(*, seed: int = 1, bursts: int = 18, rain_mm: Array | None = None) -> Weather:
    """Hot weeks from April to July with `bursts` of a few hours of rain in the 75 days, or with this rain (h,)."""
    end = datetime.combine(date(2026, 7, 16), time(20), CHICAGO)
    truth = made_weather(now=end, past_days=80, ahead_days=12)
    rng = np.random.default_rng(seed)
    rain = np.zeros(truth.hours)
    for _ in range(bursts):
        begin, long = int(rng.integers(0, truth.hours - 8)), int(rng.integers(1, 7))
        rain[begin : begin + long] += rng.gamma(0.8, 9.0) / long
    fell = rain if rain_mm is None else rain_mm
    return replace(truth, rain_mm=fell, members_mm=np.zeros((0, truth.hours)))


def two_zones(**changes: object) -> Site:
    """A front on loam with a rotor and a side on sand with a fixed spray, invented."""
    side = made_zone("Side", exposure=0.8, uniformity=0.6)
    return made_site(made_zone("Front"), side, **changes)


def with_products(site: Site, *kinds: str, every_days: int = 14) -> Site:
    """The same with a round of every one of these kinds."""
    products = {kind: Product(kind, kind_table()[kind]) for kind in kinds}
    return replace(
        site,
        products=products,
        rounds=tuple(Round(kind, (kind,), every_days) for kind in kinds),
    )


def made_season(
    site: Site | None = None, *, truth: Weather | None = None, first: date = FIRST, last: date = LAST
) -> Season:
    """A month of evenings in that truth, with the rounds of the site."""
    site = site or two_zones()
    lawn = true_lawn(site, truth or made_truth())
    return Season(site, lawn, first, last, applications_of(site, lawn, first, last))


def made_sky(season: Season, recipe: Recipe = HONEST, seed: int = 1) -> MadeForecasts:
    """Forecasts made from the truth of a season."""
    return MadeForecasts(season.lawn.weather, recipe=recipe, seed=seed, local=season.site.place.zone)
