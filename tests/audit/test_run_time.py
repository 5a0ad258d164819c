"""Minutes for a depth, depth for minutes, by month, and what a guessed rate could hide."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.audit.run_time import RunsAsked, audit_worth, run_for_depth, run_for_minutes, zone_runtime
from advisor.lawn.site_values import Rate, Rules, Soil, Turf, Zone
from advisor.soil_water.zone_figures import ZoneFigures, zone_figures

DAY = date(2026, 7, 10)
KC = (0.6, 0.6, 0.7, 0.8, 0.8, 0.9, 0.9, 0.9, 0.8, 0.7, 0.6, 0.6)
ZONE = Zone(
    name="Front",
    area_m2=100.0,
    turf=Turf("cool", "Cool-season", "cool", KC, 0.4, 0.3, "made up for the test"),
    soil=Soil("loam", "Loam", 150.0, 130.0, 180.0, 8.0, (8.0, 6.0, 5.0, 4.0), "made up for the test"),
    slope_pct=2.0,
    exposure=0.5,
    exposure_name="half shade",
    root_depth_m=0.2,
    root_depth_known=True,
    head=None,
    rate=Rate(40.0, "guess", 30.0, 60.0),
    uniformity=0.6,
    uniformity_known=False,
)
FACTS = zone_figures(ZONE, (), Rules(hours=((time(3), time(8)),)))
ETO = (20.0, 30.0, 60.0, 90.0, 120.0, 150.0, 155.0, 140.0, 100.0, 60.0, 30.0, 20.0)


def test_a_depth_becomes_minutes_cycles_and_soaks() -> None:
    # by hand: 10 mm / 0.76 = 13.158 mm at 40 mm/h = 19.737, so 20 min, 13.333 mm; the soil takes
    # 60 × 8 / 32 = 15 min at a time: two cycles of 10; a soak of 60 × 8 / 8 = 60 min between: 80 min in all
    run = run_for_depth(ZONE, FACTS, 10.0)
    assert run.minutes == 20
    assert run.depth_mm == pytest.approx(13.333, abs=5e-4)
    assert run.effective_mm == pytest.approx(10.133, abs=5e-4)
    assert run.cycle_minutes == (10, 10)
    assert run.elapsed_min == 80
    assert run.litres == pytest.approx(1333.3, abs=0.05)


def test_minutes_become_a_depth_with_the_guesses_whole_range() -> None:
    # by hand: 12 min at 40, 30 and 60 mm/h are 8, 6 and 12 mm; the driest quarter 0.6 × 8
    run = run_for_minutes(ZONE, FACTS, 12.0)
    assert (run.depth_mm, run.depth_low_mm, run.depth_high_mm) == (8.0, 6.0, 12.0)
    assert run.driest_mm == pytest.approx(4.8)
    assert run.effective_mm == pytest.approx(8.0 * 0.76)
    assert (run.minutes_low, run.minutes_high) == (8.0, 16.0)


def test_no_water_is_no_cycle() -> None:
    run = run_for_depth(ZONE, FACTS, 0.0)
    assert (run.minutes, run.cycle_minutes, run.elapsed_min) == (0, (), 0)


def test_a_soil_that_takes_all_needs_one_cycle() -> None:
    run = run_for_minutes(ZONE, replace(FACTS, cycle_min=None, soak_min=0.0), 500.0)
    assert (run.cycle_minutes, run.elapsed_min) == ((500,), 500)


def test_a_months_need_is_eto_by_coefficient_and_exposure() -> None:
    worked = zone_runtime(ZONE, FACTS, RunsAsked(eto_month_mm=ETO), day=DAY)
    july = worked.months[6]
    # by hand: 155 × 0.9 × 0.5 = 69.75 mm; / 0.76 = 91.776 mm at 40 mm/h = 137.66, so 138 min; × 7/31 = 31.16 a week
    assert july.need_mm == pytest.approx(69.75)
    assert july.minutes == 138
    assert july.minutes_a_week == pytest.approx(31.16, abs=5e-3)
    # a mean day of July: 69.75 / 31 = 2.25 mm; / 0.76 at 40 mm/h = 4.44, so 5 min, which bring 2.533
    assert worked.mean_of == 7
    assert worked.mean_day is not None
    assert (worked.mean_day.minutes, worked.mean_day.effective_mm) == (5, pytest.approx(2.533, abs=5e-4))
    assert [m.month for m in worked.months] == list(range(1, 13))


@pytest.mark.parametrize(("units", "per_mm"), [("metric", 25.0), ("us", 25.4)])
def test_without_a_climate_there_are_no_months_and_the_worth_is_told_per_inch_or_25_mm(
    units: str, per_mm: float
) -> None:
    worked = zone_runtime(ZONE, FACTS, RunsAsked(depths_mm=(6.0,), minutes=(20.0,)), day=DAY, units=units)
    assert (worked.months, worked.mean_day) == ((), None)
    assert [r.minutes for r in worked.runs] == [12, 20]  # 6 / 0.76 / 40 × 60 = 11.84
    assert worked.worth is not None
    assert (worked.worth.need_mm, worked.worth.month) == (per_mm, None)


def test_a_climate_of_other_than_twelve_months_is_refused() -> None:
    with pytest.raises(ValueError, match="found 11"):
        zone_runtime(ZONE, FACTS, RunsAsked(eto_month_mm=ETO[:11]), day=DAY)


def test_the_worth_of_an_audit_agrees_with_drawing_the_true_rate_many_times() -> None:
    worth = audit_worth(ZONE, FACTS, need_mm=76.0, month=7, water_cost_per_m3=2.0)
    assert worth is not None
    gross = 76.0 / 0.76
    off = gross * (np.linspace(30.0, 60.0, 200_001) / 40.0 - 1.0)
    assert worth.excess_mean_mm == pytest.approx(np.maximum(off, 0).mean(), rel=1e-4)
    assert worth.shortfall_mean_mm == pytest.approx(np.maximum(-off, 0).mean(), rel=1e-4)
    assert (worth.excess_most_mm, worth.shortfall_most_mm) == pytest.approx((50.0, 25.0))
    assert worth.litres == pytest.approx(worth.excess_mean_mm * 100.0)
    assert worth.cost == pytest.approx(worth.litres / 500.0)


def test_a_rate_that_is_known_well_leaves_nothing_to_gain() -> None:
    for low, high in ((40.0, 40.0), (36.5, 43.5)):
        known = replace(FACTS, low_mm_h=low, high_mm_h=high)
        assert audit_worth(ZONE, known, need_mm=25.0, month=None, water_cost_per_m3=0.0) is None


@settings(max_examples=60)
@given(
    rate=st.floats(4.0, 60.0),
    depth=st.floats(0.0, 40.0),
    even=st.floats(0.3, 1.0),
    cycle=st.none() | st.floats(2.0, 60.0),
)
def test_minutes_times_rate_is_the_depth_and_cycles_add_up(
    rate: float, depth: float, even: float, cycle: float | None
) -> None:
    figures: ZoneFigures = replace(
        FACTS, rate_mm_h=rate, low_mm_h=rate, high_mm_h=rate, uniformity=even, cycle_min=cycle, soak_min=30.0
    )
    run = run_for_depth(ZONE, figures, depth)
    assert depth - 1e-5 <= run.effective_mm <= depth + rate / 60.0
    assert run.minutes * rate / 60.0 == pytest.approx(run.depth_mm)
    assert sum(run.cycle_minutes) == run.minutes
    assert cycle is None or all(each <= cycle * (1 + 1e-6) for each in run.cycle_minutes)
    assert run.litres == pytest.approx(run.depth_mm * ZONE.area_m2)
    back = run_for_minutes(ZONE, figures, run.minutes)
    assert back == run
