"""Water that comes in one event: hours of rain or irrigation with no long pause between them."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

WET_MM = 0.1  # an hour with less is dry
GAP_H = 6  # so many dry hours in a row end an event (common practice, no source)


def largest_event(amount_mm: Array, *, so_far_mm: float = 0.0, dry_h: int = 0, gap_h: int = GAP_H) -> Array:
    """Depth of the largest single event along the last axis; mm, shape (…, h) → (…).

    `so_far_mm` is what an event still going on has brought, `dry_h` the dry hours since its last wet one.
    NaN hours count as dry: an unknown hour proves no water.
    """
    amount = np.nan_to_num(amount_mm, nan=0.0)
    shape = amount.shape[:-1]
    running = np.full(shape, so_far_mm)
    dry = np.full(shape, dry_h)
    largest = np.full(shape, so_far_mm)
    wet_hours = np.flatnonzero((amount >= WET_MM).reshape(-1, amount.shape[-1]).any(axis=0))
    before = -1
    for hour in wet_hours:
        dry = dry + (hour - before - 1)
        wet = amount[..., hour] >= WET_MM
        running = np.where(wet & (dry >= gap_h), 0.0, running) + np.where(wet, amount[..., hour], 0.0)
        dry = np.where(wet, 0, dry + 1)
        np.maximum(largest, running, out=largest)
        before = int(hour)
    return largest


def running_event(amount_mm: Array, *, gap_h: int = GAP_H) -> Array:
    """What the event that each hour belongs to has brought so far; mm, shape (h,) → (h,).

    An event lasts until `gap_h` dry hours have passed; after that there is none, 0. NaN counts as dry.
    """
    amount = np.where(np.isnan(amount_mm), 0.0, amount_mm)
    running = np.zeros(len(amount))
    wet_hours = np.flatnonzero(amount >= WET_MM)
    for hour, after in pairwise([*wet_hours.tolist(), len(amount)]):
        so_far = running[hour - 1] if hour else 0.0
        running[hour : min(after, hour + gap_h)] = so_far + amount[hour]
    return running
