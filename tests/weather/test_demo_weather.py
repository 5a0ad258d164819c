"""The demo weather is made by its script, reads like a service's answer and hangs together physically."""

from __future__ import annotations

import importlib.util
import json
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from advisor.shipped import shipped
from advisor.weather.ensemble import with_members
from advisor.weather.quality import screen
from advisor.weather.sources import open_meteo as om

ZONE = ZoneInfo("America/Chicago")
FETCHED = datetime(2026, 6, 18, 1, tzinfo=UTC)
FILES = ("demo_forecast.json", "demo_ensemble.json")


@pytest.fixture(scope="module")
def maker():
    spec = importlib.util.spec_from_file_location(
        "make_demo_weather", Path(__file__).with_name("make_demo_weather.py")
    )
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def weather():
    forecast, ensemble = (json.loads(shipped("data", name).read_text("utf-8")) for name in FILES)
    members = om.read_ensemble(ensemble, fetched_at=FETCHED, asked=("gfs_seamless",))
    return with_members(om.read_forecast(forecast, fetched_at=FETCHED), members)


def day_of(weather, day):
    first = weather.index_at(datetime(day.year, day.month, day.day, tzinfo=ZONE))
    return slice(first, first + 24)


DAYS = [date(2026, 5, 18) + timedelta(days=k) for k in range(40)]


def test_the_files_are_what_the_script_makes(maker):
    made = (maker.forecast(), maker.ensemble())
    for name, body in zip(FILES, made, strict=True):
        assert shipped("data", name).read_text("utf-8") == maker.text(body)
        assert shipped("data", name).stat().st_size <= 250_000


def test_the_bodies_are_what_our_own_requests_would_get():
    forecast, ensemble = (json.loads(shipped("data", name).read_text("utf-8")) for name in FILES)
    today = int(datetime(2026, 6, 18, tzinfo=UTC).timestamp())
    assert forecast["hourly"]["time"] == [today + 3600 * k for k in range(-31 * 24, 11 * 24)]
    assert ensemble["hourly"]["time"] == [today + 3600 * k for k in range(10 * 24)]
    assert set(forecast["hourly"]) == {"time", *om.FULL}
    assert (forecast["hourly_units"]["time"], forecast["hourly_units"]["wind_speed_10m"]) == (
        "unixtime",
        "m/s",
    )
    assert len(ensemble["hourly"]) == 32


def test_nothing_of_it_is_dropped_repaired_or_unknown(weather):
    assert not [n for n in screen(weather).notes if n.level != "told"]
    for name in ("temp_c", "dew_c", "wind10_m_s", "rs_mj_m2_h", "rain_mm", "eto_source_mm"):
        assert np.isfinite(getattr(weather, name)).all(), name


def test_the_past_month_is_the_story_that_is_told(weather):
    rain = {day: float(weather.rain_mm[day_of(weather, day)].sum()) for day in DAYS}
    assert rain[date(2026, 6, 3)] == pytest.approx(14.0)
    assert rain[date(2026, 6, 10)] == pytest.approx(5.0)
    assert sum(mm for day, mm in rain.items() if date(2026, 6, 11) <= day <= date(2026, 6, 17)) == 0.0
    hot = [float(weather.temp_c[day_of(weather, d)].max()) for d in DAYS if d.month == 6 and not rain[d]]
    assert 29 < min(hot) < max(hot) < 34


def test_the_night_to_the_18th_is_wet_in_the_one_run_and_open_in_the_members(weather):
    first = weather.index_at(datetime(2026, 6, 18, 0, tzinfo=ZONE))
    assert weather.rain_mm[first : first + 7].sum() == pytest.approx(5.2)
    night = weather.members_mm[:, first - 4 : first + 12]
    total = np.sort(night.sum(axis=1))
    assert (total < 0.1).mean() == pytest.approx(8 / 31)
    assert np.median(total) == pytest.approx(4.0, abs=0.3)
    assert 18 < total[-1] < 22
    early, late = night[:, :9].sum(axis=1), night[:, 9:].sum(axis=1)  # before and after 05:00
    assert ((early > 0) & (late == 0)).sum() >= 3
    assert (late > 1.5 * early).sum() >= 3
    assert float(weather.chance[first : first + 7].max()) < (total >= 0.1).mean()


def test_a_weaker_chance_follows_on_the_21st(weather):
    first = weather.index_at(datetime(2026, 6, 21, 12, tzinfo=ZONE))
    total = weather.members_mm[:, first : first + 24].sum(axis=1)
    assert 0.3 < (total >= 0.1).mean() < 0.5
    assert 0 < weather.rain_mm[first : first + 24].sum() < 2


def test_cloud_takes_radiation_and_rain_brings_humid_air(weather):
    noon = [weather.index_at(datetime(d.year, d.month, d.day, 13, tzinfo=ZONE)) for d in DAYS]
    assert np.corrcoef(weather.cloud[noon], weather.rs_mj_m2_h[noon])[0, 1] < -0.8
    deficit = weather.temp_c - weather.dew_c
    assert (deficit > 0).all()
    assert deficit[weather.rain_mm > 0.3].mean() < 3.0 < deficit[weather.rain_mm == 0].mean()
    night = [weather.index_at(datetime(d.year, d.month, d.day, 1, tzinfo=ZONE)) for d in DAYS]
    assert weather.rs_mj_m2_h[night].max() == 0.0


def test_the_demand_is_that_of_a_june_on_the_plains(weather):
    """4–7 mm a day on dry June days, a little more on the windiest (common practice, no source)."""
    dry = [
        float(weather.eto_source_mm[day_of(weather, d)].sum())
        for d in DAYS
        if d.month == 6 and not weather.rain_mm[day_of(weather, d)].sum()
    ]
    assert 5.0 < min(dry) < max(dry) < 7.5
    assert 5.8 < np.mean(dry) < 6.8
    assert float(weather.eto_source_mm[day_of(weather, date(2026, 6, 3))].sum()) < 3.5
