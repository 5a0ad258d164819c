"""A zone's working figures: what the owner declared and the newest audit, brought together once.

Everything that turns a depth into minutes, or minutes into a depth, takes its figures from here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, tzinfo
from math import isinf, pi, sqrt

from advisor.lawn import Audit, AuditMethod, Rate, RateBasis, Rules, Zone
from advisor.science.soil import accumulation_at_slope, total_available_water
from advisor.science.sprinkler import longest_cycle_min, scheduling_multiplier, soak_min


@dataclass(frozen=True, slots=True)
class ZoneFigures:
    """The figures one zone is worked with.

    `rate_basis`: an audit in the records, or what the site file gives: a measurement, a flow over the
    area, or the head type's guess. `low_mm_h`–`high_mm_h`: what the rate may honestly be. `measured_on`
    is the local date of the measurement that the rate rests on, None without one or without its date.
    `multiplier` stretches a run so that the drier part gets its depth. `cycle_min`: the longest
    stretch before runoff, None without a limit; `soak_min`: the pause in which a full surface drains.
    `taw_mm`: total available water of the root zone. `flow_l_min`: what is known to be drawn, which the
    plan may add up; `draws_l_min`: what a measured rate over the area comes to, too, None for a guess.
    """

    rate_mm_h: float
    rate_basis: RateBasis
    low_mm_h: float
    high_mm_h: float
    uniformity: float
    uniformity_known: bool
    multiplier: float
    measured_on: date | None
    taw_mm: float
    intake_mm_h: float
    accumulation_mm: float
    cycle_min: float | None
    soak_min: float
    flow_l_min: float | None
    draws_l_min: float | None = None


def zone_figures(
    zone: Zone, audits: Sequence[Audit], rules: Rules, *, local: tzinfo = UTC, on: date | None = None
) -> ZoneFigures:
    """The working figures of `zone` from its declaration and the audits in the records.

    The newest measurement wins over flow, flow over the head-type guess; a measurement declared
    without its date loses to any in the records. Evenness comes from the newest audit that could
    tell it, even where a later flow-meter reading gives the rate. `local` is the time zone in which
    an audit's moment becomes a date. Audits of other zones are ignored; give only those that were
    known at the time advised for. `on` is that time's local date: a measurement that the site file
    dates after it counts as one without its date.
    """
    mine = sorted((a for a in audits if a.zone == zone.name), key=lambda a: (a.measured_at, a.id))
    declared = zone.rate
    if on is not None and declared.measured_on is not None and declared.measured_on > on:
        declared = replace(declared, measured_on=None)
    even, even_known = _evenness(zone, declared, mine, local)
    rate = _rate(zone, declared, mine[-1:], even, local)
    cycle, soak = cycle_and_soak(zone, rate.rate_mm_h)
    flow = rate.flow_l_min
    return ZoneFigures(
        rate_mm_h=rate.rate_mm_h,
        rate_basis=rate.basis,
        low_mm_h=rate.low_mm_h,
        high_mm_h=rate.high_mm_h,
        uniformity=even,
        uniformity_known=even_known,
        multiplier=scheduling_multiplier(even, strict=rules.strict_uniformity),
        measured_on=rate.measured_on,
        taw_mm=total_available_water(available_mm_m=zone.soil.available_mm_m, root_depth_m=zone.root_depth_m),
        intake_mm_h=zone.soil.intake_mm_h,
        accumulation_mm=accumulation_at_slope(zone.soil.accumulation_mm, zone.slope_pct),
        cycle_min=cycle,
        soak_min=soak,
        flow_l_min=flow,
        draws_l_min=flow or (None if rate.basis == RateBasis.GUESS else _drawn(rate.rate_mm_h, zone)),
    )


def _evenness(zone: Zone, declared: Rate, audits: Sequence[Audit], local: tzinfo) -> tuple[float, bool]:
    """The evenness and whether it was measured: of the newest audit that could tell it, or as declared."""
    newest = next((a for a in reversed(audits) if a.uniformity), None)
    if newest is None or newest.uniformity is None:
        return zone.uniformity, zone.uniformity_known
    if zone.uniformity_known and _is_older(newest, declared, local):
        return zone.uniformity, True
    return newest.uniformity, True


def _rate(zone: Zone, declared: Rate, newest: Sequence[Audit], even: float, local: tzinfo) -> Rate:
    """The rate by the newest audit, if there is one and the site file has no newer measurement."""
    flow = zone.flow_l_min or declared.flow_l_min
    for audit in newest:
        if not _is_older(audit, declared, local):
            low, high = audit_range(audit, even)
            day = audit.measured_at.astimezone(local).date()
            flow = flow or _drawn(audit.rate_mm_h, zone)
            return Rate(audit.rate_mm_h, RateBasis.AUDIT, low, high, day, flow)
    return replace(declared, flow_l_min=flow)


def _drawn(rate_mm_h: float, zone: Zone) -> float:
    """The flow that a rate over the whole zone comes to, L/min."""
    return rate_mm_h * zone.area_m2 / 60.0


def _is_older(audit: Audit, declared: Rate, local: tzinfo) -> bool:
    """Whether the site file has a dated measurement that is newer than this audit."""
    if declared.basis != RateBasis.MEASURED or declared.measured_on is None:
        return False
    return audit.measured_at.astimezone(local).date() < declared.measured_on


def cycle_and_soak(zone: Zone, rate_mm_h: float) -> tuple[float | None, float]:
    """The longest stretch before runoff at a rate, min, None without a limit, and the soak after it."""
    room = accumulation_at_slope(zone.soil.accumulation_mm, zone.slope_pct)
    intake = zone.soil.intake_mm_h
    cycle: float | None = zone.first_puddle_min
    if cycle is None:
        cycle = longest_cycle_min(rate_mm_h=rate_mm_h, intake_mm_h=intake, accumulation_mm=room)
    return (None, 0.0) if isinf(cycle) else (cycle, soak_min(intake_mm_h=intake, accumulation_mm=room))


def audit_range(audit: Audit, uniformity: float) -> tuple[float, float]:
    """What the zone's rate may be, mm/h (low, high), given how it was measured.

    A flow meter measures the whole zone: no range. Several cans: `mean_range` from the Christiansen
    coefficient, or from 1 − 0.63 (1 − DU) where only the evenness was kept (from memory of Keller and
    Bliesner, Sprinkle and Trickle Irrigation); no range where not even the number of cans is known.
    A single can may stand anywhere between the driest quarter (`uniformity` × mean) and, by symmetry,
    (2 − `uniformity`) × mean, so the mean lies within reading / those two.
    """
    rate = audit.rate_mm_h
    if audit.method == AuditMethod.SINGLE_CAN or audit.cans == 1:
        return rate / (2.0 - uniformity), rate / uniformity
    if audit.method == AuditMethod.FLOW_METER or audit.cans == 0:
        return rate, rate
    even = audit.christiansen if audit.christiansen is not None else 1.0 - 0.63 * (1.0 - uniformity)
    return mean_range(rate, christiansen=even, cans=audit.cans)


def mean_range(mean: float, *, christiansen: float, cans: int) -> tuple[float, float]:
    """The 90 % interval of a mean of `cans` readings whose Christiansen coefficient is known.

    CU = 1 − (mean absolute deviation) / mean, and for depths spread like a normal distribution the
    standard deviation is the mean absolute deviation × √(π/2); the interval is Student's t times
    the standard deviation / √cans. Floored at half the mean for very few cans.
    """
    spread = mean * (1.0 - christiansen) * sqrt(pi / 2.0)
    half = min(student_95(cans - 1) * spread / sqrt(cans), 0.5 * mean)
    return mean - half, mean + half


def student_95(degrees: int) -> float:
    """Student's t that 95 % lies under (90 % between ±), within 1 % from 3 degrees of freedom on.

    The expansion about the normal quantile, from memory of Abramowitz and Stegun 26.7.5.
    """
    z, n = 1.6448536269514722, max(degrees, 1)
    first = (z**3 + z) / 4.0
    second = (5.0 * z**5 + 16.0 * z**3 + 3.0 * z) / 96.0
    third = (3.0 * z**7 + 19.0 * z**5 + 17.0 * z**3 - 15.0 * z) / 384.0
    return z + first / n + second / n**2 + third / n**3
