"""The weather day by day: what fell, what may come, and what each number rests on."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from made import CHICAGO, EVENING, made_site, made_weather

from advisor.advice import Period
from advisor.advice.weather_days import WeatherDay, WeatherDays
from advisor.lawn.records import ArchivedHour, GaugeReading, RainPair, Records
from advisor.soil_water.rain_outlook import chance_of, rain_outlook
from advisor.soil_water.reference_et import daily_reference_et
from advisor.soil_water.root_zone import survey
from advisor.soil_water.weather_days import weather_days
from advisor.weather.past import settle_past
from advisor.weather.weather import SourceUse, Weather

TODAY = EVENING.date()


def report(weather: Weather, records: Records | None = None, **more: Any) -> WeatherDays:
    return weather_days(site=made_site(), records=records or Records(), weather=weather, now=EVENING, **more)


def day(found: WeatherDays, ahead: int) -> WeatherDay:
    return next(row for row in found.days if row.day == TODAY + timedelta(days=ahead))


def wet(*totals_mm: float, hours: slice = slice(24, 30), horizon: int = 240) -> np.ndarray:
    """One member a total, its rain spread over the same hours (counted from that of `now`)."""
    members = np.zeros((len(totals_mm), horizon))
    count = len(range(*hours.indices(horizon)))
    members[:, hours] = np.array(totals_mm)[:, None] / count
    return members


def test_the_days_lie_behind_and_ahead_of_today_and_no_further_than_asked() -> None:
    found = report(made_weather(), back=3, ahead=2)
    assert [row.day for row in found.days] == [TODAY + timedelta(days=d) for d in range(-3, 3)]
    assert [row.when for row in found.days] == ["past"] * 3 + ["today"] + ["ahead"] * 2


def test_what_fell_is_summed_by_civil_day_and_named_after_the_gauge_where_that_measured_it() -> None:
    midnight = datetime.combine(TODAY, datetime.min.time(), CHICAGO)
    gauge = (GaugeReading(midnight, 12.0, since=midnight - timedelta(days=1)),)
    found = report(settle_past(made_weather(past_rain_mm=31.0), gauge=gauge, archive=(), now=EVENING))
    yesterday, before = day(found, -1), day(found, -2)
    assert yesterday.rain_mm == pytest.approx(12.0)
    assert (yesterday.rain_basis, yesterday.rain_source) == (("gauge",), "gauge")
    assert before.rain_mm == pytest.approx(1.0)
    assert (before.rain_basis, before.rain_source) == (("model",), "made")
    assert yesterday.chance_1mm is None


def test_archived_hours_bear_the_name_of_where_they_came_from() -> None:
    hours = tuple(
        ArchivedHour(EVENING.astimezone(UTC).replace(minute=0) - timedelta(hours=h), 0.5, 21.0, 14.0, 2.0, 0.9,
                     source="Station 7")
        for h in range(24, 80)
    )  # fmt: skip
    row = day(report(settle_past(made_weather(), gauge=(), archive=hours, now=EVENING)), -2)
    assert row.rain_mm == pytest.approx(12.0)
    assert (row.rain_basis, row.rain_source) == (("archive",), "archived hours of Station 7")
    assert (row.tmin_source, row.wind_source) == ("Station 7", "Station 7")
    assert row.eto_source.endswith("from Station 7")


def test_today_holds_what_fell_and_what_may_yet_come() -> None:
    weather = made_weather(wet(4.0, 4.0, 4.0, hours=slice(1, 3)))
    rain = weather.rain_mm.copy()
    rain[weather.index_at(EVENING) - 6] = 3.0
    row = day(report(replace(weather, rain_mm=rain)), 0)
    assert row.fell_mm == pytest.approx(3.0)
    assert row.rain_low_mm is not None
    assert row.rain_low_mm >= 3.0
    assert row.chance_1mm == 1.0
    assert set(row.rain_basis) == {"model", "members"}
    assert row.rain_source == "made and members of made"


def test_chances_are_of_the_whole_days_total_over_the_members() -> None:
    found = report(made_weather(wet(*[0.0] * 10, *[30.0] * 10)))
    row = day(found, 1)
    assert 0.4 < row.chance_10mm < row.chance_5mm <= row.chance_1mm <= 1.0
    assert row.rain_low_mm < row.rain_mm < row.rain_high_mm
    assert row.chance_source == "20 members of made, default calibration"
    assert (found.members, found.calibrated, found.pairs) == (20, False, 0)


def test_a_calibration_from_the_sites_own_pairs_is_named() -> None:
    pairs = tuple(
        RainPair(EVENING - timedelta(days=d), 24, 24.0, 5.0, 2.0, 3.0, "model") for d in range(2, 42)
    )
    found = report(made_weather(wet(*range(11))), Records(pairs=pairs))
    assert found.calibrated
    assert day(found, 1).chance_source == "11 members of made, calibrated on 40 pairs"


def test_a_day_beyond_the_horizon_is_unknown_and_not_dry() -> None:
    found = report(made_weather(wet(5.0, 6.0, 7.0, hours=slice(0, 6), horizon=37)))
    row = day(found, 2)
    assert row.rain_mm is None
    assert row.chance_1mm is None
    assert row.rain_basis == ()
    assert 0 < row.known_hours < 0.8 * row.hours
    assert row.tmin_c is not None
    assert day(found, 1).rain_mm is not None


def test_one_forecast_without_members_gives_an_amount_and_no_chance() -> None:
    weather = made_weather()
    weather = replace(weather, members_mm=np.zeros((0, weather.hours)))
    found = report(weather)
    row = day(found, 1)
    assert row.rain_mm == 0.0
    assert (row.chance_1mm, row.rain_low_mm, row.chance_source) == (None, None, "")
    assert (row.rain_basis, row.rain_source) == (("model",), "made")
    assert day(found, 0).rain_basis == ("model",)
    assert any("No ensemble" in text for text in found.provenance)


def test_eto_wind_and_minimum_are_those_of_the_civil_day() -> None:
    weather = made_weather()
    demand = daily_reference_et(weather, CHICAGO)
    row = day(report(weather), -1)
    at = int(np.flatnonzero(demand.days == np.datetime64(row.day))[0])
    here = demand.day_index == at
    assert row.eto_mm == pytest.approx(demand.eto_day_mm[at])
    assert row.tmin_c == pytest.approx(weather.temp_c[here].min())
    assert row.wind10_m_s == pytest.approx(weather.wind10_m_s[here].mean())
    assert row.eto_source == "FAO-56 Penman–Monteith from made"


def test_what_stood_in_for_a_missing_series_is_named_in_the_days_eto() -> None:
    weather = made_weather()
    found = report(replace(weather, wind10_m_s=np.full(weather.hours, np.nan)))
    assert "(u2=2)" in day(found, -1).eto_source
    assert (day(found, -1).wind10_m_s, day(found, -1).wind_source) == (None, "")


def test_an_unknown_past_is_none_and_the_days_without_anything_are_left_out() -> None:
    weather = made_weather(past_days=2)
    found = report(weather, back=7)
    assert [row.day for row in found.days if row.when == "past"] == [TODAY - timedelta(days=1)]
    rain = weather.rain_mm.copy()
    rain[: weather.index_at(EVENING)] = np.nan
    assert day(report(replace(weather, rain_mm=rain)), -1).rain_mm is None


def test_snow_is_told_as_its_water() -> None:
    weather = made_weather(wet(12.0, 12.0, 12.0))
    cold = replace(weather, temp_c=weather.temp_c - 40.0, dew_c=weather.dew_c - 40.0)
    rain = np.zeros(weather.hours)
    at = weather.index_at(EVENING)
    rain[at + 24 : at + 30] = 2.0
    cold = replace(cold, rain_mm=rain, snow_mm=np.full(weather.hours, np.nan))
    row = day(report(cold), 1)
    assert row.snow_mm == pytest.approx(row.rain_mm)
    assert day(report(weather), 1).snow_mm == 0.0


def test_weather_that_ended_before_now_shows_the_past_and_says_so() -> None:
    weather = made_weather(now=EVENING - timedelta(days=3), ahead_days=2)
    found = report(weather)
    assert {row.when for row in found.days} == {"past"}
    assert any("does not reach the coming hours" in text for text in found.provenance)


def test_members_of_two_pooled_sources_name_both() -> None:
    weather = made_weather(wet(*range(20)))
    uses = tuple(
        SourceUse(name, "rain members", EVENING, EVENING + timedelta(days=5), members=10) for name in "AB"
    )
    assert (
        day(report(replace(weather, sources=(*weather.sources, *uses))), 1).rain_source
        == "members of A and B"
    )


def test_a_service_whose_own_eto_is_far_from_ours_is_told() -> None:
    weather = made_weather()
    own = daily_reference_et(weather, CHICAGO).eto_mm
    near, far = (replace(weather, eto_source_mm=factor * own) for factor in (1.1, 1.4))
    assert not any("differs from the source's own" in text for text in report(near).provenance)
    assert any("differs from the source's own" in text for text in report(far).provenance)
    assert day(report(near), -1).service_eto_mm == pytest.approx(1.1 * day(report(near), -1).eto_mm)


def test_the_report_survives_its_own_json() -> None:
    found = report(made_weather(wet(*range(11))))
    assert WeatherDays.model_validate_json(found.model_dump_json()) == found
    assert found.schema_version == "advisor.weather/1"
    assert date.fromisoformat(str(found.days[0].day)) == found.days[0].day


def test_rain_that_misses_a_round_depth_by_rounding_alone_counts_as_reaching_it() -> None:
    one = np.zeros((1, 240))
    one[0, 2] = np.nextafter(1.0, 0.0)
    ground = survey(site=made_site(), records=Records(), weather=made_weather(one), now=EVENING)
    (told,) = rain_outlook(ground, [(Period.DAY, EVENING, EVENING + timedelta(days=1))])
    assert told.chance_1mm == 1.0
    assert chance_of(ground, EVENING, EVENING + timedelta(days=1), 1.0) == 1.0
