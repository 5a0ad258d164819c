"""Sprinklers: what they give, how evenly, how long to run them and when to pause.

Depths are mm of water on the ground, rates mm/h, times minutes. "Gross" is what the sprinkler puts
down on average; "effective" what the drier part of the lawn can count on.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt


def precipitation_rate(*, flow_l_min: float, area_m2: float) -> float:
    """Precipitation rate from flow and area [mm/h]: 1 L on 1 m² is 1 mm."""
    _above_zero(flow_l_min=flow_l_min, area_m2=area_m2)
    return 60.0 * flow_l_min / area_m2


def distribution_uniformity(depths: npt.ArrayLike) -> float:
    """Low-quarter distribution uniformity, 0–1: mean of the lowest quarter by mean of all (ASABE S626).

    Where the count is not a multiple of four, the quarter ends within a can, which counts by that
    part: of 10 cans, the two lowest and half of the third. Any unit; at least 4 readings.
    """
    cans = np.sort(_readings(depths))
    quarter = cans.size / 4.0
    parts = np.clip(quarter - np.arange(cans.size), 0.0, 1.0)
    return min(1.0, float(np.dot(parts, cans) / quarter / cans.mean()))


def christiansen(depths: npt.ArrayLike) -> float:
    """Christiansen coefficient of uniformity: 1 − Σ|x − mean| / Σx (ISO 15886-3)."""
    cans = _readings(depths)
    return float(1.0 - np.abs(cans - cans.mean()).sum() / cans.sum())


def scheduling_multiplier(du: float, *, strict: bool = False) -> float:
    """How much longer to run than an even sprinkler would, from low-quarter uniformity 0–1.

    1 / (0.4 + 0.6 DU) (Irrigation Association), or 1 / DU when `strict`, which waters the driest
    quarter in full and the rest too much.
    """
    if not 0.0 < du <= 1.0:
        raise ValueError(f"du must be a fraction above 0 and up to 1, found {du}")
    return 1.0 / du if strict else 1.0 / (0.4 + 0.6 * du)


def run_minutes(*, depth_mm: float, rate_mm_h: float) -> float:
    """Minutes to put down a gross depth at a precipitation rate."""
    _above_zero(rate_mm_h=rate_mm_h)
    _not_negative(depth_mm=depth_mm)
    return 60.0 * depth_mm / rate_mm_h


def depth_of(*, minutes: float, rate_mm_h: float) -> float:
    """The gross depth that minutes at a precipitation rate put down [mm]."""
    _above_zero(rate_mm_h=rate_mm_h)
    _not_negative(minutes=minutes)
    return minutes * rate_mm_h / 60.0


def longest_cycle_min(*, rate_mm_h: float, intake_mm_h: float, accumulation_mm: float) -> float:
    """Longest run before water leaves the surface [min]; infinite where the soil takes all at once.

    60 ASA / (PR − IR) (Irrigation Association, climatological test protocol).
    """
    _above_zero(rate_mm_h=rate_mm_h)
    _not_negative(intake_mm_h=intake_mm_h, accumulation_mm=accumulation_mm)
    if rate_mm_h <= intake_mm_h:
        return math.inf
    return 60.0 * accumulation_mm / (rate_mm_h - intake_mm_h)


def soak_min(*, intake_mm_h: float, accumulation_mm: float) -> float:
    """Minutes until the water that stands after a longest cycle has entered the soil."""
    _above_zero(intake_mm_h=intake_mm_h)
    _not_negative(accumulation_mm=accumulation_mm)
    return 60.0 * accumulation_mm / intake_mm_h


def _readings(depths: npt.ArrayLike) -> npt.NDArray[np.float64]:
    cans = np.asarray(depths, dtype=np.float64).ravel()
    if cans.size < 4:
        raise ValueError(f"uniformity needs at least 4 catch cans, found {cans.size}")
    if not (np.all(cans >= 0.0) and 0.0 < cans.sum() < math.inf):
        raise ValueError("catch-can readings must be known, not negative, and not all zero")
    return cans


def _above_zero(**values: float) -> None:
    for name, value in values.items():
        if not value > 0.0:
            raise ValueError(f"{name} must be above 0, found {value}")


def _not_negative(**values: float) -> None:
    for name, value in values.items():
        if not value >= 0.0:
            raise ValueError(f"{name} must be 0 or more, found {value}")
