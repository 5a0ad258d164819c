from __future__ import annotations

import math
from datetime import UTC, date, datetime, timedelta, timezone, tzinfo
from zoneinfo import ZoneInfo

import pytest

from advisor.science.sun import SunTime, sunrise, sunset

EPOCH = datetime(2000, 1, 1, 12, tzinfo=UTC)


def sun_height_deg(at: datetime, latitude_deg: float, longitude_deg: float) -> float:
    """The sun's true height by the Astronomical Almanac's low-precision formula (from memory of it)."""
    n = (at - EPOCH) / timedelta(days=1)
    g = math.radians(357.528 + 0.9856003 * n)
    ecliptic = math.radians(280.460 + 0.9856474 * n + 1.915 * math.sin(g) + 0.020 * math.sin(2 * g))
    tilt = math.radians(23.439 - 4e-7 * n)
    ascension = math.atan2(math.cos(tilt) * math.sin(ecliptic), math.cos(ecliptic))
    declination = math.asin(math.sin(tilt) * math.sin(ecliptic))
    sidereal = math.radians(15.0 * (18.697374558 + 24.06570982441908 * n) + longitude_deg)
    latitude = math.radians(latitude_deg)
    sine = math.sin(latitude) * math.sin(declination)
    sine += math.cos(latitude) * math.cos(declination) * math.cos(sidereal - ascension)
    return math.degrees(math.asin(sine))


def clock_of(longitude_deg: float) -> tzinfo:
    return timezone(timedelta(hours=round(longitude_deg / 15.0)))


WORLD = [(lon, clock_of(lon)) for lon in (-179.9, -157.4, -95.2, -16.25, 0.0, 77.2, 139.7, 174.8, 180.0)]
WORLD += [(-157.4, ZoneInfo("Pacific/Kiritimati")), (-176.2, ZoneInfo("Pacific/Chatham"))]  # UTC+14, +13:45
DAYS = [date(2024, 1, 1) + timedelta(days=step) for step in range(0, 366, 5)] + [date(2024, 2, 29)]


@pytest.mark.parametrize("latitude_deg", [-90, -78, -66.6, -45, -20, 0, 13, 38.97, 52, 60, 66.6, 70, 80, 90])
def test_every_place_and_day_has_an_answer_on_that_local_day(latitude_deg: float) -> None:
    for longitude_deg, zone in WORLD:
        for day in DAYS:
            for event, name in ((sunrise, "sunrise"), (sunset, "sunset")):
                found = event(day=day, latitude_deg=latitude_deg, longitude_deg=longitude_deg, zone=zone)
                assert found.at.tzinfo is UTC
                assert found.at.astimezone(zone).date() == day
                assert found.how == name or "local clock used" in found.how
                if abs(latitude_deg) <= 60:
                    assert found.how == name, (latitude_deg, longitude_deg, day)
                    assert sun_height_deg(found.at, latitude_deg, longitude_deg) == pytest.approx(
                        -0.83, abs=0.1
                    )


@pytest.mark.parametrize(
    ("latitude_deg", "day", "why"),
    [
        (69.65, date(2026, 6, 21), "midnight sun"),
        (69.65, date(2026, 12, 21), "polar night"),
        (-77.85, date(2026, 12, 21), "midnight sun"),
        (-77.85, date(2026, 6, 21), "polar night"),
        (90.0, date(2026, 6, 21), "midnight sun"),
        (-90.0, date(2026, 6, 21), "polar night"),
    ],
    ids=[
        "arctic summer",
        "arctic winter",
        "antarctic summer",
        "antarctic winter",
        "north pole",
        "south pole",
    ],
)
def test_without_a_sunrise_the_local_clock_is_used_and_told(latitude_deg: float, day: date, why: str) -> None:
    zone = ZoneInfo("Europe/Oslo")
    place = {"latitude_deg": latitude_deg, "longitude_deg": 18.96, "zone": zone}
    morning, evening = sunrise(day=day, **place), sunset(day=day, **place)
    assert morning == SunTime(
        datetime(day.year, day.month, day.day, 6, tzinfo=zone).astimezone(UTC), morning.how
    )
    assert morning.how == f"{why}: 06:00 local clock used"
    assert evening.how == f"{why}: 18:00 local clock used"


def test_a_day_between_two_sunrises_says_that_it_has_none() -> None:
    # Nights shrink fast before the midnight sun: one sunrise just after midnight, the next just before.
    place = {"latitude_deg": 70.0, "longitude_deg": 16.0, "zone": timezone(timedelta(hours=1))}
    told = {sunrise(day=date(2024, 5, day), **place).how for day in range(5, 25)}
    assert told == {
        "sunrise",
        "no sunrise on this date: 06:00 local clock used",
        "midnight sun: 06:00 local clock used",
    }


@pytest.mark.parametrize(
    "day", [date(2026, 3, 8), date(2026, 11, 1)], ids=["clocks go forward", "clocks go back"]
)
def test_the_night_the_clocks_change_moves_the_clock_and_not_the_sun(day: date) -> None:
    place = {"latitude_deg": 38.97, "longitude_deg": -95.24, "zone": ZoneInfo("America/Chicago")}
    before = sunrise(day=day - timedelta(days=1), **place).at
    assert abs(sunrise(day=day, **place).at - before - timedelta(days=1)) < timedelta(minutes=3)


@pytest.mark.parametrize(
    ("latitude_deg", "longitude_deg"),
    [(90.1, 0.0), (0.0, 180.1), (float("nan"), 0.0), (0.0, float("nan"))],
)
def test_a_place_off_the_earth_is_refused(latitude_deg: float, longitude_deg: float) -> None:
    with pytest.raises(ValueError, match="no place on Earth"):
        sunrise(day=date(2026, 6, 1), latitude_deg=latitude_deg, longitude_deg=longitude_deg, zone=UTC)
