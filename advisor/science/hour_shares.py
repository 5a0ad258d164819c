"""How much of each hour lies within a span of time: the weight by which hourly values are summed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]


def hours_after(first: datetime, when: datetime) -> float:
    """How many hours `when` lies after `first`, negative before it; both aware."""
    return (when.timestamp() - first.timestamp()) / 3600.0


def hour_shares(first: datetime, hours: int, begin: datetime, end: datetime) -> Array:
    """The share 0–1 of each hour that lies in [begin, end); shape (hours,).

    Hour i starts i hours after `first`; all times are aware. A span that ends before it begins holds no
    part of any hour.

    >>> from datetime import UTC
    >>> at = lambda hour, minute=0: datetime(2026, 6, 18, hour, minute, tzinfo=UTC)
    >>> hour_shares(at(20), 4, at(20, 45), at(22, 30)).tolist()
    [0.25, 1.0, 0.5, 0.0]
    """
    shares = np.zeros(hours)
    i, part = hour_shares_from(first, hours, begin, end)
    shares[i : i + len(part)] = part
    return shares


def hour_shares_from(first: datetime, hours: int, begin: datetime, end: datetime) -> tuple[int, Array]:
    """The same for the hours that [begin, end) touches alone: the index of the first, and their shares (k,)."""
    a, b = max(hours_after(first, begin), 0.0), min(hours_after(first, end), float(hours))
    if b <= a:
        return 0, np.zeros(0)
    i, j = int(a), math.ceil(b)
    shares = np.ones(j - i)
    shares[0], shares[-1] = i + 1.0 - a, b - (j - 1)
    if len(shares) == 1:
        shares[0] = b - a
    return i, shares


def hour_shares_to(first: datetime, hours: int, begin: datetime, ends: Sequence[datetime]) -> Array:
    """The same for one begin and several ends; shape (hours, ends)."""
    starts = np.arange(hours, dtype=np.float64)[:, None]
    a = hours_after(first, begin)
    b = np.array([hours_after(first, end) for end in ends], dtype=np.float64)
    return np.asarray(np.maximum(np.minimum(starts + 1.0, b) - np.maximum(starts, a), 0.0))
