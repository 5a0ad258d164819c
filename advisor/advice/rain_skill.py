"""How good the chances of rain have been at one site, as it is handed out."""

from __future__ import annotations

from datetime import datetime
from typing import Literal

from advisor.advice.frozen import Frozen


class CalibrationUsed(Frozen):
    """The curve that turns the members' mean and spread into chances, √rain ~ logistic (√mm)."""

    a: float
    """The location at a mean of nothing."""
    b: float
    """How the location grows with the root of the mean."""
    c: float
    """The least scale."""
    d: float
    """How the scale grows with the members' own spread."""
    pairs: int
    """How many pairs of forecast and gauge it was fitted on."""
    weight: float
    """Their share against the default's, 0–1."""
    default: bool
    """Whether it is the default alone."""


class ReliabilityBin(Frozen):
    """The days whose chance lay in one range."""

    low: float
    """The range's low end, 0–1."""
    high: float
    """The range's high end, 0–1."""
    count: int
    """How many days."""
    chance: float
    """Their mean chance, 0–1."""
    happened: float
    """On what share of them it happened, 0–1."""


class Reliability(Frozen):
    """Chances held against what happened."""

    average_miss: float
    """The mean of |chance − happened| over the bins, weighted by their days."""
    bins: tuple[ReliabilityBin, ...]
    """The bins that hold days."""


class ThresholdSkill(Frozen):
    """How good the chance of at least so much a day was. Brier scores: lower is better."""

    threshold_mm: float
    """The depth, mm."""
    rain_share: float
    """On what share of the days it rained that much, 0–1."""
    brier_calibrated: float
    """The calibrated chance's score."""
    brier_default: float
    """The default calibration's score."""
    brier_raw: float
    """The score of a normal curve of the forecast's own mean and spread."""
    brier_climatology: float
    """The score of how often it rains that much in the other stretches of days."""
    raw_miss: float
    """The raw chance's average miss, 0–1."""
    reliability: Reliability
    """The calibrated chance's reliability."""


class RainSkill(Frozen):
    """What the calibration rests on and how good it was."""

    schema_version: Literal["advisor.skill/1"] = "advisor.skill/1"
    """The version of this form."""
    site: str
    """The site's name."""
    calibration: CalibrationUsed
    """The calibration in use."""
    pairs: int
    """How many days of forecast and gauge it rests on."""
    left_out: int
    """How many pairs were left out."""
    begins_at: datetime | None
    """When the first day begins; none where there is none."""
    ends_at: datetime | None
    """When the last day begins; none where there is none."""
    thresholds: tuple[ThresholdSkill, ...] = ()
    """The scores; none where there are too few days to tell."""
    sentences: tuple[str, ...] = ()
    """The same for a reader."""
