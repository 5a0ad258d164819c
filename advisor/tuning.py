"""Use case: what the site's own pairs of forecast and gauge teach about the chance of rain.

From the records' `RainPair`s to a calibration and to a report of how good it is. Pure: no files, no
clock. Only whole days count (24 h), because the calibration is one of daily totals; of several
forecasts of one day the youngest counts, because they are no separate evidence.

The skill is cross-validated: the days are cut into five stretches in the order of time, and each
stretch is judged by a curve fitted on the other four. "Raw" is the chance from a normal curve of the
forecast's own mean and spread, because the records keep these and not every member; the share of
members differs from it by a few points.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import asdict

import numpy as np

from advisor.advice import CalibrationUsed, RainSkill, Reliability, ThresholdSkill
from advisor.lawn import RainJudged, RainPair
from advisor.science.chance import (
    brier,
    calibrated_chance,
    reliability,
)
from advisor.sentences import skill_sentences
from advisor.soil_water import columns, fit_days, prior_of, usable
from advisor.wording import Say

THRESHOLDS_MM = (1.0, 5.0, 10.0)
LEAST_PAIRS = 30
STRETCHES = 5


def skill(pairs: Sequence[RainPair], say: Say, judged: RainJudged, *, site: str = "") -> RainSkill:
    """How well the calibrated chance of 1, 5 and 10 mm a day has done on these records, in numbers and
    in sentences for a reader; below 30 days no skill is told."""
    days = usable(pairs)
    calibration = fit_days(days, judged)
    thresholds = tuple(_judge(days, judged)) if len(days) >= LEAST_PAIRS else ()
    begins_at, ends_at = (days[0].starts_at, days[-1].starts_at) if days else (None, None)
    found = RainSkill(
        site=site,
        calibration=CalibrationUsed(**asdict(calibration)),
        pairs=len(days),
        left_out=len(pairs) - len(days),
        begins_at=begins_at,
        ends_at=ends_at,
        thresholds=thresholds,
    )
    told = tuple(skill_sentences(say, found, least_pairs=LEAST_PAIRS))
    return found.model_copy(update={"sentences": told})


def _judge(days: Sequence[RainPair], judged: RainJudged) -> Iterable[ThresholdSkill]:
    """Each threshold's scores, every stretch of days judged by what the other stretches teach."""
    from scipy.special import ndtr

    mean, spread, observed = columns(days)
    stretch = np.arange(len(days)) * STRETCHES // len(days)
    others = [
        fit_days([d for d, s in zip(days, stretch, strict=True) if s != k], judged) for k in range(STRETCHES)
    ]
    for threshold in THRESHOLDS_MM:
        happened = (observed >= threshold).astype(np.float64)
        calibrated, climatology = np.empty(len(days)), np.empty(len(days))
        for k, curve in enumerate(others):
            here = stretch == k
            calibrated[here] = calibrated_chance(
                mean_mm=mean[here], spread_mm=spread[here], threshold_mm=threshold, calibration=curve
            )
            climatology[here] = happened[~here].mean()
        raw = ndtr((mean - threshold) / np.maximum(spread, 1e-6))
        default = calibrated_chance(
            mean_mm=mean, spread_mm=spread, threshold_mm=threshold, calibration=prior_of(judged).curve
        )
        yield ThresholdSkill(
            threshold_mm=threshold,
            rain_share=float(happened.mean()),
            brier_calibrated=brier(chance=calibrated, happened=happened),
            brier_default=brier(chance=default, happened=happened),
            brier_raw=brier(chance=raw, happened=happened),
            brier_climatology=brier(chance=climatology, happened=happened),
            raw_miss=reliability(chance=raw, happened=happened).average_miss,
            reliability=Reliability.model_validate(asdict(reliability(chance=calibrated, happened=happened))),
        )
