"""What is kept of the weather: settled hours once, forecast days against the gauge, rain so far."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from made import made_weather

from advisor.lawn.records import ArchivedHour, GaugeReading, RainPair
from advisor.weather.archiving import (
    SETTLED_AFTER_H,
    ForecastDay,
    forecast_day,
    new_hours,
    pairs_of,
    rain_so_far,
)
from advisor.weather.past import settle_past
from advisor.weather.weather import Weather

NOW = datetime(2026, 6, 18, 1, 15, tzinfo=UTC)
HOUR = timedelta(hours=1)


def rainy(hourly_mm: float = 0.5) -> Weather:
    made = made_weather(now=NOW)
    return replace(made, rain_mm=np.full(made.hours, hourly_mm))


def test_only_hours_that_are_settled_and_not_there_yet_are_archived() -> None:
    there = [ArchivedHour(NOW.replace(minute=0) - n * HOUR, 9.9) for n in range(8, 20)]
    found = new_hours(rainy(), there, NOW)
    assert found[-1].starts_at == NOW.replace(minute=0) - (SETTLED_AFTER_H + 1) * HOUR
    assert {hour.starts_at for hour in found} & {hour.starts_at for hour in there} == set()
    assert (found[-1].rain_mm, found[-1].source) == (0.5, "made")
    assert found[-1].temp_c is not None


def test_what_the_gauge_said_is_not_archived_as_the_sources_word() -> None:
    weather = settle_past(
        rainy(), gauge=[GaugeReading(NOW - 10 * HOUR, 3.0, since=NOW - 20 * HOUR)], archive=(), now=NOW
    )
    kept = {hour.starts_at for hour in new_hours(weather, (), NOW)}
    assert NOW.replace(minute=0) - 15 * HOUR not in kept
    assert NOW.replace(minute=0) - 25 * HOUR in kept


def test_unknown_rain_is_not_archived_and_other_unknowns_are_none() -> None:
    weather = rainy()
    weather.rain_mm[:10] = np.nan
    weather.temp_c[:20] = np.nan
    found = new_hours(weather, (), NOW)
    assert found[0].starts_at == weather.starts_at(10)
    assert (found[0].temp_c, found[0].rain_mm) == (None, 0.5)


def test_a_forecast_day_is_the_members_mean_and_spread_from_the_hour_at_hand() -> None:
    members = np.repeat([[0.1], [0.2], [0.6]], 240, axis=1)
    weather = made_weather(members, now=NOW)
    source = replace(weather.sources[0], fetched_at=NOW - 7.5 * HOUR)
    day = forecast_day(replace(weather, sources=(source,)), NOW)
    assert day is not None
    assert (day.starts_at, day.members) == (NOW.replace(minute=0), 3)
    assert day.mean_mm == pytest.approx(7.2)
    assert day.spread_mm == pytest.approx(np.std([2.4, 4.8, 14.4], ddof=1), abs=1e-3)
    assert day.lead_h == pytest.approx(7.2)  # 17:45 to 01:00


def test_where_the_members_do_not_reach_a_day_there_is_none() -> None:
    weather = made_weather(np.zeros((3, 23)), now=NOW)
    assert forecast_day(weather, NOW) is None


DAY = ForecastDay(NOW.replace(minute=0) - 30 * HOUR, 0.0, 5.0, 2.0, 31)


@pytest.mark.parametrize(
    ("readings", "observed"),
    [
        ([GaugeReading(NOW, 40.0, since=NOW - 40 * HOUR)], 24.0),
        ([GaugeReading(NOW - 20 * HOUR, 20.0, since=NOW - 40 * HOUR), GaugeReading(NOW, 20.0)], 24.0),
        ([GaugeReading(NOW - 20 * HOUR, 20.0, since=NOW - 40 * HOUR)], None),
        ([], None),
    ],
    ids=["one reading", "two readings", "half covered", "no gauge"],
)
def test_a_day_is_paired_when_the_gauge_covers_all_of_it(
    readings: list[GaugeReading], observed: float | None
) -> None:
    weather = settle_past(rainy(), gauge=readings, archive=(), now=NOW)
    found = pairs_of([DAY], (), weather)
    assert [pair.observed_mm for pair in found] == ([pytest.approx(observed)] if observed is not None else [])
    if found:
        assert (found[0].mean_mm, found[0].spread_mm, found[0].members, found[0].hours) == (5.0, 2.0, 31, 24)
        assert pairs_of([DAY], found, weather) == ()


def test_a_reading_that_was_mended_mends_the_pair() -> None:
    before = RainPair(DAY.starts_at, 24, 0.0, 5.0, 2.0, 99.0, 31)
    weather = settle_past(
        rainy(), gauge=[GaugeReading(NOW, 40.0, since=NOW - 40 * HOUR)], archive=(), now=NOW
    )
    (pair,) = pairs_of([DAY], [before], weather)
    assert pair.observed_mm == pytest.approx(24.0)


def test_rain_so_far_is_the_gauges_own_number_where_it_was_read() -> None:
    since = NOW - 9 * HOUR
    readings = [GaugeReading(NOW - HOUR, 12.5, since=since)]
    weather = settle_past(rainy(), gauge=readings, archive=(), now=NOW)
    found = rain_so_far(weather, readings, since, NOW)
    assert (found.mm, found.share_known, found.basis) == (pytest.approx(13.0, abs=0.2), 1.0, "gauge")


def test_rain_so_far_without_a_gauge_is_the_sources_and_tells_how_much_is_known() -> None:
    weather = rainy()
    found = rain_so_far(weather, (), NOW - 9.5 * HOUR, NOW)
    assert (found.mm, found.share_known, found.basis) == (pytest.approx(4.625), pytest.approx(1.0), "model")
    weather.rain_mm[weather.index_at(NOW) - 1] = np.nan
    partly = rain_so_far(weather, (), NOW - 10 * HOUR, NOW)
    assert (partly.mm, partly.share_known) == (pytest.approx(4.375), pytest.approx(0.9))


def test_of_the_running_hour_rain_so_far_holds_what_the_gauge_measured_alone() -> None:
    hour = NOW.replace(minute=0)
    readings = [GaugeReading(NOW - HOUR / 12, 0.4, since=hour)]
    weather = settle_past(rainy(2.0), gauge=readings, archive=(), now=NOW)
    assert rain_so_far(weather, readings, NOW - 2 * HOUR, NOW).mm == pytest.approx(2 * 1.75 + 0.4)
    assert rain_so_far(weather, (), NOW - 2 * HOUR, NOW).mm == pytest.approx(2 * 1.75 + 0.4)


@given(st.floats(0.05, 200), st.integers(0, 200), st.floats(0, 5))
def test_rain_over_two_times_is_the_sum_of_each(first_h: float, second_h: int, hourly_mm: float) -> None:
    """Cut where an hour is over, for of one that is running nothing has fallen yet without a gauge."""
    weather = rainy(hourly_mm)
    middle = NOW.replace(minute=0) - second_h * HOUR
    begin = middle - first_h * HOUR
    both = rain_so_far(weather, (), begin, NOW).mm
    assert both == pytest.approx(
        rain_so_far(weather, (), begin, middle).mm + rain_so_far(weather, (), middle, NOW).mm
    )
