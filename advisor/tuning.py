"""Use case: what the site's own pairs of forecast and gauge teach about the chance of rain.

From the records' `RainPair`s to a `Calibration` and to a report of how good it is. Pure: no files, no
clock. Only whole days count (24 h), because the calibration is one of daily totals; of several
forecasts of one day the youngest counts, because they are no separate evidence.

The skill is cross-validated: the days are cut into five stretches in the order of time, and each
stretch is judged by a curve fitted on the other four. "Raw" is the chance from a normal curve of the
forecast's own mean and spread, because the records keep these and not every member; the share of
members differs from it by a few points.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
import numpy.typing as npt

from advisor.lawn.records import RainPair
from advisor.science.chance import (
    DEFAULT,
    Calibration,
    Reliability,
    brier,
    calibrated_chance,
    reliability,
)
from advisor.soil_water.calibration import columns, fit_days, usable

THRESHOLDS_MM = (1.0, 5.0, 10.0)
LEAST_PAIRS = 30
STRETCHES = 5

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class ThresholdSkill:
    """How good the chance of at least `threshold_mm` a day was; Brier scores: lower is better.

    `rain_share` is how often it rained that much; the climatology's chance is this share in the other
    stretches. `reliability` is that of the calibrated chance, `raw_miss` the raw one's average miss.
    """

    threshold_mm: float
    rain_share: float
    brier_calibrated: float
    brier_default: float
    brier_raw: float
    brier_climatology: float
    raw_miss: float
    reliability: Reliability


@dataclass(frozen=True, slots=True)
class Skill:
    """What the calibration rests on and how good it was; `thresholds` is empty below 30 pairs."""

    calibration: Calibration
    pairs: int
    left_out: int
    begins_at: datetime | None
    ends_at: datetime | None
    thresholds: tuple[ThresholdSkill, ...] = ()
    sentences: tuple[str, ...] = ()


def skill(pairs: Sequence[RainPair]) -> Skill:
    """How well the calibrated chance of 1, 5 and 10 mm a day has done on these records, in numbers and
    in sentences for a reader."""
    days = usable(pairs)
    calibration = fit_days(days)
    thresholds = tuple(_judge(days)) if len(days) >= LEAST_PAIRS else ()
    begins_at, ends_at = (days[0].starts_at, days[-1].starts_at) if days else (None, None)
    left_out = len(pairs) - len(days)
    return Skill(
        calibration=calibration,
        pairs=len(days),
        left_out=left_out,
        begins_at=begins_at,
        ends_at=ends_at,
        thresholds=thresholds,
        sentences=tuple(_sentences(calibration, days, left_out, thresholds)),
    )


def _judge(days: Sequence[RainPair]) -> Iterable[ThresholdSkill]:
    """Each threshold's scores, every stretch of days judged by what the other stretches teach."""
    from scipy.special import ndtr

    mean, spread, observed = columns(days)
    stretch = np.arange(len(days)) * STRETCHES // len(days)
    others = [fit_days([d for d, s in zip(days, stretch, strict=True) if s != k]) for k in range(STRETCHES)]
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
            mean_mm=mean, spread_mm=spread, threshold_mm=threshold, calibration=DEFAULT
        )
        yield ThresholdSkill(
            threshold_mm=threshold,
            rain_share=float(happened.mean()),
            brier_calibrated=brier(chance=calibrated, happened=happened),
            brier_default=brier(chance=default, happened=happened),
            brier_raw=brier(chance=raw, happened=happened),
            brier_climatology=brier(chance=climatology, happened=happened),
            raw_miss=reliability(chance=raw, happened=happened).average_miss,
            reliability=reliability(chance=calibrated, happened=happened),
        )


def _sentences(
    calibration: Calibration, days: Sequence[RainPair], left_out: int, thresholds: Sequence[ThresholdSkill]
) -> Iterable[str]:
    """The report for a reader."""
    if not days:
        yield (
            "No day of forecast and gauge has been paired yet, so the chance of rain rests on the default "
            "calibration: the members' own middle, spread wider than they are."
        )
    else:
        yield (
            f"The calibration rests on {_count(len(days), 'day')} of forecast and gauge from "
            f"{days[0].starts_at:%Y-%m-%d} to {days[-1].starts_at:%Y-%m-%d}; they weigh "
            f"{100 * calibration.weight:.0f} %, the default the rest."
        )
    if left_out:
        yield (
            f"{_count(left_out, 'pair')} left out: not a whole day, an unknown or impossible number, or an "
            "older forecast of the same day."
        )
    if days and not thresholds:
        yield f"Its skill is told from {LEAST_PAIRS} days on."
    for t in thresholds:
        best = min(t.brier_raw, t.brier_climatology)
        verdict = "better than" if t.brier_calibrated < best else "no better than"
        rival = "the raw forecast" if t.brier_raw <= t.brier_climatology else "how often it rains here anyway"
        miss, raw_miss = 100 * t.reliability.average_miss, 100 * t.raw_miss
        yield (
            f"At least {t.threshold_mm:g} mm a day fell on {100 * t.rain_share:.0f} % of the days. The calibrated "
            f"chance missed by {miss:.0f} points on average (raw: {raw_miss:.0f}); its Brier score "
            f"{t.brier_calibrated:.3f} is {verdict} the best rival, {rival} ({best:.3f})."
        )
    if thresholds:
        yield (
            "Each fifth of the days was judged by the other four; raw means a normal curve of the forecast's "
            "mean and spread. With few days the average miss is partly luck."
        )


def _count(n: int, what: str) -> str:
    return f"{n} {what}" if n == 1 else f"{n} {what}s"
