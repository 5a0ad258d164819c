"""From ensemble members to an honest chance of rain: counts, calibration, reliability.

Ensembles of rain are overconfident: when every member is dry it still rains now and then. The
calibration is a heteroscedastic logistic regression, left-censored at zero, on the root of the
rain (Messner, Mayr, Wilks and Zeileis 2014, Monthly Weather Review 142, 3003–3014, from memory):

    √rain ~ logistic(location, scale), what falls below zero is a dry period
    location = a + b · √mean
    scale    = c + d · r,    r = spread / (2 · √(mean + 3 mm))

`r` is about the spread of the root of the rain (first order; the 3 mm keep it small where next to
nothing is foretold). It departs from the source, which takes the log scale linear in the spread of the
members' roots: mean and spread of the rain itself are what the records keep. On the Innsbruck archive
(tests/published) `r` explained the misses while the bare spread in any form did not; a linear scale
fitted as well as a logarithmic one and reads as "a floor, plus a share of the members' own spread".

Two laws follow from b ≥ 0, c > 0 and d ≥ 0. At the same mean a wider ensemble never takes a chance
further away from one half. The same extra rain in every member, or every member multiplied by one
factor above 1, never lowers the chance of at least x where a + 0.62 b ≤ √x ≤ a + 4.8 b (0.1 to 20 mm by
the default): there the location outruns the scale. Rain added unevenly can narrow an ensemble, and then
a far tail may rightly shrink.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

DAY_H = 24
TRACE_MM = 0.1
_ROUNDING_MM = 1e-9
_LEAST_SCALE = 0.15


@dataclass(frozen=True, slots=True)
class Calibration:
    """The four coefficients (√mm) and what they rest on.

    `pairs` of forecast against gauge were used; `weight` 0–1 is their share against the default's;
    `default` is True where no pair was there at all.
    """

    a: float
    b: float
    c: float
    d: float
    pairs: int = 0
    weight: float = 0.0
    default: bool = False

    @property
    def is_identity(self) -> bool:
        """Whether members are left as they are."""
        return self.c == 0.0 and self.d == 0.0


PLACE = (-0.3, 1.0)
"""`a` and `b` that keep the forecast's place: those that foretell one member of the Innsbruck archive from its
ten fellows (−0.30 and 1.01), so the location is the members' own."""


@dataclass(frozen=True, slots=True)
class Prior:
    """What is used until there are pairs, and how slowly it gives way to them (see `fit`).

    With `half_weight_pairs` pairs the site's own curve and this one have equal say; inside the likelihood
    it counts for `made_up_pairs`, so that the fit cannot run away.
    """

    curve: Calibration
    half_weight_pairs: float
    made_up_pairs: float


def usual_curve(c: float, d: float) -> Calibration:
    """The curve until there are pairs: it keeps the forecast's place and trusts it less.

    `c` and `d` are judged (data/judgement.csv): wide enough that the curve is wider than the members (in
    roots) on 99.9 % of the Innsbruck archive's days, by half as a rule, and still narrower than what that
    archive itself asks for (days 5 to 8 in the Alps). 31 dry members leave a chance of 2 % for 1 mm and of
    0.1 % for 5 mm. Widening what cannot go below zero adds a little rain: 8 % on that archive's mean.
    """
    return Calibration(a=PLACE[0], b=PLACE[1], c=c, d=d, pairs=0, weight=0.0, default=True)


IDENTITY = Calibration(a=0.0, b=1.0, c=0.0, d=0.0)
"""Leaves every member as it is."""


def mean_and_spread(totals: Array) -> tuple[float, float]:
    """Mean and sample standard deviation (mm) of the known totals, shape (m,).

    The pairs in the records and the calibration must use the same spread: this one. One member has
    spread 0; none has NaN for both.
    """
    known = totals[np.isfinite(totals)]
    if known.size == 0:
        return float("nan"), float("nan")
    return float(known.mean()), float(known.std(ddof=1)) if known.size > 1 else 0.0


def window_totals(members_mm: Array, first: int, last: int) -> Array:
    """Total of each member over the hours [first, last); members (m, h) → (m,), mm.

    A member with an unknown hour in the window, or a window that leaves the series, gives NaN:
    unknown is not dry.
    """
    count, hours = members_mm.shape
    if first < 0 or last > hours:
        return np.full(count, np.nan)
    return np.asarray(members_mm[:, first:last].sum(axis=1), dtype=np.float64)


def share_of(holds: npt.NDArray[np.bool_]) -> float:
    """For what share of the members it holds, any one shape, 0–1; NaN of none."""
    return float(np.count_nonzero(holds) / holds.size) if holds.size else float("nan")


def chance_at_least(totals: Array, threshold_mm: float) -> float:
    """Share of the known members, shape (m,), with at least the threshold; NaN when none is known."""
    known = totals[np.isfinite(totals)]
    if known.size == 0:
        return float("nan")
    return share_of(known >= threshold_mm - _ROUNDING_MM)


def quantile(totals: Array, q: float) -> float:
    """The quantile q (0–1) of the known members, shape (m,), mm, linear between them; NaN when none is known.

    The same as numpy's own, which takes some fifty microseconds a call for a few members.
    """
    known = np.sort(totals[np.isfinite(totals)])
    if known.size == 0:
        return float("nan")
    place = q * (known.size - 1)
    below = int(place)
    above = min(below + 1, known.size - 1)
    return float(known[below] + (place - below) * (known[above] - known[below]))


def _root_spread(mean_mm: Array, spread_mm: Array) -> Array:
    """About the spread of the root of the rain, √mm: `r` of the head of this room."""
    return np.asarray(spread_mm / (2.0 * np.sqrt(mean_mm + 3.0)), dtype=np.float64)


def _location_and_scale(mean_mm: Array, spread_mm: Array, calibration: Calibration) -> tuple[Array, Array]:
    """Location and scale (√mm) for forecasts of these means and spreads, any one shape."""
    return calibration.a + calibration.b * np.sqrt(mean_mm), calibration.c + calibration.d * _root_spread(
        mean_mm, spread_mm
    )


def calibrated_chance(
    *, mean_mm: npt.ArrayLike, spread_mm: npt.ArrayLike, threshold_mm: float, calibration: Calibration
) -> Array:
    """Chance (0–1) of at least the threshold (> 0 mm), straight from the curve.

    Not bound to steps of one member, so it serves few members too. Any one shape; NaN stays NaN.
    """
    mean, spread = np.asarray(mean_mm, dtype=np.float64), np.asarray(spread_mm, dtype=np.float64)
    location, scale = _location_and_scale(mean, spread, calibration)
    z = (location - np.sqrt(threshold_mm)) / np.maximum(scale, 1e-9)
    return np.asarray(0.5 * (1.0 + np.tanh(0.5 * z)), dtype=np.float64)


def calibrate_members(
    *, members_mm: Array, calibration: Calibration, first: int = 0, block_h: int = DAY_H
) -> Array:
    """Members (m, h) in mm, with each block's totals moved onto the calibrated curve.

    From hour `first` on, in blocks of `block_h` hours (the hours that the calibration's pairs cover),
    the totals are replaced by the curve's quantiles at (i + ½)/m and given out in the order of the
    raw totals, so that each member keeps its place and its course from block to block (ensemble copula
    coupling: Schefzik, Thorarinsdottir and Gneiting 2013, Statistical Science 28, from memory). Each
    member's hours are rescaled to its new total. A member with less than 0.1 mm takes the hourly shape
    of the ensemble's mean, or an even one where all are dry.

    A block ends early where the set of known members changes and at the end of the series; a shorter
    block is calibrated at the same rain per hour. Equal totals are ranked by the total of the whole
    series, then by its hours from the first on, so the order of the members has no say. NaN stays NaN.
    """
    count, hours = members_mm.shape
    if calibration.is_identity or count == 0 or first >= hours:
        return members_mm.copy()
    filled_total = np.nansum(members_mm, axis=1)
    order = np.argsort(filled_total, kind="stable")
    if (np.diff(filled_total[order]) <= 0.0).any():  # of equal totals the hours decide
        order = np.lexsort(np.vstack([members_mm.T[::-1], filled_total[None]]))
    raw = members_mm[order]
    result = np.empty_like(members_mm)
    result[order] = np.hstack([raw[:, :first], _recast(raw[:, first:], calibration, block_h)])
    return result


def _recast(raw: Array, calibration: Calibration, block_h: int) -> Array:
    """`calibrate_members` for members already in their standing order, all hours, shape (m, h)."""
    hours = raw.shape[1]
    finite = np.isfinite(raw)
    new_block = np.arange(hours) % block_h == 0
    new_block[1:] |= (finite[:, 1:] != finite[:, :-1]).any(axis=0)
    begins = np.flatnonzero(new_block)
    lengths = np.diff(np.append(begins, hours))

    rain = np.where(finite, raw, 0.0)
    totals = np.add.reduceat(rain, begins, axis=1)  # (m, k)
    known = finite[:, begins]
    members = known.sum(axis=0)  # (k,)
    mean = totals.sum(axis=0) / np.maximum(members, 1)
    squares = (np.where(known, totals - mean, 0.0) ** 2).sum(axis=0)
    spread = np.sqrt(squares / np.maximum(members - 1, 1))

    per_block = block_h / lengths
    location, scale = _location_and_scale(mean * per_block, spread * per_block, calibration)
    rank = np.where(known, totals, np.inf).argsort(axis=0, kind="stable").argsort(axis=0)
    p = np.clip((rank + 0.5) / np.maximum(members, 1), 1e-6, 1.0 - 1e-6)
    root = np.maximum(0.0, location + scale * np.log(p / (1.0 - p)))
    new_totals = root**2 / per_block

    shape = rain.sum(axis=0)
    in_block = np.repeat(np.arange(len(begins)), lengths)
    shape_total = np.add.reduceat(shape, begins)
    even = (shape_total <= 0.0)[in_block]
    share = np.where(even, 1.0 / lengths[in_block], shape / np.where(even, 1.0, shape_total[in_block]))

    traces = totals < TRACE_MM
    factor = np.where(traces, 0.0, new_totals / np.where(traces, 1.0, totals))
    added = np.where(traces, new_totals, 0.0)
    recast = raw * factor[:, in_block] + added[:, in_block] * share
    return np.asarray(np.where(finite, recast, np.nan), dtype=np.float64)


def _made_up_pairs(curve: Calibration) -> tuple[Array, Array, Array]:
    """Made-up pairs that say exactly this curve: (mean, spread, observed root), each (n,)."""
    means = np.repeat([0.0, 0.5, 2.0, 5.0, 10.0, 20.0], 2)
    spreads = means * np.tile([0.5, 1.2], 6)
    location, scale = _location_and_scale(means, spreads, curve)
    p = (np.arange(50) + 0.5) / 50
    root = location[:, None] + scale[:, None] * np.log(p / (1.0 - p))
    return np.repeat(means, 50), np.repeat(spreads, 50), np.maximum(0.0, root).ravel()


def _loss(theta: Array, q: Array, r: Array, root: Array, share: Array) -> tuple[float, Array]:
    """Minus the weighted log-likelihood of the censored logistic, and its gradient in (a, b, c, d)."""
    scale = theta[2] + theta[3] * r
    z = (root - theta[0] - theta[1] * q) / scale
    below = 0.5 * (1.0 + np.tanh(0.5 * z))
    wet = root > 0.0
    log_below = -np.logaddexp(0.0, -z)
    like = np.where(wet, log_below - np.logaddexp(0.0, z) - np.log(scale), log_below)
    by_z = np.where(wet, 1.0 - 2.0 * below, 1.0 - below)
    by_location = -by_z / scale
    by_scale = -by_z * z / scale - np.where(wet, 1.0 / scale, 0.0)
    slopes = np.stack([by_location, by_location * q, by_scale, by_scale * r])
    return -float(share @ like), -(slopes @ share)


def fit(
    *, mean_mm: npt.ArrayLike, spread_mm: npt.ArrayLike, observed_mm: npt.ArrayLike, prior: Prior
) -> Calibration:
    """The calibration of these pairs, each (n,) in mm, by maximum likelihood; NaN and < 0 are dropped.

    Shrunk towards the prior curve twice. Within the likelihood made-up pairs (20 by the table) say exactly
    it, over forecasts from dry to 20 mm, so a run of dry days or of one same forecast cannot make the curve
    sure of anything. Then the coefficients go only n / (n + 30) of the way from it (30 by the table), so a
    few odd pairs change little. On the Innsbruck archive this costs little from 80 pairs on, even though
    its forecasts are twice too wet, which the prior does not know.
    """
    mean, spread, observed = (
        np.asarray(v, dtype=np.float64).ravel() for v in (mean_mm, spread_mm, observed_mm)
    )
    good = np.isfinite(mean) & np.isfinite(spread) & np.isfinite(observed)
    good &= (mean >= 0.0) & (spread >= 0.0) & (observed >= 0.0)
    n = int(good.sum())
    if n == 0:
        return prior.curve
    from scipy.optimize import minimize

    prior_mean, prior_spread, prior_root = _made_up_pairs(prior.curve)
    means = np.concatenate([mean[good], prior_mean])
    spreads = np.concatenate([spread[good], prior_spread])
    root = np.concatenate([np.sqrt(observed[good]), prior_root])
    total = n + prior.made_up_pairs
    share = np.full(len(root), 1.0 / total)
    share[n:] = prior.made_up_pairs / len(prior_root) / total
    start = np.array([prior.curve.a, prior.curve.b, prior.curve.c, prior.curve.d])
    found: Any = minimize(
        _loss,
        x0=start,
        args=(np.sqrt(means), _root_spread(means, spreads), root, share),
        jac=True,
        method="L-BFGS-B",
        bounds=[(-5.0, 5.0), (0.0, 3.0), (_LEAST_SCALE, 10.0), (0.0, 5.0)],
    )
    weight = n / (n + prior.half_weight_pairs)
    a, b, c, d = (float(v) for v in start + weight * (found.x - start))
    return Calibration(a=a, b=b, c=c, d=d, pairs=n, weight=weight)


@dataclass(frozen=True, slots=True)
class ReliabilityBin:
    """Forecasts whose chance lay in [low, high): how many, their mean chance, how often it happened."""

    low: float
    high: float
    count: int
    chance: float
    happened: float


@dataclass(frozen=True, slots=True)
class Reliability:
    """`average_miss` is the mean of |chance − happened| over the bins, weighted by their counts."""

    average_miss: float
    bins: tuple[ReliabilityBin, ...]


def _known(chance: npt.ArrayLike, happened: npt.ArrayLike) -> tuple[Array, Array]:
    p, o = np.asarray(chance, dtype=np.float64).ravel(), np.asarray(happened, dtype=np.float64).ravel()
    good = np.isfinite(p) & np.isfinite(o)
    return p[good], o[good]


def brier(*, chance: npt.ArrayLike, happened: npt.ArrayLike) -> float:
    """Mean squared difference between chance (0–1) and outcome (0 or 1), each (n,); 0 is perfect
    (Brier 1950, Monthly Weather Review 78)."""
    p, o = _known(chance, happened)
    return float(((p - o) ** 2).mean()) if p.size else float("nan")


def reliability(*, chance: npt.ArrayLike, happened: npt.ArrayLike, bins: int = 10) -> Reliability:
    """Chances (n,) held against what happened (n,), in equal bins of chance; empty bins are left out."""
    p, o = _known(chance, happened)
    place = np.minimum((p * bins).astype(int), bins - 1)
    table = tuple(
        ReliabilityBin(
            low=k / bins,
            high=(k + 1) / bins,
            count=int((place == k).sum()),
            chance=float(p[place == k].mean()),
            happened=float(o[place == k].mean()),
        )
        for k in range(bins)
        if (place == k).any()
    )
    misses = sum(b.count * abs(b.chance - b.happened) for b in table)
    return Reliability(average_miss=misses / p.size if p.size else float("nan"), bins=table)
