"""How much of the rain stays on the lawn: what the leaves catch, what runs off, what counts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Numbers = npt.ArrayLike

# Wet leaves dry within a day, so that each day loses about what FAO-56 ch. 8 leaves out of account
# (rain below 0.2 ETo a day). Spread evenly over dry hours: common practice, no source.
LEAVES_DRY_IN_H = 24.0


@dataclass(frozen=True, eq=False, slots=True)
class EffectiveRain:
    """Where the rain of each hour goes, shapes (..., h) [mm]; the three parts add up to the rain."""

    net_mm: Array
    intercepted_mm: Array
    runoff_mm: Array


def effective_rain(
    *, rain_mm: Numbers, interception_mm: Numbers, intake_mm_h: Numbers, accumulation_mm: Numbers
) -> EffectiveRain:
    """Split hourly rain (..., h) into what stays, what the leaves catch and what runs off.

    `interception_mm` is what the leaves hold, `intake_mm_h` what the soil takes, `accumulation_mm` what
    the surface holds before water runs off; each a number or an array against the leading axes of the
    rain, of shape (z, 1) for (z, m, h), say. They begin dry.

    Rain first fills the leaves, which dry again in a day of hours without rain. The rest enters the
    soil at the intake rate, stands on the surface up to the accumulation, and what is above that runs
    off. Water that stands counts in the hour in which it fell: it enters soon after. A NaN hour is NaN
    and is passed as if dry, so that what is unknown neither wets the leaves nor fills the surface.
    """
    rain = np.asarray(rain_mm, dtype=np.float64)
    limits = [np.asarray(x, dtype=np.float64) for x in (interception_mm, intake_mm_h, accumulation_mm)]
    if np.any(rain < 0.0) or any(not np.all(x >= 0.0) for x in limits):
        raise ValueError("rain, interception, intake and accumulation must not be negative")
    lead = np.broadcast_shapes(rain.shape[:-1], *(x.shape for x in limits))
    # Hours first and the other axes in one, so that each hour is one run of memory.
    by_hour = np.moveaxis(np.broadcast_to(rain, (*lead, rain.shape[-1])), -1, 0)
    by_hour = by_hour.reshape(rain.shape[-1], int(np.prod(lead)))
    leaves, intake, surface = (np.broadcast_to(x, lead).reshape(-1) for x in limits)
    unknown = np.isnan(by_hour)
    gaps = bool(unknown.any())
    fell = np.where(unknown, 0.0, by_hour) if gaps else np.ascontiguousarray(by_hour)
    caught, runoff = np.zeros_like(fell), np.zeros_like(fell)
    free, standing, work, zero = leaves.copy(), np.zeros_like(leaves), np.empty_like(leaves), np.zeros(1)
    dries = leaves / LEAVES_DRY_IN_H
    most, enters = fell.max(axis=1, initial=0.0), float(intake.min(initial=np.inf))
    before, stands = -1, False
    for hour in np.flatnonzero(most > 0.0).tolist():
        now, catch, runs = fell[hour], caught[hour], runoff[hour]
        if (pause := hour - before - 1) > 0:  # dry hours in a row, all at once
            np.minimum(free + pause * dries, leaves, out=free)
            if stands:
                np.maximum(standing - pause * intake, zero, out=standing)
        before = hour
        np.minimum(now, free, out=catch)
        np.subtract(free, catch, out=free)
        np.multiply(dries, now <= 0.0, out=work)
        np.add(free, work, out=free)
        np.minimum(free, leaves, out=free)
        if not stands and most[hour] <= enters:
            continue  # nothing stands and all enters as it falls
        np.subtract(now, catch, out=work)
        np.add(standing, work, out=standing)
        np.subtract(standing, intake, out=standing)
        np.maximum(standing, zero, out=standing)
        np.subtract(standing, surface, out=runs)
        np.maximum(runs, zero, out=runs)
        np.subtract(standing, runs, out=standing)
        stands = bool(standing.any())
    if gaps:
        caught[unknown] = runoff[unknown] = np.nan
    parts = (by_hour - caught - runoff, caught, runoff)
    net, intercepted, ran_off = (np.moveaxis(part.reshape(rain.shape[-1], *lead), 0, -1) for part in parts)
    return EffectiveRain(net_mm=net, intercepted_mm=intercepted, runoff_mm=ran_off)
