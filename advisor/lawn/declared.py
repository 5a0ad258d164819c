"""Checked pieces of the site file → the frozen values of `site`.

South of the equator the turf coefficients, which are printed for the northern hemisphere, are
taken six months later.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from advisor.lawn.fields import Section
from advisor.lawn.schema import (
    DecisionWritten,
    PlaceWritten,
    RateWritten,
    SpanWritten,
    SprayerWritten,
    SupplyWritten,
    WateringWritten,
    ZoneWritten,
)
from advisor.lawn.site_values import (
    DateSpan,
    Decision,
    Head,
    Parity,
    Place,
    Rate,
    RateBasis,
    Rules,
    Sprayer,
    Supply,
    Turf,
    Zone,
)


def spans_of(written: Sequence[SpanWritten]) -> tuple[DateSpan, ...]:
    """Blackout dates."""
    return tuple(DateSpan(span.first, span.last, span.why) for span in written)


def place_of(p: PlaceWritten) -> Place:
    """Where the lawn is."""
    return Place(
        name=p.name,
        latitude_deg=p.latitude,
        longitude_deg=p.longitude,
        elevation_m=p.elevation,
        zone=p.time_zone,
        units=p.units,
        country=p.country,
        contact=p.contact,
    )


def for_latitude(turf: Turf, latitude_deg: float) -> Turf:
    """`turf` with its months moved by six where the seasons are the southern ones."""
    return replace(turf, kc_month=turf.kc_month[6:] + turf.kc_month[:6]) if latitude_deg < 0 else turf


def rate_of(written: RateWritten, area_m2: float, head: Head | None) -> Rate:
    """The gross precipitation rate and how it is known: PR = 60 · q / A for a flow (L/min, m²)."""
    if written.measured is not None:
        return Rate(written.measured, RateBasis.MEASURED, written.measured, written.measured, written.on)
    if written.flow is not None:
        rate = 60 * written.flow / area_m2
        return Rate(rate, RateBasis.FLOW, rate, rate, written.on, written.flow)
    assert head is not None
    return Rate(head.rate_mm_h, RateBasis.GUESS, head.rate_low_mm_h, head.rate_high_mm_h)


def zone_of(z: ZoneWritten, latitude_deg: float) -> Zone:
    """One zone with its table rows; what the owner left out is taken from them and marked unknown."""
    share, light = z.exposure
    uniformity = z.uniformity if z.uniformity is not None else z.head.uniformity if z.head else None
    assert uniformity is not None
    rate = rate_of(z.rate, z.area, z.head)
    return Zone(
        name=z.name,
        area_m2=z.area,
        turf=for_latitude(z.grass, latitude_deg),
        soil=z.soil,
        slope_pct=z.slope,
        exposure=share,
        exposure_name=light,
        root_depth_m=z.grass.root_depth_m if z.root_depth is None else z.root_depth,
        root_depth_known=z.root_depth is not None,
        head=z.head,
        rate=rate,
        uniformity=uniformity,
        uniformity_known=z.uniformity is not None,
        allowed_depletion=z.allowed_depletion,
        first_puddle_min=z.first_puddle,
        mode=z.mode,
        mode_until=z.mode_until,
        by_hand=z.by_hand,
        flow_l_min=z.flow if z.flow is not None else rate.flow_l_min,
    )


def rules_of(w: WateringWritten) -> Rules:
    """When watering is allowed."""
    return Rules(
        hours=w.hours,
        weekdays=frozenset(w.weekdays),
        parity=Parity(w.dates),
        blackouts=spans_of(w.blackout),
        finish=w.finish_by,
        least_temp_c=w.least_temperature,
        minutes_a_night=w.minutes_a_night,
        strict_uniformity=w.strict_uniformity,
        act_within_min=w.act_within,
        assume_made_after_min=w.assume_made_after,
        awake=w.awake,
    )


def supply_of(section: Section | None) -> Supply:
    """The supply, or one that is not described: one zone at a time."""
    if not isinstance(section, SupplyWritten):
        return Supply()
    return Supply(flow_l_min=section.flow, water_cost_per_m3=section.water_cost_per_m3)


def sprayer_of(s: SprayerWritten) -> Sprayer:
    """One piece of equipment."""
    return Sprayer(name=s.name, method=s.method, tank_l=s.tank, carrier_l_m2=s.carrier, dilution=s.dilution)


def decision_of(section: Section | None) -> Decision:
    """How careful to be."""
    if not isinstance(section, DecisionWritten):
        return Decision()
    return Decision(dial=section.dial, costs=dict(section.costs))
