from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.science import sprinkler


def test_a_litre_on_a_square_metre_is_a_millimetre() -> None:
    assert sprinkler.precipitation_rate(flow_l_min=30.0, area_m2=120.0) == pytest.approx(15.0)


@pytest.mark.parametrize(
    ("cans", "du"),
    [
        ([10, 10, 10, 10], 1.0),
        ([5, 10, 10, 15], 0.5),
        ([2, 4, 10, 10, 10, 10, 10, 10], 3 / 8.25),
        ([2, 4, 6, 8, 10, 10, 10, 10, 10, 10], (2 + 4 + 6 / 2) / 2.5 / 8.0),
        ([6, 10, 10, 10, 10], (6 + 10 / 4) / 1.25 / 9.2),
    ],
    ids=[
        "even",
        "one can of four",
        "two cans of eight",
        "two and a half of ten",
        "one and a quarter of five",
    ],
)
def test_the_lowest_quarter_is_a_quarter_of_the_cans_whatever_their_number(
    cans: list[float], du: float
) -> None:
    assert sprinkler.distribution_uniformity(cans) == pytest.approx(du)
    assert sprinkler.distribution_uniformity(cans[::-1]) == pytest.approx(du)


@pytest.mark.parametrize(
    "cans",
    [[1, 2, 3], [0, 0, 0, 0], [1, 2, -1, 3], [1, 2, float("nan"), 3], [1, 2, math.inf, 3]],
    ids=["three cans", "all empty", "a negative can", "an unread can", "an endless can"],
)
def test_cans_that_prove_nothing_are_refused(cans: list[float]) -> None:
    for measure in (sprinkler.distribution_uniformity, sprinkler.christiansen):
        with pytest.raises(ValueError, match="can"):
            measure(cans)


@pytest.mark.parametrize(
    ("du", "strict", "times"),
    [(1.0, False, 1.0), (0.5, False, 1 / 0.7), (0.5, True, 2.0), (0.75, False, 1 / 0.85)],
)
def test_an_uneven_sprinkler_runs_longer(du: float, strict: bool, times: float) -> None:
    assert sprinkler.scheduling_multiplier(du, strict=strict) == pytest.approx(times)


@pytest.mark.parametrize("du", [0.0, -0.1, 1.01, 65.0, float("nan")])
def test_an_evenness_that_is_no_fraction_is_refused(du: float) -> None:
    with pytest.raises(ValueError, match="fraction"):
        sprinkler.scheduling_multiplier(du)


@pytest.mark.parametrize(
    ("rate", "longest"),
    [(8.0, math.inf), (7.9, math.inf), (38.0, 10.0), (18.0, 30.0)],
    ids=["just what the soil takes", "less", "a spray", "a rotor"],
)
def test_a_cycle_ends_before_water_runs_off_and_the_next_waits(rate: float, longest: float) -> None:
    ground = {"intake_mm_h": 8.0, "accumulation_mm": 5.0}
    assert sprinkler.longest_cycle_min(rate_mm_h=rate, **ground) == pytest.approx(longest)
    assert sprinkler.soak_min(**ground) == pytest.approx(37.5)


@pytest.mark.parametrize(
    "call",
    [
        lambda: sprinkler.precipitation_rate(flow_l_min=0.0, area_m2=10.0),
        lambda: sprinkler.precipitation_rate(flow_l_min=5.0, area_m2=float("nan")),
        lambda: sprinkler.precipitation_rate(flow_l_min=5.0, area_m2=-1.0),
        lambda: sprinkler.run_minutes(depth_mm=5.0, rate_mm_h=0.0),
        lambda: sprinkler.run_minutes(depth_mm=-5.0, rate_mm_h=10.0),
        lambda: sprinkler.run_minutes(depth_mm=float("nan"), rate_mm_h=10.0),
        lambda: sprinkler.depth_of(minutes=-1.0, rate_mm_h=10.0),
        lambda: sprinkler.longest_cycle_min(rate_mm_h=10.0, intake_mm_h=-1.0, accumulation_mm=5.0),
        lambda: sprinkler.soak_min(intake_mm_h=0.0, accumulation_mm=5.0),
    ],
    ids=[
        "no flow",
        "unknown area",
        "negative area",
        "no rate",
        "negative depth",
        "unknown depth",
        "negative minutes",
        "negative intake",
        "a soil that takes nothing never soaks",
    ],
)
def test_what_no_sprinkler_can_do_is_refused(call: object) -> None:
    with pytest.raises(ValueError, match="must be"):
        call()  # type: ignore[operator]


@settings(max_examples=60, deadline=None)
@given(depth=st.floats(0.0, 100.0), rate=st.floats(0.1, 200.0))
def test_minutes_times_rate_is_depth(depth: float, rate: float) -> None:
    minutes = sprinkler.run_minutes(depth_mm=depth, rate_mm_h=rate)
    assert sprinkler.depth_of(minutes=minutes, rate_mm_h=rate) == pytest.approx(depth)


@settings(max_examples=60, deadline=None)
@given(cans=st.lists(st.floats(0.5, 60.0), min_size=4, max_size=40))
def test_evenness_is_a_fraction_and_knows_no_order_or_unit(cans: list[float]) -> None:
    du = sprinkler.distribution_uniformity(cans)
    assert 0.0 < du <= 1.0 + 1e-12
    assert sprinkler.distribution_uniformity([25.4 * can for can in sorted(cans)]) == pytest.approx(du)
    assert sprinkler.christiansen(cans) <= 1.0
