"""Forecasts made from true weather, honest ones and ones that are wrong on purpose, for whole seasons.

A forecast of rain is honest if the truth could be one more of its members. It is made so, not fitted so:

1. `block_rain` gives every 6-hour block of the truth a hidden normal value z_b, autoregressive in b.
2. What is known of block b when it lies k blocks ahead is x_b(k) = z_b + n_b(k), where

       n_b(k) = Σ_{j = 0…k} √(v_j − v_{j−1}) · g_{b−j, j}        (v_{−1} = 0)

   and g are standard normal, fresh for each block b − j in which a forecast is issued, and correlated over
   j as z is over blocks. So the error of one block loses a part with every new issue and its variance is
   v_k: a forecast sharpens as the day nears, changes little from one evening to the next, and an older one
   knows nothing that the newest does not.
3. The members are draws of z given the x of all K blocks ahead, which are jointly normal:

       signal = C (C + N)⁻¹ x,   members = signal + L ξ_m,   L Lᵀ = C − C (C + N)⁻¹ C

   with C the covariance of z and N that of n over the K blocks. The truth itself is such a draw, so truth
   and members are exchangeable, as whole courses: in each block, a night, in three days.
4. v is found such that the correlation of signal and z in block k is exactly

       rho_k = skill · fade^((6 k + 3 − 12) / 24),   at most 0.995,

   the mean of the first day's blocks being about `skill`. A member's own correlation with the truth, or
   with another member, is rho_k².
5. ξ stays with member and block from issue to issue, so that a later forecast is the earlier one, sharper.
   Hidden values become amounts by the climate of the place, and amounts become hours by real blocks.

What is wrong on purpose leaves each member's own climate as it is, but for `wet`:

- spread s < 1, too sharp: members = signal + L (√(1 − s²) ξ_0 + s ξ_m), with ξ_0 in all members alike. They
  crowd round a wrong place.
- spread s > 1, too wide: only signal / s shows, and noise makes up for the rest.
- skill 0, or not `known`: the members know the climate alone.

What the members know besides is the climate, which is the truth's own. Two limits: courses are as alike as
one autoregressive course can make them, so a truth whose spells and amounts hang together in another way
ranks a little unevenly in totals of several days a week ahead (three dry days too rare by an eighth in
one invented place, by a twentieth in real hours of New York); and the hours at a seam of two blocks are
strangers to each other.

A forecast is issued anew in every block, as services run their models every six hours, and the block that
has begun is told as if it had not. Blocks begin at 02, 08, 14 and 20 of the local summer or winter time of
the middle of the truth. All recipes of one seed share their noise, so that two of them can be compared
night by night.

Temperature, dew point, wind, radiation and cloud ahead are the truth, pulled toward the mean of its own
hours of that time of year by 5 % a day, plus a smooth error that shrinks from issue to issue as that of
the rain does. The whole error of the temperature is about 1 °C on the first day, rising to 3 °C on the
seventh and 3.5 °C at most; of wind about 15 % and of radiation about 8 % a °C of that. Skill, fade and
these errors are our judgement of what services reach, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta, tzinfo
from types import MappingProxyType
from typing import Any

import numpy as np

from advisor.errors import CannotAdvise
from advisor.replay.air_ahead import AirAhead
from advisor.replay.block_rain import BLOCK_H, PER_DAY, YEAR_DAYS, BlockRain, block_rain
from advisor.replay.sharpening import issue_errors, issued
from advisor.science.snow import split
from advisor.weather import Array, SourceUse, Weather, cut, joined, usual_weather

SOURCE = "made forecast"
WET_HOUR_MM = 0.1
MOST_RHO = 0.995
FIRST_LOCAL_H = 20  # a block begins with the evening's advice
ROUNDS = 60


@dataclass(frozen=True, slots=True)
class Recipe:
    """How a forecast is made from the truth, and what is wrong with it on purpose.

    `members` of them, or 0: no service answers, and the program's own stand-in for a forecast is told, the
    days of the last weeks as usual. `days` ahead. `skill` is the correlation of the hidden signal and the
    truth on the first day, which keeps `fade` of itself a day; 1 is a perfect forecast, the truth in every
    member and in the air. `spread` 1 is honest, below too sharp, above too wide. `wet` is a factor on the
    members' amounts; all of their rain comes `late_h` hours late. Not `known`: no skill in the rain at all.
    `air_error` is a factor on the errors of temperature, wind and light. `past_noise` makes past rain a
    model's: each block of it is multiplied by a factor of mean 1 with this deviation of its logarithm.
    """

    name: str
    members: int = 31
    days: int = 10
    skill: float = 0.85
    fade: float = 0.88
    spread: float = 1.0
    wet: float = 1.0
    late_h: int = 0
    known: bool = True
    air_error: float = 1.0
    past_noise: float = 0.0

    def __post_init__(self) -> None:
        if not (0.0 <= self.skill <= 1.0 and 0.0 < self.fade <= 1.0):
            raise ValueError(f"skill {self.skill} and fade {self.fade} of {self.name!r} must lie in 0–1")
        if self.spread <= 0.0 or min(self.wet, self.air_error, self.past_noise) < 0.0:
            raise ValueError(f"spread, wet and noise of {self.name!r} must not be negative, spread not 0")
        if self.late_h < 0 or self.members < 0 or self.days < 1:
            raise ValueError(f"{self.name!r} needs late_h and members from 0 and days from 1 on")

    @property
    def perfect(self) -> bool:
        """Whether the truth itself is told."""
        return self.known and self.skill == 1.0


RECIPES: Mapping[str, Recipe] = MappingProxyType(
    {
        recipe.name: recipe
        for recipe in (
            Recipe("honest"),
            Recipe("too sharp", spread=0.35),
            Recipe("too wide", spread=2.0),
            Recipe("wet", wet=2.0),
            Recipe("dry", wet=0.5),
            Recipe("late", late_h=6),
            Recipe("no skill", known=False),
            Recipe("perfect", skill=1.0, fade=1.0, air_error=0.0),
            Recipe("none", members=0),
        )
    }
)


class MadeForecasts:
    """What a service that foretells by `recipe` would have told at any moment of the `truth`.

    The truth is hourly and has every hour's rain. The same seed gives the same forecasts, and those of two
    recipes the same noise where they have as many members and days. Raises ValueError where rain is unknown.
    """

    def __init__(self, truth: Weather, *, recipe: Recipe, seed: int, local: tzinfo) -> None:
        if not np.isfinite(truth.rain_mm).all():
            raise ValueError("forecasts can be made only from a truth that knows the rain of every hour")
        hidden, told, own, hours, air, past = (
            np.random.default_rng(child) for child in np.random.SeedSequence(seed).spawn(6)
        )
        self.truth, self.recipe, self.local = truth, recipe, local
        ahead = PER_DAY * recipe.days + 1
        year_day = (truth.starts.astype("datetime64[D]") - truth.starts.astype("datetime64[Y]")).astype(int)
        self._rain = block_rain(
            rain_mm=truth.rain_mm,
            year_day=year_day,
            first=_first_block(truth, local),
            beyond=ahead,
            rng=hidden,
        )
        self._draws = _Draws.of(self._rain, recipe, ahead, told)
        self._own = own.standard_normal((len(self._rain.hidden), recipe.members + 1))
        self._lent = hours.random((len(self._rain.hidden), recipe.members))
        self._air = AirAhead.of(truth, year_day % YEAR_DAYS, self._rain.first, ahead, air)
        factor = np.exp(
            recipe.past_noise * past.standard_normal(len(self._rain.hidden)) - 0.5 * recipe.past_noise**2
        )
        block = np.clip((np.arange(truth.hours) - self._rain.first) // BLOCK_H, 0, None)
        self._past_factor = factor[block]

    def told_at(self, now: datetime, *, past_days: int = 31) -> Weather:
        """What the service tells at `now`: `past_days` whole local days back and the recipe's days ahead.

        The past is the truth. It ends where the truth does. For a recipe without members see `Recipe`. Raises CannotAdvise where
        the truth does not hold `now`, or has under 14 past days for the stand-in.
        """
        truth, recipe = self.truth, self.recipe
        first = truth.index_at(now)
        end = min(first + 24 * recipe.days, self._rain.first + BLOCK_H * len(self._rain.total_mm))
        if not self._rain.first + recipe.late_h <= first < end:
            raise CannotAdvise(f"the truth does not hold {now.astimezone(UTC):%Y-%m-%d %H:%M} UTC")
        midnight = (now - timedelta(days=past_days)).astimezone(self.local)
        begin = max(0, truth.index_at(midnight.replace(hour=0, minute=0, second=0, microsecond=0)))
        past = self._past(begin, first, now)
        if recipe.members == 0:
            return _as_usual(past, now)
        members = self._members(first, end)
        mean = members.mean(axis=0)
        air: dict[str, Any] = dict(self._air.told(first, end, recipe.air_error))
        coming = replace(
            cut(truth, first, end),
            **air,
            rain_mm=mean,
            chance=(members >= WET_HOUR_MM).mean(axis=0),
            eto_source_mm=np.full(end - first, np.nan),
            members_mm=members,
            rain_basis=np.full(end - first, "model", dtype=truth.rain_basis.dtype),
            sources=(
                SourceUse(
                    SOURCE, "everything", now.astimezone(UTC), truth.starts_at(end), members=recipe.members
                ),
            ),
            notes=(),
        )
        return joined(past, replace(coming, snow_mm=split(mean, coming.temp_c)[1]))

    def _past(self, begin: int, first: int, now: datetime) -> Weather:
        """The truth from hour `begin` up to hour `first`, as the service tells it."""
        truth, count = self.truth, first - begin
        factor = self._past_factor[begin:first]
        known = cut(truth, begin, first)
        return replace(
            known,
            rain_mm=known.rain_mm * factor,
            snow_mm=known.snow_mm * factor,
            chance=np.full(count, np.nan),
            eto_source_mm=np.full(count, np.nan),
            members_mm=np.zeros((0, count)),
            rain_basis=np.full(count, "model", dtype=truth.rain_basis.dtype),
            sources=(SourceUse(SOURCE, "past days", now.astimezone(UTC), truth.starts_at(first)),),
            notes=(),
        )

    def _members(self, first: int, end: int) -> Array:
        """Members (m, end − first), mm, from hour `first` on."""
        recipe, rain = self.recipe, self._rain
        if recipe.perfect:
            fell = self.truth.rain_mm[first - recipe.late_h : end - recipe.late_h] * recipe.wet
            return np.tile(fell, (recipe.members, 1))
        issue, offset = divmod(first - recipe.late_h - rain.first, BLOCK_H)
        ahead = np.arange(issue, issue + len(self._draws.signal))
        hidden = self._draws.hidden(issue, self._own[ahead])
        blocks = np.minimum(ahead, len(rain.total_mm) - 1)
        amounts = rain.amounts(blocks, hidden.T)
        by_hour = rain.by_hour(blocks, amounts, self._lent[ahead].T).reshape(recipe.members, -1)
        return recipe.wet * by_hour[:, offset : offset + end - first]


@dataclass(frozen=True, eq=False, slots=True)
class _Draws:
    """From what is known to the members' hidden values.

    `known` (n, k) is x of every block and lead; `signal` (k, k), `apart` (k, k) and `alike` (k, k) are what it,
    the members' own noise and the noise that they share are multiplied by.
    """

    known: Array
    signal: Array
    apart: Array
    alike: Array

    @classmethod
    def of(cls, rain: BlockRain, recipe: Recipe, ahead: int, rng: np.random.Generator) -> _Draws:
        """`ahead` blocks are foretold."""
        course = rain.correlation[np.abs(np.subtract.outer(np.arange(ahead), np.arange(ahead)))]
        draws = rng.standard_normal((len(rain.hidden) + ahead, ahead))
        if not recipe.known or recipe.skill == 0.0 or recipe.perfect:
            nothing = np.zeros((ahead, ahead))
            whole, known, signal, left = 1.0, np.zeros((len(rain.hidden), ahead)), nothing, course
        else:
            days = (BLOCK_H * (np.arange(ahead) + 0.5) - 12.0) / 24.0
            rho = np.minimum(recipe.skill * recipe.fade**days, MOST_RHO)
            variance = _variances(course, rho)
            errors = issue_errors(draws @ np.linalg.cholesky(course).T, variance, len(rain.hidden))
            known = rain.hidden[:, None] + errors
            signal = course @ np.linalg.inv(course + _error_covariance(variance, rain.correlation))
            left, whole = course - signal @ course, 1.0 / max(1.0, recipe.spread)
        noise = np.linalg.cholesky((1.0 - whole**2) * course + whole**2 * left)
        sharp = min(1.0, recipe.spread)
        return cls(
            known, whole * signal, np.asarray(sharp * noise), np.asarray(np.sqrt(1.0 - sharp**2) * noise)
        )

    def hidden(self, issue: int, own: Array) -> Array:
        """Hidden values (k, m) of what is issued in the block `issue`; `own` (k, m + 1), the shared one first."""
        told = self.signal @ issued(self.known, issue)
        return np.asarray((told + self.alike @ own[:, 0])[:, None] + self.apart @ own[:, 1:])


def _error_covariance(variance: Array, correlation: Array) -> Array:
    """The covariance N (k, k) of the errors of one issue, from the v of each lead: see the head of this room."""
    steps = np.sqrt(np.diff(variance, prepend=0.0))
    count = len(variance)
    out = np.empty((count, count))
    for lag in range(count):
        shared = correlation[lag] * np.cumsum(steps[: count - lag] * steps[lag:])
        at = np.arange(count - lag)
        out[at, at + lag] = out[at + lag, at] = shared
    return out


def _variances(course: Array, rho: Array) -> Array:
    """The rising v (k,) for which signal and truth have the correlation `rho` (k,) in every block ahead."""
    wanted = 1.0 / rho**2 - 1.0
    variance = wanted.copy()
    for _ in range(ROUNDS):
        both = course + _error_covariance(variance, course[0])
        explained = np.clip(np.einsum("ij,ji->i", course, np.linalg.solve(both, course)), 1e-9, 1.0 - 1e-9)
        variance = np.maximum.accumulate(variance * wanted / (1.0 / explained - 1.0))
    return np.asarray(variance)


def _first_block(truth: Weather, local: tzinfo) -> int:
    """The first hour of the truth with which a block begins."""
    offset = truth.starts_at(truth.hours // 2).astimezone(local).utcoffset()
    hours = round(offset.total_seconds() / 3600.0) if offset is not None else 0
    return (FIRST_LOCAL_H - hours - truth.starts_at(0).hour) % BLOCK_H


def _as_usual(past: Weather, now: datetime) -> Weather:
    """The `past` and the program's own stand-in where no service answers, joined."""
    usual = usual_weather(past, now, now)
    if usual is None:
        raise CannotAdvise("there are too few past days to stand in for a forecast")
    return joined(past, usual)
