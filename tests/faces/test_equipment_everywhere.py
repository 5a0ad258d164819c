"""One invented site with a hose-end and a backpack sprayer, asked in four places: the same answer each time."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from advisor.errors import AdvisorError
from advisor.faces.cli.main import program
from advisor.lawn.records import Application
from advisor.shipped import shipped
from advisor.store import open_store

NOW = ("--now", "2026-06-17T20:00")
BACKPACK = "{name: Backpack, method: backpack, tank: 4 gal, carrier: 1 gal/1000 sq ft}"
HOSE_END = "{name: Hose-end sprayer, method: hose-end, dilution: '20:1'}"
SPREADER = "{name: Spreader, method: spreader}"
MOST = "Taken as put down with Backpack, of your sprayers the one that asks the most water; if not, "


@pytest.fixture(params=["backpack first", "hose-end first"])
def site(tmp_path: Path, request: pytest.FixtureRequest) -> Path:
    """The demo's lawn and products with two sprayers, in both orders, and a round without one of its own."""
    both = (BACKPACK, HOSE_END) if request.param == "backpack first" else (HOSE_END, BACKPACK)
    return written(tmp_path, *both, SPREADER)


def written(folder: Path, *equipment: str) -> Path:
    text = shipped("config", "demo.yaml").read_text(encoding="utf-8")
    pieces = "".join(f"  - {piece}\n" for piece in equipment)
    text = re.sub(r"^equipment:\n.*?(?=^products:)", f"equipment:\n{pieces}\n", text, flags=re.M | re.S)
    text = re.sub(r"^    sprayer: .*\n", "", text, flags=re.M)
    path = folder / "site.yaml"
    path.write_text(text, encoding="utf-8")
    rows = [
        f"2026-06-{day:02d}T{hour:02d}:00Z,{16 + hour % 12},8,2,{0.1 * (hour % 12):.1f},0"
        for day in range(10, 27)
        for hour in range(24)
    ]
    lines = ["time,temp_c,dew_c,wind10_m_s,rs_mj_m2_h,rain_mm", *rows]
    (folder / "weather.csv").write_text("\n".join(lines), encoding="utf-8")
    return path


def run(site: Path, *words: str) -> str:
    result = CliRunner().invoke(program(), [*words, "--site", str(site), *NOW])
    assert result.exception is None, result.exception
    return result.output


def from_json(site: Path, *words: str) -> Any:
    return json.loads(run(site, *words, "--json"))


def forecast(site: Path) -> tuple[str, str]:
    return "--weather", str(site.with_name("weather.csv"))


def recorded(site: Path) -> Application:
    with open_store(site.with_name("larkmoor-lane.sqlite"), create=False) as store:
        return store.records().applications[-1]


def test_a_record_is_made_with_the_usual_equipment_and_says_so(site: Path) -> None:
    out = run(site, "record", "application", "Potash solution")
    assert (recorded(site).method, recorded(site).dilution) == ("backpack", None)
    assert f"{MOST}say --method." in out


def test_the_what_if_takes_the_same(site: Path) -> None:
    words = ("rain", "--product", "Potash solution", "--zones", "Front", *forecast(site))
    what_if = from_json(site, *words)["what_if"]
    assert (what_if["method"], what_if["dilution"]) == ("backpack", None)
    assert what_if["equipment"]["basis"] == "of several, the one that asks the most water"
    assert what_if["equipment_note"] == f"{MOST}say --method."
    assert f"{MOST}say --method." in " ".join(run(site, *words).split())


def test_the_mix_takes_the_same(site: Path) -> None:
    mix = from_json(site, "mix", "Potash solution")
    assert (mix["equipment"]["name"], mix["passes"][0]["sprayer"]) == ("Backpack", "Backpack")
    assert mix["items"][0]["need"]["target_mm"] > 6.0
    assert f"{MOST}say --sprayer." in " ".join(run(site, "mix", "Potash solution").split())


def test_the_next_round_takes_the_same_and_is_watered_in(site: Path) -> None:
    words = ("next-round", *forecast(site))
    for one in from_json(site, *words)["rounds"]:
        assert one["equipment"]["name"] == "Backpack"
        assert f"{MOST}give the round its sprayer in the site file." in one["notes"]
        assert {slot["watering"] for slot in one["slots"]} == {"sprinklers"}


def test_all_four_ask_the_same_water(site: Path) -> None:
    run(site, "record", "application", "Potash solution", "--zones", "Front")
    asked = from_json(site, "rain", *forecast(site))["verdicts"][0]["least_mm"]
    words = ("rain", "--product", "Potash solution", "--zones", "Bank", *forecast(site))
    assert from_json(site, *words)["verdicts"][0]["least_mm"] == pytest.approx(asked)
    need = from_json(site, "mix", "Potash solution")["items"][0]["need"]
    assert need["least_mm"] == pytest.approx(asked)


def test_what_is_said_is_taken_and_nothing_is_said_about_it(site: Path) -> None:
    out = run(site, "record", "application", "Potash solution", "--method", "hose-end")
    assert (recorded(site).method, recorded(site).dilution) == ("hose-end", 20.0)
    assert "Taken as" not in out
    what = ("rain", "--product", "Potash solution", "--method", "hose-end sprayer", *forecast(site))
    what_if = from_json(site, *what)["what_if"]
    assert (what_if["method"], what_if["dilution"], what_if["equipment_note"]) == ("hose-end", 20.0, "")


def test_without_a_declared_sprayer_only_what_rests_on_it_is_refused(tmp_path: Path) -> None:
    """A record is a fact and a mix needs a tank; a question is answered for a tank, and says so."""
    site = written(tmp_path, SPREADER)
    refusals = {
        ("record", "application", "Potash solution"): "the site file declares no sprayer; allowed: tank",
        ("mix", "Potash solution"): "Potash solution: a liquid needs a sprayer",
    }
    for words, told in refusals.items():
        result = CliRunner().invoke(program(), [*words, "--site", str(site), *NOW])
        assert isinstance(result.exception, AdvisorError)
        assert told in str(result.exception)
    what = ("rain", "--product", "Potash solution", "--zones", "Front", *forecast(site))
    note = from_json(site, *what)["what_if"]["equipment_note"]
    assert note.startswith("Taken as put down with a tank, as the site file declares no sprayer")
    notes = from_json(site, "next-round", *forecast(site))["rounds"][0]["notes"]
    assert any("with a tank, as the site file declares no sprayer" in each for each in notes)
