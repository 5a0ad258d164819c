"""Turning what the services give (periods, states, instants) into whole UTC hours.

Every value is first a half-open UTC interval [start, end) or an instant; only then does it become an
hour labelled by its start. Unknown stays NaN: an hour that is not wholly covered is not known.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

import numpy as np
import numpy.typing as npt

from advisor.weather.weather import Array, Hours

HOUR_S = 3600
Seconds = npt.NDArray[np.int64]


def stamps(times: Iterable[datetime]) -> Hours:
    """Aware datetimes as UTC datetime64[s], shape (n,). A naive one is a ValueError."""
    found = list(times)
    if any(t.tzinfo is None for t in found):
        raise ValueError("a time without its offset cannot be placed on the UTC axis")
    return np.array([int(t.timestamp()) for t in found], dtype="int64").astype("datetime64[s]")


def seconds(times: Hours) -> Seconds:
    """UTC datetime64 as whole seconds since 1970, shape (n,)."""
    return np.asarray(times).astype("datetime64[s]").astype(np.int64)


def _placed(starts: Hours, ends: Hours, values: Array, hours: Hours, *, amounts: bool) -> Array:
    """Place interval values on hours, shape (h,); shorter intervals win, then earlier starts.

    Time is cut at every interval edge and hour edge; each piece belongs to one interval only, so
    nothing is counted twice. An interval whose value is NaN claims no time.
    """
    begin, end, value = seconds(starts), seconds(ends), np.asarray(values, dtype=np.float64)
    if not (len(begin) == len(end) == len(value)):
        raise ValueError("starts, ends and values must be equally long")
    if np.any(end <= begin):
        raise ValueError("an interval must end after it starts")
    first = seconds(hours)
    usable = np.flatnonzero(np.isfinite(value))
    edges = np.unique(np.concatenate([first, first + HOUR_S, begin[usable], end[usable]]))
    owner = np.full(max(0, len(edges) - 1), -1, dtype=np.int64)
    order = usable[np.lexsort((begin[usable], (end - begin)[usable]))]
    for k in order[::-1]:  # the strongest claim is written last
        owner[np.searchsorted(edges, begin[k]) : np.searchsorted(edges, end[k])] = k
    length = np.diff(edges)
    hour = np.searchsorted(first, edges[:-1], side="right") - 1
    inside = (hour >= 0) & (owner >= 0)
    inside[inside] &= edges[:-1][inside] < first[hour[inside]] + HOUR_S
    hour, k, part = hour[inside], owner[inside], length[inside]
    share = part / (end[k] - begin[k]) if amounts else part / HOUR_S
    total = np.bincount(hour, weights=value[k] * share, minlength=len(first))
    covered = np.bincount(hour, weights=part, minlength=len(first))
    return np.where(covered >= HOUR_S, total, np.nan)


def place_amounts(starts: Hours, ends: Hours, amounts: Array, hours: Hours) -> Array:
    """Accumulated amounts of intervals [start, end) spread evenly onto hours, shape (h,).

    `starts`, `ends`: datetime64 UTC (n,); `amounts` (n,), NaN unknown; `hours`: hour starts (h,).
    Where intervals overlap the shorter one holds (then the earlier), and a longer one gives only
    its share for the time that is left: overlapping periods are never added. An hour that is not
    covered throughout is NaN.
    """
    return _placed(starts, ends, amounts, hours, amounts=True)


def place_states(starts: Hours, ends: Hours, values: Array, hours: Hours) -> Array:
    """States that hold over intervals [start, end) as time-weighted hourly means, shape (h,).

    Overlaps and gaps as in `place_amounts`.
    """
    return _placed(starts, ends, values, hours, amounts=False)


def instants_to_hours(times: Hours, values: Array, hours: Hours, *, longest_gap_h: float = 6.0) -> Array:
    """Instants as hourly means: the mean of the values at the hour's two ends, shape (h,).

    Between two known instants at most `longest_gap_h` apart the value runs in a straight line; in a
    longer gap, before the first and past the last it is unknown, and so is an hour with an
    unknown end. `times` need not be sorted; a repeated instant is a ValueError.
    """
    at, value = seconds(times), np.asarray(values, dtype=np.float64)
    if len(at) != len(value):
        raise ValueError("times and values must be equally long")
    known = np.isfinite(value)
    order = np.argsort(at[known], kind="stable")
    x, y = at[known][order], value[known][order]
    if np.any(np.diff(x) == 0):
        raise ValueError("an instant is given twice")
    first = seconds(hours)
    if len(x) == 0:
        return np.full(len(first), np.nan)

    def at_edge(t: Seconds) -> Array:
        right = np.searchsorted(x, t, side="left")
        safe = np.minimum(right, len(x) - 1)
        exact = (right < len(x)) & (x[safe] == t)
        within = (right > 0) & (right < len(x))
        gap = np.where(within, x[safe] - x[np.maximum(right - 1, 0)], 0)
        known_here = exact | (within & (gap <= longest_gap_h * HOUR_S))
        line: Array = np.where(known_here, np.interp(t, x, y), np.nan)
        return line

    mean: Array = (at_edge(first) + at_edge(first + HOUR_S)) / 2.0
    return mean
