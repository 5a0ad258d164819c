"""Rain members where a source has none, and members of several models in one pool.

Members are made span by span (an hour, or the 6 or 12 hours that a chance belongs to):

1. Of `n` members, round(n × chance) are wet. A span with rain but no chance worth a member gets one.
2. The wet ones take the mid-points of equal shares of a gamma distribution above 0.1 mm, scaled so
   that the mean over all members is the source's amount. Its shape is 1 unless the source gives a
   range: then the one whose 10 and 90 % points fit the range best. (A gamma for wet amounts is the
   usual choice of weather generators; shape 1 and the reading of a range as 10–90 % are common
   practice, no source.)
3. Who is wet is settled by a score per member that keeps e^(−t/12 h) of itself over t hours and
   takes the rest from a fixed scramble. So a member that is wet in one span is likely, not certain,
   to be wet in the next, and a night's total spreads between "all independent", which would hide the
   doubt, and "all alike", which would overdo it. (12 h is common practice, no source.)
4. Within a span a member's total follows the source's own hours, evenly if that has none.

No random numbers: the same forecast always makes the same members.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

import numpy as np
import numpy.typing as npt

from advisor.advice import MembersFrom, Note, NoteKind, NoteLevel
from advisor.weather.weather import Array, Weather

WET_MM = 0.1
MEMORY_H = 12.0
BLOCK_H = 6
SHAPES = np.array([0.3, 0.5, 0.7, 1.0, 1.4, 2.0, 3.0, 4.5, 7.0, 10.0, 15.0, 25.0])
USUAL_SHAPE = 3  # index of 1.0
Spans = npt.NDArray[np.int64]


def build_members(
    *,
    amount_mm: Array,
    chance: Array | None = None,
    low_mm: Array | None = None,
    high_mm: Array | None = None,
    spans: Spans | None = None,
    lead_h: Array | None = None,
    n: int = 31,
) -> Array:
    """`n` members (n, h) that agree with a source's hourly amount, chance and range, mm.

    `amount_mm` (h,), NaN unknown; `spans` (s, 2) half-open ranges of hours to which `chance`,
    `low_mm` and `high_mm` (s,) belong; without spans each hour is its own, or, where the source has
    no chance, whole blocks of six hours. An unknown chance is made from the amount and `lead_h` (h,)
    by `assumed_chance`. Where the source says 0 mm and yet a chance, the wet members get 0.1 mm.
    Hours outside the spans, and spans with an unknown hour, are NaN.
    """
    amount = np.asarray(amount_mm, dtype=np.float64)
    h = len(amount)
    if spans is None:
        spans = blocks(h, 1 if chance is not None else BLOCK_H)
    s = len(spans)
    out = np.full((n, h), np.nan)
    if s == 0:
        return out
    unknown = np.full(s, np.nan)
    total = np.array([amount[a:b].sum() for a, b in spans])
    middle = spans.mean(axis=1)
    lead = np.array([lead_h[a] for a, _ in spans]) if lead_h is not None else middle
    said = unknown if chance is None else np.clip(np.asarray(chance, dtype=np.float64), 0.0, 1.0)
    share = np.where(np.isfinite(said), said, assumed_chance(total, lead))
    low = unknown if low_mm is None else np.asarray(low_mm, dtype=np.float64)
    high = unknown if high_mm is None else np.asarray(high_mm, dtype=np.float64)
    rank = _ranks(middle, n)
    table: dict[int, Array] = {}
    for j, (a, b) in enumerate(spans):
        if not np.isfinite(total[j]) or not np.isfinite(share[j]) or total[j] < 0:
            continue
        wet = math.floor(n * float(share[j]) + 0.5)
        if total[j] > 0 and wet == 0:
            wet = 1
        hours = amount[a:b]
        column = np.zeros(n)
        if wet:
            if wet not in table:
                table[wet] = _gamma_points(wet)
            mean = total[j] * n / wet if total[j] > 0 else WET_MM
            amounts = _wet_amounts(mean, table[wet], wet / n, low[j], high[j])
            column[np.argsort(rank[:, j])[n - wet :]] = amounts
        shape = hours / total[j] if total[j] > 0 else np.full(b - a, 1.0 / (b - a))
        out[:, a:b] = column[:, None] * shape
    return out


def with_built_members(weather: Weather, now: datetime) -> Weather:
    """`weather` with members from the hour of `now` on, built from its own amount and hourly chance.

    Weather that knows members for any coming hour is returned as it is.
    """
    first = max(0, weather.index_at(now))
    if np.isfinite(weather.members_mm[:, first:]).any() or not np.isfinite(weather.rain_mm[first:]).any():
        return weather
    chance = weather.chance[first:]
    told = bool(np.isfinite(chance).any())
    made = build_members(
        amount_mm=weather.rain_mm[first:],
        chance=chance if told else None,
        lead_h=np.arange(weather.hours - first, dtype=np.float64),
    )
    members = np.full((len(made), weather.hours), np.nan)
    members[:, first:] = made
    note = Note(
        level=NoteLevel.TOLD,
        kind=NoteKind.MEMBERS_BUILT,
        source=weather.sources[0].name if weather.sources else "",
        count=len(made),
        members_from=MembersFrom.AMOUNT_AND_CHANCE if told else MembersFrom.AMOUNT,
    )
    return replace(weather, members_mm=members, notes=(*weather.notes, note))


def blocks(h: int, length: int) -> Spans:
    """`h` hours cut into half-open ranges of `length` hours, the last one shorter; shape (s, 2)."""
    first = np.arange(0, h, length)
    return np.stack([first, np.minimum(first + length, h)], axis=1)


def assumed_chance(total_mm: Array, lead_h: Array) -> Array:
    """A chance of rain where a source gives only an amount; shape of both, 0–1.

    None for a dry span; else 0.5 at 0.1 mm rising by 0.25 for each tenfold amount, at most 0.95, less
    4 % of itself a day of lead (common practice, no source).
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        chance = 0.5 + 0.25 * np.log10(total_mm / WET_MM)
    kept = 1.0 - 0.04 * np.clip(lead_h, 0.0, 240.0) / 24.0
    dry: Array = np.where(total_mm == 0, 0.0, np.nan)
    out: Array = np.where(total_mm > 0, np.clip(chance, 0.2, 0.95) * kept, dry)
    return out


def _gamma_points(wet: int) -> Array:
    """Mid-points of `wet` equal shares of gamma distributions of mean 1; shape (shapes, wet)."""
    from scipy.special import gammaincinv

    middle = (np.arange(wet) + 0.5) / wet
    points: Array = gammaincinv(SHAPES[:, None], middle[None, :])
    points /= points.mean(axis=1, keepdims=True)
    return points


def _wet_amounts(mean: float, points: Array, share: float, low: float, high: float) -> Array:
    """The wet members' amounts, rising, of the given mean; the shape fits the 10–90 % range if known."""
    floor = min(WET_MM, mean)
    candidates = floor + (mean - floor) * points
    miss = np.zeros(len(points))
    for quantile, said in ((0.1, low), (0.9, high)):
        inside = 1.0 - (1.0 - quantile) / share  # where this quantile of all lies among the wet
        if np.isfinite(said) and inside > 0:
            at = np.clip(inside * points.shape[1] - 0.5, 0, points.shape[1] - 1)
            lower = int(at)
            upper = min(lower + 1, points.shape[1] - 1)
            got = candidates[:, lower] + (at - lower) * (candidates[:, upper] - candidates[:, lower])
            miss += (got - said) ** 2
    best = int(np.argmin(miss)) if miss.any() else USUAL_SHAPE
    return np.asarray(candidates[best])


def _ranks(middle: Array, n: int) -> npt.NDArray[np.int64]:
    """Each member's rank 0…n−1 per span, shape (n, s), fading over time as the scores do."""
    from scipy.special import ndtri

    s = len(middle)
    fresh = np.argsort(np.argsort(_scramble(n, s), axis=0), axis=0)
    normal = ndtri((fresh + 0.5) / n)
    keep = np.exp(-np.diff(middle, prepend=middle[0]) / MEMORY_H)
    score = np.empty((n, s))
    score[:, 0] = normal[:, 0]
    for j in range(1, s):
        score[:, j] = keep[j] * score[:, j - 1] + math.sqrt(1.0 - keep[j] ** 2) * normal[:, j]
    ranks: npt.NDArray[np.int64] = np.argsort(np.argsort(score, axis=0, kind="stable"), axis=0, kind="stable")
    return ranks


def _scramble(n: int, s: int) -> npt.NDArray[np.uint64]:
    """A fixed scramble of (member, span) to 64 bits: the finaliser of the splitmix64 generator."""
    x = np.arange(1, n * s + 1, dtype=np.uint64).reshape(n, s) * np.uint64(0x9E3779B97F4A7C15)
    x = (x ^ (x >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    x = (x ^ (x >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return np.asarray(x ^ (x >> np.uint64(31)))


def pool_members(models: Sequence[Array]) -> Array:
    """Members of several models (m_i, h) as one set (m, h) in which each model counts the same.

    No weights are needed afterwards: every model gives the same number of members, that of the
    smallest model but at least 20, taken at even ranks of its total (a small model's are repeated).
    Where one model is unknown and the first with more reach is not, its members go on as those of
    the same rank there.
    """
    usable = [m for m in models if m.shape[0] and np.isfinite(m).any()]
    if len(usable) < 2:
        return usable[0] if usable else models[0]
    each = max(20, min(m.shape[0] for m in usable))
    both = np.logical_and.reduce([np.isfinite(m).all(axis=0) for m in usable])
    even: list[Array] = []
    for m in usable:
        kept = m[np.isfinite(m).any(axis=1)]
        totals = kept[:, both].sum(axis=1) if both.any() else np.nansum(kept, axis=1)
        order = np.argsort(totals, kind="stable")
        at = ((np.arange(each) + 0.5) * len(order) / each).astype(np.int64)
        even.append(kept[order[at]])
    by_reach = sorted(even, key=lambda m: -int(np.isfinite(m).sum()))
    for m in even:
        for longer in by_reach:
            gap = np.isnan(m)
            if longer is not m and gap.any():
                m[gap] = longer[gap]
    return np.concatenate(even)


def pool(weathers: Sequence[Weather]) -> Weather:
    """The first weather with the members of all of them pooled, one weight per source."""
    base = weathers[0]
    models = [_aligned(w, base) for w in weathers if w.members_mm.shape[0]]
    if len(models) < 2:
        return replace(base, members_mm=models[0]) if models else base
    members = pool_members(models)
    note = Note(
        level=NoteLevel.TOLD,
        kind=NoteKind.MEMBERS_POOLED,
        names=tuple(dict.fromkeys(w.sources[0].name for w in weathers if w.sources)),
        count=len(members),
    )
    uses = tuple(use for w in weathers for use in w.sources)
    return replace(base, members_mm=members, sources=uses, notes=(*base.notes, note))


def _aligned(weather: Weather, base: Weather) -> Array:
    """The members of one weather on the hours of another, NaN where it has none."""
    shift = int((weather.starts[0] - base.starts[0]) / np.timedelta64(3600, "s"))
    out = np.full((weather.members_mm.shape[0], base.hours), np.nan)
    first, last = max(0, shift), min(base.hours, shift + weather.hours)
    if last > first:
        out[:, first:last] = weather.members_mm[:, first - shift : last - shift]
    return out
