from __future__ import annotations

import numpy as np
import pytest

from advisor.science import turf

MONTHS = [0.61, 0.64, 0.75, 1.04, 0.95, 0.88, 0.94, 0.86, 0.74, 0.75, 0.69, 0.60]


def days(first: str, last: str) -> np.ndarray:
    return np.arange(first, last, dtype="datetime64[D]")


@pytest.mark.parametrize("month", range(1, 13))
def test_a_month_has_its_own_value_in_its_middle(month: int) -> None:
    middle = days(f"2026-{month:02d}-15", f"2026-{month:02d}-17")
    kc = turf.crop_coefficient(kc_month=MONTHS, days=middle)
    assert kc == pytest.approx([MONTHS[month - 1]] * 2, abs=0.01)


def test_between_mid_months_the_coefficient_runs_in_a_straight_line() -> None:
    kc = turf.crop_coefficient(kc_month=MONTHS, days=days("2026-03-17", "2026-04-15"))
    assert np.diff(kc) == pytest.approx(np.full(28, (1.04 - 0.75) / 30.5))


@pytest.mark.parametrize(
    ("first", "last"),
    [("2025-12-17", "2026-01-16"), ("2024-02-16", "2024-03-16")],
    ids=["over New Year", "over 29 February"],
)
def test_no_day_steps(first: str, last: str) -> None:
    steps = np.diff(turf.crop_coefficient(kc_month=MONTHS, days=days(first, last)))
    assert np.ptp(steps) < 1e-3
    assert np.abs(steps).max() < 0.01


def test_each_zone_has_its_own_months() -> None:
    year = days("2026-01-01", "2027-01-01")
    both = turf.crop_coefficient(kc_month=[MONTHS, [0.6] * 12], days=year)
    assert both.shape == (2, 365)
    assert both[0] == pytest.approx(turf.crop_coefficient(kc_month=MONTHS, days=year))
    assert both[1] == pytest.approx(np.full(365, 0.6))


def test_eleven_months_are_refused() -> None:
    with pytest.raises(ValueError, match="12 values"):
        turf.crop_coefficient(kc_month=MONTHS[:11], days=days("2026-01-01", "2026-01-02"))


@pytest.mark.parametrize(
    ("p_table", "etc", "p"),
    [(0.40, 5.0, 0.40), (0.40, 3.0, 0.48), (0.50, 8.0, 0.38), (0.40, 20.0, 0.1), (0.75, 0.0, 0.8)],
    ids=[
        "as tabled at 5 mm",
        "more at low demand",
        "less at high demand",
        "never under 0.1",
        "never over 0.8",
    ],
)
def test_allowed_depletion_follows_demand(p_table: float, etc: float, p: float) -> None:
    assert float(turf.depletion_fraction(p_table=p_table, etc_mm_d=etc)) == pytest.approx(p)
