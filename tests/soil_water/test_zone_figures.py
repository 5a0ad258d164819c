"""Where a zone's declared figures and its audits become the working ones."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from scipy import stats

from advisor.lawn.records import Audit
from advisor.lawn.site_values import Head, Rate, Rules, Soil, Turf, Zone
from advisor.soil_water.zone_figures import audit_range, mean_range, student_95, zone_figures

RULES = Rules(hours=((time(3), time(8)),))
TURF = Turf("cool", "Cool-season", "cool", (0.8,) * 12, 0.4, 0.3, "made up for the test")
LOAM = Soil("loam", "Loam", 150.0, 130.0, 180.0, 8.89, (7.62, 6.35, 5.33, 4.32), "made up for the test")
SPRAY = Head("fixed spray", "Fixed spray", 43.18, 35.0, 50.0, 0.6, "made up for the test")
FRONT = Zone(
    name="Front",
    area_m2=100.0,
    turf=TURF,
    soil=LOAM,
    slope_pct=2.0,
    exposure=1.0,
    exposure_name="sun",
    root_depth_m=0.2,
    root_depth_known=True,
    head=SPRAY,
    rate=Rate(43.18, "guess", 35.0, 50.0),
    uniformity=0.6,
    uniformity_known=False,
)
DECLARED = replace(
    FRONT, rate=Rate(30.0, "measured", 30.0, 30.0, date(2026, 5, 1)), uniformity=0.7, uniformity_known=True
)


def audit(day: str, rate: float = 20.0, even: float | None = 0.8, **more: object) -> Audit:
    values: dict[str, object] = {"christiansen": None if even is None else 0.85, "cans": 24} | more
    return Audit("Front", datetime.fromisoformat(f"{day}T18:00+00:00"), rate, even, **values)  # type: ignore[arg-type]


def test_an_unmeasured_zone_rests_on_its_head_types_guess_with_its_whole_range() -> None:
    figures = zone_figures(FRONT, (), RULES)
    assert (figures.rate_mm_h, figures.rate_basis) == (43.18, "guess")
    assert (figures.low_mm_h, figures.high_mm_h) == (35.0, 50.0)
    assert (figures.uniformity, figures.uniformity_known, figures.measured_on) == (0.6, False, None)


def test_available_water_intake_cycle_and_soak_follow_from_soil_roots_and_slope() -> None:
    # by hand: 150 mm/m × 0.2 m = 30 mm; 60 × 7.62 / (43.18 − 8.89) = 13.33 min; 60 × 7.62 / 8.89 = 51.43 min
    figures = zone_figures(FRONT, (), RULES)
    assert figures.taw_mm == pytest.approx(30.0)
    assert figures.cycle_min == pytest.approx(13.33, abs=5e-3)
    assert figures.soak_min == pytest.approx(51.43, abs=5e-3)


@pytest.mark.parametrize(
    ("slope", "room"), [(0.0, 7.62), (3.0, 7.62), (3.5, 6.35), (6.0, 6.35), (12.0, 5.33), (13.0, 4.32)]
)
def test_a_steeper_slope_holds_less(slope: float, room: float) -> None:
    assert zone_figures(replace(FRONT, slope_pct=slope), (), RULES).accumulation_mm == room


def test_a_rate_below_the_soils_intake_has_no_limit_and_no_soak() -> None:
    figures = zone_figures(replace(FRONT, rate=Rate(8.0, "flow", 8.0, 8.0)), (), RULES)
    assert (figures.cycle_min, figures.soak_min) == (None, 0.0)


@pytest.mark.parametrize("rate", [8.0, 43.18], ids=["where the table sees no limit", "where it sees another"])
def test_the_owners_first_puddle_wins_over_the_tables(rate: float) -> None:
    figures = zone_figures(
        replace(FRONT, rate=Rate(rate, "flow", rate, rate), first_puddle_min=6.0), (), RULES
    )
    assert figures.cycle_min == 6.0
    assert figures.soak_min == pytest.approx(51.43, abs=5e-3)


@pytest.mark.parametrize(("strict", "multiplier"), [(False, 1 / 0.76), (True, 1 / 0.6)])
def test_the_multiplier_follows_the_owners_rule(strict: bool, multiplier: float) -> None:
    figures = zone_figures(FRONT, (), replace(RULES, strict_uniformity=strict))
    assert figures.multiplier == pytest.approx(multiplier)


def test_an_audit_wins_over_the_guess_and_over_declared_flow() -> None:
    for rate in (FRONT.rate, Rate(40.0, "flow", 40.0, 40.0, flow_l_min=66.0)):
        figures = zone_figures(replace(FRONT, rate=rate), (audit("2026-05-10"),), RULES)
        assert (figures.rate_mm_h, figures.rate_basis, figures.uniformity) == (20.0, "audit", 0.8)
        assert figures.uniformity_known
        assert figures.measured_on == date(2026, 5, 10)
        assert figures.low_mm_h < 20.0 < figures.high_mm_h


def test_the_newest_audit_wins_whatever_their_order() -> None:
    figures = zone_figures(FRONT, (audit("2026-06-01", 25.0), audit("2026-05-10", 20.0)), RULES)
    assert figures.rate_mm_h == 25.0


@pytest.mark.parametrize(
    ("day", "rate", "basis", "even"),
    [
        pytest.param("2026-04-30", 30.0, "measured", 0.7, id="older than the site file's measurement"),
        pytest.param("2026-05-02", 20.0, "audit", 0.8, id="newer"),
    ],
)
def test_the_newest_measurement_wins_also_over_the_site_files(
    day: str, rate: float, basis: str, even: float
) -> None:
    figures = zone_figures(DECLARED, (audit(day),), RULES)
    assert (figures.rate_mm_h, figures.rate_basis, figures.uniformity) == (rate, basis, even)


def test_a_declared_measurement_without_its_date_loses_to_a_recorded_one() -> None:
    undated = replace(DECLARED, rate=replace(DECLARED.rate, measured_on=None))
    assert zone_figures(undated, (audit("2020-01-01"),), RULES).rate_mm_h == 20.0


def test_a_declared_measurement_dated_ahead_counts_as_one_without_its_date() -> None:
    ahead = replace(DECLARED, rate=replace(DECLARED.rate, measured_on=date(2035, 5, 2)))
    known = [audit("2026-05-20", rate=21.0)]
    assert zone_figures(ahead, known, RULES).rate_basis == "measured"
    figures = zone_figures(ahead, known, RULES, on=date(2026, 6, 17))
    assert (figures.rate_basis, figures.rate_mm_h) == ("audit", 21.0)
    assert zone_figures(ahead, [], RULES, on=date(2026, 6, 17)).measured_on is None


def test_a_measured_rate_over_the_area_is_what_a_zone_draws_and_a_guess_is_not() -> None:
    figures = zone_figures(DECLARED, [], RULES)
    assert figures.flow_l_min is None
    assert figures.draws_l_min == pytest.approx(DECLARED.rate.rate_mm_h * DECLARED.area_m2 / 60)
    assert zone_figures(FRONT, [], RULES).draws_l_min is None


def test_a_later_meter_reading_gives_the_rate_and_the_cans_keep_the_evenness() -> None:
    meter = audit("2026-06-01", 22.0, None, method="flow meter", cans=0)
    figures = zone_figures(FRONT, (audit("2026-05-10"), meter), RULES)
    assert (figures.rate_mm_h, figures.uniformity) == (22.0, 0.8)
    assert (figures.low_mm_h, figures.high_mm_h) == (22.0, 22.0)
    assert figures.flow_l_min == pytest.approx(22.0 * 100.0 / 60.0)


def test_a_declared_flow_is_kept_beside_an_audit() -> None:
    figures = zone_figures(replace(FRONT, flow_l_min=50.0), (audit("2026-05-10"),), RULES)
    assert figures.flow_l_min == 50.0


def test_the_flow_behind_a_guess_is_not_known() -> None:
    assert zone_figures(FRONT, (), RULES).flow_l_min is None


def test_another_zones_audit_is_not_this_ones() -> None:
    assert zone_figures(FRONT, (replace(audit("2026-05-10"), zone="Back"),), RULES).rate_basis == "guess"


def test_a_quarter_that_stayed_dry_leaves_the_evenness_to_the_head_type() -> None:
    figures = zone_figures(FRONT, (audit("2026-05-10", even=0.0),), RULES)
    assert (figures.uniformity, figures.uniformity_known) == (0.6, False)


def test_the_date_of_an_audit_is_local() -> None:
    late = replace(audit("2026-05-10"), measured_at=datetime(2026, 5, 11, 2, 0, tzinfo=UTC))
    figures = zone_figures(FRONT, (late,), RULES, local=ZoneInfo("America/Denver"))
    assert figures.measured_on == date(2026, 5, 10)


def test_a_single_can_leaves_as_wide_a_range_as_the_zone_is_uneven() -> None:
    # by hand: 20 / (2 − 0.6) = 14.29 and 20 / 0.6 = 33.33
    single = audit("2026-05-10", even=None, method="single can", cans=1)
    assert audit_range(single, 0.6) == pytest.approx((14.29, 33.33), abs=5e-3)


@pytest.mark.parametrize(
    ("cans", "low", "high"),
    [pytest.param(0, 20.0, 20.0, id="unknown"), pytest.param(24, 18.895, 21.105, id="24")],
)
def test_without_a_christiansen_coefficient_the_evenness_gives_the_range(
    cans: int, low: float, high: float
) -> None:
    # by hand: CU = 1 − 0.63 × 0.2 = 0.874; 20 × 0.126 × 1.2533 = 3.158; × 1.714 / √24 = 1.105
    kept = audit("2026-05-10", christiansen=None, cans=cans)
    assert audit_range(kept, 0.8) == pytest.approx((low, high), abs=1e-3)


def test_the_range_of_a_mean_holds_the_truth_about_nine_times_in_ten() -> None:
    draws = np.random.default_rng(1).normal(10.0, 2.0, size=(2000, 24))
    held = 0
    for cans in draws:
        cu = 1 - np.abs(cans - cans.mean()).mean() / cans.mean()
        low, high = mean_range(float(cans.mean()), christiansen=float(cu), cans=24)
        held += low <= 10.0 <= high
    assert held / 2000 == pytest.approx(0.90, abs=0.03)


def test_fewer_cans_widen_the_range_and_never_beyond_half() -> None:
    widths = [np.ptp(mean_range(10.0, christiansen=0.8, cans=n)) for n in (2, 4, 10, 24, 100)]
    assert sorted(widths, reverse=True) == widths
    assert widths[0] <= 10.0


@pytest.mark.parametrize("degrees", [3, 5, 10, 23, 100])
def test_students_t_agrees_with_an_independent_library_within_one_percent(degrees: int) -> None:
    assert student_95(degrees) == pytest.approx(stats.t.ppf(0.95, degrees), rel=0.01)


@pytest.mark.parametrize("degrees", range(4, 40))
def test_students_t_misses_by_no_more_than_the_term_that_is_left_out(degrees: int) -> None:
    """The next term of the expansion is 0.43 / n⁴ at 95 % (Abramowitz and Stegun 26.7.5, from memory)."""
    assert student_95(degrees) == pytest.approx(stats.t.ppf(0.95, degrees), abs=0.5 / degrees**4 + 1e-9)


@pytest.mark.parametrize("degrees", [-1, 0, 1])
def test_students_t_takes_no_less_than_one_degree(degrees: int) -> None:
    assert student_95(degrees) == student_95(1)
    assert student_95(1) > student_95(2) > student_95(3)
