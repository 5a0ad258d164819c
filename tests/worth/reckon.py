"""From the results of many seasons to rows that can be compared, with their standard errors.

A comparison is one of pairs: the same season, the same seed. Seeds of one season are no separate years, so an error
is that of the mean over seasons (place and year), each of which is the mean over its seeds; where one season alone is
compared, it is that over its seeds.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import t as student

from advisor.replay.equal_unmet import mixture
from advisor.replay.job import Result
from advisor.replay.rivals import Point
from advisor.replay.scores import Scores

Season = tuple[str, int]


@dataclass(frozen=True, slots=True)
class Lived:
    """The result of one season and seed."""

    season: Season
    seed: int
    result: Result

    @property
    def ours(self) -> Scores:
        """What our season came to."""
        assert self.result.ours is not None
        return self.result.ours


@dataclass(frozen=True, slots=True)
class Mean:
    """A mean over seasons, the standard error of it, and over how many independent weathers it is."""

    mean: float
    error: float
    count: int

    def __str__(self) -> str:
        return f"{self.mean:.1f}" if np.isnan(self.error) else f"{self.mean:.1f} ± {self.error:.1f}"


def weather_of(season: Season) -> Season:
    """What counts as one weather: the two airports of New York lie under the same fronts."""
    place, year = season
    return ("New York", year) if place.startswith("New York") else season


def sure(count: int) -> float:
    """How many standard errors of a mean over so many values leave one case in forty above (Student's t)."""
    return float(student.ppf(0.975, max(count - 1, 1)))


def mean_of(lived: Sequence[Lived], value: Callable[[Lived], float]) -> Mean:
    """The mean over seasons of the mean over seeds."""
    by_weather: dict[Season, list[float]] = {}
    for each in lived:
        by_weather.setdefault(weather_of(each.season), []).append(value(each))
    means = np.array([np.mean(values) for values in by_weather.values()])
    spread = means if len(means) > 1 else np.array(next(iter(by_weather.values())))
    error = float(spread.std(ddof=1) / np.sqrt(len(spread))) if len(spread) > 1 else float("nan")
    return Mean(float(means.mean()), error, len(spread))


def water_of(each: Lived, run_mm: float = 0.0) -> float:
    """Our season's water with what the soil was left short of, and `run_mm` of water for the trouble of each run."""
    return each.ours.spent_mm + run_mm * each.ours.runs


def point_water(point: Point, run_mm: float = 0.0) -> float:
    """The same of a rule."""
    return point.spent_mm + run_mm * point.runs


def family_weights(lived: Sequence[Lived], family: str, run_mm: float) -> Mapping[str, float]:
    """The mixture of rules of a family that goes as short as ours on the mean of these seasons for the least water."""
    rules = [point.rule for point in lived[0].result.families[family]]
    mean = {
        rule: (
            mean_of(lived, lambda each, r=rule: _point(each, family, r).grass.unmet_mm).mean,
            mean_of(lived, lambda each, r=rule: point_water(_point(each, family, r), run_mm)).mean,
        )
        for rule in rules
    }
    unmet = mean_of(lived, lambda each: each.ours.grass.unmet_mm).mean
    weights = mixture([mean[rule] for rule in rules], unmet)
    return {rule: weight for rule, weight in zip(rules, weights, strict=True) if weight > 0}


@dataclass(frozen=True, slots=True)
class Mixed:
    """What the best mixture of a family came to at our unmet demand: its water, how much more than ours, its own
    unmet demand (which is more where no rule goes as little short as ours), its runs, and its rules."""

    water: Mean
    more: Mean
    unmet: Mean
    runs: Mean
    rules: str


def at_equal_unmet(lived: Sequence[Lived], family: str, run_mm: float = 0.0) -> Mixed:
    """The best mixture of a family at our unmet demand."""
    weights = family_weights(lived, family, run_mm)

    def its(each: Lived, value: Callable[[Point], float]) -> float:
        return sum(w * value(_point(each, family, rule)) for rule, w in weights.items())

    def water(each: Lived) -> float:
        return its(each, lambda point: point_water(point, run_mm))

    return Mixed(
        water=mean_of(lived, water),
        more=mean_of(lived, lambda each: water(each) - water_of(each, run_mm)),
        unmet=mean_of(lived, lambda each: its(each, lambda point: point.grass.unmet_mm)),
        runs=mean_of(lived, lambda each: its(each, lambda point: point.runs)),
        rules=" and ".join(weights),
    )


def saved_share(lived: Sequence[Lived], family: str, bound: str, run_mm: float = 0.0) -> Mean:
    """How much of the way from a family to the bound ours goes at equal unmet demand: 0 as the family, 1 as the
    bound; season by season, by the family's and the bound's best mixtures over all of them."""
    ours, best = (family_weights(lived, name, run_mm) for name in (family, bound))

    def mixed(each: Lived, name: str, weights: Mapping[str, float]) -> float:
        return sum(w * point_water(_point(each, name, rule), run_mm) for rule, w in weights.items())

    by_weather: dict[Season, list[tuple[float, float]]] = {}
    for each in lived:
        top = mixed(each, family, ours)
        by_weather.setdefault(weather_of(each.season), []).append(
            (top - water_of(each, run_mm), top - mixed(each, bound, best))
        )
    pairs = np.array([np.mean(each, axis=0) for each in by_weather.values()])
    gain, room = pairs.sum(axis=0)
    if len(pairs) < 2:
        return Mean(float(gain / room), float("nan"), len(pairs))
    without = np.array(
        [(gain - g) / (room - r) for g, r in pairs]
    )  # the jackknife: each weather left out in turn
    count = len(pairs)
    error = float(np.sqrt((count - 1) / count * ((without - without.mean()) ** 2).sum()))
    return Mean(float(gain / room), error, count)


def _point(each: Lived, family: str, rule: str) -> Point:
    return next(point for point in each.result.families[family] if point.rule == rule)


@dataclass(frozen=True, slots=True)
class Prices:
    """What an owner pays, in mm of water: for demand unmet a mm, for a run of a zone, for a look by day and by night."""

    unmet: float = 3.0
    run: float = 1.0
    look: float = 0.5
    night_look: float = 3.0

    def of_ours(self, scores: Scores) -> float:
        """What our season cost."""
        by_day = sum(scores.looks[7:22])
        looks = self.look * by_day + self.night_look * (sum(scores.looks) - by_day)
        return scores.spent_mm + self.unmet * scores.grass.unmet_mm + self.run * scores.runs + looks

    def of_rule(self, point: Point) -> float:
        """What a rule's season cost; it never looks."""
        return point.spent_mm + self.unmet * point.grass.unmet_mm + self.run * point.runs


def best_rule(tuning: Sequence[Lived], family: str, prices: Prices) -> str:
    """The rule of a family that costs least on the seasons for tuning."""
    rules = [point.rule for point in tuning[0].result.families[family]]
    return min(rules, key=lambda rule: cost_of(tuning, family, rule, prices))


def cost_of(lived: Sequence[Lived], family: str, rule: str, prices: Prices) -> float:
    """What a rule costs on the average over these seasons."""
    return mean_of(lived, lambda each: prices.of_rule(_point(each, family, rule))).mean


def cost_more(judging: Sequence[Lived], family: str, rule: str, prices: Prices) -> Mean:
    """How much more a rule costs than ours, season by season."""
    return mean_of(
        judging, lambda each: prices.of_rule(_point(each, family, rule)) - prices.of_ours(each.ours)
    )
