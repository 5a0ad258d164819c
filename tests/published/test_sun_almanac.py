"""Sunrise and sunset as almanacs print them, to the minute."""

from __future__ import annotations

from datetime import date, timedelta
from zoneinfo import ZoneInfo

import pytest

from advisor.science.sun import sunrise, sunset

SOURCE = (
    "from memory of printed sunrise and sunset tables for the cities' centres (US Naval Observatory, HMNAO)"
)

LONDON = (51.51, -0.13, "Europe/London")
NEW_YORK = (40.71, -74.01, "America/New_York")
SYDNEY = (-33.87, 151.21, "Australia/Sydney")
QUITO = (-0.18, -78.47, "America/Guayaquil")


@pytest.mark.parametrize(
    ("place", "day", "rises", "sets"),
    [
        (LONDON, date(2024, 6, 21), "04:43", "21:22"),
        (LONDON, date(2024, 12, 21), "08:04", "15:53"),
        (NEW_YORK, date(2024, 6, 20), "05:25", "20:31"),
        (NEW_YORK, date(2024, 12, 21), "07:17", "16:32"),
        (SYDNEY, date(2024, 12, 21), "05:41", "20:05"),
        (SYDNEY, date(2024, 6, 21), "07:00", "16:54"),
        (QUITO, date(2024, 3, 20), "06:18", "18:24"),
    ],
    ids=lambda value: f"from memory, {value[2]}" if isinstance(value, tuple) else str(value),
)
def test_the_sun_keeps_the_almanac(place: tuple[float, float, str], day: date, rises: str, sets: str) -> None:
    latitude_deg, longitude_deg, name = place
    zone = ZoneInfo(name)
    for event, printed in ((sunrise, rises), (sunset, sets)):
        found = event(day=day, latitude_deg=latitude_deg, longitude_deg=longitude_deg, zone=zone)
        local = found.at.astimezone(zone)
        hour, minute = (int(part) for part in printed.split(":"))
        expected = local.replace(hour=hour, minute=minute, second=0, microsecond=0)
        # Half of the printed minute, and one for where in the city the table stands.
        assert abs(local - expected) <= timedelta(seconds=90), f"{local:%H:%M:%S} against {printed}"
