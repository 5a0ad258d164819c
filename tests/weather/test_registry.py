"""The registry of weather sources: what is declared is so, and a further source needs one line."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from datetime import UTC, date, timedelta
from pathlib import Path
from types import ModuleType
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from made import EVENING, made_site, made_weather, note_texts

from advisor.errors import SourceError
from advisor.lawn.records import ArchivedHour, Records
from advisor.lawn.schema import ADDRESSES, SOURCES
from advisor.lawn.site_values import Place, WeatherSettings
from advisor.night import settled
from advisor.tonight.advise import advise
from advisor.weather import registry
from advisor.weather.client import Client
from advisor.weather.ensemble import Ensemble
from advisor.weather.gather import archived_weather, gather_weather
from advisor.weather.parts import cut
from advisor.weather.registry import Source, Together, default_order, registered
from advisor.weather.together import Ask, gather_together
from advisor.weather.weather import SourceUse, Weather

SILENT = Client(user_agent_contact="a@example.org", cache_dir=None)
SITE = made_site()


def larkmoor(*_: Any) -> Weather:
    """The forecast of an invented service."""
    weather = made_weather()
    use = SourceUse("Larkmoor service", "past days and forecast", EVENING, weather.starts_at(weather.hours))
    return replace(weather, sources=(use,), members_mm=np.zeros((0, weather.hours)))


def larkmoor_members(*_: Any) -> Ensemble:
    """Its ensemble: two models, one of twenty members and one of five, an hour of rain in each."""
    weather = made_weather()
    members = np.zeros((25, weather.hours))
    members[:, weather.index_at(EVENING) + 6] = 2.0
    models = ("north",) * 20 + ("south",) * 5
    return Ensemble("Larkmoor ensemble", "", weather.starts, members, models, (), EVENING)


LARKMOOR = Source(
    name="larkmoor",
    rank=5,
    countries=frozenset({"US"}),
    forecast=larkmoor,
    past=True,
    ensemble=larkmoor_members,
    addresses={"larkmoor": "http://127.0.0.1:9/"},
)


@pytest.fixture
def with_larkmoor(monkeypatch: pytest.MonkeyPatch) -> None:
    """The invented source, registered as any other: a room and a line."""
    room = ModuleType("invented_larkmoor")
    room.SOURCE = LARKMOOR  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, room.__name__, room)
    monkeypatch.setattr(registry, "ROOMS", (*registry.ROOMS, room.__name__))


def test_the_site_file_allows_the_registered_names_and_no_others() -> None:
    assert set(SOURCES) == set(registered())
    assert len(SOURCES) == len(registered())
    named = [name for source in registered().values() for name in source.addresses]
    assert sorted(ADDRESSES) == sorted(named)


def test_every_room_declares_under_its_own_name_and_no_two_share_a_rank() -> None:
    for name, source in registered().items():
        assert source.name == name
        assert any(room.endswith(f".{name}") for room in registry.ROOMS)
        assert source.addresses
    ranks = [source.rank for source in registered().values()]
    assert ranks == sorted(set(ranks))


@pytest.mark.parametrize(
    ("country", "order"),
    [
        ("US", ("larkmoor", "open_meteo", "nws", "met_norway")),
        ("us", ("larkmoor", "open_meteo", "nws", "met_norway")),
        ("NO", ("open_meteo", "met_norway")),
        ("", ("open_meteo", "met_norway", "larkmoor", "nws")),
    ],
)
@pytest.mark.usefixtures("with_larkmoor")
def test_an_invented_source_finds_its_place_in_the_order(country: str, order: tuple[str, ...]) -> None:
    assert default_order(country, registered()) == order


@pytest.mark.usefixtures("with_larkmoor")
def test_advice_comes_from_an_invented_source_that_nobody_else_knows() -> None:
    weather = gather_weather(
        SITE.place, WeatherSettings(sources=("larkmoor",)), SILENT, EVENING.astimezone(UTC)
    )
    assert [use.name for use in weather.sources] == ["Larkmoor service", "Larkmoor ensemble (north, south)"]
    assert len(weather.members_mm) == 40  # both models count the same
    advice = advise(site=SITE, records=Records(), weather=settled(weather, Records(), EVENING), now=EVENING)
    assert advice.sources[0].name == "Larkmoor service"
    assert {rain.members for rain in advice.rain} == {40}


def test_a_source_without_a_past_takes_it_from_another_ones_archive_and_its_own_station() -> None:
    asked: list[tuple[str, date, date]] = []
    now = EVENING.astimezone(UTC)

    def bare(*_: Any) -> Weather:
        weather = larkmoor()
        first = weather.index_at(now)
        return cut(weather, first, weather.hours)

    def broken(*_: Any, first: date, last: date) -> Weather:
        asked.append(("broken", first, last))
        raise SourceError("Broken archive", "sent an empty answer")

    def archive(*_: Any, first: date, last: date) -> Weather:
        asked.append(("sound", first, last))
        use = SourceUse("Sound archive", "past weather", now, now)
        return replace(larkmoor(), sources=(use,))

    def observed(*_: Any) -> tuple[ArchivedHour, ...]:
        at = now.replace(minute=0) - timedelta(hours=5)
        return (ArchivedHour(at, 7.0, 21.0, source="Station 7"),)

    sources = {
        "larkmoor": replace(LARKMOOR, forecast=bare, ensemble=None, past=False, observed=observed),
        "one": Source(name="one", rank=20, forecast=larkmoor, archive=broken),
        "two": Source(name="two", rank=30, forecast=larkmoor, archive=archive),
    }
    settings = WeatherSettings(sources=("larkmoor",))
    weather = gather_weather(SITE.place, settings, SILENT, now, sources=sources)
    assert [name for name, _, _ in asked] == ["broken", "sound"]
    assert weather.rain_mm[weather.index_at(now - timedelta(hours=5))] == 7.0
    assert weather.starts_at(0) <= now - timedelta(days=30)
    told = note_texts(weather.notes)
    assert "Broken archive: sent an empty answer." in told
    assert "1 past hour of rain is as observed by Station 7." in told
    assert any("are from Sound archive" in text for text in told)


def test_several_sites_ask_an_invented_source_in_as_few_requests_as_it_takes() -> None:
    requests: list[int] = []

    def forecasts(_: Any, places: Any, *__: Any) -> list[Weather]:
        requests.append(len(places))
        return [larkmoor() for _ in places]

    together = Together(most=2, forecasts=forecasts, ensembles=None)
    sources = {"larkmoor": replace(LARKMOOR, ensemble=None, together=together)}
    places = [
        Place(f"Lawn {n}", 40.5 + n, -96.7, 380.0, ZoneInfo("America/Chicago"), "us", "US", "a@example.org")
        for n in range(5)
    ]
    asks = [Ask(place, WeatherSettings(sources=("larkmoor",))) for place in places]
    found = gather_together(asks, SILENT, EVENING.astimezone(UTC), sources=sources)
    assert requests == [2, 2, 1]
    assert [one.latitude_deg for one in found if isinstance(one, Weather)] == [40.5 + n for n in range(5)]


def test_no_source_is_loaded_before_weather_is_gathered() -> None:
    code = (
        "import sys, advisor.night, advisor.faces.cli.main\n"
        "from advisor.weather import gather, together\n"
        "print([m for m in sys.modules if m.startswith('advisor.weather.sources.')])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_whoever_gathers_names_no_source() -> None:
    folder = Path(registry.__file__).parent
    names = {*registered(), *(room.rsplit(".", 1)[-1] for room in registry.ROOMS)}
    for room in ("gather.py", "together.py", "archiving.py", "ensemble.py"):
        text = (folder / room).read_text("utf-8")
        assert not [name for name in names if name in text], room


def test_long_past_weather_comes_from_the_first_archive_that_answers(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: Any, **__: Any) -> Weather:
        raise SourceError("Broken archive", "sent an empty answer")

    def archive(*_: Any, first: date, last: date) -> Weather:
        assert (first, last) == (date(2025, 6, 1), date(2026, 5, 31))
        return larkmoor()

    def rooms(*archives: Any) -> None:
        names = []
        for rank, each in enumerate(archives):
            room = ModuleType(f"invented_{rank}")
            room.SOURCE = Source(name=room.__name__, rank=rank, forecast=larkmoor, archive=each)  # type: ignore[attr-defined]
            monkeypatch.setitem(sys.modules, room.__name__, room)
            names.append(room.__name__)
        monkeypatch.setattr(registry, "ROOMS", tuple(names))

    def long_past() -> Weather:
        return archived_weather(
            SITE.place, SITE.weather, SILENT, EVENING, first=date(2025, 6, 1), last=date(2026, 5, 31)
        )

    rooms(None, broken, archive)
    assert long_past().sources[0].name == "Larkmoor service"
    rooms(broken, None)
    with pytest.raises(SourceError, match="Broken archive: sent an empty answer"):
        long_past()
    rooms(None)
    with pytest.raises(SourceError, match="no source has an archive"):
        long_past()
