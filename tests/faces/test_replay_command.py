"""`advisor replay` as typed: seasons lived again, the owner's own season, and what is refused."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from unittest.mock import patch

import pytest
from advice.test_schemas import published
from typer.testing import CliRunner
from weather.make_demo_season import text as made_season

from advisor.advice import OwnSeason, Replayed
from advisor.errors import AdvisorError, InputError
from advisor.faces.cli.main import program
from advisor.lawn import Run, load_site
from advisor.replay import RECIPES
from advisor.seasons import weather_of_file
from advisor.shipped import shipped
from advisor.store import open_store
from advisor.weather import cut, new_hours

WEEK = ("--to", "2025-06-04", "--seeds", "1", "--jobs", "1")
FROM_HERE = ("--from", "2025-06-01", *WEEK)


def run(*words: str) -> str:
    result = CliRunner().invoke(program(), ["replay", *words])
    assert result.exception is None, result.exception
    return result.stdout


def refused(*words: str) -> str:
    result = CliRunner().invoke(program(), ["replay", *words])
    assert isinstance(result.exception, AdvisorError), result.output
    return str(result.exception)


def fits(data: Any, schema: dict[str, Any], whole: dict[str, Any]) -> list[str]:
    """What in `data` the published schema does not allow: keys, kinds and closed lists of values."""
    if "$ref" in schema:
        return fits(data, whole["$defs"][schema["$ref"].rpartition("/")[2]], whole)
    if "anyOf" in schema:
        tried = [fits(data, one, whole) for one in schema["anyOf"]]
        return [] if [] in tried else tried[0]
    kinds = {
        "object": dict, "array": list, "string": str, "integer": int, "number": (int, float),
        "boolean": bool, "null": type(None),
    }  # fmt: skip
    if not isinstance(data, kinds[schema.get("type", "object" if "properties" in schema else "string")]):
        return [f"{data!r} is no {schema.get('type')}"]
    if data not in schema.get("enum", [data]) or data != schema.get("const", data):
        return [f"{data!r} is not allowed"]
    if isinstance(data, list):
        return [wrong for each in data for wrong in fits(each, schema.get("items", {}), whole)]
    if isinstance(data, dict):
        known = schema.get("properties", {})
        strange = [f"unknown {name}" for name in data if name not in known]
        missing = [f"no {name}" for name in schema.get("required", []) if name not in data]
        inside = [wrong for name in data if name in known for wrong in fits(data[name], known[name], whole)]
        return [*strange, *missing, *inside]
    return []


def valid(text: str, name: str) -> Any:
    schema = json.loads(published(name).read_text(encoding="utf-8"))
    data = json.loads(text)
    assert fits(data, schema, schema) == []
    return data


@pytest.fixture
def site(tmp_path: Path) -> Path:
    """The demo's site as someone's own, without records."""
    path = tmp_path / "site.yaml"
    path.write_text(shipped("config", "demo.yaml").read_text(encoding="utf-8"), encoding="utf-8")
    return path


@pytest.fixture
def season() -> Path:
    return shipped("data", "demo_season.csv")


def test_the_demos_season_is_the_one_that_is_made_and_says_that_it_is_invented(season: Path) -> None:
    text = season.read_text(encoding="utf-8")
    assert text == made_season()
    assert "invented" in text.splitlines()[0]
    assert season.stat().st_size < 250_000


def test_the_demo_shows_the_bad_first_and_says_that_it_is_invented() -> None:
    text = run("--demo", *WEEK)
    assert text.startswith("Invented demo")
    assert "Larkmoor Lane: Sunday 1 June to Wednesday 4 June 2025, evening by evening" in text
    assert text.index("What went badly") < text.index("What went well")
    for words in (
        "Nothing put down",
        "With your rounds",
        "by the clock of the usual year",
        "Moves by hand",
        "No product had to be watered in.",
    ):
        assert words in text
    assert "our answer" not in text


def test_the_json_fits_its_schema_and_goes_on_from_what_is_kept(tmp_path: Path) -> None:
    keep = tmp_path / "kept.jsonl"
    words = ("--demo", *WEEK, "--json", "--keep", str(keep))
    data = valid(run(*words), "replay")
    lines = keep.read_text().splitlines()
    assert len(lines) == 3
    assert valid(run(*words), "replay") == data
    assert keep.read_text().splitlines() == lines
    assert Replayed.model_validate(data).lawns[0].recipes[0].turf.nights == 4


def test_several_lawns_by_an_own_file_without_rounds(site: Path, season: Path, tmp_path: Path) -> None:
    other = tmp_path / "other.yaml"
    other.write_text(site.read_text().replace("name: Larkmoor Lane", "name: Over the road"))
    words = (
        str(site),
        str(other),
        "--weather",
        str(season),
        *FROM_HERE,
        "--no-rounds",
        "--recipe",
        "perfect",
    )
    data = valid(run(*words, "--json"), "replay")
    assert [lawn["site"] for lawn in data["lawns"]] == ["Larkmoor Lane", "Over the road"]
    for lawn in data["lawns"]:
        (recipe,) = lawn["recipes"]
        assert recipe["forecasts"] == "perfect"
        assert recipe["products"] == []
        assert "clock by the usual year" not in {each["family"] for each in recipe["at_equal_unmet"]}
    assert data["lawns"][0]["recipes"] == data["lawns"][1]["recipes"]
    assert data["notes"][-1].startswith("No clock stands beside this")


def test_the_owners_own_season_of_the_demo() -> None:
    text = " ".join(run("--demo", "--mine").split())
    assert "From Monday 18 May to Monday 15 June 2026, 29 evenings, you put on" in text
    assert "The records know 100 % of that time's weather" in text
    for words in ("Always running", "A clock by the usual year", "Had one known the weather"):
        assert words in text
    own = OwnSeason.model_validate(valid(run("--demo", "--mine", "--json"), "replay-mine"))
    assert own.runs_recorded == 42


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--from", "June"), "--from: a date is not understood; found 'June'; allowed: 2026-05-01"),
        (("--to", "2025-02-30"), "--to: a date is not understood"),
        (("--from", "2025-07-01", "--to", "2025-06-01"), "--to: the season ends before it begins"),
        (("--from", "2031-07-01"), "--from: the weather reaches from 2025-02-28 to 2025-10-09"),
        (
            ("--recipe", "hones"),
            "--recipe: forecasts are not made so; found hones; allowed: honest, too sharp",
        ),
        (("--mine", "--from", "2026-06-10", "--to", "2026-06-01"), "the season ends before it begins"),
        (("--recipe", "dry", "--forecasts", "here"), "forecasts are either made or told"),
        (("--mine", "--recipe", "dry"), "--mine: your own season rests on the records alone"),
        (("--mine", "--seeds", "3"), "found --mine and --seeds; allowed: --mine without it"),
        (("--mine", "--jobs", "2"), "found --mine and --jobs;"),
        (("--mine", "--cluster", "tcp://192.0.2.7:8786"), "found --mine and --cluster;"),
        (("--mine", "--rounds"), "found --mine and --rounds;"),
        (
            ("--mine", "--no-rounds", "--keep", "k.jsonl"),
            "found --mine and --no-rounds and --keep; allowed: --mine without them",
        ),
        (
            ("here.yaml", "there.yaml"),
            "--demo: the demo has its own invented lawn; found --demo and here.yaml",
        ),
        (
            ("--keep", "nowhere/k.jsonl"),
            "nowhere/k.jsonl: the results cannot be kept in a directory that does not",
        ),
        (("--mine", "--from", "2026-06-10"), "a season of 6 nights, 2026-06-10 to 2026-06-15, tells nothing"),
        (("--forecasts", "nowhere"), "--forecasts: the folder of forecasts cannot be read"),
    ],
)
def test_what_cannot_be_is_told_in_one_sentence(words: tuple[str, ...], told: str) -> None:
    text = refused("--demo", *words)
    assert re.search(told, text), text
    assert "\n" not in text


@pytest.mark.parametrize("words", [(), ("--json",)])
def test_a_file_that_is_none_of_kept_seasons_is_refused_before_anything_is_worked(
    words: tuple[str, ...], site: Path
) -> None:
    before = site.read_bytes()
    with patch("advisor.seasons.run_jobs", side_effect=AssertionError("worked")):
        told = refused("--demo", *WEEK, *words, "--keep", str(site))
    assert "this is no file of kept seasons" in told
    assert site.read_bytes() == before
    kept = site.with_name("kept.jsonl")
    with patch("advisor.seasons.run_jobs", side_effect=InputError("not now")):
        assert refused("--demo", *WEEK, "--keep", str(kept)) == "not now"
    assert not kept.exists()


def test_no_season_at_all_is_exit_code_2_with_the_reason(tmp_path: Path, season: Path) -> None:
    """The only forecast came a year later; then, a rule of the lawn that is not known."""
    later = tmp_path / "later"
    later.mkdir()
    (later / "2026-06-01T2000.csv").write_text(
        "time,temp_c,rain_mm\n" + "".join(f"2026-06-{day:02d}T12:00Z,20,0\n" for day in (2, 3))
    )
    words = ("--demo", *WEEK, "--no-rounds", "--forecasts", str(later))
    asked = [sys.executable, "-m", "advisor.faces.cli.main", "replay", *words]
    done = subprocess.run(asked, capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.splitlines()[-1] == (
        "advisor: no season could be lived: no forecast was archived by 2025-06-01 20:15 local time"
    )


def test_missing_weather_is_told_with_the_ways_to_it(site: Path, season: Path) -> None:
    assert "no past weather is kept in the records of Larkmoor Lane" in refused("--site", str(site))
    assert "--archive: an archive must be asked for certain days" in refused("--site", str(site), "--archive")
    assert "the weather is given twice" in refused("--site", str(site), "--archive", "--weather", str(season))
    assert "no weather has been kept in the records" in refused("--site", str(site), "--mine")
    assert list(site.parent.iterdir()) == [site]


@pytest.fixture
def lived(site: Path, season: Path) -> Path:
    """The same site with the nights of a spring kept in its records, and one run a week."""
    opened = load_site(site)
    weather = cut(weather_of_file(season, opened), 0, 24 * 75)
    runs = [
        Run("Front", at, at + timedelta(minutes=30), 30.0)
        for at in (datetime(2025, 4, day, 10, tzinfo=UTC) for day in (8, 15, 22))
    ]
    with open_store(opened.records_path) as store:
        store.add_archive(new_hours(weather, (), weather.starts_at(weather.hours)))
        store.add_runs(runs)
    return site


def test_the_nights_kept_in_the_records_are_the_weather(lived: Path, season: Path) -> None:
    dates = (
        "--from",
        "2025-04-20",
        "--to",
        "2025-04-22",
        "--seeds",
        "1",
        "--jobs",
        "1",
        "--no-rounds",
        "--json",
    )
    kept = valid(run("--site", str(lived), *dates), "replay")["lawns"][0]
    filed = valid(run("--site", str(lived), "--weather", str(season), *dates), "replay")["lawns"][0]
    assert kept["weather"] == "the nights kept in the records, with the gauge"
    mine, theirs = (lawn["recipes"][0]["turf"]["demand_mm"]["mean"] for lawn in (kept, filed))
    assert mine == pytest.approx(theirs, rel=0.01)


def test_the_owners_own_season_by_the_records(lived: Path) -> None:
    """Three runs of 30 min at 0.52 in/h (13.2 mm/h) on 2,400 sq ft (223 m²)."""
    words = (
        "--site",
        str(lived),
        "--mine",
        "--from",
        "2025-04-01",
        "--to",
        "2025-04-30",
        "--now",
        "2025-05-14T12:00",
    )
    own = OwnSeason.model_validate(valid(run(*words, "--json"), "replay-mine"))
    assert own.ways[0].litres == pytest.approx(3 * 0.5 * 0.52 * 25.4 * 2400 * 0.09290304, rel=1e-3)
    assert (own.nights, own.runs_recorded, own.known) == (30, 3, 1.0)
    assert [way.way.value for way in own.ways] == ["as it was", "always running", "perfect foresight"]


def test_a_file_with_a_gap_is_told_with_its_first_hour(site: Path, season: Path, tmp_path: Path) -> None:
    lines = season.read_text().splitlines()
    holed = tmp_path / "holed.csv"
    holed.write_text("\n".join(line for line in lines if not line.startswith("2025-06-02T1")) + "\n")
    told = refused("--site", str(site), "--weather", str(holed), *FROM_HERE)
    assert "the rain of 10 hours is not known, first of 2025-06-02 05:00 local time" in told
    assert "\n" not in told


def test_the_help_names_every_recipe() -> None:
    shown = " ".join(CliRunner().invoke(program(), ["replay", "--help"]).output.split())
    assert all(name in shown for name in RECIPES)
    assert "replay [OPTIONS] [SITE]..." in shown
