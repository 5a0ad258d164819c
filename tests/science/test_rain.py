from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.science.rain import effective_rain

LAWN = {"interception_mm": 1.0, "intake_mm_h": 8.0, "accumulation_mm": 5.0}
NAN = float("nan")


@pytest.mark.parametrize(
    ("rain", "net", "caught", "runoff"),
    [
        ([0.6, 0.0, 0.0], [0, 0, 0], [0.6, 0, 0], [0, 0, 0]),
        ([3.0, 3.0], [2, 3], [1, 0], [0, 0]),
        ([20.0, 0.0], [13, 0], [1, 0], [6, 0]),
        ([14.0, 10.0], [13, 8], [1, 0], [0, 2]),
        ([14.0, 0.0, 14.0], [13, 0, 13], [1, 0, 1 / 24], [0, 0, 1 - 1 / 24]),
    ],
    ids=[
        "a shower that only wets the leaves",
        "the leaves catch once",
        "a downpour: leaves 1, soil 8, surface 5, the rest runs off",
        "a full surface takes only what enters",
        "a dry hour empties the surface and dries the leaves a little",
    ],
)
def test_an_hour_of_rain_goes_where_it_must(
    rain: list[float], net: list[float], caught: list[float], runoff: list[float]
) -> None:
    found = effective_rain(rain_mm=rain, **LAWN)
    assert found.intercepted_mm == pytest.approx(caught)
    assert found.net_mm == pytest.approx(net)
    assert found.runoff_mm == pytest.approx(runoff)


def test_leaves_are_dry_again_after_a_day_without_rain() -> None:
    found = effective_rain(rain_mm=[2.0, *[0.0] * 24, 2.0], **LAWN)
    assert found.intercepted_mm[[0, -1]] == pytest.approx([1.0, 1.0])


def test_an_unknown_hour_is_unknown_and_the_next_is_not() -> None:
    found = effective_rain(rain_mm=[2.0, NAN, 2.0], **LAWN)
    for part in (found.net_mm, found.intercepted_mm, found.runoff_mm):
        assert np.isnan(part).tolist() == [False, True, False]


def test_each_zone_has_its_own_ground_under_the_same_members() -> None:
    rain = np.array([[20.0, 0.0], [4.0, 4.0], [0.0, 9.0]])
    intake = np.array([[8.0], [2.5]])
    found = effective_rain(rain_mm=rain, interception_mm=1.0, intake_mm_h=intake, accumulation_mm=5.0)
    assert found.net_mm.shape == (2, 3, 2)
    for zone in range(2):
        for member in range(3):
            alone = effective_rain(rain_mm=rain[member], **{**LAWN, "intake_mm_h": float(intake[zone, 0])})
            assert found.net_mm[zone, member] == pytest.approx(alone.net_mm)
            assert found.runoff_mm[zone, member] == pytest.approx(alone.runoff_mm)


def test_no_hours_give_no_rain() -> None:
    assert effective_rain(rain_mm=np.zeros((2, 3, 0)), **LAWN).net_mm.shape == (2, 3, 0)


@pytest.mark.parametrize("name", ["rain_mm", "interception_mm", "intake_mm_h", "accumulation_mm"])
def test_a_negative_amount_is_refused(name: str) -> None:
    with pytest.raises(ValueError, match="negative"):
        effective_rain(**{"rain_mm": [1.0], **LAWN, name: [-1.0]})


@pytest.mark.parametrize("name", ["interception_mm", "intake_mm_h", "accumulation_mm"])
def test_an_unknown_ground_is_refused(name: str) -> None:
    with pytest.raises(ValueError, match="negative"):
        effective_rain(**{"rain_mm": [1.0], **LAWN, name: NAN})


hourly = st.lists(st.one_of(st.just(0.0), st.floats(0.0, 60.0)), min_size=1, max_size=30)
ground = st.floats(0.0, 20.0)


@settings(max_examples=60, deadline=None)
@given(rain=hourly, leaves=ground, intake=ground, surface=ground)
def test_the_parts_add_up_to_the_rain(
    rain: list[float], leaves: float, intake: float, surface: float
) -> None:
    found = effective_rain(rain_mm=rain, interception_mm=leaves, intake_mm_h=intake, accumulation_mm=surface)
    parts = (found.net_mm, found.intercepted_mm, found.runoff_mm)
    assert sum(parts) == pytest.approx(rain, abs=1e-12)
    assert all(np.all(part >= -1e-12) for part in parts)


@settings(max_examples=60, deadline=None)
@given(rain=hourly, more=hourly)
def test_more_rain_never_leaves_less_on_the_lawn(rain: list[float], more: list[float]) -> None:
    hours = min(len(rain), len(more))
    less = np.array(rain[:hours])
    wetter = effective_rain(rain_mm=less + np.array(more[:hours]), **LAWN)
    drier = effective_rain(rain_mm=less, **LAWN)
    assert wetter.net_mm.sum() >= drier.net_mm.sum() - 1e-9
    assert wetter.runoff_mm.sum() >= drier.runoff_mm.sum() - 1e-9
