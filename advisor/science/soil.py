"""What the soil holds for the turf and what its surface can carry."""

from __future__ import annotations

from collections.abc import Sequence

# Upper ends of the slope bands of the surface accumulation table, percent; the last band is open.
SLOPE_BANDS_PCT = (3.0, 6.0, 12.0)


def total_available_water(*, available_mm_m: float, root_depth_m: float) -> float:
    """Total available water of the root zone, TAW [mm] (FAO-56 eq. 82).

    `available_mm_m` is field capacity less wilting point, in mm of water a metre of soil.
    """
    return available_mm_m * root_depth_m


def accumulation_at_slope(accumulation: Sequence[float], slope_pct: float) -> float:
    """The allowable surface accumulation at a slope, in the unit of the table row.

    `accumulation` holds the values for slopes of 0–3, 4–6, 7–12 and 13 % or more (Irrigation
    Association, climatological test protocol). A slope between two bands takes the steeper one.
    """
    if len(accumulation) != 4:
        raise ValueError(f"accumulation must hold 4 values, one a slope band, found {len(accumulation)}")
    if not slope_pct >= 0.0:
        raise ValueError(f"slope_pct must be 0 or more, found {slope_pct}")
    return float(accumulation[sum(slope_pct > end for end in SLOPE_BANDS_PCT)])
