"""Makes data/demo_forecast.json and data/demo_ensemble.json: invented weather for Larkmoor Lane.

Nothing here was measured and no service was asked. The bodies have the shape of Open-Meteo's answers to
our own requests at 2026-06-18 01:00 UTC (20:00 on the 17th at the place): unix seconds in GMT, amounts
stamped at the end of their hour, members as 3-hour sums split evenly and rounded to 0.1 mm.

The story: a drying month of 28–33 °C, a soak of 14 mm on 3 June, 5 mm on the 10th, nothing since. Rain
comes in the night to the 18th; the members disagree whether, when and how much. A weaker chance follows
in the evening of the 21st. Clouds take radiation, rain brings humidity and cools.

    python tests/weather/make_demo_weather.py        writes both files anew, always the same
"""

from __future__ import annotations

import json
import math
import random
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

LATITUDE, LONGITUDE, ELEVATION = 40.52, -96.74, 381.0
LOCAL = timezone(timedelta(hours=-5))
FIRST = datetime(2026, 5, 18, tzinfo=UTC)
TODAY = datetime(2026, 6, 18, tzinfo=UTC)
DAYS, MEMBER_DAYS = 42, 10
DATA = Path(__file__).parents[2] / "data"


def local(month: int, day: int, hour: int) -> datetime:
    return datetime(2026, month, day, hour, tzinfo=LOCAL)


RAIN = {  # what the deterministic run says: local start of the first hour, mm of each hour
    local(5, 20, 1): [0.8, 1.9, 2.4, 1.7, 1.0, 0.4],
    local(5, 28, 17): [3.1, 2.2, 0.6],
    local(6, 3, 5): [0.6, 1.2, 2.0, 2.6, 2.4, 2.0, 1.6, 1.0, 0.6],
    local(6, 10, 20): [1.8, 2.3, 0.9],
    local(6, 18, 0): [0.1, 0.4, 0.9, 1.3, 1.2, 0.8, 0.5],
    local(6, 21, 20): [0.2, 0.7, 0.5],
}
# (mm of every wet member; the first is the control, the rest of the 31 are dry)
TONIGHT = [5.1, 0.6, 1.2, 1.8, 2.4, 2.8, 3.2, 3.6, 4.0, 4.5, 5.7, 6.3, 7.0, 7.8, 8.6, 9.5, 10.6, 11.8, 13.1]
TONIGHT += [14.6, 16.2, 18.0, 20.4]
LATER = [1.5, 0.3, 0.6, 0.9, 1.2, 1.8, 2.4, 3.3, 4.2, 5.4, 7.2, 9.0]
LATE = [0.0, 0.3, 0.6, 1.2, 2.1, 3.6, 6.0]
# shares of a member's rain in successive 3-hour steps; tonight's steps begin at 01, 04 and 07 local
TIMINGS = {
    "early": (1.0, 0.0, 0.0),
    "middle": (0.55, 0.45, 0.0),
    "late": (0.1, 0.75, 0.15),
    "last": (0, 1, 0),
}


def rain_by_hour() -> dict[datetime, float]:
    """mm by the UTC start of the hour."""
    return {
        (first + timedelta(hours=k)).astimezone(UTC): mm
        for first, hours in RAIN.items()
        for k, mm in enumerate(hours)
    }


def members() -> list[list[float]]:
    """31 lists of hourly mm from TODAY 00 UTC; entry k belongs to the hour that ENDS at stamp k."""
    dice = random.Random(40)
    runs = [[0.0] * (24 * MEMBER_DAYS) for _ in range(31)]
    # UTC hour at which the first step begins, so that it ends at a multiple of three
    for begins, amounts in ((6, TONIGHT), (24 * 4, LATER), (24 * 8 + 3, LATE)):
        others = dice.sample(range(1, 31), len(amounts) - 1)
        for member, mm in zip([0, *others], amounts, strict=True):
            timing = "middle" if member == 0 else dice.choice(list(TIMINGS))
            for step, share in enumerate(TIMINGS[timing]):
                for stamp in range(begins + 3 * step + 1, begins + 3 * step + 4):
                    runs[member][stamp] = round(runs[member][stamp] + mm * share / 3, 1)
    return runs


def sun(at: datetime) -> float:
    """Extraterrestrial radiation on the level at an instant, W/m² (FAO-56 equations 21–33)."""
    day = at.timetuple().tm_yday
    tilt = 0.409 * math.sin(2 * math.pi / 365 * day - 1.39)
    b = 2 * math.pi * (day - 81) / 364
    correction = 0.1645 * math.sin(2 * b) - 0.1255 * math.cos(b) - 0.025 * math.sin(b)
    solar = at.hour + at.minute / 60 + LONGITUDE / 15 + correction
    angle, phi = math.pi / 12 * (solar - 12), math.radians(LATITUDE)
    height = math.sin(phi) * math.sin(tilt) + math.cos(phi) * math.cos(tilt) * math.cos(angle)
    return 1367 * (1 + 0.033 * math.cos(2 * math.pi / 365 * day)) * max(0.0, height)


def sun_before(stamp: datetime) -> float:
    """Its mean over the hour that ends at the stamp."""
    return sum(sun(stamp - timedelta(minutes=m)) for m in range(5, 60, 10)) / 6


def et0(t: float, dew: float, wind: float, rs_w: float, ra_w: float) -> float:
    """Hourly FAO-56 Penman–Monteith (equation 53) as the service computes it, mm."""
    rs, ra = rs_w * 0.0036, ra_w * 0.0036
    u2 = wind * 4.87 / math.log(67.8 * 10 - 5.42)
    es, ea = (0.6108 * math.exp(17.27 * x / (x + 237.3)) for x in (t, dew))
    slope = 4098 * es / (t + 237.3) ** 2
    gamma = 0.665e-3 * 101.3 * ((293 - 0.0065 * ELEVATION) / 293) ** 5.26
    clear = (0.75 + 2e-5 * ELEVATION) * ra
    share = min(1.0, rs / clear) if clear > 0 else 0.8 - 0.4 * ea / es
    outgoing = 2.043e-10 * (t + 273.16) ** 4 * (0.34 - 0.14 * math.sqrt(ea)) * (1.35 * share - 0.35)
    rn = 0.77 * rs - outgoing
    soil = (0.1 if rs > 0 else 0.5) * rn
    top = 0.408 * slope * (rn - soil) + gamma * 37 / (t + 273) * u2 * (es - ea)
    return max(0.0, top / (slope + gamma * (1 + 0.34 * u2)))


def forecast() -> dict[str, object]:
    """The forecast's body."""
    dice = random.Random(17)
    rain, runs = rain_by_hour(), members()
    days = [FIRST.date() + timedelta(days=k - 1) for k in range(DAYS + 3)]
    hot, cool, dry, breeze, haze = {}, {}, {}, {}, {}
    drift = 0.0
    for k, day in enumerate(days):
        drift = 0.6 * drift + dice.gauss(0, 0.8)
        wet = sum(mm for hour, mm in rain.items() if hour.astimezone(LOCAL).date() == day)
        hot[day] = 27.5 + min(k, 30) * 0.16 + drift - min(5.0, 0.45 * wet)
        cool[day] = hot[day] - 12.5 + min(3.0, 0.4 * wet) + dice.gauss(0, 0.6)
        dry[day] = 13.8 + min(k, 30) * 0.06 + dice.gauss(0, 0.9)
        breeze[day] = min(4.2, max(2.4, dice.gauss(3.4, 0.6)))
        haze[day] = min(0.6, max(0.05, dice.gauss(0.28, 0.13)))
    names = ("temperature_2m", "dew_point_2m", "wind_speed_10m", "shortwave_radiation", "precipitation")
    names += ("snowfall", "cloud_cover", "precipitation_probability", "et0_fao_evapotranspiration")
    columns: dict[str, list[float]] = {name: [] for name in (*names, "relative_humidity_2m")}
    stamps, ripple, cloud_before = [], 0.0, 0.3
    for k in range(24 * DAYS):
        stamp = FIRST + timedelta(hours=k)
        here = stamp.astimezone(LOCAL)
        day, hour = here.date(), here.hour
        near = max(
            (1 - abs((stamp - (h + timedelta(minutes=30))) / timedelta(hours=6)) for h in rain), default=0.0
        )
        near = max(0.0, near)
        ripple = 0.75 * ripple + dice.gauss(0, 0.06)
        cloud = min(1.0, max(0.0, haze[day] + ripple + 0.1 * math.sin((hour - 9) / 12 * math.pi)))
        cloud = max(cloud, min(1.0, 1.25 * near))
        if hour < 6:
            yesterday = day - timedelta(days=1)
            t = cool[day] + (hot[yesterday] - cool[day]) * (1 + math.cos(math.pi * (hour + 7.5) / 13.5)) / 2
        elif hour <= 16:
            t = cool[day] + (hot[day] - cool[day]) * (1 - math.cos(math.pi * (hour - 6) / 10.5)) / 2
        else:
            tomorrow = cool[day + timedelta(days=1)]
            t = tomorrow + (hot[day] - tomorrow) * (1 + math.cos(math.pi * (hour - 16.5) / 13.5)) / 2
        t -= 2.5 * near
        dew = min(dry[day] - 0.8 * math.sin(max(0, hour - 8) / 12 * math.pi), t - 1.0)
        dew += (t - 0.8 - dew) * min(1.0, 1.1 * near) * 0.9
        wind = breeze[day] * (0.72 + 0.55 * math.sin(max(0.0, min(1.0, (hour - 7) / 13)) * math.pi))
        wind = max(0.4, wind + dice.gauss(0, 0.25) + 0.8 * near)
        above = sun_before(stamp)
        overcast = (cloud + cloud_before) / 2
        cloud_before = cloud
        # clear-sky share of FAO-56 equation 37, cloud by Kasten and Czeplak
        rs = above * (0.75 + 2e-5 * ELEVATION) * (1 - 0.75 * overcast**3.4)
        fell = rain.get(stamp - timedelta(hours=1), 0.0)
        ahead = int((stamp - TODAY) / timedelta(hours=1))
        if 0 <= ahead < 24 * MEMBER_DAYS:
            chance = 100 * sum(run[ahead] >= 0.1 for run in runs) / len(runs)
        else:
            chance = 100.0 if fell >= 0.1 else 3.0 if ahead > 0 else 0.0
        e, es = (math.exp(17.27 * x / (x + 237.3)) for x in (dew, t))
        values = (round(t, 1), round(dew, 1), round(wind, 2), round(rs, 1), fell, 0.0, round(100 * cloud))
        values += (round(chance), round(et0(t, dew, wind, rs, above), 2), round(100 * e / es))
        for column, value in zip(columns.values(), values, strict=True):
            column.append(value)
        stamps.append(int(stamp.timestamp()))
    units = ("°C", "°C", "m/s", "W/m²", "mm", "cm", "%", "%", "mm", "%")
    return _body(40.524296, -96.73685, stamps, columns, dict(zip(columns, units, strict=True)))


def ensemble() -> dict[str, object]:
    """The ensemble's body: the control and members 01 … 30."""
    stamps = [int(TODAY.timestamp()) + 3600 * k for k in range(24 * MEMBER_DAYS)]
    names = ["precipitation", *(f"precipitation_member{k:02d}" for k in range(1, 31))]
    columns = dict(zip(names, members(), strict=True))
    return _body(40.5, -96.75, stamps, columns, dict.fromkeys(names, "mm"))


def _body(
    latitude: float,
    longitude: float,
    stamps: list[int],
    columns: dict[str, list[float]],
    units: dict[str, str],
) -> dict[str, object]:
    return {
        "latitude": latitude,
        "longitude": longitude,
        "generationtime_ms": 0.86,
        "utc_offset_seconds": 0,
        "timezone": "GMT",
        "timezone_abbreviation": "GMT",
        "elevation": ELEVATION,
        "hourly_units": {"time": "unixtime", **units},
        "hourly": {"time": stamps, **columns},
    }


def text(body: dict[str, object]) -> str:
    """The body as it stands in the file."""
    return json.dumps(body, ensure_ascii=False, separators=(",", ":")) + "\n"


if __name__ == "__main__":
    for name, body in (("demo_forecast.json", forecast()), ("demo_ensemble.json", ensemble())):
        (DATA / name).write_text(text(body), "utf-8")
