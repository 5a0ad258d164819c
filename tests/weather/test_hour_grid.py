"""Periods, states and instants become whole UTC hours without double counting."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.weather.hour_grid import instants_to_hours, place_amounts, place_states, stamps
from advisor.weather.weather import hours_between

DAY = datetime(2026, 6, 17, tzinfo=UTC)


def at(*hours: float):
    return stamps(DAY + timedelta(hours=h) for h in hours)


AXIS = hours_between(DAY, DAY + timedelta(hours=12))


def test_a_six_hour_sum_is_spread_evenly_and_the_rest_stays_unknown():
    rain = place_amounts(at(3), at(9), np.array([6.0]), AXIS)
    assert rain[3:9] == pytest.approx(np.ones(6))
    assert np.isnan(rain[:3]).all()
    assert np.isnan(rain[9:]).all()


def test_overlapping_hourly_and_six_hourly_periods_are_not_added():
    starts, ends = at(0, 1, 2, 0, 1, 2), at(1, 2, 3, 6, 7, 8)
    rain = place_amounts(starts, ends, np.array([1.0, 2.0, 0.0, 6.0, 6.0, 6.0]), AXIS)
    assert rain[:3] == pytest.approx([1.0, 2.0, 0.0])
    assert rain[3:8] == pytest.approx(np.ones(5))
    assert np.isnan(rain[8:]).all()


def test_an_unknown_short_period_leaves_its_time_to_the_longer_one():
    rain = place_amounts(at(0, 0), at(1, 6), np.array([np.nan, 3.0]), AXIS)
    assert rain[:6] == pytest.approx(np.full(6, 0.5))


def test_a_half_covered_hour_is_unknown():
    rain = place_amounts(at(0.5), at(2), np.array([3.0]), AXIS)
    assert np.isnan(rain[0])
    assert rain[1] == pytest.approx(2.0)


def test_the_part_of_a_period_before_the_axis_is_clipped_not_moved():
    assert place_amounts(at(-3), at(3), np.array([6.0]), AXIS)[:3] == pytest.approx(np.ones(3))


def test_a_state_is_repeated_over_its_interval_and_averaged_within_an_hour():
    cloud = place_states(at(0, 2.5), at(2.5, 4), np.array([0.2, 0.8]), AXIS)
    assert cloud[:4] == pytest.approx([0.2, 0.2, 0.5, 0.8])
    assert np.isnan(cloud[4:]).all()


def test_an_hour_is_the_mean_of_its_two_ends():
    assert instants_to_hours(at(0, 1, 2), np.array([10.0, 12.0, 20.0]), AXIS)[:3] == pytest.approx(
        [11.0, 16.0, np.nan], nan_ok=True
    )


def test_a_short_gap_is_bridged_and_a_long_one_is_not():
    temp = instants_to_hours(at(0, 3, 11), np.array([0.0, 3.0, 11.0]), AXIS, longest_gap_h=6)
    assert temp[:3] == pytest.approx([0.5, 1.5, 2.5])
    assert np.isnan(temp[3:]).all()


def test_offsets_are_turned_into_utc():
    local = timezone(timedelta(hours=-5))
    assert stamps([datetime(2026, 6, 16, 19, tzinfo=local)]) == at(0)


@pytest.mark.parametrize(
    ("act", "words"),
    [
        pytest.param(lambda: stamps([DAY.replace(tzinfo=None)]), "offset", id="naive time"),
        pytest.param(
            lambda: place_amounts(at(1), at(1), np.array([1.0]), AXIS), "end after", id="empty interval"
        ),
        pytest.param(
            lambda: place_amounts(at(1), at(2), np.array([1.0, 2.0]), AXIS), "equally", id="lengths"
        ),
        pytest.param(
            lambda: instants_to_hours(at(1, 1), np.array([1.0, 2.0]), AXIS), "twice", id="repeated instant"
        ),
    ],
)
def test_what_cannot_be_placed_is_refused(act, words):
    with pytest.raises(ValueError, match=words):
        act()


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 11), st.integers(1, 6), st.floats(0, 50)), min_size=1, max_size=12),
)
def test_no_hour_holds_more_than_the_wettest_period_that_covers_it_could_give(periods):
    starts = at(*[s for s, _, _ in periods])
    ends = at(*[s + d for s, d, _ in periods])
    amounts = np.array([a for _, _, a in periods])
    rain = place_amounts(starts, ends, amounts, AXIS)
    for hour in range(12):
        rates = [a / d for s, d, a in periods if s <= hour < s + d]
        if rates:
            assert min(rates) - 1e-9 <= rain[hour] <= max(rates) + 1e-9
        else:
            assert np.isnan(rain[hour])
