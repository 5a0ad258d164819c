"""Minutes for a depth, depth for minutes, by month, and what not knowing the rate could hide.

Pure. "Depth" asked for is what the drier part is to get (effective); the zone's mean depth is that
times the multiplier. Minutes are whole, rounded up, and every other figure is of these minutes.
Conservation: minutes × rate = mean depth, area × mean depth = litres.
"""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from advisor.advice import (
    TOPIC,
    Asking,
    Caution,
    CautionKind,
    MonthLine,
    RunLine,
    Runtime,
    Worth,
    ZoneRuntime,
)
from advisor.lawn import Audit, Site, Zone
from advisor.schedule import run_length
from advisor.science.sprinkler import depth_of, run_minutes
from advisor.sentences import told
from advisor.soil_water import ZoneFigures, zone_figures

WORTH_OF_MM = {"metric": 25.0, "us": 25.4}
"""Without a month's need the worth of an audit is told for so much water wanted: 25 mm or an inch."""
KNOWN_WELL = 0.1
"""A rate whose range is within this share of it on both sides needs no audit (no source)."""


@dataclass(frozen=True, slots=True)
class RunsAsked:
    """What is asked of each zone: runs for the effective `depths_mm` and for `minutes` of run time.

    `eto_month_mm`: reference evapotranspiration January…December, mm a month; None: nothing by month.
    """

    depths_mm: tuple[float, ...] = ()
    minutes: tuple[float, ...] = ()
    eto_month_mm: tuple[float, ...] | None = None


def runtime(
    site: Site, zones: Sequence[str], audits: Sequence[Audit], asked: RunsAsked, *, day: date
) -> Runtime:
    """The minutes of the `zones` asked for, by name; `audits` are those known on the local `day`."""
    by_name = {zone.name: zone for zone in site.zones}
    local = site.place.zone
    cautions = [Caution(topic=TOPIC[kind], kind=kind) for kind in (CautionKind.STANDING_WATER,)]
    return Runtime(
        day=day,
        zones=tuple(
            zone_runtime(
                by_name[name],
                zone_figures(by_name[name], audits, site.rules, local=local),
                asked,
                day=day,
                water_cost_per_m3=site.supply.water_cost_per_m3,
                units=site.place.units,
            )
            for name in zones
        ),
        cautions=told(cautions, Asking.RUN_TIME),
    )


def zone_runtime(
    zone: Zone,
    figures: ZoneFigures,
    asked: RunsAsked,
    *,
    day: date,
    water_cost_per_m3: float = 0.0,
    units: str = "metric",
) -> ZoneRuntime:
    """The runs of one zone; by month where the reference evapotranspiration is known.

    `water_cost_per_m3` in the owner's money; `units` are those of the site, "metric" or "us".
    """
    eto = asked.eto_month_mm
    months = () if eto is None else tuple(_months(zone, figures, eto, day.year))
    now = months[day.month - 1] if months else None
    days = monthrange(day.year, day.month)[1]
    return ZoneRuntime(
        zone=zone.name,
        area_m2=zone.area_m2,
        rate_mm_h=figures.rate_mm_h,
        rate_basis=figures.rate_basis,
        rate_low_mm_h=figures.low_mm_h,
        rate_high_mm_h=figures.high_mm_h,
        measured_on=figures.measured_on,
        uniformity=figures.uniformity,
        uniformity_known=figures.uniformity_known,
        multiplier=figures.multiplier,
        longest_cycle_min=figures.cycle_min,
        soak_min=figures.soak_min,
        runs=(
            *(run_for_depth(zone, figures, depth) for depth in asked.depths_mm),
            *(run_for_minutes(zone, figures, minutes) for minutes in asked.minutes),
        ),
        mean_of=day.month,
        mean_day=None if now is None else run_for_depth(zone, figures, now.need_mm / days),
        months=months,
        worth=audit_worth(
            zone,
            figures,
            need_mm=WORTH_OF_MM[units] if now is None else now.need_mm,
            month=None if now is None else now.month,
            water_cost_per_m3=water_cost_per_m3,
        ),
    )


def run_for_depth(zone: Zone, figures: ZoneFigures, effective_mm: float) -> RunLine:
    """The run that gives the drier part at least `effective_mm`, in whole minutes."""
    gross = effective_mm * figures.multiplier
    return run_for_minutes(zone, figures, run_minutes(depth_mm=gross, rate_mm_h=figures.rate_mm_h))


def run_for_minutes(zone: Zone, figures: ZoneFigures, minutes: float) -> RunLine:
    """What `minutes` of run time, rounded up, deliver, in cycles that the soil can take."""
    run = run_length(minutes, figures.cycle_min, figures.soak_min, by_hand=zone.by_hand)
    whole = run.minutes
    depth = depth_of(minutes=whole, rate_mm_h=figures.rate_mm_h)
    return RunLine(
        effective_mm=depth / figures.multiplier,
        depth_mm=depth,
        driest_mm=depth * figures.uniformity,
        minutes=whole,
        minutes_low=run_minutes(depth_mm=depth, rate_mm_h=figures.high_mm_h),
        minutes_high=run_minutes(depth_mm=depth, rate_mm_h=figures.low_mm_h),
        cycle_minutes=run.cycles,
        elapsed_min=run.elapsed,
        litres=depth * zone.area_m2,
        depth_low_mm=depth_of(minutes=whole, rate_mm_h=figures.low_mm_h),
        depth_high_mm=depth_of(minutes=whole, rate_mm_h=figures.high_mm_h),
    )


def _months(zone: Zone, figures: ZoneFigures, eto_month_mm: Sequence[float], year: int) -> list[MonthLine]:
    """Turf use by month: ETo × the turf's coefficient × exposure (FAO-56 single coefficient)."""
    if len(eto_month_mm) != 12:
        raise ValueError(f"eto_month_mm holds one total a month, found {len(eto_month_mm)}")
    lines = []
    for month, (eto, kc) in enumerate(zip(eto_month_mm, zone.turf.kc_month, strict=True), start=1):
        need = eto * kc * zone.exposure
        run = run_for_depth(zone, figures, need)
        weeks = monthrange(year, month)[1] / 7.0
        lines.append(
            MonthLine(
                month=month,
                need_mm=need,
                depth_mm=run.depth_mm,
                minutes=run.minutes,
                minutes_a_week=run.minutes / weeks,
                minutes_low=run.minutes_low,
                minutes_high=run.minutes_high,
            )
        )
    return lines


def audit_worth(
    zone: Zone, figures: ZoneFigures, *, need_mm: float, month: int | None, water_cost_per_m3: float
) -> Worth | None:
    """What an audit would save, in water or in stress; None where the rate is known well.

    Minutes set by the rate g put down G·r/g instead of the mean depth G when the true rate is r. With
    r evenly likely from low to high: excess at most G(high/g − 1), on average
    G(high − g)² / (2g(high − low)); shortfall at most G(1 − low/g), on average
    G(g − low)² / (2g(high − low)). Our own reckoning, no source.
    """
    low, guess, high = figures.low_mm_h, figures.rate_mm_h, figures.high_mm_h
    if max(high - guess, guess - low) <= KNOWN_WELL * guess:
        return None
    gross = need_mm * figures.multiplier
    excess = gross * (high - guess) ** 2 / (2.0 * guess * (high - low))
    litres = excess * zone.area_m2
    return Worth(
        need_mm=need_mm,
        month=month,
        excess_most_mm=gross * (high / guess - 1.0),
        shortfall_most_mm=gross * (1.0 - low / guess),
        excess_mean_mm=excess,
        shortfall_mean_mm=gross * (guess - low) ** 2 / (2.0 * guess * (high - low)),
        litres=litres,
        cost=litres / 1000.0 * water_cost_per_m3,
    )
