"""Made rain, for a source that has none: a two-state Markov chain and gamma amounts by month, seeded.

Its figures are invented and stand in `data/worth.toml`; whoever shows a result of it says "made rain".
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from scipy.stats import norm
from worth.hourly import Array, Dates


def made_rain(days: Dates, clearness: Array, said: Mapping[str, Any], rng: np.random.Generator) -> Array:
    """Rain of each day, shape (d,) [mm]. `clearness` (d,) is radiation as a share of the extraterrestrial.

    A day is wet when its number lies below the month's chance after a dry or a wet day. The number is uniform but
    for its correlation with clearness, in normal scores: rain falls mostly on dull days, as demand wants.
    """
    month = days.astype("datetime64[M]").astype(np.int64) % 12
    after_dry, after_wet, shape, mean = (
        np.asarray(said[name])[month] for name in ("wet_after_dry", "wet_after_wet", "gamma_shape", "mean_mm")
    )
    rank = np.argsort(np.argsort(clearness, kind="stable"), kind="stable")
    score = norm.ppf((rank + 0.5) / len(days))
    rho = said["clearness"]
    number = norm.cdf(rho * score + np.sqrt(1.0 - rho**2) * rng.standard_normal(len(days)))
    amount = np.maximum(rng.gamma(shape, mean / shape), said["least_mm"])
    wet = np.zeros(len(days), dtype=bool)
    chance = after_dry[0] / (1.0 + after_dry[0] - after_wet[0])  # in the long run
    for day in range(len(days)):
        wet[day] = number[day] < chance
        if day + 1 < len(days):
            chance = (after_wet if wet[day] else after_dry)[day + 1]
    return np.where(wet, amount, 0.0)
