"""Minutes and depths as they are handed out: runs, what a month asks, what measuring would be worth."""

from __future__ import annotations

from datetime import date
from typing import Literal

from advisor.advice.cautions import Caution
from advisor.advice.frozen import Frozen
from advisor.lawn import RateBasis


class RunLine(Frozen):
    """One run of one zone, and what its minutes could come to over the rate's range."""

    effective_mm: float
    """What the drier part gets, mm."""
    depth_mm: float
    """The mean depth over the zone, mm."""
    driest_mm: float
    """What the driest quarter gets, mm."""
    minutes: int
    """Run time, soaks not counted, min."""
    minutes_low: float
    """The run time that the same depth needs if the rate is at its high end, min."""
    minutes_high: float
    """The run time that the same depth needs if the rate is at its low end, min."""
    cycle_minutes: tuple[int, ...]
    """The stretches of water, with soaks between them, min."""
    elapsed_min: int
    """From the first water to the last, soaks counted, min."""
    litres: float
    """The water it takes, L."""
    depth_low_mm: float
    """The mean depth if the rate is at its low end, mm."""
    depth_high_mm: float
    """The mean depth if the rate is at its high end, mm."""


class MonthLine(Frozen):
    """What the turf of a zone uses in a month, before rain, and the minutes that put it back."""

    month: int
    """The month, 1–12."""
    need_mm: float
    """What the turf uses, mm a month."""
    depth_mm: float
    """The mean depth that puts it back to the drier part too, mm a month."""
    minutes: int
    """Run time a month, min."""
    minutes_a_week: float
    """The same a week, min."""
    minutes_low: float
    """Run time a month if the rate is at its high end, min."""
    minutes_high: float
    """Run time a month if the rate is at its low end, min."""


class Worth(Frozen):
    """What measuring the rate would be worth: mean depths too much and too little while it is not known."""

    need_mm: float
    """For so much water that the lawn is meant to get, mm."""
    month: int | None
    """In this month, 1–12; none where it is told for so much water at any time."""
    excess_most_mm: float
    """Too much at the worst, mm."""
    shortfall_most_mm: float
    """Too little at the worst, mm."""
    excess_mean_mm: float
    """Too much on average, mm."""
    shortfall_mean_mm: float
    """Too little on average, mm."""
    litres: float
    """The water of the average excess, L."""
    cost: float
    """What that water costs, in the owner's money; 0 where its price is not declared."""


class ZoneRuntime(Frozen):
    """One zone's minutes and depths, and the figures that they rest on."""

    zone: str
    """The zone."""
    area_m2: float
    """Its area, m²."""
    rate_mm_h: float
    """Its precipitation rate, mm/h."""
    rate_basis: RateBasis
    """What the rate rests on."""
    rate_low_mm_h: float
    """The least that the rate may be, mm/h."""
    rate_high_mm_h: float
    """The most that the rate may be, mm/h."""
    measured_on: date | None
    """The local date of the measurement; none without one or without its date."""
    uniformity: float
    """Low-quarter distribution uniformity, 0–1."""
    uniformity_known: bool
    """Whether it was measured."""
    multiplier: float
    """The scheduling multiplier: mean depth over the depth of the drier part."""
    longest_cycle_min: float | None
    """The longest stretch before runoff, min; none without a limit."""
    soak_min: float
    """The soak after it, min."""
    runs: tuple[RunLine, ...]
    """The runs asked about."""
    mean_of: int
    """The month of the mean day, 1–12."""
    mean_day: RunLine | None
    """The run that puts back what the turf uses on a mean day of that month; none without a climate."""
    months: tuple[MonthLine, ...]
    """January to December; empty without a climate."""
    worth: Worth | None
    """What measuring the rate would be worth; none where it is known well."""


class Runtime(Frozen):
    """The minutes of the zones asked for."""

    schema_version: Literal["advisor.runtime/1"] = "advisor.runtime/1"
    """The version of this form."""
    day: date
    """The local date on which it was asked."""
    zones: tuple[ZoneRuntime, ...]
    """Zone by zone."""
    cautions: tuple[Caution, ...] = ()
    """What to mind."""
