"""Snow and the watered balance on a few hours, reckoned by hand."""

from __future__ import annotations

import numpy as np
import pytest

from advisor.science.balance import as_if_watered
from advisor.science.snow import split


def test_rain_and_snow_share_what_fell_by_the_temperature() -> None:
    """All snow at 0 °C and below, all rain at 2 °C and above, half and half at 1 °C."""
    fell = np.array([[4.0, 4.0, 4.0, 4.0, 0.0]])
    rain, snow = split(fell, np.array([-3.0, 0.5, 1.0, 5.0, -3.0]))
    assert rain.tolist() == [[0.0, 1.0, 2.0, 4.0, 0.0]]
    assert snow.tolist() == [[4.0, 3.0, 2.0, 0.0, 0.0]]
    unknown, none = split(fell, np.full(5, np.nan))
    assert (unknown.tolist(), none.tolist()) == (fell.tolist(), np.zeros((1, 5)).tolist())


def test_a_zone_watered_at_its_allowance_hour_by_hour() -> None:
    """Allowed 10 mm: begins at 5; 4 mm of demand; 4 more, of which 3 are given; 15 mm of rain, 5 too much."""
    made = as_if_watered(
        etc_mm=np.array([[4.0, 4.0, 0.0, 1.0]]),
        water_mm=np.array([[0.0, 0.0, 15.0, 0.0]]),
        allowed_mm=np.full((1, 4), 10.0),
    )
    assert made.depletion_mm[0] == pytest.approx([9.0, 10.0, 0.0, 1.0])
    assert made.irrigation_mm[0] == pytest.approx([0.0, 3.0, 0.0, 0.0])
    assert made.percolation_mm[0] == pytest.approx([0.0, 0.0, 5.0, 0.0])
