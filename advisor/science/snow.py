"""Snow: what of the precipitation falls as snow, and when it melts.

Snow waters nothing in until it melts. Melt follows the degree-day rule: a pack gives up
`factor` mm of water a day for every °C that the air is above freezing. The factor is 2–4 mm/(°C d)
for open ground in spring (from memory of US Army Corps of Engineers EM 1110-2-1406, Runoff from
Snowmelt, and WMO snow-melt model comparisons, which give about 1–6); 3 is the middle.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

DEGREE_DAY_MM = 3.0
ALL_SNOW_C = 0.0
ALL_RAIN_C = 2.0


def snow_share(temp_c: Array) -> Array:
    """The fraction of precipitation that falls as snow, by air temperature; any shape, NaN stays NaN.

    All snow at 0 °C and below, all rain at 2 °C and above, linear between, half at 1 °C (from memory
    of EM 1110-2-1406, which finds rain and snow equally likely near 1–1.5 °C).
    """
    return np.clip((ALL_RAIN_C - temp_c) / (ALL_RAIN_C - ALL_SNOW_C), 0.0, 1.0)


def split(precipitation_mm: Array, temp_c: Array) -> tuple[Array, Array]:
    """Rain and snow (water equivalent) of `precipitation_mm` (…, h) by the temperature (h,), mm.

    An hour of unknown temperature is taken as rain; no precipitation is no snow.
    """
    share = np.nan_to_num(snow_share(temp_c), nan=0.0)
    snow = precipitation_mm * share
    return precipitation_mm - snow, snow


def melt(
    *, rain_mm: Array, snow_mm: Array, temp_c: Array, pack_mm: float = 0.0, factor: float = DEGREE_DAY_MM
) -> Array:
    """Liquid water reaching the ground per hour, mm, shape of `rain_mm` (…, h).

    `snow_mm` (…, h) is snow as water, `temp_c` (h,), `pack_mm` what lay there before the first hour.
    Water in equals water out plus what still lies. An hour of unknown temperature melts nothing. An
    hour of unknown rain or snow is unknown and adds nothing to the pack.
    """
    snow_mm = np.broadcast_to(snow_mm, np.broadcast_shapes(rain_mm.shape, snow_mm.shape))
    if pack_mm <= 0.0 and not np.any(snow_mm > 0.0):
        return rain_mm + snow_mm
    potential = factor / 24.0 * np.maximum(np.nan_to_num(temp_c, nan=0.0), 0.0)
    fallen = np.nan_to_num(snow_mm, nan=0.0)
    # The pack is max(0, pack + snow − potential) hour by hour, which is a reflected running sum.
    walked = pack_mm + np.cumsum(fallen - potential, axis=-1)
    lying = walked - np.minimum(np.minimum.accumulate(walked, axis=-1), 0.0)
    before = np.concatenate([np.full((*lying.shape[:-1], 1), pack_mm), lying[..., :-1]], axis=-1)
    melted = np.maximum(before + fallen - lying, 0.0)
    return rain_mm + melted + (snow_mm - fallen)
