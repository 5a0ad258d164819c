"""The calibration of rain that this site's own records teach.

Only whole days count (24 h), because the calibration is one of daily totals; of several forecasts of
one day the youngest counts, because they are no separate evidence.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime

import numpy as np
import numpy.typing as npt

from advisor.lawn import RainJudged, RainPair
from advisor.science.chance import DAY_H, Calibration, Prior, fit, usual_curve

Array = npt.NDArray[np.float64]


def usable(pairs: Iterable[RainPair]) -> tuple[RainPair, ...]:
    """The pairs that teach: whole days, known and possible numbers, one a day (the youngest forecast)."""
    youngest: dict[datetime, RainPair] = {}
    for pair in pairs:
        numbers = (pair.mean_mm, pair.spread_mm, pair.observed_mm)
        if pair.hours != DAY_H or not all(np.isfinite(v) and v >= 0.0 for v in numbers):
            continue
        known = youngest.get(pair.starts_at)
        if known is None or pair.lead_h < known.lead_h:
            youngest[pair.starts_at] = pair
    return tuple(youngest[when] for when in sorted(youngest))


def prior_of(judged: RainJudged) -> Prior:
    """What is used until there are pairs."""
    curve = usual_curve(judged.doubt, judged.doubt_of_spread)
    return Prior(curve, judged.half_weight_pairs, judged.made_up_pairs)


def calibration_from(pairs: Iterable[RainPair], judged: RainJudged) -> Calibration:
    """The calibration that these records teach; the usual one where no pair is usable."""
    days = usable(pairs)
    return fit_days(days, judged) if days else prior_of(judged).curve


def columns(days: Sequence[RainPair]) -> tuple[Array, Array, Array]:
    """Mean, spread and observed rain of the days, each (n,) in mm."""
    table = np.array([(d.mean_mm, d.spread_mm, d.observed_mm) for d in days], dtype=np.float64).reshape(-1, 3)
    return table[:, 0], table[:, 1], table[:, 2]


def fit_days(days: Sequence[RainPair], judged: RainJudged) -> Calibration:
    """The curve fitted on these days."""
    mean, spread, observed = columns(days)
    return fit(mean_mm=mean, spread_mm=spread, observed_mm=observed, prior=prior_of(judged))
