"""Equations 82 to 88 of FAO-56 chapter 8 on a soil of its kind, days worked by hand."""

from __future__ import annotations

import numpy as np
import pytest

from advisor.science import soil, turf
from advisor.science.balance import root_zone_balance

SOURCE = (
    "FAO Irrigation and Drainage Paper 56, chapter 8, equations 82–88 and Table 22 footnote; the soil is "
    "that of example 37, from memory; the course of the days is worked here by hand"
)

# Silty loam, field capacity 0.32, wilting point 0.12, roots 0.8 m, p 0.40.
TAW_MM, P = 160.0, 0.40


def test_the_soil_holds_160_mm_of_which_64_are_readily_available() -> None:
    held = soil.total_available_water(available_mm_m=1000 * (0.32 - 0.12), root_depth_m=0.8)
    assert held == pytest.approx(TAW_MM)
    assert float(turf.depletion_fraction(p_table=P, etc_mm_d=5.0)) * TAW_MM == pytest.approx(64.0)


def test_a_drying_week_with_rain_and_an_overfill_is_as_worked_by_hand() -> None:
    """Demand 6 mm in every step; depletion starts at 55 mm.

    61; 67 (still Ks 1, for 61 < 64); Ks (160 − 67)/96 = 0.96875 → 72.8125;
    Ks 87.1875/96 = 0.908203 → 78.26172; rain 30: Ks 81.73828/96 = 0.851440 → 53.37036;
    rain 80: 53.37036 + 6 − 80 < 0, so full and 20.62964 drain.
    """
    found = root_zone_balance(
        depletion_start_mm=np.array([[55.0]]),
        etc_mm=np.full((1, 1, 6), 6.0),
        water_mm=np.array([[[0.0, 0.0, 0.0, 0.0, 30.0, 80.0]]]),
        taw_mm=TAW_MM,
        p=P,
    )
    printed = [61.0, 67.0, 72.8125, 78.26172, 53.37036, 0.0]
    assert found.depletion_mm[0, 0] == pytest.approx(printed, abs=5e-6)
    stress = [1.0, 1.0, 0.96875, 0.908203, 0.851440, 1.0]
    assert found.ks[0, 0] == pytest.approx(stress, abs=5e-7)
    assert found.percolation_mm[0, 0] == pytest.approx([0, 0, 0, 0, 0, 20.62964], abs=5e-6)


def test_the_balance_and_the_stress_room_agree_on_ks() -> None:
    found = root_zone_balance(
        depletion_start_mm=np.array([[70.0], [100.0]]),
        etc_mm=np.zeros((2, 1, 1)),
        water_mm=np.zeros((2, 1, 1)),
        taw_mm=TAW_MM,
        p=P,
    )
    assert found.ks[:, 0, 0] == pytest.approx(
        turf.stress(depletion_mm=np.array([70.0, 100.0]), taw_mm=TAW_MM, p=P)
    )


def test_the_fraction_follows_the_demand_as_the_footnote_says() -> None:
    assert float(turf.depletion_fraction(p_table=0.40, etc_mm_d=7.5)) == pytest.approx(0.30)
    assert float(turf.depletion_fraction(p_table=0.40, etc_mm_d=2.5)) == pytest.approx(0.50)
