"""The root-zone water balance, hour by hour, for every zone and every rain member at once.

Source of every equation number: FAO Irrigation and Drainage Paper 56 (Allen, Pereira, Raes and
Smith, 1998), chapter 8.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import repeat

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Numbers = npt.ArrayLike

# Columns (zone and member) and hours worked on at a time; their rows stay in the processor's cache.
COLUMNS, HOURS = 8192, 32


@dataclass(frozen=True, eq=False, slots=True)
class Balance:
    """The course of the root zone; axes always (zone, member, hour).

    `depletion_mm` (z, m, h) is Dr at the END of each hour. What follows from it is worked out when
    asked for: water that drained and evapotranspiration as it was.
    """

    depletion_mm: Array
    start_mm: Array
    etc_mm: Array
    water_mm: Array
    taw_mm: Array
    p: Array

    @property
    def before_mm(self) -> Array:
        """Depletion at the START of each hour, shape (z, m, h) [mm]."""
        before = np.empty_like(self.depletion_mm)
        before[..., :1] = self.start_mm[..., np.newaxis]
        before[..., 1:] = self.depletion_mm[..., :-1]
        return before

    @property
    def etc_actual_mm(self) -> Array:
        """Evapotranspiration under stress, Ks·ETc, shape (z, m, h) [mm/h]; Ks of the hour's start (eq. 84)."""
        rate = _rate(self.etc_mm, self.taw_mm, self.p)
        return np.asarray(np.minimum((self.taw_mm - self.before_mm) * rate, self.etc_mm))

    @property
    def percolation_mm(self) -> Array:
        """Water that drained below the roots, DP, shape (z, m, h) [mm/h] (FAO-56 eq. 88)."""
        return np.asarray(np.maximum(self.water_mm - self.etc_actual_mm - self.before_mm, 0.0))


def root_zone_balance(
    *, depletion_start_mm: Numbers, etc_mm: Numbers, water_mm: Numbers, taw_mm: Numbers, p: Numbers
) -> Balance:
    """Run the root-zone depletion Dr forward (FAO-56 eq. 85) by hours instead of days.

    Dr' = Dr + Ks·ETc − water, not below 0: what is left over drains. Ks is that of the start of the
    hour (eq. 84); an hour takes no more than the water there is, so Dr never passes TAW. Nothing
    rises from below.

    `depletion_start_mm` (z, 1) or (z, m), within 0–TAW; `etc_mm`, Kc·ETo without stress, and `water_mm`,
    net rain and irrigation, (z, 1, h) or (z, m, h); `taw_mm` and `p` numbers, (z,) or (z, 1, h), where
    TAW may grow with the roots but not shrink. A NaN in any of them makes that member unknown from
    that hour on, for unknown is not dry. ValueError for negative amounts or shapes that do not fit.
    """
    etc, water = np.asarray(etc_mm, dtype=np.float64), np.asarray(water_mm, dtype=np.float64)
    taw, share = _three_axes(taw_mm, "taw_mm"), _three_axes(p, "p")
    if etc.ndim != 3 or water.ndim != 3:
        raise ValueError("etc_mm and water_mm must have the axes (zone, member, hour)")
    start = np.asarray(depletion_start_mm, dtype=np.float64)
    lead = np.broadcast_shapes(etc.shape, water.shape, taw.shape, share.shape)
    shape = np.broadcast_shapes(lead, (*np.atleast_2d(start).shape, 1))
    start = np.broadcast_to(start, shape[:2])
    _refuse_the_impossible(start, etc, water, taw, share)

    rate = np.broadcast_to(_rate(etc, taw, share), shape)
    etc, water, taw_all = (np.broadcast_to(x, shape) for x in (etc, water, taw))
    by_hour, zero = np.empty((shape[2], *shape[:2])), np.zeros(1)
    for zones, members in _blocks(shape[0], shape[1]):
        before = np.array(start[zones, members]).reshape(-1)
        work = np.empty_like(before)
        for first in range(0, shape[2], HOURS):
            part = (zones, members, slice(first, first + HOURS))
            # A block is whole zones or part of one zone, so its columns are one run of memory.
            target = by_hour[first : first + HOURS, zones, members]
            target = target.reshape(target.shape[0], before.size)
            rows = (_rows(x[part]) for x in (taw_all, rate, etc, water))
            for full, take, most, comes, after in zip(*rows, target, strict=True):
                np.subtract(full, before, out=work)
                np.multiply(work, take, out=work)
                np.minimum(work, most, out=work)
                np.add(before, work, out=work)
                np.subtract(work, comes, out=work)
                np.maximum(work, zero, out=after)
                before = after
    return Balance(
        depletion_mm=np.moveaxis(by_hour, 0, -1),
        start_mm=start,
        etc_mm=etc,
        water_mm=water,
        taw_mm=taw,
        p=share,
    )


@dataclass(frozen=True, eq=False, slots=True)
class AsIfWatered:
    """Depletion, deep percolation and the irrigation that held it, shapes (z, h) [mm]."""

    depletion_mm: Array
    percolation_mm: Array
    irrigation_mm: Array


def as_if_watered(*, etc_mm: Array, water_mm: Array, allowed_mm: Array) -> AsIfWatered:
    """The balance (z, h) of a root zone that someone watered whenever it passed its allowance.

    It starts at half the allowance. Up to there Ks is 1 (FAO-56 eq. 84), so the demand is met in full;
    what would pass the allowance is taken as irrigation of that hour. Water in = water out + change.
    """
    depletion = 0.5 * allowed_mm[:, 0]
    rows = np.empty((3, *np.shape(etc_mm)))
    for hour in range(np.shape(etc_mm)[1]):
        free = depletion + etc_mm[:, hour] - water_mm[:, hour]
        given = np.maximum(free - allowed_mm[:, hour], 0.0)
        deep = np.maximum(-free, 0.0)
        depletion = free - given + deep
        rows[:, :, hour] = depletion, deep, given
    return AsIfWatered(rows[0], rows[1], rows[2])


def _rate(etc: Array, taw: Array, p: Array) -> Array:
    """Share of the water left that an hour takes under stress; Ks·ETc is the lesser of it and ETc."""
    return np.asarray(np.minimum(etc / ((1.0 - p) * taw), 1.0))


def _three_axes(values: Numbers, name: str) -> Array:
    """A number, (z,) or (z, 1, h) as an array of axes (zone, member, hour)."""
    array = np.asarray(values, dtype=np.float64)
    if array.ndim == 3:
        return array
    if array.ndim > 1:
        raise ValueError(f"{name} must be a number, (z,) or (z, 1, h), found shape {array.shape}")
    return array.reshape(-1, 1, 1)


def _blocks(zones: int, members: int) -> Iterator[tuple[slice, slice]]:
    """Cut zones × members into blocks of about COLUMNS: several zones whole, or a part of one zone."""
    if members >= COLUMNS // 4:
        for zone in range(zones):
            for first in range(0, members, COLUMNS):
                yield slice(zone, zone + 1), slice(first, first + COLUMNS)
        return
    step = COLUMNS // max(members, 1)
    for zone in range(0, zones, step):
        yield slice(zone, zone + step), slice(None)


def _rows(part: Array) -> Iterable[Array]:
    """A block (z, m, h) as rows of columns, one an hour; what does not vary is not copied out."""
    hours = part.shape[2]
    if part.strides[2] == 0:
        return repeat(part[:, :, 0].reshape(-1), hours)
    if part.shape[0] == 1 and part.strides[1] == 0:
        return part[0, :1].T
    rows = np.moveaxis(part, -1, 0).reshape(hours, -1)
    return rows if rows.strides[1] == rows.itemsize else np.ascontiguousarray(rows)


def _refuse_the_impossible(start: Array, etc: Array, water: Array, taw: Array, p: Array) -> None:
    """ValueError for inputs that no lawn can have. NaN passes."""
    if np.any(taw <= 0.0) or np.any((p < 0.0) | (p >= 1.0)):
        raise ValueError("taw_mm must be above 0 and p from 0 to below 1")
    if np.any(start < 0.0) or np.any(start > taw[:, :, 0] * (1.0 + 1e-9)):
        raise ValueError("depletion_start_mm must lie within 0 and taw_mm")
    if np.any(etc < 0.0) or np.any(water < 0.0):
        raise ValueError("etc_mm and water_mm must not be negative")
