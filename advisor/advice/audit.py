"""An audit as it is handed out: a zone's rate and evenness as measured, how sure, and what to look at."""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum
from typing import Literal

from advisor.advice.cautions import Caution
from advisor.advice.frozen import Frozen
from advisor.lawn import Audit, AuditMethod


class Confidence(StrEnum):
    """How far an audit can be relied on."""

    GOOD = "good"
    FAIR = "fair"
    LOW = "low"


class Weakness(StrEnum):
    """Why an audit of several cans cannot be relied on."""

    FEW_CANS = "few cans"
    WIND = "wind"


class Quality(StrEnum):
    """How evenly a zone is watered."""

    EVEN = "even"
    EVEN_ENOUGH = "even enough"
    UNEVEN = "uneven"
    VERY_UNEVEN = "very uneven"


class FindingKind(StrEnum):
    """What the figures of an audit point at."""

    WINDY = "measured in wind"
    FEW_CANS = "few cans"
    ONE_SPOT = "one can, one spot"
    LESS_THAN_HEADS = "less than its heads usually give"
    MORE_THAN_HEADS = "more than its heads usually give"
    DRIER_SIDE = "drier towards one side"
    PRESSURE = "pressure"
    HEADS = "heads tilted, sunken or clogged"
    SPACING = "spacing"
    ODD_CANS = "cans far from the others"
    NEEDS_SOAKS = "faster than the soil takes it in"


class Side(StrEnum):
    """A side of a zone, by the places of the cans."""

    SMALL_X = "small x"
    LARGE_X = "large x"
    SMALL_Y = "small y"
    LARGE_Y = "large y"


class Reading(Frozen):
    """One can."""

    depth_mm: float
    """The depth it caught, mm."""
    x_m: float | None = None
    """Where it stood across the zone, m; none where it was not measured."""
    y_m: float | None = None
    """Where it stood along the zone, m; none where it was not measured."""


class OddCan(Frozen):
    """A can that caught far more or less than the others."""

    number: int
    """Its number, from 1, in the order of the readings."""
    depth_mm: float
    """The depth it caught, mm."""


class Finding(Frozen):
    """One thing to look at, with the numbers that point at it; none where they play no part."""

    kind: FindingKind
    """What it is."""
    text: str = ""
    """The same in a sentence."""
    wind_m_s: float | None = None
    """The wind while it was measured, m/s."""
    most_wind_m_s: float | None = None
    """The most wind in which a zone is measured, m/s."""
    cans: int | None = None
    """How many cans there were."""
    enough_cans: int | None = None
    """How many cans make the figures firm."""
    head: str = ""
    """The head type."""
    rate_low_mm_h: float | None = None
    """The least that such heads usually give, mm/h."""
    rate_high_mm_h: float | None = None
    """The most that such heads usually give, mm/h."""
    side: Side | None = None
    """The side towards which the zone falls off."""
    odd_cans: tuple[OddCan, ...] = ()
    """The cans that are far from the others."""
    cycle_min: float | None = None
    """The longest stretch before runoff, min."""
    soak_min: float | None = None
    """The soak after it, min."""


class AuditResult(Frozen):
    """A zone as measured. What the method cannot tell is none: a meter knows no evenness, fewer than four
    cans no low quarter."""

    schema_version: Literal["advisor.audit/1"] = "advisor.audit/1"
    """The version of this form."""
    zone: str
    """The zone."""
    method: AuditMethod
    """How it was measured."""
    measured_at: datetime
    """When."""
    minutes: float
    """How long it ran, min."""
    cans: int
    """How many cans there were."""
    readings: tuple[Reading, ...]
    """The cans, in the order they were given."""
    mean_mm: float
    """The mean depth that it gave, mm."""
    rate_mm_h: float
    """The precipitation rate, mm/h."""
    rate_low_mm_h: float
    """The least that the rate may be, mm/h: the low end of its 90 % range."""
    rate_high_mm_h: float
    """The most that the rate may be, mm/h: the high end of its 90 % range."""
    uniformity: float | None
    """Low-quarter distribution uniformity, 0–1."""
    uniformity_low: float | None
    """The low end of its 90 % range, 0–1."""
    uniformity_high: float | None
    """The high end of its 90 % range, 0–1."""
    christiansen: float | None
    """Christiansen's coefficient of uniformity, at most 1."""
    driest_mm_h: float | None
    """The rate of the driest quarter, mm/h."""
    multiplier: float | None
    """The scheduling multiplier: mean depth over the depth of the drier part."""
    strict_multiplier: float | None
    """The same where the driest quarter is to get all of it."""
    confidence: Confidence
    """How far the audit can be relied on, by its cans and the wind."""
    weak: tuple[Weakness, ...] = ()
    """Why it cannot be relied on; empty where it can."""
    quality: Quality | None = None
    """How evenly the zone is watered; none where the method cannot tell."""
    wind_m_s: float | None
    """The wind while it was measured, m/s; none where it was not said."""
    verdict: str
    """What the figures come to, in a sentence no surer than the audit."""
    look_at: tuple[str, ...]
    """What to look at, in sentences, most useful first."""
    findings: tuple[Finding, ...] = ()
    """The same as data, in the order of the sentences."""
    cautions: tuple[Caution, ...]
    """What to mind while measuring."""

    def as_record(self, note: str = "") -> Audit:
        """What goes into the records; a quarter that stayed dry leaves the evenness unknown there."""
        return Audit(
            zone=self.zone,
            measured_at=self.measured_at,
            rate_mm_h=self.rate_mm_h,
            uniformity=self.uniformity or None,
            christiansen=self.christiansen,
            cans=self.cans,
            method=self.method.value,
            note=note,
        )
