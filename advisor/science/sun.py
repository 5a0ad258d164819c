"""Sunrise and sunset for every place and every local day.

The only room that calls `astral`. That library raises at polar day and night, and also on ordinary
days on which the event crosses midnight UTC; here the candidates of the neighbouring UTC days are
looked through for the one that falls on the local day.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from functools import lru_cache

from astral import Observer, SunDirection
from astral.sun import elevation, time_of_transit

# The upper rim at the horizon: 90° and the sun's radius of 16′; astral adds the refraction.
RIM_DEG = 90.0 + 16.0 / 60.0
SUNRISE_INSTEAD, SUNSET_INSTEAD = time(6), time(18)


@dataclass(frozen=True, slots=True)
class SunTime:
    """When the sun rises or sets, `at` (aware, UTC), and `how`: "sunrise", "sunset" or what stands in."""

    at: datetime
    how: str


def sunrise(*, day: date, latitude_deg: float, longitude_deg: float, zone: tzinfo) -> SunTime:
    """Sunrise on the local civil day `day` of `zone`; `at` falls on that day.

    Where the sun does not rise on that day, 06:00 on the local clock is used and `how` says so.
    The first, should it rise twice. ValueError for a latitude or longitude outside its range.
    """
    return _sun_time(day, latitude_deg, longitude_deg, zone, SunDirection.RISING)


def sunset(*, day: date, latitude_deg: float, longitude_deg: float, zone: tzinfo) -> SunTime:
    """Sunset on the local civil day `day` of `zone`; where there is none, 18:00 on the local clock."""
    return _sun_time(day, latitude_deg, longitude_deg, zone, SunDirection.SETTING)


@lru_cache(maxsize=2048)
def _sun_time(
    day: date, latitude_deg: float, longitude_deg: float, zone: tzinfo, direction: SunDirection
) -> SunTime:
    if not (-90.0 <= latitude_deg <= 90.0 and -180.0 <= longitude_deg <= 180.0):
        raise ValueError(f"no place on Earth: latitude {latitude_deg}, longitude {longitude_deg}")
    place = Observer(latitude=latitude_deg, longitude=longitude_deg)
    name, instead = (
        ("sunrise", SUNRISE_INSTEAD) if direction is SunDirection.RISING else ("sunset", SUNSET_INSTEAD)
    )
    found = []
    for shift in range(-2, 3):
        try:
            at = time_of_transit(place, day + timedelta(days=shift), RIM_DEG, direction)
        except ValueError:  # the sun does not reach the horizon on that UTC day
            continue
        if at.astimezone(zone).date() == day:
            found.append(at)
    if found:
        return SunTime(min(found), name)
    at = datetime.combine(day, instead, zone).astimezone(UTC)
    why = _why_none(place, day, name)
    return SunTime(at, f"{why}: {instead:%H:%M} local clock used")


def _why_none(place: Observer, day: date, name: str) -> str:
    """Why the sun does not cross the horizon: from its height at solar noon and twelve hours later."""
    solar_noon = datetime.combine(day, time(12), UTC) - timedelta(hours=place.longitude / 15.0)
    highest, lowest = (elevation(place, solar_noon + timedelta(hours=later)) for later in (0, 12))
    if highest < 0.0:
        return "polar night"
    return "midnight sun" if lowest > -1.0 else f"no {name} on this date"
