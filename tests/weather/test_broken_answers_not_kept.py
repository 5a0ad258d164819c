"""A broken answer never takes the place of a good one on the shelf, and is never given as if it were good."""

from __future__ import annotations

import contextlib
import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from advisor.advice.notes import NoteKind
from advisor.errors import AdvisorError, SourceError
from advisor.lawn.site_values import Place, WeatherSettings
from advisor.weather.client import Client, Reply
from advisor.weather.gather import gather_weather
from advisor.weather.weather import Weather

NOW = datetime(2026, 6, 18, 1, 0, tzinfo=UTC)
GOOD = {"hourly": {"time": [1, 2, 3]}, "place": "Larkmoor Lane"}
BROKEN = (
    "cut short",
    "empty",
    "html",
    "html as json",
    "wrong shape",
    "a list of numbers",
    "bare NaN",
    "not UTF-8",
)
BROKEN_BODIES = ({"weather": "fine"}, {"properties": {}}, {"features": [{}]}, {"hourly": {"time": []}}, [])

REPLIES = Path(__file__).parents[1] / "replies"
DAY = datetime(2026, 7, 15, 18, 17, 24, tzinfo=UTC)
"""When the stored replies were made for."""
PLACE = Place("Larkmoor Lane", 38.97, -95.24, 268.0, ZoneInfo("America/Chicago"), "us", "US", "a@example.org")
STORED = {
    "/v1/forecast": "open_meteo/forecast.json",
    "/v1/ensemble": "open_meteo/ensemble.json",
    "/v1/archive": "open_meteo/archive_era5_nulltail.json",
    "/complete": "met_norway/compact.json",
    "/points/38.9700,-95.2400": "nws/points.json",
    "/gridpoints/TOP/77,66": "nws/gridpoint.json",
    "/gridpoints/TOP/77,66/stations": "nws/gridpoint_stations.json",
    "/stations/KXXX/observations": "nws/observations.json",
}


def only_our_shape(payload: Any) -> None:
    if not isinstance(payload, dict) or "hourly" not in payload:
        raise SourceError("Test service", "sent JSON of another shape")


def client(folder: Path) -> Client:
    return Client(user_agent_contact="owner@example.org", cache_dir=folder, total_s=2.0, pause=lambda _: None)


def ask(folder: Path, url: str, now: datetime) -> tuple[Any, Reply]:
    return client(folder).get_json(url, source="Test service", now=now, check=only_our_shape)


@pytest.mark.parametrize("behaviour", BROKEN)
def test_a_broken_answer_leaves_the_kept_one_as_it_was(
    bad_server: Any, tmp_path: Path, behaviour: str
) -> None:
    url = bad_server.serve("/v1/forecast", GOOD)
    ask(tmp_path, url, NOW)
    (file,) = tmp_path.glob("*.json")
    kept = file.read_bytes()
    bad_server.behave(behaviour)
    for hours in (7, 8):
        payload, reply = ask(tmp_path, url, NOW + timedelta(hours=hours))
        assert (payload, reply.fetched_at, reply.stale) == (GOOD, NOW, True)
        assert [note.kind for note in reply.notes] == [NoteKind.OLDER_ANSWER_USED]
        assert [one.read_bytes() for one in tmp_path.glob("*")] == [kept]


@pytest.mark.parametrize("behaviour", BROKEN)
def test_a_broken_first_answer_is_not_kept_at_all(bad_server: Any, tmp_path: Path, behaviour: str) -> None:
    url = bad_server.serve("/v1/forecast", GOOD)
    bad_server.behave(behaviour)
    for _ in range(2):
        with pytest.raises(SourceError):
            ask(tmp_path, url, NOW)
    assert list(tmp_path.glob("*")) == []
    bad_server.behave("well")
    payload, reply = ask(tmp_path, url, NOW)
    assert (payload, reply.from_cache) == (GOOD, False)


def tonight(server: Any, folder: Path, source: str, now: datetime) -> Weather:
    urls = {
        "open_meteo": f"{server.url}/v1/forecast",
        "open_meteo_ensemble": f"{server.url}/v1/ensemble",
        "open_meteo_archive": f"{server.url}/v1/archive",
        "met_norway": f"{server.url}/complete",
        "nws": server.url,
    }
    return gather_weather(PLACE, WeatherSettings(sources=(source,), base_urls=urls), client(folder), now)


def shelf(folder: Path) -> dict[str, Any]:
    """What is kept, by path."""
    rows = [json.loads(file.read_text("utf-8")) for file in folder.glob("*.json")]
    return {row["url"].split("?")[0].split("/", 3)[3]: json.loads(row["body"]) for row in rows}


@pytest.mark.parametrize(
    ("source", "path"),
    [
        *(("open_meteo", path) for path in ("/v1/forecast", "/v1/ensemble")),
        *(("met_norway", path) for path in ("/complete", "/v1/archive")),
        *(("nws", path) for path in STORED if path.startswith(("/points", "/gridpoints", "/stations"))),
    ],
)
@pytest.mark.parametrize("body", BROKEN_BODIES, ids=json.dumps)
def test_no_source_keeps_an_answer_that_it_cannot_read(
    bad_server: Any, tmp_path: Path, source: str, path: str, body: Any
) -> None:
    """Sound JSON of another shape: neither kept where nothing was, nor put in the place of what was."""
    good = {path: json.loads((REPLIES / file).read_text("utf-8")) for path, file in STORED.items()}
    for one, stored in good.items():
        bad_server.serve(one, stored)
    bad_server.serve(path, body)
    with contextlib.suppress(AdvisorError):
        tonight(bad_server, tmp_path, source, DAY)
    assert any(asked.split("?")[0] == path for asked, _ in bad_server.asked)
    assert path.lstrip("/") not in shelf(tmp_path)
    bad_server.serve(path, good[path])
    tonight(bad_server, tmp_path, source, DAY)
    assert shelf(tmp_path)[path.lstrip("/")] == good[path]
    bad_server.serve(path, body)
    with contextlib.suppress(AdvisorError):
        tonight(bad_server, tmp_path, source, DAY + timedelta(hours=2))
    assert shelf(tmp_path)[path.lstrip("/")] == good[path]
