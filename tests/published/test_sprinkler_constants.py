"""Printed sprinkler figures, and an audit worked by hand."""

from __future__ import annotations

import pytest

from advisor.science import sprinkler

SOURCE = (
    "University of California (60 × 15 ft example; gallons = in × sq ft × 0.623); trade formula 96.25 q/A; "
    "definitions of ASABE S626 and ISO 15886-3, worked here by hand; Irrigation Association multiplier, "
    "from memory"
)


GALLON_L, SQ_FT_M2, INCH_MM = 3.785411784, 0.09290304, 25.4


def strip_in_h(gpm: float) -> float:
    """The rate on the strip of 60 × 15 ft, in/h."""
    area_m2 = 60 * 15 * SQ_FT_M2
    return sprinkler.precipitation_rate(flow_l_min=gpm * GALLON_L, area_m2=area_m2) / INCH_MM


def test_the_60_by_15_foot_strip_gets_0_86_inches_an_hour() -> None:
    assert f"{strip_in_h(6 * 1.0 + 4 * 0.5):.2f}" == "0.86"


def test_the_strip_uses_as_many_gallons_as_its_heads_give() -> None:
    assert strip_in_h(8.0) * 900 * 0.623 == pytest.approx(8.0 * 60, rel=1e-3)


def test_the_rate_is_that_of_the_trade_formula() -> None:
    assert strip_in_h(8.0) == pytest.approx(96.25 * 8.0 / 900, rel=1e-9)


# Twenty minutes over 24 cans with a throat of 16.5 sq in. By hand: lowest six 17 18 18 19 20 20, sum
# 112; all sum to 557, mean 23.2083; the shortfalls below the mean sum to 35.7083, the excess as well.
CANS_ML = [20, 22, 25, 18, 30, 27, 24, 21, 19, 26, 28, 23, 22, 17, 29, 25, 24, 20, 21, 26, 23, 22, 27, 18]
THROAT_CM2 = "106.45"


@pytest.mark.parametrize(
    ("value", "printed"),
    [
        (sum(CANS_ML), "557"),
        (16.5 * 2.54**2, THROAT_CM2),
        (60 / 20 * 10 * sum(CANS_ML) / 24 / float(THROAT_CM2), "6.54"),
        (sprinkler.distribution_uniformity([10 * ml / float(THROAT_CM2) for ml in CANS_ML]), "0.8043"),
        (sprinkler.christiansen(CANS_ML), "0.8718"),
        (sprinkler.scheduling_multiplier(sprinkler.distribution_uniformity(CANS_ML)), "1.133"),
    ],
    ids=[
        "sum, mL",
        "throat, cm²",
        "precipitation rate, mm/h",
        "low-quarter uniformity",
        "Christiansen coefficient",
        "scheduling multiplier",
    ],
)
def test_the_audit_of_24_cans_is_as_worked_by_hand(value: float, printed: str) -> None:
    digits = len(printed.partition(".")[2])
    assert f"{value:.{digits}f}" == printed


@pytest.mark.parametrize(
    ("rate_in_h", "du", "minutes"),
    [(1.7, 0.60, "23.2"), (0.5, 0.70, "73.2")],
    ids=["fixed spray", "impact"],
)
def test_half_an_inch_from_the_two_typical_sprinklers(rate_in_h: float, du: float, minutes: str) -> None:
    # The rates and uniformities are printed (California State University, Fresno); by hand:
    # 60 · 0.5 / (0.4 + 0.6 · 0.60) / 1.7 and 60 · 0.5 / (0.4 + 0.6 · 0.70) / 0.5.
    gross = 12.7 * sprinkler.scheduling_multiplier(du)
    assert f"{sprinkler.run_minutes(depth_mm=gross, rate_mm_h=rate_in_h * 25.4):.1f}" == minutes
