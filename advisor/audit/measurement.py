"""What a measurement of a zone tells: its rate, its evenness, how sure that is and what to look at.

Three ways to measure: catch cans, the water meter, one straight-sided can. Pure; the command
writes the result into the records.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

import numpy as np

from advisor.advice import AuditResult, Reading
from advisor.audit.findings import audit_cautions, confidence_of, findings, quality_of, weaknesses
from advisor.errors import InputError
from advisor.lawn import MOST_MM_H, Audit, AuditMethod, Zone
from advisor.science.sprinkler import (
    christiansen,
    distribution_uniformity,
    precipitation_rate,
    scheduling_multiplier,
)
from advisor.sentences import with_sentences
from advisor.soil_water import audit_range, student_95
from advisor.wording import Say

FEWEST_FOR_EVENNESS = 4


def audit_cans(
    zone: Zone,
    readings: Sequence[Reading],
    *,
    minutes: float,
    measured_at: datetime,
    wind_m_s: float | None = None,
    say: Say,
) -> AuditResult:
    """A catch-can audit (ASABE S626, ISO 15886-3): rate from the mean depth, evenness from the spread.

    The range of the rate is Student's t on the mean, that of the evenness `uniformity_range`; both
    take the cans as a fair sample of the zone. `say` makes the sentences. Raises InputError
    for readings that cannot be.
    """
    depths = np.array([r.depth_mm for r in readings], dtype=np.float64)
    if depths.size == 0 or not depths.sum() > 0.0:
        raise InputError(
            "the cans caught nothing, so nothing can be told",
            where="advisor audit",
            found=f"{depths.size} readings",
            allowed="at least one reading above 0",
        )
    mean = float(depths.mean())
    even = even_low = even_high = cu = None
    if depths.size >= FEWEST_FOR_EVENNESS:
        even, cu = distribution_uniformity(depths), christiansen(depths)
        even_low, even_high = uniformity_range(depths)
    elif depths.size >= 2:
        cu = float(1.0 - np.abs(depths - mean).sum() / depths.sum())
    return _result(
        zone,
        Audit(
            zone.name, measured_at, 60.0 * mean / minutes, even, cu, int(depths.size), AuditMethod.CATCH_CANS
        ),
        minutes=minutes,
        readings=tuple(readings),
        even_range=(even_low, even_high),
        wind_m_s=wind_m_s,
        say=say,
    )


def audit_meter(zone: Zone, *, litres: float, minutes: float, measured_at: datetime, say: Say) -> AuditResult:
    """The rate from the water meter: `litres` gone through in `minutes`, over the zone's area."""
    if litres <= 0.0:
        raise InputError(
            "the meter did not move forward",
            where="--meter-end",
            found=f"{litres:g} L",
            allowed="an end above --meter-start",
        )
    rate = precipitation_rate(flow_l_min=litres / minutes, area_m2=zone.area_m2)
    audit = Audit(zone.name, measured_at, rate, method=AuditMethod.FLOW_METER)
    return _result(zone, audit, minutes=minutes, readings=(), say=say)


def audit_single_can(
    zone: Zone, *, depth_mm: float, minutes: float, measured_at: datetime, say: Say
) -> AuditResult:
    """The rate from one straight-sided can: better than the head type's guess, and no evenness."""
    if depth_mm <= 0.0:
        raise InputError("the can caught nothing", where="--can", allowed="a depth above 0")
    audit = Audit(zone.name, measured_at, 60.0 * depth_mm / minutes, cans=1, method=AuditMethod.SINGLE_CAN)
    return _result(zone, audit, minutes=minutes, readings=(Reading(depth_mm=depth_mm),), say=say)


def _result(
    zone: Zone,
    audit: Audit,
    *,
    minutes: float,
    readings: tuple[Reading, ...],
    even_range: tuple[float | None, float | None] = (None, None),
    wind_m_s: float | None = None,
    say: Say,
) -> AuditResult:
    if audit.rate_mm_h > MOST_MM_H:
        raise InputError(
            "no lawn sprinkler gives so much; check the unit, the throat and the minutes",
            where="advisor audit",
            found=f"{audit.rate_mm_h:.0f} mm/h",
            allowed=f"up to {MOST_MM_H:g} mm/h",
        )
    even = audit.uniformity or None  # a quarter that stayed dry has no multiplier
    low, high = audit_range(audit, zone.uniformity)
    result = AuditResult(
        zone=audit.zone,
        method=AuditMethod(audit.method),
        measured_at=audit.measured_at,
        minutes=minutes,
        cans=audit.cans,
        readings=readings,
        mean_mm=audit.rate_mm_h * minutes / 60.0,
        rate_mm_h=audit.rate_mm_h,
        rate_low_mm_h=low,
        rate_high_mm_h=high,
        uniformity=audit.uniformity,
        uniformity_low=even_range[0],
        uniformity_high=even_range[1],
        christiansen=audit.christiansen,
        driest_mm_h=None if audit.uniformity is None else audit.uniformity * audit.rate_mm_h,
        multiplier=None if even is None else scheduling_multiplier(even),
        strict_multiplier=None if even is None else scheduling_multiplier(even, strict=True),
        confidence=confidence_of(audit, wind_m_s),
        weak=weaknesses(audit, wind_m_s),
        quality=quality_of(audit.uniformity),
        wind_m_s=wind_m_s,
        verdict="",
        look_at=(),
        findings=findings(zone, audit, readings, wind_m_s=wind_m_s),
        cautions=audit_cautions(audit),
    )
    return with_sentences(say, result)


def uniformity_range(depths: Sequence[float] | np.ndarray) -> tuple[float, float]:
    """The 90 % interval of low-quarter uniformity from its cans, without resampling; within 0–1.

    The low-quarter mean L is q − 4·mean((q − x)⁺) with q the quarter's upper end, so DU = L / M moves
    with one can x by (q − 4(q − x)⁺ − L − DU·(x − M)) / M (its influence). The standard error is the
    spread of these over √n (the delta method), the interval Student's t on it, with the degrees of
    freedom of the quarter's cans, since they alone say how low the low quarter is.
    """
    x = np.sort(np.asarray(depths, dtype=np.float64))
    n, mean, even = x.size, float(x.mean()), distribution_uniformity(x)
    edge = x[-(-n // 4) - 1]
    influence = (edge - 4.0 * np.maximum(edge - x, 0.0) - even * mean - even * (x - mean)) / mean
    half = student_95(n // 4 - 1) * float(influence.std(ddof=1)) / n**0.5
    return max(0.0, even - half), min(1.0, even + half)
