"""`advisor tonight` with its services on loopback: whatever fails, one clear sentence or honest advice."""

from __future__ import annotations

import csv
import io
import json
from datetime import timedelta
from pathlib import Path

import pytest
from weather.bad_server import BadServer
from weather.fault_nights import (
    ENSEMBLE,
    FAULTS,
    FORECAST,
    GRID,
    NOW,
    POINTS,
    Evening,
    Fault,
    at_odds,
    reply,
)

from advisor.lawn.records import Records


@pytest.fixture
def evening(tmp_path: Path):
    with BadServer() as server:
        made = Evening(tmp_path, server)
        made.seed()
        yield made


def recorded(evening: Evening) -> tuple[Records, int]:
    """The records, and how many advices are kept with them."""
    from advisor.store import open_store

    with open_store(evening.records) as store:
        kept = store.last_advice("Larkmoor Lane")
        return store.records(), 0 if kept is None else 1


@pytest.mark.parametrize("fault", FAULTS, ids=[fault.name for fault in FAULTS])
def test_a_fault_costs_one_clear_sentence_and_never_the_records(evening: Evening, fault: Fault) -> None:
    before, _ = recorded(evening)
    seen = fault.act(evening)
    assert "Traceback" not in seen.flat
    for words in fault.told:
        assert words in seen.flat
    for words in fault.not_told:
        assert words not in seen.flat
    if fault.rests_on is None:
        assert seen.code == 2
        assert seen.out == ""
        assert seen.err.startswith("advisor: ")
    else:
        assert (seen.code, seen.err) == (0, "")
        assert seen.rests_on[0].startswith(fault.rests_on)
        assert "Tonight, zone by zone" in seen.out
    after, kept = recorded(evening)
    assert after == before
    assert kept or fault.rests_on is None


def test_a_refusal_of_the_weather_is_a_single_line(evening: Evening) -> None:
    evening.down("503")
    assert evening.tonight().err.count("\n") == 1


def test_a_kept_answer_that_is_not_yet_due_is_not_asked_for_again(evening: Evening) -> None:
    evening.tonight()
    asked = len(evening.server.asked)
    evening.tonight(now=NOW + timedelta(minutes=20))
    assert len(evening.server.asked) == asked


def test_when_the_service_is_back_the_advice_rests_on_it_again(evening: Evening) -> None:
    evening.down("503", FORECAST)
    assert evening.tonight().rests_on[0].startswith("US National Weather Service")
    evening.down("well", FORECAST)
    assert evening.tonight(now=NOW + timedelta(minutes=5)).rests_on[0].startswith("Open-Meteo forecast")


def test_two_sourcesat_odds_are_both_shown_and_both_counted(evening: Evening) -> None:
    seen = at_odds(evening)
    doubt = next(line for line in seen.section("Not known, or guessed") if "disagree" in line)
    assert "Open-Meteo forecast expects 0.0 mm" in doubt
    assert "MET Norway 72.0 mm" in doubt
    assert (
        "rain members of Open-Meteo forecast and MET Norway are pooled with equal weight, 62 in all"
        in seen.flat
    )
    assert [name.split(" (")[0] for name in seen.rests_on] == [
        "Open-Meteo forecast",
        "Open-Meteo ensemble",
        "MET Norway",
    ]
    tonight = seen.section("Rain ahead")[0]
    assert "chance of 1.0 mm" in tonight
    assert 30 <= int(tonight.split("chance of 1.0 mm ")[1].split(" %")[0]) <= 90


def test_two_listed_sources_that_agree_are_told_with_both_numbers(evening: Evening) -> None:
    evening.use("open_meteo", "met_norway")
    text = evening.tonight().flat
    assert "Rain of the next 12 h: Open-Meteo forecast 0.0 mm, MET Norway 0.0 mm" in text


def test_a_grid_square_that_moved_is_looked_up_anew_in_the_same_evening(evening: Evening) -> None:
    evening.use("nws")
    evening.tonight()
    moved = reply("nws/points.json")
    moved["properties"]["gridX"] = 78
    evening.server.serve(POINTS, moved)
    evening.server.serve("/gridpoints/TOP/78,66", reply("nws/gridpoint.json"))
    evening.down("404", GRID)
    seen = evening.tonight(now=NOW + timedelta(hours=2))
    assert seen.rests_on[0].startswith("US National Weather Service")
    assert "HTTP 404" not in seen.flat
    paths = [path.split("?")[0] for path, _ in evening.server.asked]
    first = paths.index(GRID, paths.index(GRID) + 1)
    assert paths[first : first + 3] == [GRID, POINTS, "/gridpoints/TOP/78,66"]


def test_the_owners_contact_and_four_decimals_go_to_the_services_and_nothing_else(evening: Evening) -> None:
    evening.tonight()
    for path, headers in evening.server.asked:
        assert "owner@larkmoor.example" in headers["user-agent"]
        assert "latitude=38.9700&longitude=-95.2400" in path
        assert "Larkmoor" not in path


def test_weather_over_http_names_the_sources_of_each_day(evening: Evening) -> None:
    seen = evening.tonight(command="weather")
    assert (seen.code, seen.err) == (0, "")
    assert "Open-Meteo ensemble (gfs_seamless)" in seen.flat
    assert max(len(line) for line in seen.out.splitlines()) <= 92
    evening.down("503", FORECAST)
    told = json.loads(evening.tonight("--json", now=NOW + timedelta(hours=2), command="weather").out)
    assert told["schema_version"] == "advisor.weather/1"
    assert "its answer of Wed 15 Jul 2026 13:17 is used" in " ".join(told["provenance"])


def test_weather_writes_no_records_and_needs_none(evening: Evening) -> None:
    evening.records.unlink()
    rows = list(csv.DictReader(io.StringIO(evening.tonight("--csv", command="weather").out)))
    assert not evening.records.exists()
    assert [row["when"] for row in rows] == ["past"] * 7 + ["today"] + ["ahead"] * (len(rows) - 8)
    assert rows[7]["day"] == "2026-07-15"


def test_a_dead_ensemble_is_told_in_the_weather_too(evening: Evening) -> None:
    evening.down("500", ENSEMBLE)
    seen = evening.tonight(command="weather")
    assert "Open-Meteo ensemble: answered with HTTP 500" in seen.flat
    assert "rain members are built" in seen.flat


@pytest.mark.parametrize(
    ("wetter_mm", "told"),
    [pytest.param(0.02, False, id="a trifle"), pytest.param(6.0, True, id="a front")],
)
def test_a_second_fetch_tells_what_changed_and_says_nothing_of_a_trifle(
    evening: Evening, wetter_mm: float, told: bool
) -> None:
    evening.tonight()
    body = reply("open_meteo/ensemble.json")
    for name, column in body["hourly"].items():
        if name.startswith("precipitation"):
            body["hourly"][name] = [
                v if v is None or not 24 <= i < 36 else v + wetter_mm for i, v in enumerate(column)
            ]
    evening.server.serve(ENSEMBLE, body)
    seen = evening.tonight(now=NOW + timedelta(minutes=70))
    assert ("Changed since the last advice" in seen.out) is told
    assert ("Front: now" in seen.flat) is told
