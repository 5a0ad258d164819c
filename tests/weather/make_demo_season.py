"""Makes data/demo_season.csv: an invented season of hourly weather for Larkmoor Lane, to be replayed.

Nothing here was measured and no service was asked. Days follow the usual year of the demo: a yearly course of
warmth, days warm and cool in spells, rain in events that come rather by night and in spells too. Rain brings
cloud and humidity and cools.

    PYTHONPATH=tests python tests/weather/make_demo_season.py        writes the file anew, always the same
"""

from __future__ import annotations

import csv
import io
import math
import random
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone

from weather.make_demo_weather import DATA, sun_before

STANDARD = timezone(timedelta(hours=-6))
FIRST, LAST = datetime(2025, 3, 1, tzinfo=UTC), datetime(2025, 10, 10, tzinfo=UTC)
RAIN_MM = {3: 46, 4: 72, 5: 105, 6: 98, 7: 84, 8: 80, 9: 66, 10: 54}  # a month, about the usual year's
EVENT_MM = 9.0
STORM_HOURS = (0, 1, 2, 3, 4, 5, 17, 18, 19, 20, 21, 22, 23, 23, 9, 13)
HEAD = """\
# An invented season of Larkmoor Lane: no such weather was ever measured. Made by tests/weather/make_demo_season.py.
"""
COLUMNS = ("time", "temp_c", "dew_c", "wind10_m_s", "rs_w_m2", "rain_mm")


@dataclass
class Day:
    """The warmth, humidity, wind and cloud of one day."""

    high_c: float
    low_c: float
    dew_c: float
    wind_m_s: float
    haze: float


def rain(dice: random.Random) -> dict[datetime, float]:
    """mm by the start of the hour."""
    found: dict[datetime, float] = {}
    day, wet = FIRST, False
    while day < LAST:
        usual = RAIN_MM[day.month] / 30.4 / EVENT_MM
        wet = dice.random() < (1.9 * usual if wet else 0.75 * usual)
        if wet:
            begins = day.replace(hour=0) + timedelta(hours=dice.choice(STORM_HOURS) + 6)
            length = dice.randint(1, 9)
            shape = [dice.gammavariate(1.2, 1.0) for _ in range(length)]
            whole = min(60.0, dice.gammavariate(0.9, EVENT_MM / 0.9))
            for k, part in enumerate(shape):
                at = begins + timedelta(hours=k)
                found[at] = found.get(at, 0.0) + whole * part / sum(shape)
        day += timedelta(days=1)
    return found


def days(dice: random.Random, fell: dict[datetime, float]) -> dict[object, Day]:
    """Every day by its local date."""
    found: dict[object, Day] = {}
    drift, day = 0.0, (FIRST - timedelta(days=2)).astimezone(STANDARD).date()
    while day <= (LAST + timedelta(days=2)).astimezone(STANDARD).date():
        drift = 0.72 * drift + dice.gauss(0, 2.4)
        wet = sum(mm for at, mm in fell.items() if at.astimezone(STANDARD).date() == day)
        usual = 18.5 + 13.0 * math.cos(2 * math.pi * (day.timetuple().tm_yday - 202) / 365)
        high = usual + drift - min(6.0, 0.4 * wet)
        low = high - 12.5 + min(5.0, 0.5 * wet) + dice.gauss(0, 1.0)
        found[day] = Day(
            high_c=high,
            low_c=low,
            dew_c=low - 0.5 + min(2.0, 0.3 * wet) - abs(dice.gauss(0, 1.5)),
            wind_m_s=min(7.0, max(1.5, dice.gauss(3.6, 1.1))),
            haze=min(0.85, max(0.05, dice.gauss(0.33, 0.2) + min(0.4, 0.05 * wet))),
        )
        day += timedelta(days=1)
    return found


def rows() -> Iterator[tuple[str, ...]]:
    """The hours, each as its cells."""
    dice = random.Random(2025)
    fell = rain(dice)
    known = days(dice, fell)
    for k in range(24 * (LAST - FIRST).days):
        at = FIRST + timedelta(hours=k)
        here = at.astimezone(STANDARD)
        today, hour = known[here.date()], here.hour + 0.5
        tomorrow = known[here.date() + timedelta(days=1)]
        yesterday = known[here.date() - timedelta(days=1)]
        if hour < 5:
            warmth = (1 + math.cos(math.pi * (hour + 8.5) / 13.5)) / 2
            t = today.low_c + (yesterday.high_c - today.low_c) * warmth
        elif hour <= 15.5:
            t = today.low_c + (today.high_c - today.low_c) * (1 - math.cos(math.pi * (hour - 5) / 10.5)) / 2
        else:
            warmth = (1 + math.cos(math.pi * (hour - 15.5) / 13.5)) / 2
            t = tomorrow.low_c + (today.high_c - tomorrow.low_c) * warmth
        near = max((fell.get(at + timedelta(hours=h), 0.0) > 0 for h in (-1, 0, 1)), default=False)
        cloud = min(1.0, today.haze + (0.5 if near else 0.0) + dice.gauss(0, 0.05))
        above = sun_before(at + timedelta(hours=1))
        sun = above * 0.76 * (1 - 0.75 * max(0.0, cloud) ** 3.4)  # Kasten and Czeplak, from memory
        t -= 1.5 if near else 0.0
        dew = min(t - 0.5 if near else t - 1.0, today.dew_c + (1.0 if near else 0.0))
        wind = today.wind_m_s * (0.7 + 0.6 * math.sin(max(0.0, min(1.0, (hour - 7) / 13)) * math.pi))
        wind = max(0.3, wind + dice.gauss(0, 0.3))
        cells = (f"{t:.1f}", f"{dew:.1f}", f"{wind:.1f}", f"{sun:.0f}", f"{fell.get(at, 0.0):.1f}")
        yield (f"{at:%Y-%m-%dT%H:%MZ}", *cells)


def text() -> str:
    """The file."""
    out = io.StringIO()
    out.write(HEAD)
    csv.writer(out, lineterminator="\n").writerows([COLUMNS, *rows()])
    return out.getvalue()


if __name__ == "__main__":
    (DATA / "demo_season.csv").write_text(text(), "utf-8")
