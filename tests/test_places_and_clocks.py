"""Nights that trip a clock or a map, through the whole road from site file and weather file to advice."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from advisor.advice.advice import Advice
from advisor.advice.weather_days import WeatherDays
from advisor.lawn.load import load_site
from advisor.lawn.site_values import Site
from advisor.lawn.tables import turf_table
from advisor.night import Inputs, gather
from advisor.science.radiation import clear_sky_radiation, extraterrestrial_radiation_hourly
from advisor.soil_water.weather_days import weather_days
from advisor.store import open_store
from advisor.weather.weather import hours_between

SITE = """\
site:
  name: Larkmoor Lane
  latitude: {lat}
  longitude: {lon}
  elevation: 20 m
  time_zone: {zone}
  units: metric
zones:
  - {{name: Front, area: 200 m2, grass: tall fescue, soil: loam, slope: 2 %, exposure: full sun,
     head: gear rotor, rate: {{measured: 12 mm/h, on: 2026-01-02}}, uniformity: 70 %}}
watering: {{hours: "21:00-08:00"}}
records: lawn.sqlite
"""


@dataclass(frozen=True)
class Where:
    """A place, the local evening there, and how warm its nights and days are."""

    zone: str
    lat: float
    lon: float
    evening: str
    low_c: float = 12.0
    high_c: float = 26.0

    @property
    def now(self) -> datetime:
        """The evening with its zone."""
        return datetime.fromisoformat(self.evening).replace(tzinfo=ZoneInfo(self.zone))


CHICAGO_SPRING = Where("America/Chicago", 40.52, -96.74, "2026-03-07T20:15", 8.0, 24.0)
CHICAGO_AUTUMN = Where("America/Chicago", 40.52, -96.74, "2026-10-31T20:15", 8.0, 24.0)
LORD_HOWE_SPRING = Where("Australia/Lord_Howe", -31.55, 159.08, "2026-10-03T20:15")
LORD_HOWE_AUTUMN = Where("Australia/Lord_Howe", -31.55, 159.08, "2026-04-04T20:15")
KIRITIMATI = Where("Pacific/Kiritimati", 1.87, -157.40, "2026-06-17T20:15", 25.0, 31.0)
APIA = Where("Pacific/Apia", -13.83, -171.77, "2026-06-17T20:15", 24.0, 30.0)
HOBART = Where("Australia/Hobart", -42.88, 147.33, "2026-01-20T20:15", 12.0, 24.0)
LONGYEARBYEN_DAY = Where("Arctic/Longyearbyen", 78.22, 15.63, "2026-06-21T20:15", 5.0, 11.0)
LONGYEARBYEN_NIGHT = Where("Arctic/Longyearbyen", 78.22, 15.63, "2026-12-21T20:15", 5.0, 8.0)
NULL_ISLAND = Where("Africa/Abidjan", 0.0, 0.0, "2026-06-17T20:15", 24.0, 31.0)
EVERYWHERE = {
    "Chicago, spring forward": CHICAGO_SPRING,
    "Chicago, autumn back": CHICAGO_AUTUMN,
    "Lord Howe, half an hour forward": LORD_HOWE_SPRING,
    "Lord Howe, half an hour back": LORD_HOWE_AUTUMN,
    "Kiritimati, UTC+14 at 157 W": KIRITIMATI,
    "Apia, UTC+13 at 172 W": APIA,
    "Hobart in January": HOBART,
    "Longyearbyen, midnight sun": LONGYEARBYEN_DAY,
    "Longyearbyen, polar night": LONGYEARBYEN_NIGHT,
    "0 N 0 E": NULL_ISLAND,
}
PLACES = pytest.mark.parametrize("where", EVERYWHERE.values(), ids=EVERYWHERE.keys())


def gathered(folder: Path, where: Where) -> Inputs:
    """Site file and hourly CSV of a dry spell written for a place, and what `gather` makes of them."""
    (folder / "site.yaml").write_text(SITE.format(lat=where.lat, lon=where.lon, zone=where.zone))
    starts = hours_between(where.now - timedelta(days=32), where.now + timedelta(days=10))
    ra = extraterrestrial_radiation_hourly(latitude_deg=where.lat, longitude_deg=where.lon, starts=starts)
    rs = 0.8 * clear_sky_radiation(ra=ra, elevation_m=20.0)
    solar = (starts.astype(np.int64) / 3600.0 + where.lon / 15.0) % 24.0
    middle, half = (where.high_c + where.low_c) / 2.0, (where.high_c - where.low_c) / 2.0
    temp = middle + half * np.cos((solar - 15.0) / 24.0 * 2 * np.pi)
    rows = [
        f"{at}Z,{t:.2f},{where.low_c - 2.0 + 0.05 * t:.2f},2.5,{r:.4f},0.0"
        for at, t, r in zip(np.datetime_as_string(starts, unit="m"), temp, rs, strict=True)
    ]
    file = folder / "weather.csv"
    file.write_text("time,temp_c,dew_c,wind10_m_s,rs_mj_m2_h,rain_mm\n" + "\n".join(rows))
    site = load_site(folder / "site.yaml")
    with open_store(None) as store:
        return gather(site, store, where.now, weather_file=file)


@pytest.fixture
def told(tmp_path: Path, where: Where) -> tuple[Site, Advice, WeatherDays]:
    """The site, tonight's advice there and its weather day by day."""
    inputs = gathered(tmp_path, where)
    days = weather_days(site=inputs.site, records=inputs.records, weather=inputs.weather, now=inputs.now)
    return inputs.site, inputs.advise(), days


@PLACES
def test_the_night_is_sound_wherever_it_is(told: tuple[Site, Advice, WeatherDays], where: Where) -> None:
    site, advice, days = told
    assert [check.name for check in advice.checks if not check.passed] == []
    assert advice.night == where.now.date()
    assert advice.window_ends_at is not None
    assert advice.window_ends_at.astimezone(site.place.zone).date() == where.now.date() + timedelta(days=1)
    assert where.now < advice.window_starts_at < advice.window_ends_at <= where.now + timedelta(hours=13)
    for run in advice.runs:
        assert sum((c.ends_at - c.starts_at for c in run.cycles), timedelta()).total_seconds() / 60.0 == (
            pytest.approx(run.minutes, abs=0.51)
        )
        assert run.minutes / 60.0 * 12.0 == pytest.approx(run.depth_mm)
    assert Advice.model_validate_json(advice.model_dump_json()) == advice
    assert sum(day.when == "past" for day in days.days) == 7
    assert [day.day for day in days.days if day.when == "today"] == [where.now.date()]
    known = [day.eto_mm for day in days.days[:-1]]
    assert None not in known
    assert all(np.isfinite(known))


@pytest.mark.parametrize(
    ("where", "change", "words"),
    [
        pytest.param(CHICAGO_SPRING, -1.0, "60 min shorter", id="Chicago, spring"),
        pytest.param(CHICAGO_AUTUMN, 1.0, "60 min longer", id="Chicago, autumn"),
        pytest.param(LORD_HOWE_SPRING, -0.5, "30 min shorter", id="Lord Howe, spring"),
        pytest.param(LORD_HOWE_AUTUMN, 0.5, "30 min longer", id="Lord Howe, autumn"),
    ],
)
def test_a_night_on_which_the_clock_changes_keeps_its_length(
    told: tuple[Site, Advice, WeatherDays], where: Where, change: float, words: str
) -> None:
    site, advice, days = told
    assert words in advice.window_words
    opens, ends = (at.astimezone(site.place.zone) for at in (advice.window_starts_at, advice.window_ends_at))
    by_clock = ends.replace(tzinfo=None) - opens.replace(tzinfo=None)
    assert (advice.window_ends_at - advice.window_starts_at) - by_clock == timedelta(hours=change)
    tomorrow = next(day for day in days.days if day.day == where.now.date() + timedelta(days=1))
    assert tomorrow.hours == 24.0 + change
    assert tomorrow.rain_mm < 0.2
    usual = [day.eto_mm for day in days.days if day.when == "past"]
    assert tomorrow.eto_mm == pytest.approx(np.mean(usual), rel=0.15)


@pytest.mark.parametrize(
    ("where", "sunrise"),
    [
        pytest.param(KIRITIMATI, "06:2", id="Kiritimati"),
        pytest.param(APIA, "06:4", id="Apia"),
        pytest.param(NULL_ISLAND, "05:5", id="0 N 0 E"),
        pytest.param(HOBART, "05:5", id="Hobart"),
    ],
)
def test_runs_end_by_the_sunrise_of_the_place(
    told: tuple[Site, Advice, WeatherDays], where: Where, sunrise: str
) -> None:
    _, advice, _ = told
    assert f"{advice.window_ends_at.astimezone(where.now.tzinfo):%H:%M}".startswith(sunrise)
    assert "(sunrise)" in advice.window_words


@pytest.mark.parametrize(
    ("where", "words"),
    [
        pytest.param(LONGYEARBYEN_DAY, "midnight sun: 06:00 local clock used", id="midnight sun"),
        pytest.param(LONGYEARBYEN_NIGHT, "polar night: 06:00 local clock used", id="polar night"),
    ],
)
def test_where_the_sun_does_not_rise_what_is_used_instead_is_said(
    told: tuple[Site, Advice, WeatherDays], where: Where, words: str
) -> None:
    _, advice, _ = told
    assert words in advice.window_words
    assert "(sunrise)" not in advice.window_words
    assert f"{advice.window_ends_at.astimezone(where.now.tzinfo):%H:%M}" == "06:00"


@pytest.mark.parametrize(
    ("where", "low", "high"),
    [
        pytest.param(HOBART, 4.0, 7.0, id="Hobart in January"),
        pytest.param(KIRITIMATI, 3.5, 7.0, id="Kiritimati"),
        pytest.param(LONGYEARBYEN_DAY, 1.5, 4.5, id="midnight sun"),
        pytest.param(LONGYEARBYEN_NIGHT, 0.0, 1.0, id="polar night"),
        pytest.param(NULL_ISLAND, 3.5, 7.0, id="0 N 0 E"),
    ],
)
def test_eto_is_plausible(
    told: tuple[Site, Advice, WeatherDays], where: Where, low: float, high: float
) -> None:
    past = [day.eto_mm for day in told[2].days if day.when == "past"]
    assert low <= min(past) <= max(past) <= high


@pytest.mark.parametrize("where", [HOBART], ids=["Hobart"])
def test_a_southern_summer_takes_the_turf_coefficients_of_a_northern_one(
    told: tuple[Site, Advice, WeatherDays],
) -> None:
    site, advice, _ = told
    northern = turf_table()["tall fescue"].kc_month
    assert site.zones[0].turf.kc_month == (*northern[6:], *northern[:6])
    assert advice.zones[0].terms[-1].kc == pytest.approx(northern[6], abs=0.05)
    assert northern[6] != northern[0]


@pytest.mark.parametrize("where", [CHICAGO_SPRING], ids=["Chicago"])
def test_a_gauge_read_in_the_hour_that_is_skipped_or_repeated_keeps_its_depth(
    tmp_path: Path, where: Where
) -> None:
    from advisor.lawn.records import GaugeReading
    from advisor.weather.past import settle_past

    inputs = gathered(tmp_path, where)
    morning = datetime(2026, 3, 8, 13, 0, tzinfo=UTC)
    reading = GaugeReading(morning, 9.0, since=where.now)
    settled = settle_past(inputs.weather, gauge=[reading], archive=(), now=morning)
    days = weather_days(site=inputs.site, records=inputs.records, weather=settled, now=morning)
    fell = {day.day: day.fell_mm for day in days.days if day.fell_mm is not None}
    assert fell[date(2026, 3, 7)] + fell[date(2026, 3, 8)] == pytest.approx(9.0)
