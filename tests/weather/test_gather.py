"""The fail-over chain: what serves when a source is down, stale, silent or at odds with another."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from made import note_texts

from advisor.errors import SourceError, StaleWeather, WeatherError
from advisor.lawn.records import ArchivedHour
from advisor.lawn.site_values import Place, WeatherSettings
from advisor.weather.client import Client
from advisor.weather.climatology import usual_weather
from advisor.weather.gather import gather_weather
from advisor.weather.registry import Archive, default_order, registered
from advisor.weather.weather import SourceUse, Weather, blank, hours_between

REPLIES = Path(__file__).parents[1] / "replies"
NOW = datetime(2026, 7, 15, 18, 17, 24, tzinfo=UTC)
PLACE = Place("Larkmoor Lane", 38.97, -95.24, 268.0, ZoneInfo("America/Chicago"), "us", "US", "a@example.org")
SILENT = Client(user_agent_contact="a@example.org", cache_dir=None)
FULL_ARCHIVE = tuple(
    ArchivedHour(NOW.replace(minute=0, second=0) - timedelta(hours=h), 0.3 if h % 30 == 0 else 0.0,
                 temp_c=20.0 + h % 7, dew_c=12.0, wind10_m_s=2.0, rs_mj_m2_h=0.5)
    for h in range(1, 24 * 31)
)  # fmt: skip


def made(
    name: str,
    *,
    rain: float = 0.5,
    age_h: float = 0.0,
    past_h: int = 72,
    ahead_h: int = 120,
    members: bool = True,
) -> Weather:
    """Sound weather of one source, `rain` mm in each of the coming hours."""
    starts = hours_between(NOW - timedelta(hours=past_h), NOW + timedelta(hours=ahead_h))
    base = blank(38.97, -95.24, 268.0, starts, 20 if members else 0)
    h = len(starts)
    series = np.zeros(h)
    series[past_h:] = np.where(np.arange(h - past_h) % 7 < 6, rain, 0.0)
    use = SourceUse(name, "forecast", NOW - timedelta(hours=age_h), base.starts_at(h))
    return replace(
        base,
        temp_c=20.0 + 5.0 * np.sin(np.arange(h) / 3.8),
        dew_c=12.0 + np.arange(h) / 500.0,
        wind10_m_s=np.full(h, 2.0),
        rs_mj_m2_h=np.full(h, 0.5),
        rain_mm=series,
        snow_mm=np.zeros(h),
        members_mm=np.tile(np.where(np.arange(h) >= past_h, series, np.nan), (20 if members else 0, 1)),
        rain_basis=np.full(h, "model", dtype="<U8"),
        sources=(use,),
    )


def fails(name: str) -> Callable[..., Weather]:
    def fetch(*_: Any, **__: Any) -> Weather:
        raise SourceError(name, "no answer within 30 s")

    return fetch


class Asked:
    """Sources by name that note who was asked; the archive is the first one's."""

    def __init__(self, archive: Archive | None = None, **answers: Weather | Callable[..., Weather]) -> None:
        self.names: list[str] = []
        self.sources = {
            name: replace(
                registered()[name],
                forecast=self._fetcher(name, answer),
                ensemble=None,
                archive=archive if registered()[name].archive is not None else None,
                past=True,
                observed=None,
            )
            for name, answer in answers.items()
        }

    def _fetcher(self, name: str, answer: Weather | Callable[..., Weather]) -> Callable[..., Weather]:
        def fetch(*arguments: Any) -> Weather:
            self.names.append(name)
            return answer(*arguments) if callable(answer) else answer

        return fetch


def gather(asked: Asked, *, archive: tuple[ArchivedHour, ...] = FULL_ARCHIVE, **settings: Any) -> Weather:
    chosen = WeatherSettings(**settings)
    return gather_weather(PLACE, chosen, SILENT, NOW, archive=archive, sources=asked.sources)


def texts(weather: Weather, level: str = "") -> str:
    return " | ".join(note_texts(weather.notes, level))


@pytest.mark.parametrize(
    ("country", "order"),
    [
        ("US", ("open_meteo", "nws", "met_norway")),
        ("NO", ("open_meteo", "met_norway")),
        ("NZ", ("open_meteo", "met_norway")),
        ("", ("open_meteo", "met_norway", "nws")),
    ],
)
def test_the_default_order_suits_the_country(country: str, order: tuple[str, ...]) -> None:
    assert default_order(country, registered()) == order


def test_the_first_source_that_answers_is_used_and_no_other_is_asked() -> None:
    asked = Asked(open_meteo=made("first"), nws=made("second"), met_norway=made("third"))
    weather = gather(asked)
    assert asked.names == ["open_meteo"]
    assert weather.sources[0].name == "first"
    assert texts(weather, "warning") == ""


def test_a_source_that_fails_is_told_and_the_next_serves() -> None:
    asked = Asked(open_meteo=fails("Open-Meteo forecast"), nws=made("second"), met_norway=made("third"))
    weather = gather(asked)
    assert asked.names == ["open_meteo", "nws"]
    assert weather.sources[0].name == "second"
    assert texts(weather, "warning") == "Open-Meteo forecast: no answer within 30 s."


def test_the_owners_order_wins() -> None:
    asked = Asked(open_meteo=made("first"), nws=made("second"), met_norway=made("third"))
    assert gather(asked, sources=("met_norway",)).sources[0].name == "third"
    assert asked.names == ["met_norway"]


def test_a_source_that_does_not_know_the_coming_day_is_passed_over() -> None:
    short = made("first", ahead_h=10)
    weather = gather(Asked(open_meteo=short, nws=made("second"), met_norway=made("third")))
    assert weather.sources[0].name == "second"
    assert "knows the rain of only" in texts(weather, "warning")


def test_a_source_that_lies_is_screened_and_passed_over() -> None:
    stuck = replace(made("first"), temp_c=np.full(193, 21.0))
    weather = gather(Asked(open_meteo=stuck, nws=made("second"), met_norway=made("third")))
    assert weather.sources[0].name == "second"
    assert "first: knows the temperature of only 0 %" in texts(weather, "warning")


def test_a_fresh_answer_of_a_later_source_beats_an_old_one_of_an_earlier() -> None:
    asked = Asked(open_meteo=made("first", age_h=9.0), nws=made("second"), met_norway=made("third"))
    assert gather(asked).sources[0].name == "second"


@pytest.mark.parametrize(("age", "told"), [(5.9, False), (6.1, True), (35.9, True)])
def test_an_old_forecast_serves_with_a_warning(age: float, told: bool) -> None:
    asked = Asked(open_meteo=made("first", age_h=age), nws=fails("B"), met_norway=fails("C"))
    weather = gather(asked)
    assert weather.sources[0].name == "first"
    assert (f"first: its answer is {age:.1f} h old" in texts(weather, "warning")) is told


def test_of_several_old_forecasts_the_youngest_serves() -> None:
    asked = Asked(open_meteo=made("first", age_h=20.0), nws=made("second", age_h=8.0), met_norway=fails("C"))
    assert gather(asked).sources[0].name == "second"


def test_the_age_limits_are_settings() -> None:
    asked = Asked(open_meteo=made("first", age_h=9.0), nws=made("second"), met_norway=made("third"))
    weather = gather(asked, warn_after_h=12.0)
    assert weather.sources[0].name == "first"
    assert texts(weather, "warning") == ""


def test_a_forecast_too_old_gives_way_to_what_is_usual_here() -> None:
    asked = Asked(open_meteo=made("first", age_h=40.0, rain=9.0), nws=fails("B"), met_norway=fails("C"))
    weather = gather(asked)
    assert weather.sources[0].serves == "in place of a forecast"
    assert weather.sources[0].name == "climatology"
    assert "as usual over" in texts(weather, "warning")
    ahead = weather.index_at(NOW)
    assert np.nanmax(weather.members_mm[:, ahead : ahead + 48]) <= 0.3
    assert weather.rain_mm[ahead : ahead + 240].sum() == pytest.approx(10 * 24 * 0.3 / 30, rel=0.25)
    assert np.isfinite(weather.temp_c[: ahead + 240]).all()


def test_without_any_forecast_the_archive_alone_carries_the_advice() -> None:
    weather = gather(Asked(open_meteo=fails("A"), nws=fails("B"), met_norway=fails("C")))
    assert weather.sources[0].name == "climatology"
    assert weather.starts_at(0) < NOW - timedelta(days=30)
    assert "A: no answer within 30 s" in texts(weather, "warning")


NO_ARCHIVE = fails("Open-Meteo archive")


def test_with_neither_forecast_nor_archive_it_refuses_and_says_what_is_missing() -> None:
    with pytest.raises(WeatherError) as told:
        gather(Asked(NO_ARCHIVE, open_meteo=fails("A"), nws=fails("B"), met_norway=fails("C")), archive=())
    assert not isinstance(told.value, StaleWeather)
    for words in (
        "no forecast younger than 36 h",
        "0 archived days of the 14",
        "A, B, C, Open-Meteo archive: no answer",
        "--weather",
    ):
        assert words in str(told.value)
    assert "\n" not in str(told.value)


def test_an_archive_service_that_failed_is_not_asked_again() -> None:
    asked: list[date] = []

    def archive(*_: Any, first: date, **__: Any) -> Weather:
        asked.append(first)
        raise SourceError("Open-Meteo archive", "no answer within 30 s")

    with pytest.raises(WeatherError):
        gather(Asked(archive, open_meteo=fails("A"), nws=fails("B"), met_norway=fails("C")), archive=())
    assert asked == [(NOW - timedelta(days=31)).date()]


def test_an_old_forecast_without_an_archive_is_refused_as_stale() -> None:
    asked = Asked(NO_ARCHIVE, open_meteo=made("first", age_h=50.0), nws=fails("B"), met_norway=fails("C"))
    with pytest.raises(StaleWeather, match="no forecast younger than 36 h"):
        gather(asked, archive=())


def test_without_records_the_archive_service_gives_the_past_and_the_same_weeks_of_three_years() -> None:
    asked: list[tuple[date, date]] = []

    def archive(*_: Any, first: date, last: date) -> Weather:
        asked.append((first, last))
        begin = datetime(first.year, first.month, first.day, tzinfo=UTC)
        h = ((last - first).days + 1) * 24
        known = np.arange(h) < (h - 120 if last == NOW.date() else h)
        wet = np.where(np.arange(h) % 24 == 4, 0.8 * (first.year - 2022), 0.0)
        base = blank(38.97, -95.24, 268.0, hours_between(begin, begin + timedelta(hours=h)), 0)
        return replace(
            base,
            temp_c=np.where(known, 20.0 + 5.0 * np.sin(np.arange(h) / 3.8), np.nan),
            rain_mm=np.where(known, wet, np.nan),
            sources=(SourceUse("archive", "past weather", NOW, base.starts_at(h)),),
        )

    sources = Asked(archive, open_meteo=fails("A"), nws=fails("B"), met_norway=fails("C"))
    weather = gather(sources, archive=())
    assert [first.year for first, _ in asked] == [2026, 2025, 2024, 2023]
    assert all((last - first).days in (30, 31) for first, last in asked)
    assert weather.sources[0].name == "climatology"
    assert "as usual over 93 past days" in texts(weather, "warning")
    at = weather.index_at(NOW)
    assert weather.rain_mm[at : at + 240].sum() == pytest.approx(10 * 0.8 * (1 + 2 + 3) / 3)
    assert np.isfinite(weather.rain_mm[: at - 120]).all()
    assert np.isnan(weather.rain_mm[at - 40 : at]).all()
    assert weather.sources[0].fetched_at == NOW
    assert set(weather.air_from[: at - 120]) == {"archive"}


def test_members_are_built_where_the_source_has_none() -> None:
    asked = Asked(open_meteo=made("first", members=False), nws=fails("B"), met_norway=fails("C"))
    weather = gather(asked)
    assert len(weather.members_mm) == 31
    assert "rain members are built" in texts(weather, "told")


def test_two_listed_sources_that_agree_are_both_shown_and_the_first_stands() -> None:
    asked = Asked(open_meteo=made("first", rain=0.5), met_norway=made("second", rain=0.6))
    weather = gather(asked, sources=("open_meteo", "met_norway"))
    assert asked.names == ["open_meteo", "met_norway"]
    assert len(weather.members_mm) == 20
    assert "Rain of the next 12 h: first 5.5 mm, second 6.6 mm" in texts(weather, "told")


def test_two_listed_sources_that_disagree_wildly_are_both_shown_and_pooled() -> None:
    asked = Asked(open_meteo=made("first", rain=0.0), met_norway=made("second", rain=1.0))
    weather = gather(asked, sources=("open_meteo", "met_norway"))
    assert len(weather.members_mm) == 40
    at = weather.index_at(NOW)
    assert (weather.members_mm[:, at : at + 12].sum(axis=1) > 0).mean() == 0.5
    assert "first expects 0.0 mm, second 11.0 mm" in texts(weather, "warning")
    assert [use.name for use in weather.sources] == ["first", "second"]


def test_a_second_listed_source_that_fails_costs_only_a_note() -> None:
    asked = Asked(open_meteo=made("first"), met_norway=fails("MET Norway"))
    weather = gather(asked, sources=("open_meteo", "met_norway"))
    assert weather.sources[0].name == "first"
    assert "MET Norway: no answer" in texts(weather, "warning")


def reply(name: str) -> Any:
    return json.loads((REPLIES / name).read_text("utf-8"))


@pytest.fixture
def services(bad_server: Any) -> Any:
    """All three services and the archive on loopback, with one made weather."""
    bad_server.serve("/v1/forecast", reply("open_meteo/forecast.json"))
    bad_server.serve("/v1/ensemble", reply("open_meteo/ensemble.json"))
    bad_server.serve("/v1/archive", reply("open_meteo/archive_era5_nulltail.json"))
    bad_server.serve("/complete", reply("met_norway/compact.json"))
    bad_server.serve("/points/38.9700,-95.2400", reply("nws/points.json"))
    bad_server.serve("/gridpoints/TOP/77,66", reply("nws/gridpoint.json"))
    bad_server.serve("/gridpoints/TOP/77,66/stations", reply("nws/gridpoint_stations.json"))
    bad_server.serve("/stations/KXXX/observations", reply("nws/observations.json"))
    return bad_server


def by_http(server: Any, *sources: str) -> Weather:
    urls = {
        "open_meteo": f"{server.url}/v1/forecast",
        "open_meteo_ensemble": f"{server.url}/v1/ensemble",
        "open_meteo_archive": f"{server.url}/v1/archive",
        "met_norway": f"{server.url}/complete",
        "nws": server.url,
    }
    client = Client(user_agent_contact="a@example.org", cache_dir=None, pause=lambda s: None)
    return gather_weather(PLACE, WeatherSettings(sources=sources, base_urls=urls), client, NOW)


@pytest.mark.parametrize(
    ("down", "serves"),
    [
        ((), "Open-Meteo forecast"),
        (("/v1/forecast",), "US National Weather Service"),
        (("/v1/forecast", "/gridpoints/TOP/77,66"), "MET Norway"),
        (("/v1/forecast", "/points/38.9700,-95.2400", "/v1/archive"), "MET Norway"),
        (("/v1/ensemble",), "Open-Meteo forecast"),
    ],
    ids=["all well", "first down", "two down", "two and the archive down", "members down"],
)
def test_over_real_http_the_next_best_source_serves_and_says_so(
    services: Any, down: tuple[str, ...], serves: str
) -> None:
    for path in down:
        services.behave("503", path=path)
    weather = by_http(services)
    at = weather.index_at(NOW)
    assert weather.sources[0].name == serves
    assert np.isfinite(weather.members_mm[:, at + 1 : at + 48]).all()
    assert np.isfinite(weather.temp_c[at + 1 : at + 48]).all()
    assert bool(down) == ("503" in texts(weather, "warning"))


@pytest.mark.parametrize(
    "behaviour", ["cut off", "html", "wrong shape", "bare NaN", "429", "huge", "hangs up", "circles", "400"]
)
def test_however_the_first_source_misbehaves_tonights_weather_comes(services: Any, behaviour: str) -> None:
    services.behave(behaviour, path="/v1/forecast")
    weather = by_http(services)
    assert weather.sources[0].name == "US National Weather Service"
    assert "Open-Meteo forecast: " in texts(weather, "warning")


def test_a_source_without_a_past_takes_it_from_the_station_and_the_archive_service(services: Any) -> None:
    services.behave("503", path="/v1/forecast")
    weather = by_http(services)
    hour = weather.index_at(datetime(2026, 7, 15, 5, tzinfo=UTC))
    assert weather.rain_mm[hour] == pytest.approx(0.762)
    assert weather.rain_basis[hour] == "archive"
    assert "as observed by US National Weather Service, KXXX" in texts(weather)
    assert weather.starts_at(0) <= datetime(2026, 7, 8, 5, tzinfo=UTC)
    assert np.isfinite(weather.rain_mm[10:40]).all()


def test_the_same_made_weather_gives_nearly_the_same_eto_through_all_three_sources(services: Any) -> None:
    from advisor.soil_water.reference_et import daily_reference_et

    def eto(name: str) -> float:
        weather = by_http(services, name)
        demand = daily_reference_et(weather, ZoneInfo("America/Chicago"))
        days = [str(day) for day in demand.days]
        first = days.index("2026-07-16")
        return float(demand.eto_day_mm[first : first + 3].sum())

    through = {name: eto(name) for name in ("open_meteo", "met_norway", "nws")}
    # Radiation made from clouds errs by about 2.5 MJ/m² a day, 0.4 mm; over three days half of it cancels.
    assert max(through.values()) - min(through.values()) < 0.06 * through["open_meteo"], through


def test_usual_weather_needs_a_fortnight() -> None:
    short = made("first", past_h=24 * 13)
    assert usual_weather(short, NOW, NOW) is None
    long = made("first", past_h=24 * 20)
    usual = usual_weather(long, NOW, NOW)
    assert usual is not None
    assert usual.members_mm.shape == (19, 240)


def test_usual_members_keep_the_shape_of_past_days_at_the_hours_they_had() -> None:
    past = made("first", past_h=24 * 20)
    rain = np.where(np.arange(past.hours) % 24 == 4, 2.0, 0.0)
    past = replace(past, rain_mm=rain)
    usual = usual_weather(past, NOW, NOW)
    assert usual is not None
    hour_of_day = (usual.index_at(NOW) + np.arange(240) + NOW.hour) % 24
    wet = (past.starts_at(4)).hour
    assert usual.members_mm[:, hour_of_day == wet] == pytest.approx(2.0)
    assert (usual.members_mm[:, hour_of_day != wet] == 0.0).all()
