"""What a family uses where it leaves as much unmet: the lower hull, checked by hand and by its laws."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.replay.equal_unmet import least_unmet, lower_hull, water_at
from advisor.replay.rivals import Point
from advisor.replay.scores import GrassScores


def point(unmet_mm: float, water_mm: float) -> Point:
    return Point(
        "a rule", 0.75 * water_mm, 0.25 * water_mm, 1.0, GrassScores(100.0, unmet_mm, 0.0, 0.0, 0.0, 0.0)
    )


# unmet and water: the third lies above the line from the second to the fourth, the last spares nothing
FAMILY = [point(2.0, 60.0), point(0.0, 100.0), point(4.0, 58.0), point(6.0, 40.0), point(9.0, 41.0)]


@pytest.mark.parametrize(
    ("unmet_mm", "water_mm"),
    [(0.0, 100.0), (1.0, 80.0), (2.0, 60.0), (4.0, 50.0), (6.0, 40.0), (50.0, 40.0)],
)
def test_between_two_rules_both_are_used_in_turn(unmet_mm: float, water_mm: float) -> None:
    assert water_at(FAMILY, unmet_mm) == pytest.approx(water_mm)


def test_less_than_the_most_generous_rule_leaves_cannot_be_had() -> None:
    family = [point(1.0, 50.0), point(3.0, 20.0)]
    assert water_at(family, 0.499) is None
    assert water_at(family, 0.501) == 50.0  # half a millimetre over a season is no difference
    assert water_at([], 5.0) is None
    assert least_unmet(family) == 1.0


def test_one_rule_serves_whoever_bears_to_go_shorter() -> None:
    assert water_at([point(1.0, 50.0)], 1.0) == 50.0
    assert water_at([point(1.0, 50.0)], 2.0) == 50.0


POINTS = st.lists(st.tuples(st.integers(0, 60), st.integers(0, 200)), min_size=1, max_size=30)


@given(POINTS, st.integers(0, 80))
def test_no_rule_uses_less_for_no_more_unmet_and_more_unmet_never_takes_more(
    points: list[tuple[int, int]], unmet: int
) -> None:
    family = [point(float(u), float(w)) for u, w in points]
    water = water_at(family, float(unmet))
    as_good = [w for u, w in points if u <= unmet]
    assert (water is None) is (not as_good)
    if water is not None:
        assert water <= min(as_good) + 1e-9
        assert water >= min(w for _, w in points) - 1e-9
        further = water_at(family, float(unmet) + 1.0)
        assert further is not None
        assert further <= water + 1e-9


@given(POINTS)
def test_the_hull_is_convex_and_falls(points: list[tuple[int, int]]) -> None:
    hull = [points[i] for i in lower_hull([(float(u), float(w)) for u, w in points])]
    slopes = [(b[1] - a[1]) / (b[0] - a[0]) for a, b in itertools.pairwise(hull)]
    assert all(slope < 0 for slope in slopes)
    assert slopes == sorted(slopes)
