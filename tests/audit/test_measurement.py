"""Measuring a zone: the definitions of ASABE S626 and ISO 15886-3, worked by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, time
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.advice.audit import AuditResult, Confidence, FindingKind, Quality, Reading, Side, Weakness
from advisor.audit.measurement import audit_cans, audit_meter, audit_single_can, uniformity_range
from advisor.errors import InputError
from advisor.lawn.site_values import Head, Rate, Rules, Soil, Turf, Zone
from advisor.soil_water.zone_figures import zone_figures
from advisor.units import parse
from advisor.wording import Say

AT = datetime(2026, 6, 1, 4, 0, tzinfo=UTC)
METRIC, US = (Say(units, ZoneInfo("America/Chicago"), AT) for units in ("metric", "us"))
FRONT = Zone(
    name="Front",
    area_m2=83.612736,  # 900 sq ft
    turf=Turf("cool", "Cool-season", "cool", (0.8,) * 12, 0.4, 0.3, "made up for the test"),
    soil=Soil("loam", "Loam", 150.0, 130.0, 180.0, 8.89, (7.62, 6.35, 5.33, 4.32), "made up for the test"),
    slope_pct=2.0,
    exposure=1.0,
    exposure_name="sun",
    root_depth_m=0.2,
    root_depth_known=True,
    head=Head("gear rotor", "Gear rotor", 13.0, 8.0, 18.0, 0.65, "made up for the test"),
    rate=Rate(13.0, "guess", 8.0, 18.0),
    uniformity=0.65,
    uniformity_known=False,
)
MILLILITRES = "20 22 25 18 30 27 24 21 19 26 28 23 22 17 29 25 24 20 21 26 23 22 27 18"
THROAT_M2 = parse("16.5 sq in", "area")


def depths(text: str, throat_m2: float = THROAT_M2) -> list[Reading]:
    return [Reading(depth_mm=float(ml) / 1000.0 / throat_m2) for ml in text.split()]


def audited(readings: list[Reading], minutes: float = 20.0, say: Say = METRIC, **more: object) -> AuditResult:
    return audit_cans(FRONT, readings, minutes=minutes, measured_at=AT, say=say, **more)  # type: ignore[arg-type]


def test_twenty_four_cans_worked_by_hand() -> None:
    # throat 16.5 in² × 6.4516 = 106.4514 cm²; the readings add up to 557 mL: mean 23.2083 mL,
    # 23.2083 / 106.4514 = 0.218018 cm = 2.1802 mm in 20 min: 6.5405 mm/h (0.2575 in/h).
    # The lowest six: 17 18 18 19 20 20 = 112, mean 18.6667; / 23.2083 = 0.8043.
    # Deviations below the mean add up to 35.7083, above it to the same: CU = 1 − 71.4167 / 557 = 0.8718.
    # The driest quarter: 0.8043 × 6.5405 = 5.2606 mm/h. 1 / (0.4 + 0.6 × 0.8043) = 1.1330; 1 / 0.8043 = 1.2433.
    result = audited(depths(MILLILITRES))
    assert result.mean_mm == pytest.approx(2.1802, abs=5e-5)
    assert result.rate_mm_h == pytest.approx(6.5405, abs=5e-5)
    assert result.uniformity == pytest.approx(0.8043, abs=5e-5)
    assert result.christiansen == pytest.approx(0.8718, abs=5e-5)
    assert result.driest_mm_h == pytest.approx(5.2606, abs=5e-5)
    assert result.multiplier == pytest.approx(1.1330, abs=5e-5)
    assert result.strict_multiplier == pytest.approx(1.2433, abs=5e-5)
    assert (result.cans, result.confidence) == (24, "good")
    assert result.rate_low_mm_h < result.rate_mm_h < result.rate_high_mm_h


def test_the_audit_tells_what_it_sees_in_the_owners_units() -> None:
    result = audited(depths(MILLILITRES), say=US)
    assert result.verdict == "It gives 0.26 in/h and waters evenly (80 %); little is to be gained."
    assert result.look_at == (
        "Gear rotor heads usually give 0.31 in/h to 0.71 in/h; this is less: "
        "low pressure, clogged nozzles or wide spacing.",
    )


def test_sixteen_sprinkler_gallons_a_minute_from_the_meter() -> None:
    # 96.25 × 8 gal/min / 900 sq ft = 0.8556 in/h = 21.73 mm/h (trade formula)
    result = audit_meter(FRONT, litres=parse("80 gal", "volume"), minutes=10.0, measured_at=AT, say=METRIC)
    assert result.rate_mm_h == pytest.approx(21.73, abs=5e-3)
    assert (result.uniformity, result.multiplier, result.cans) == (None, None, 0)
    assert "cannot tell" in result.verdict
    assert any("faster than the soil" in hint for hint in result.look_at)


def test_one_straight_sided_can() -> None:
    result = audit_single_can(FRONT, depth_mm=4.0, minutes=15.0, measured_at=AT, say=METRIC)
    assert result.rate_mm_h == pytest.approx(16.0)
    assert result.confidence == "low"
    assert result.rate_low_mm_h == pytest.approx(16.0 / 1.35)
    assert any("one spot" in hint for hint in result.look_at)


@pytest.mark.parametrize("measure", ["cans", "meter", "single"])
def test_what_is_recorded_becomes_the_zones_working_figures(measure: str) -> None:
    result = {
        "cans": audited(depths(MILLILITRES)),
        "meter": audit_meter(FRONT, litres=100.0, minutes=10.0, measured_at=AT, say=METRIC),
        "single": audit_single_can(FRONT, depth_mm=3.0, minutes=15.0, measured_at=AT, say=METRIC),
    }[measure]
    figures = zone_figures(FRONT, (result.as_record("by the gate"),), Rules(hours=((time(3), time(8)),)))
    assert figures.rate_mm_h == result.rate_mm_h
    assert figures.rate_basis == "audit"
    assert (figures.low_mm_h, figures.high_mm_h) == pytest.approx(
        (result.rate_low_mm_h, result.rate_high_mm_h)
    )
    assert figures.uniformity == (result.uniformity or FRONT.uniformity)


@pytest.mark.parametrize(
    ("cans", "wind", "confidence"),
    [(24, None, "good"), (24, 3.0, "low"), (12, None, "fair"), (12, 3.0, "low"), (11, None, "low")],
)
def test_confidence_comes_from_the_cans_and_the_wind(cans: int, wind: float | None, confidence: str) -> None:
    assert audited([Reading(depth_mm=5.0)] * cans, wind_m_s=wind).confidence == confidence


@pytest.mark.parametrize(("mph", "warned"), [("5 mph", False), ("6 mph", True)])
def test_wind_above_five_miles_an_hour_warns(mph: str, warned: bool) -> None:
    result = audited(depths(MILLILITRES), wind_m_s=parse(mph, "wind"))
    assert any("calm morning" in hint for hint in result.look_at) is warned


@pytest.mark.parametrize(
    ("low", "quality", "words"),
    [
        (5.0, Quality.EVEN, "waters evenly ("),
        (3.6, Quality.EVEN_ENOUGH, "evenly enough"),
        (2.8, Quality.UNEVEN, "worth mending"),
        (1.0, Quality.VERY_UNEVEN, "mend it before"),
    ],
)
def test_the_verdict_follows_the_evenness(low: float, quality: Quality, words: str) -> None:
    result = audited([Reading(depth_mm=d) for d in [low] * 5 + [6.0] * 15])
    assert (result.quality, result.weak) == (quality, ())
    assert words in result.verdict


@pytest.mark.parametrize(
    ("cans", "wind", "weak", "words"),
    [
        pytest.param(8, None, (Weakness.FEW_CANS,), "(8 cans)", id="few cans"),
        pytest.param(24, 6.0, (Weakness.WIND,), "(wind 13 mph)", id="wind"),
        pytest.param(8, 6.0, (Weakness.FEW_CANS, Weakness.WIND), "(8 cans, wind 13 mph)", id="both"),
    ],
)
def test_a_weak_audit_is_not_relied_on(
    cans: int, wind: float | None, weak: tuple[Weakness, ...], words: str
) -> None:
    quarter = cans // 4
    result = audited(
        [Reading(depth_mm=d) for d in [3.6] * quarter + [6.0] * (cans - quarter)], wind_m_s=wind, say=US
    )
    assert "looks even enough (67 %), but this audit is too weak to rely on" in result.verdict
    assert (result.weak, result.confidence) == (weak, Confidence.LOW)
    assert words in result.verdict


def test_the_audit_and_the_run_time_tell_the_same_unbroken_minutes() -> None:
    result = audit_meter(FRONT, litres=parse("80 gal", "volume"), minutes=10.0, measured_at=AT, say=METRIC)
    figures = zone_figures(FRONT, (result.as_record(),), Rules(hours=((time(3), time(8)),)))
    assert figures.cycle_min is not None
    told = (
        f"no more than {figures.cycle_min:.0f} min without a pause, then a soak of {figures.soak_min:.0f} min"
    )
    assert any(told in hint for hint in result.look_at)


def test_what_to_look_at_is_data_with_its_sentence() -> None:
    windy = audited(depths(MILLILITRES), wind_m_s=3.0)
    assert [f.kind for f in windy.findings] == [FindingKind.WINDY, FindingKind.LESS_THAN_HEADS]
    wind, heads = windy.findings
    assert (wind.wind_m_s, wind.most_wind_m_s) == (3.0, pytest.approx(2.2352))
    assert (heads.head, heads.rate_low_mm_h, heads.rate_high_mm_h) == ("Gear rotor", 8.0, 18.0)
    assert tuple(f.text for f in windy.findings) == windy.look_at
    meter = audit_meter(FRONT, litres=parse("80 gal", "volume"), minutes=10.0, measured_at=AT, say=METRIC)
    figures = zone_figures(FRONT, (meter.as_record(),), Rules(hours=((time(3), time(8)),)))
    (soaks,) = (f for f in meter.findings if f.kind == FindingKind.NEEDS_SOAKS)
    assert (soaks.cycle_min, soaks.soak_min) == (figures.cycle_min, figures.soak_min)


def test_fewer_than_four_cans_tell_no_low_quarter() -> None:
    result = audited([Reading(depth_mm=d) for d in (4.0, 5.0, 6.0)])
    assert (result.uniformity, result.driest_mm_h, result.multiplier) == (None, None, None)
    assert result.christiansen == pytest.approx(1 - 2 / 15)


def test_a_quarter_that_stayed_dry_has_no_multiplier_and_is_recorded_without_evenness() -> None:
    result = audited([Reading(depth_mm=d) for d in [0.0] * 5 + [6.0] * 15])
    assert (result.uniformity, result.multiplier) == (0.0, None)
    assert result.as_record().uniformity is None
    assert "mend it" in result.verdict


def test_a_zone_that_falls_off_to_one_side_says_which() -> None:
    falls = [Reading(depth_mm=10 - x, x_m=float(x), y_m=float(y)) for x in range(8) for y in range(3)]
    result = audited(falls)
    hints = result.look_at
    assert [f.side for f in result.findings if f.kind == FindingKind.DRIER_SIDE] == [Side.LARGE_X]
    assert "It is drier towards large x: look at the heads on that side first." in hints
    assert not any("y:" in hint for hint in hints)


def test_a_tipped_can_is_named() -> None:
    result = audited([Reading(depth_mm=d) for d in [5.0] * 20 + [0.5]])
    hints = result.look_at
    (odd,) = (f.odd_cans for f in result.findings if f.kind == FindingKind.ODD_CANS)
    assert [(can.number, can.depth_mm) for can in odd] == [(21, 0.5)]
    assert "Far from the others: can 21 (0.5 mm); was it tipped, sheltered or beside a leak?" in hints


def test_more_than_the_head_type_can_give_is_told() -> None:
    hints = audited([Reading(depth_mm=10.0)] * 20).look_at
    assert any("this is more" in hint for hint in hints)
    assert not any("heads usually" in h for h in audited([Reading(depth_mm=4.0)] * 20).look_at)
    bare = replace(FRONT, head=None)
    result = audit_cans(bare, [Reading(depth_mm=10.0)] * 20, minutes=20, measured_at=AT, say=METRIC)
    assert not any("heads usually" in h for h in result.look_at)


@pytest.mark.parametrize(
    ("readings", "minutes", "said"),
    [
        pytest.param([], 20.0, "caught nothing", id="no cans"),
        pytest.param([Reading(depth_mm=0.0)] * 5, 20.0, "caught nothing", id="all dry"),
        pytest.param([Reading(depth_mm=90.0)] * 5, 20.0, "270 mm/h", id="too much"),
    ],
)
def test_readings_that_cannot_be_are_refused(readings: list[Reading], minutes: float, said: str) -> None:
    with pytest.raises(InputError, match=said):
        audited(readings, minutes)


def test_a_meter_that_runs_backwards_and_an_empty_can_are_refused() -> None:
    with pytest.raises(InputError, match="did not move forward"):
        audit_meter(FRONT, litres=-5.0, minutes=10.0, measured_at=AT, say=METRIC)
    with pytest.raises(InputError, match="caught nothing"):
        audit_single_can(FRONT, depth_mm=0.0, minutes=10.0, measured_at=AT, say=METRIC)


def test_the_range_of_evenness_holds_the_truth_about_nine_times_in_ten() -> None:
    # the low quarter of a normal distribution is 1.2711 standard deviations under its mean
    truth = 1 - 1.2711 * 0.2
    draws = np.random.default_rng(2).normal(10.0, 2.0, size=(1500, 24))
    held = np.mean([low <= truth <= high for low, high in map(uniformity_range, draws)])
    assert 0.86 <= held <= 0.94


@settings(max_examples=60)
@given(
    cans=st.lists(st.floats(0.5, 20.0), min_size=4, max_size=30),
    minutes=st.floats(5.0, 60.0),
    factor=st.floats(0.1, 5.0),
)
def test_evenness_does_not_know_the_unit_and_the_driest_quarter_gives_no_more_than_the_mean(
    cans: list[float], minutes: float, factor: float
) -> None:
    one = audited([Reading(depth_mm=c) for c in cans], minutes=minutes + 60.0)
    other = audited([Reading(depth_mm=c * factor) for c in cans], minutes=minutes + 60.0)
    assert one.uniformity == pytest.approx(other.uniformity)
    assert one.christiansen == pytest.approx(other.christiansen)
    assert other.rate_mm_h == pytest.approx(one.rate_mm_h * factor)
    assert one.driest_mm_h is not None
    assert one.driest_mm_h <= one.rate_mm_h * (1 + 1e-12)
    assert one.uniformity_low is not None
    assert one.uniformity_high is not None
    assert 0.0 <= one.uniformity_low <= (one.uniformity or 0.0) + 1e-12 <= one.uniformity_high + 1e-9
