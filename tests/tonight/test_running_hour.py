"""What is foretold of the hour that is running is still to come; what the gauge measured of it has fallen."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pytest
from made import EVENING, made_site, made_weather

from advisor.advice import Advice
from advisor.lawn.products import Product
from advisor.lawn.records import Application, GaugeReading, Records
from advisor.lawn.tables import kind_table
from advisor.soil_water.weather_days import weather_days
from advisor.tonight.advise import advise
from advisor.weather.past import settle_past
from advisor.weather.weather import Weather

SITE = made_site(products={"Invented": Product("Invented", kind_table()["soil-liquid"])})
EVENING_HOUR = EVENING.replace(minute=0)
NIGHT_HOUR = EVENING_HOUR + timedelta(hours=6)  # 02:00
MINUTE = timedelta(minutes=1)
RAIN_MM = 2.0


def rain_in(hour: datetime, *, members: int = 1, warmer: float = 0.0) -> Weather:
    """A dry sky but for 2 mm in one hour, by the source and by each member."""
    weather = made_weather(np.zeros((members, 240)))
    at = weather.index_at(hour)
    rain, foretold = weather.rain_mm.copy(), weather.members_mm.copy()
    rain[at], foretold[:, at] = RAIN_MM, RAIN_MM
    return replace(weather, rain_mm=rain, members_mm=foretold, temp_c=weather.temp_c + warmer)


def asked(weather: Weather, now: datetime, *gauge: GaugeReading, down: datetime = EVENING_HOUR) -> Advice:
    put = Application("Invented", ("Front",), down - 20 * MINUTE, down - 10 * MINUTE, id=1)
    known = tuple(reading for reading in gauge if reading.read_at <= now)
    settled = settle_past(weather, gauge=known, archive=(), now=now)
    return advise(site=SITE, records=Records((put,), gauge=known), weather=settled, now=now)


def of_the_day(advice: Advice, hour: datetime) -> float:
    """The rain of the day that holds the hour, fallen and to come, as the balance counts it."""
    (term,) = (term for term in advice.zones[0].terms if term.day == hour.date())
    return term.rain_mm


@pytest.mark.parametrize("members", [1, 0])
@pytest.mark.parametrize("hour", [EVENING_HOUR, NIGHT_HOUR])
def test_a_forecast_of_the_running_hour_is_to_come_until_the_hour_is_over(
    hour: datetime, members: int
) -> None:
    weather = rain_in(hour, members=members)
    for minute in (0, 15, 59):
        advice = asked(weather, hour + minute * MINUTE)
        assert advice.obligations[0].rain_received_mm == 0.0
        assert advice.rain[0].mean_mm == pytest.approx(RAIN_MM)
        assert of_the_day(advice, hour) == pytest.approx(RAIN_MM)
    over = asked(weather, hour + 61 * MINUTE)
    assert over.obligations[0].rain_received_mm == pytest.approx(RAIN_MM - 1.0)  # leaves keep 1 mm
    assert over.rain[0].mean_mm == 0.0
    assert of_the_day(over, hour) == pytest.approx(RAIN_MM)


@pytest.mark.parametrize("depth_mm", [0.0, 0.6, 3.0])
@pytest.mark.parametrize("since_h", [1, 30])
@pytest.mark.parametrize("hour", [EVENING_HOUR, NIGHT_HOUR])
def test_of_the_running_hour_the_measured_part_has_fallen_and_the_rest_is_to_come(
    hour: datetime, since_h: int, depth_mm: float
) -> None:
    """10 minutes are measured, so 50 of the forecast's 60 are left: at every time of asking the same sum."""
    reading = GaugeReading(hour + 10 * MINUTE, depth_mm, since=hour - timedelta(hours=since_h))
    left = RAIN_MM * 50 / 60
    weather = rain_in(hour)
    for minute in (15, 59):
        advice = asked(weather, hour + minute * MINUTE, reading)
        assert advice.obligations[0].rain_received_mm == pytest.approx(max(0.0, depth_mm - 1.0))
        assert advice.rain[0].mean_mm == pytest.approx(left)
        assert of_the_day(advice, hour) == pytest.approx(depth_mm + left)
    over = asked(weather, hour + 61 * MINUTE, reading)
    assert over.obligations[0].rain_received_mm == pytest.approx(max(0.0, depth_mm + left - 1.0))
    assert over.rain[0].mean_mm == 0.0
    assert of_the_day(over, hour) == pytest.approx(depth_mm + left)


def test_what_two_looks_measure_within_the_running_hour_reaches_what_was_put_down_before() -> None:
    reading = GaugeReading(EVENING_HOUR + 12 * MINUTE, 3.0, since=EVENING_HOUR)
    advice = asked(rain_in(EVENING_HOUR), EVENING, reading)
    assert advice.obligations[0].rain_received_mm == pytest.approx(2.0)
    just_now = asked(rain_in(EVENING_HOUR), EVENING, reading, down=EVENING_HOUR + 20 * MINUTE)
    assert 0.0 < just_now.obligations[0].rain_received_mm < 2.0


def test_snow_measured_in_the_running_hour_lies_and_waters_nothing_in() -> None:
    reading = GaugeReading(EVENING_HOUR + 12 * MINUTE, 3.0, since=EVENING_HOUR)
    cold = rain_in(EVENING_HOUR, warmer=-60.0)
    cold = replace(cold, snow_mm=np.full(cold.hours, np.nan))
    for now in (EVENING, EVENING_HOUR + 59 * MINUTE, EVENING_HOUR + 61 * MINUTE):
        advice = asked(cold, now, reading)
        assert advice.obligations[0].rain_received_mm == 0.0
        assert sum(term.rain_mm for term in advice.zones[0].terms) == 0.0


def test_the_weather_of_today_tells_the_running_hour_as_the_advice_does() -> None:
    weather = rain_in(EVENING_HOUR)
    reading = GaugeReading(EVENING_HOUR + 10 * MINUTE, 0.5, since=EVENING_HOUR - timedelta(hours=1))
    for gauge, at_first, whole in (((), 0.0, RAIN_MM), ((reading,), 0.5, 0.5 + RAIN_MM * 50 / 60)):
        for now, fell in ((EVENING, at_first), (EVENING_HOUR + 61 * MINUTE, whole)):
            settled = settle_past(weather, gauge=gauge, archive=(), now=now)
            found = weather_days(site=SITE, records=Records(gauge=gauge), weather=settled, now=now)
            (row,) = (row for row in found.days if row.when == "today")
            assert (row.fell_mm, row.rain_mm) == (pytest.approx(fell), pytest.approx(whole))
            assert row.known_hours == pytest.approx(row.hours)
