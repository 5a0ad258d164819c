"""Several sites' weather in one request each for forecast and members, each as if it had asked alone."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any
from urllib.parse import parse_qs, urlsplit

import numpy as np
import pytest
from made import made_site, note_texts

from advisor.errors import StaleWeather, WeatherError
from advisor.lawn.site_values import Place, WeatherSettings
from advisor.shipped import shipped
from advisor.weather.client import Client
from advisor.weather.gather import gather_weather
from advisor.weather.together import Ask, gather_together
from advisor.weather.weather import SERIES, Weather

NOW = datetime(2026, 6, 18, 1, 15, tzinfo=UTC)


def payload(name: str, places: Sequence[Place], rain: float = 1.0) -> list[dict[str, Any]]:
    """The stored demo answer for each place, its rain multiplied so that no two are alike."""
    stored = json.loads(shipped("data", name).read_text("utf-8"))
    found = []
    for n, place in enumerate(places):
        one = json.loads(json.dumps(stored))
        one |= {"latitude": place.latitude_deg, "longitude": place.longitude_deg}
        for key, column in one["hourly"].items():
            if key.startswith("precipitation") and "probability" not in key:
                one["hourly"][key] = [
                    None if v is None else round(v * (1 + n / 10) * rain, 2) for v in column
                ]
        found.append(one)
    return found


def places(count: int) -> list[Place]:
    place = made_site().place
    return [replace(place, name=f"Larkmoor Lane {n}", latitude_deg=40.52 + n / 1000) for n in range(count)]


def settings(url: str, **changes: object) -> WeatherSettings:
    urls = {"open_meteo": f"{url}/f", "open_meteo_ensemble": f"{url}/e", "open_meteo_archive": f"{url}/a"}
    made = WeatherSettings(sources=("open_meteo",), base_urls={**urls, "met_norway": f"{url}/m"})
    return replace(made, **changes)  # type: ignore[arg-type]


def client() -> Client:
    return Client(user_agent_contact="owner@larkmoor.example", cache_dir=None, tries=0, pause=lambda _: None)


def asked(bad_server: Any) -> Counter[str]:
    return Counter(urlsplit(path).path for path, _ in bad_server.asked)


def same(a: Weather, b: Weather) -> bool:
    return all(
        np.array_equal(getattr(a, n), getattr(b, n), equal_nan=True)
        for n in (*SERIES, "members_mm", "starts")
    )


def test_thirty_sites_cost_one_request_for_the_forecast_and_one_for_the_members(bad_server: Any) -> None:
    where = places(30)
    bad_server.serve("/f", payload("demo_forecast.json", where))
    bad_server.serve("/e", payload("demo_ensemble.json", where))
    asks = [Ask(place, settings(bad_server.url)) for place in where]
    found = gather_together(asks, client(), NOW)
    assert asked(bad_server) == {"/f": 1, "/e": 1}
    assert len(parse_qs(urlsplit(bad_server.asked[0][0]).query)["latitude"][0].split(",")) == 30
    rain = [float(np.nansum(one.rain_mm)) for one in found if isinstance(one, Weather)]
    assert rain == sorted(rain)
    assert len(set(rain)) == 30


def test_each_site_has_what_it_would_have_had_alone(bad_server: Any) -> None:
    where = places(3)
    bad_server.serve("/f", payload("demo_forecast.json", where))
    bad_server.serve("/e", payload("demo_ensemble.json", where))
    together = gather_together([Ask(place, settings(bad_server.url)) for place in where], client(), NOW)
    for n, place in enumerate(where):
        bad_server.serve("/f", payload("demo_forecast.json", where)[n])
        bad_server.serve("/e", payload("demo_ensemble.json", where)[n])
        alone = gather_weather(place, settings(bad_server.url), client(), NOW)
        one = together[n]
        assert isinstance(one, Weather)
        assert same(one, alone)
        assert (one.latitude_deg, one.notes, one.sources) == (alone.latitude_deg, alone.notes, alone.sources)


def test_without_members_only_the_forecast_is_asked_for(bad_server: Any) -> None:
    where = places(2)
    bad_server.serve("/f", payload("demo_forecast.json", where))
    gather_together([Ask(p, settings(bad_server.url)) for p in where], client(), NOW, members=False)
    assert asked(bad_server) == {"/f": 1}


def test_sites_that_ask_elsewhere_are_asked_for_apart(bad_server: Any) -> None:
    where = places(2)
    bad_server.serve("/f", payload("demo_forecast.json", where[:1]))
    bad_server.serve("/e", payload("demo_ensemble.json", where[:1]))
    own = settings(bad_server.url)
    other = replace(own, ensemble_models=("another",))
    gather_together([Ask(where[0], own), Ask(where[1], other)], client(), NOW)
    assert asked(bad_server) == {"/f": 2, "/e": 2}


def test_where_one_place_is_refused_each_asks_for_itself(bad_server: Any) -> None:
    where = places(2)
    bad_server.serve("/f", payload("demo_forecast.json", where[:1]))
    bad_server.serve("/e", payload("demo_ensemble.json", where[:1]))
    bad_server.behave("400", "400", "well", path="/f")
    found = gather_together([Ask(p, settings(bad_server.url)) for p in where], client(), NOW)
    assert [type(one) for one in found] == [Weather, Weather]
    assert asked(bad_server)["/f"] == 4


def test_a_service_that_is_down_is_asked_once_and_each_site_hears_why(bad_server: Any) -> None:
    bad_server.behave("500", path="/f")
    bad_server.behave("500", path="/a")
    found = gather_together([Ask(p, settings(bad_server.url)) for p in places(3)], client(), NOW)
    assert asked(bad_server)["/f"] == 1
    for one in found:
        assert isinstance(one, WeatherError)
        assert "HTTP 500" in str(one)


def test_members_that_fail_leave_the_forecast_to_all(bad_server: Any) -> None:
    where = places(2)
    bad_server.serve("/f", payload("demo_forecast.json", where))
    bad_server.behave("500", path="/e")
    for one in gather_together([Ask(p, settings(bad_server.url)) for p in where], client(), NOW):
        assert isinstance(one, Weather)
        assert any("HTTP 500" in text for text in note_texts(one.notes))
        assert one.members_mm.shape[0] > 1


@pytest.mark.parametrize("count", [0, 1])
def test_few_sites_are_no_special_case(bad_server: Any, count: int) -> None:
    where = places(count)
    bad_server.serve("/f", payload("demo_forecast.json", where))
    bad_server.serve("/e", payload("demo_ensemble.json", where))
    found = gather_together([Ask(p, settings(bad_server.url)) for p in where], client(), NOW)
    assert len(found) == count
    assert not any(isinstance(one, StaleWeather) for one in found)
