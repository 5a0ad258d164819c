from __future__ import annotations

import pytest

from advisor.science import soil

LOAM = (7.6, 6.4, 5.3, 4.3)


def test_roots_reach_what_the_soil_holds_in_their_depth() -> None:
    assert soil.total_available_water(available_mm_m=150.0, root_depth_m=0.2) == pytest.approx(30.0)
    assert soil.total_available_water(available_mm_m=80.0, root_depth_m=0.2) == pytest.approx(16.0)


@pytest.mark.parametrize(
    ("slope", "expected"),
    [
        (0, 7.6),
        (3, 7.6),
        (3.5, 6.4),
        (4, 6.4),
        (6, 6.4),
        (7, 5.3),
        (12, 5.3),
        (12.5, 4.3),
        (13, 4.3),
        (40, 4.3),
    ],
)
def test_a_slope_between_two_bands_takes_the_steeper(slope: float, expected: float) -> None:
    assert soil.accumulation_at_slope(LOAM, slope) == expected


@pytest.mark.parametrize(
    ("row", "slope"),
    [(LOAM[:3], 2.0), (LOAM, -1.0), (LOAM, float("nan"))],
    ids=["three bands", "downhill", "unknown slope"],
)
def test_a_row_or_slope_that_cannot_be_is_refused(row: tuple[float, ...], slope: float) -> None:
    with pytest.raises(ValueError, match="must"):
        soil.accumulation_at_slope(row, slope)
