"""What an audit's figures mean: how sure they are, how evenly the zone is watered, what to look at. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from advisor.advice import (
    TOPIC,
    Caution,
    CautionKind,
    Confidence,
    Finding,
    FindingKind,
    OddCan,
    Quality,
    Reading,
    Side,
    Weakness,
)
from advisor.lawn import Audit, AuditMethod, Zone
from advisor.soil_water import cycle_and_soak

ENOUGH_CANS = 20
"""At least 20 cans a zone: University of Minnesota Extension."""
FEW_CANS = 12
"""Below: too few to rely on (common practice, no source)."""
INCH_MM = 25.4
"""A run up to so much is looked at for its need of soaks (no source)."""
WIND_MOST_M_S = 2.2352
"""5 mph: New Mexico State University H-510; audit guidelines 2009."""
ASKED_OF_NEW = 0.65
"""DU_lq asked of new homes: EPA WaterSense audit guidelines."""
GOOD, POOR = 0.75, 0.50
"""Above: little to gain; below: mend before watering by it (common practice, no source)."""
QUALITIES = (
    (GOOD, Quality.EVEN),
    (ASKED_OF_NEW, Quality.EVEN_ENOUGH),
    (POOR, Quality.UNEVEN),
    (0.0, Quality.VERY_UNEVEN),
)
LEANS = 0.5
"""A correlation of depth with place from which the fall-off is told (common practice, no source)."""
ODD_LOW, ODD_HIGH, MOST_ODD = 0.3, 2.5, 2
"""A can under or over these shares of the median is odd; more than so many are no accident (no source)."""


def confidence_of(audit: Audit, wind_m_s: float | None) -> Confidence:
    """How far an audit can be relied on, from the number of cans and the wind."""
    if audit.method == AuditMethod.FLOW_METER:
        return Confidence.GOOD
    if weaknesses(audit, wind_m_s):
        return Confidence.LOW
    return Confidence.GOOD if audit.cans >= ENOUGH_CANS else Confidence.FAIR


def weaknesses(audit: Audit, wind_m_s: float | None) -> tuple[Weakness, ...]:
    """Why an audit cannot be relied on; a meter minds neither cans nor wind."""
    if audit.method == AuditMethod.FLOW_METER:
        return ()
    few = (Weakness.FEW_CANS,) if audit.cans < FEW_CANS else ()
    return (*few, Weakness.WIND) if _is_windy(wind_m_s) else few


def quality_of(uniformity: float | None) -> Quality | None:
    """How evenly a zone is watered; None where that is not known.

    >>> quality_of(0.65), quality_of(0.64), quality_of(None)
    (<Quality.EVEN_ENOUGH: 'even enough'>, <Quality.UNEVEN: 'uneven'>, None)
    """
    if uniformity is None:
        return None
    return next(quality for least, quality in QUALITIES if uniformity >= least)


def findings(
    zone: Zone, audit: Audit, readings: Sequence[Reading], *, wind_m_s: float | None
) -> tuple[Finding, ...]:
    """What the figures point at, most useful first."""
    return (
        *_about_the_audit(audit, wind_m_s),
        *_against_heads(zone, audit),
        *_unevenness(audit, readings),
        *_odd_cans(readings),
        *_soaks(zone, audit),
    )


def audit_cautions(audit: Audit) -> tuple[Caution, ...]:
    """What to mind while measuring."""
    kinds = [CautionKind.WET_PAVING]
    if audit.method != AuditMethod.FLOW_METER:
        kinds.append(CautionKind.CLEAN_CANS)
    return tuple(Caution(topic=TOPIC[kind], kind=kind) for kind in kinds)


def _is_windy(wind_m_s: float | None) -> bool:
    return wind_m_s is not None and wind_m_s > WIND_MOST_M_S


def _about_the_audit(audit: Audit, wind_m_s: float | None) -> Iterator[Finding]:
    if _is_windy(wind_m_s):
        yield Finding(kind=FindingKind.WINDY, wind_m_s=wind_m_s, most_wind_m_s=WIND_MOST_M_S)
    if audit.method == AuditMethod.CATCH_CANS and audit.cans < ENOUGH_CANS:
        yield Finding(kind=FindingKind.FEW_CANS, cans=audit.cans, enough_cans=ENOUGH_CANS)
    if audit.method == AuditMethod.SINGLE_CAN:
        yield Finding(kind=FindingKind.ONE_SPOT)


def _against_heads(zone: Zone, audit: Audit) -> Iterator[Finding]:
    head = zone.head
    if head is None or head.rate_low_mm_h <= audit.rate_mm_h <= head.rate_high_mm_h:
        return
    is_less = audit.rate_mm_h < head.rate_low_mm_h
    yield Finding(
        kind=FindingKind.LESS_THAN_HEADS if is_less else FindingKind.MORE_THAN_HEADS,
        head=head.name,
        rate_low_mm_h=head.rate_low_mm_h,
        rate_high_mm_h=head.rate_high_mm_h,
    )


def _unevenness(audit: Audit, readings: Sequence[Reading]) -> Iterator[Finding]:
    if audit.uniformity is None or audit.uniformity >= GOOD:
        return
    for side in _dry_sides(readings):
        yield Finding(kind=FindingKind.DRIER_SIDE, side=side)
    for kind in (FindingKind.PRESSURE, FindingKind.HEADS, FindingKind.SPACING):
        yield Finding(kind=kind)


def _dry_sides(readings: Sequence[Reading]) -> Iterator[Side]:
    """Which way the zone falls off, where the places are known."""
    placed = [(r.depth_mm, r.x_m, r.y_m) for r in readings if r.x_m is not None and r.y_m is not None]
    cans = np.array(placed, dtype=np.float64)
    if len(placed) < ENOUGH_CANS // 2 or np.ptp(cans[:, 0]) == 0.0:
        return
    for axis, small, large in ((1, Side.SMALL_X, Side.LARGE_X), (2, Side.SMALL_Y, Side.LARGE_Y)):
        if np.ptp(cans[:, axis]) == 0.0:
            continue
        leans = float(np.corrcoef(cans[:, axis], cans[:, 0])[0, 1])
        if abs(leans) >= LEANS:
            yield small if leans > 0 else large


def _odd_cans(readings: Sequence[Reading]) -> Iterator[Finding]:
    """A single can far from all others: tipped, under a leaf, or beside a leak."""
    depths = np.array([r.depth_mm for r in readings], dtype=np.float64)
    if depths.size < ENOUGH_CANS // 2:
        return
    middle = float(np.median(depths))
    odd = np.flatnonzero((depths < ODD_LOW * middle) | (depths > ODD_HIGH * middle))
    if 0 < odd.size <= MOST_ODD:
        cans = tuple(OddCan(number=int(i) + 1, depth_mm=float(depths[i])) for i in odd)
        yield Finding(kind=FindingKind.ODD_CANS, odd_cans=cans)


def _soaks(zone: Zone, audit: Audit) -> Iterator[Finding]:
    cycle, soak = cycle_and_soak(zone, audit.rate_mm_h)
    if cycle is not None and 60.0 * INCH_MM / audit.rate_mm_h > cycle:
        yield Finding(kind=FindingKind.NEEDS_SOAKS, cycle_min=cycle, soak_min=soak)
