"""The rain of a place in blocks of six hours, and the hidden normal value behind every block.

For every block of the true rain there is its climate: the totals, dry ones too, of all blocks of the same
hours of the day at the same time of year (± 45 days, any year; wider until 40 of them are wet). A hidden
value z and an amount belong together by

    amount = the total at the share Φ(z) of that climate, in rising order,

so that z is standard normal where the amounts are those of the climate. The truth is turned round:

1. A wet block has z = Φ⁻¹(place of its total among the climate). Where totals are equal (gauges step by
   0.254 mm) the place is drawn evenly among the equal ones.
2. A dry block has a z below the threshold Φ⁻¹(dry share), which nobody knows. It is drawn given the blocks
   round it, by Gibbs sampling of an autoregressive course of order 8 (two days) cut off at the threshold.
   The course's coefficients come from the drawn values themselves, by Yule–Walker after every sweep, so
   that wet spells are as long in the hidden values as they were in the truth.

What an amount looks like by the hour is taken from a real wet block of a similar amount and the same hours
of the day, never from the very block.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr, ndtri

from advisor.weather import Array

Ints = npt.NDArray[np.int64]

BLOCK_H = 6
PER_DAY = 24 // BLOCK_H
ORDER = 8
SWEEPS = 60
CLIMATE_DAYS = 45
CLIMATE_STEP_DAYS = 5
LEAST_WET = 40
SIMILAR = 10  # so many wet blocks above and below lend their hours, fewer where few are wet
YEAR_DAYS = 366
EDGE = 1e-12  # shares closer to 0 or 1 have no normal value


@dataclass(frozen=True, eq=False, slots=True)
class BlockRain:
    """The truth by blocks: `first` is the hour of the truth at which block 0 begins.

    `total_mm` (n,); `hidden` (n + k,) goes on by k blocks past the truth, drawn freely; `correlation` (k,) of
    hidden values by how many blocks they lie apart. `climate` are rising totals of all climates, one behind
    the other: block i's are the `count[i]` from `begin[i]` on. `lenders` are the wet blocks, those of the same
    hours of the day together and rising; `hours` (wet + 1, 6) the share of each hour in them, the last even.
    """

    first: int
    total_mm: Array
    hidden: Array
    correlation: Array
    climate: Array
    begin: Ints
    count: Ints
    lenders: Ints
    lender_begin: Ints
    hours: Array

    def amounts(self, blocks: Ints, hidden: Array) -> Array:
        """The amounts (m, k), mm, of hidden values (m, k) in the `blocks` (k,)."""
        count = self.count[blocks]
        place = np.minimum((ndtr(hidden) * count).astype(np.int64), count - 1)
        return np.asarray(self.climate[self.begin[blocks] + place])

    def by_hour(self, blocks: Ints, total_mm: Array, draw: Array) -> Array:
        """Totals (m, k) of the `blocks` (k,) as hours (m, k, 6); `draw` (m, k) in 0–1 chooses who lends."""
        lent = np.full(total_mm.shape, len(self.lenders))
        for part in range(PER_DAY):
            columns = np.flatnonzero(blocks % PER_DAY == part)
            begin, end = int(self.lender_begin[part]), int(self.lender_begin[part + 1])
            if end - begin < 2 or not len(columns):
                continue
            alike = self.total_mm[self.lenders[begin:end]]
            total = total_mm[:, columns]
            middle = (np.searchsorted(alike, total) + np.searchsorted(alike, total, side="right")) // 2
            reach = min(SIMILAR, max(1, (end - begin) // 8))
            offset = (draw[:, columns] * (2 * reach + 1)).astype(np.int64) - reach
            chosen = np.clip(middle + offset, 0, end - begin - 1)
            own = self.lenders[begin + chosen] == blocks[columns]
            lent[:, columns] = begin + np.where(own, np.where(chosen > 0, chosen - 1, 1), chosen)
        return np.asarray(total_mm[:, :, None] * self.hours[lent])


def block_rain(
    *, rain_mm: Array, year_day: Ints, first: int, beyond: int, rng: np.random.Generator
) -> BlockRain:
    """The blocks of a true hourly rain (h,), all known, from hour `first` on, and `beyond` more.

    `year_day` (h,) is the day of the year of every hour, from 0.
    """
    n = (len(rain_mm) - first) // BLOCK_H
    by_hour = rain_mm[first : first + n * BLOCK_H].reshape(n, BLOCK_H)
    total = by_hour.sum(axis=1)
    climate, begin, count = _climates(total, year_day[first : first + n * BLOCK_H : BLOCK_H])
    hidden, correlation = _hidden(total, (climate, begin, count), beyond, rng)
    wet = np.flatnonzero(total > 0.0)
    lenders = wet[np.lexsort((total[wet], wet % PER_DAY))]
    return BlockRain(
        first=first,
        total_mm=total,
        hidden=hidden,
        correlation=correlation,
        climate=climate,
        begin=begin,
        count=count,
        lenders=lenders,
        lender_begin=np.searchsorted(lenders % PER_DAY, np.arange(PER_DAY + 1)),
        hours=np.vstack([by_hour[lenders] / total[lenders, None], np.full((1, BLOCK_H), 1.0 / BLOCK_H)]),
    )


def _climates(total: Array, year_day: Ints) -> tuple[Array, Ints, Ints]:
    """Rising totals of each climate, one behind the other, and where each block's begin and how many."""
    part = np.arange(len(total)) % PER_DAY
    step = year_day // CLIMATE_STEP_DAYS
    tables: list[Array] = []
    begin, count = np.zeros(len(total), dtype=np.int64), np.zeros(len(total), dtype=np.int64)
    used = 0
    for hours in range(PER_DAY):
        mine = np.flatnonzero(part == hours)
        for number in np.unique(step[mine]):
            middle = CLIMATE_STEP_DAYS * number + CLIMATE_STEP_DAYS // 2
            apart = np.abs(year_day[mine] - middle)
            apart = np.minimum(apart, YEAR_DAYS - apart)
            table = np.sort(total[mine[apart < _reach(np.sort(apart[total[mine] > 0.0]))]])
            here = mine[step[mine] == number]
            begin[here], count[here] = used, len(table)
            tables.append(table)
            used += len(table)
    return np.concatenate(tables), begin, count


def _reach(wet_apart: Ints) -> int:
    """How many days away a climate ends, of how many days its wet blocks are away, rising.

    Where it has to be wider than usual it ends just before the next wet block after the last one needed:
    to end with a wet one would make every climate too wet.
    """
    if len(wet_apart) <= LEAST_WET:
        return YEAR_DAYS
    return max(CLIMATE_DAYS + 1, int(wet_apart[LEAST_WET]))


def _hidden(
    total: Array, climates: tuple[Array, Ints, Ints], beyond: int, rng: np.random.Generator
) -> tuple[Array, Array]:
    """The hidden values of the blocks and `beyond` more, and their correlation by lag (beyond,).

    The course is closed to a ring by free blocks, so that no block stands at an end.
    """
    climate, begin, count = climates
    n = len(total)
    ring = n + beyond + 3 * ORDER
    ring += -ring % (ORDER + 1)
    z, ceiling, known = np.zeros(ring), np.full(ring, np.inf), np.zeros(ring, dtype=np.bool_)
    for i in range(n):
        table = climate[begin[i] : begin[i] + count[i]]
        low, high = np.searchsorted(table, total[i]), np.searchsorted(table, total[i], side="right")
        if total[i] > 0.0:
            z[i] = ndtri(np.clip((low + (high - low) * rng.random()) / count[i], EDGE, 1.0 - EDGE))
            known[i] = True
        else:
            ceiling[i] = ndtri(high / count[i])
    lags = np.zeros(ORDER + 1)
    lags[0] = 1.0
    gathered, sweeps = np.zeros(ORDER + 1), 0
    z = _drawn(z, ceiling, known, lags, rng)
    for sweep in range(SWEEPS):
        if sweep < 2 * SWEEPS // 3:
            found = np.array([z[: n - k] @ z[k:n] for k in range(ORDER + 1)]) / (z[:n] @ z[:n])
            if sweep >= SWEEPS // 3:
                gathered, sweeps = gathered + found, sweeps + 1
            lags = found if sweeps == 0 else gathered / sweeps
        z = _drawn(z, ceiling, known, lags, rng)
    return z[: n + beyond], _onward(lags, max(beyond, ORDER + 1))[:beyond]


def _coefficients(lags: Array) -> Array:
    """Yule–Walker: what each of the last values gives to the next, (order,)."""
    apart = np.abs(np.subtract.outer(np.arange(ORDER), np.arange(ORDER)))
    return np.asarray(np.linalg.solve(lags[apart], lags[1:]))


def _onward(lags: Array, count: int) -> Array:
    """The correlation at the first `count` lags, those past the order by the course itself."""
    given = _coefficients(lags)
    out = [*lags]
    while len(out) < count:
        out.append(float(given @ np.array(out[: -ORDER - 1 : -1])))
    return np.array(out)


def _drawn(
    z: Array, ceiling: Array, known: npt.NDArray[np.bool_], lags: Array, rng: np.random.Generator
) -> Array:
    """One Gibbs sweep: every block that is not known, given its neighbours and below its ceiling.

    Blocks that lie order + 1 apart do not see each other and are drawn at once.
    """
    given = _coefficients(lags)
    chain = np.concatenate([[1.0], -given])
    scale = 1.0 - float(given @ lags[1:])
    pull = np.array([chain[: len(chain) - k] @ chain[k:] for k in range(ORDER + 1)])
    deviation = np.sqrt(scale / pull[0])
    z = z.copy()
    for start in range(ORDER + 1):
        here = np.arange(start, len(z), ORDER + 1)
        here = here[~known[here]]
        mean = np.zeros(len(here))
        for k in range(1, ORDER + 1):
            mean -= pull[k] / pull[0] * (z[here - k] + z[(here + k) % len(z)])
        below = ndtr((ceiling[here] - mean) / deviation)
        share = np.clip(rng.random(len(here)) * below, EDGE, 1.0 - EDGE)
        z[here] = np.minimum(mean + deviation * ndtri(share), ceiling[here] - EDGE)
    return z
