"""`advisor mix` as typed, on the invented demo site."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

from advisor.errors import AdvisorError
from advisor.faces.cli.main import program
from advisor.lawn.records import StockChange
from advisor.shipped import shipped


def run(*words: str) -> str:
    result = CliRunner().invoke(program(), ["mix", *words])
    assert result.exception is None, result.exception
    return result.output


def refused(*words: str) -> str:
    result = CliRunner().invoke(program(), ["mix", *words])
    assert isinstance(result.exception, AdvisorError), result.output
    return str(result.exception)


def squeezed(text: str) -> str:
    return " ".join(text.split())


def test_the_only_round_is_mixed_when_nothing_is_named() -> None:
    text = squeezed(run("--demo"))
    assert "Invented demo" in text
    assert "Humic liquid, Kelp liquid and Micronutrient drench together with Backpack" in text
    assert "Humic liquid 625 mL 21.1 fl oz" in text
    assert "Fill the tank half with water." in text


def test_five_thousand_square_feet_take_fifteen_fluid_ounces_of_each() -> None:
    text = squeezed(run("Monthly soil round", "--demo", "--area", "5,000 sq ft"))
    assert "Humic liquid 444 mL 15.0 fl oz" in text
    assert "Filling 2, partly full" in text


def test_full_fillings_are_told_once() -> None:
    text = squeezed(run("humic liquid", "--demo", "--area", "13000 sq ft", "--sprayer", "backpack"))
    assert "Fillings 1–3, each" in text
    assert "Filling 4, partly full" in text


def test_json_holds_the_whole_object_under_its_schema() -> None:
    worked = json.loads(run("--demo", "--zones", "Front,Back", "--json"))
    assert worked["schema_version"] == "advisor.mix/1"
    assert worked["zones"] == ["Front", "Back"]
    assert worked["area_m2"] == pytest.approx(5500 * 0.09290304)


def test_through_the_hose_end_sprayer_no_watering_in_is_needed() -> None:
    text = squeezed(run("Humic liquid", "Micronutrient drench", "--demo", "--sprayer", "Hose-end sprayer"))
    assert "no watering in needed" in text
    assert "may not share a hose-end cup: one after the other" in text
    assert "the hose brings" in text


def test_a_carrier_on_the_command_line_wins() -> None:
    worked = json.loads(run("--demo", "--area", "1000 sq ft", "--carrier", "2 gal/1000 sq ft", "--json"))
    assert worked["passes"][0]["loads"][0]["volume_l"] == pytest.approx(2 * 3.785411784)


def test_granules_need_no_sprayer_and_their_water_is_told() -> None:
    text = squeezed(run("grub granules", "--demo", "--zones", "Side"))
    assert "Grub granules with a spreader" in text
    assert "at least 0.51 in" in text
    assert "advisor runtime --depth" in text


def test_recorded_stock_changes_count(tmp_path: Path) -> None:
    site = tmp_path / "site.yaml"
    site.write_text(shipped("config", "demo.yaml").read_text(encoding="utf-8"), encoding="utf-8")
    from datetime import UTC, datetime

    from advisor.store import open_store

    with open_store(tmp_path / "larkmoor-lane.sqlite") as store:
        for day, amount in ((1, -900.0), (20, 5000.0)):  # the second is after the moment asked about
            store.add_stock(StockChange("Humic liquid", datetime(2026, 6, day, tzinfo=UTC), amount))
    worked = json.loads(
        run("Humic liquid", "--site", str(site), "--now", "2026-06-10", "--json", "--sprayer", "Backpack")
    )
    assert worked["items"][0]["stock"] == pytest.approx(96 * 29.5735295625 - 900.0)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        pytest.param(["Humik"], "did you mean 'Humic liquid'", id="a near product"),
        pytest.param(["Monthly soyl round"], "did you mean 'Monthly soil round'", id="a near round"),
        pytest.param(["Kelp liquid", "--zones", "Fron"], "did you mean 'Front'", id="a near zone"),
        pytest.param(["Kelp liquid", "--sprayer", "Backpak"], "did you mean 'Backpack'", id="a near sprayer"),
        pytest.param(["--area", "5 ha", "--zones", "Front"], "not both", id="zones and area"),
        pytest.param(["--area", "5000"], "needs its unit", id="an area without its unit"),
        pytest.param(["--carrier", "1 gal"], "--carrier", id="a carrier that is none"),
        pytest.param(["Kelp liquid"], "several sprayers could do it", id="which sprayer"),
        pytest.param(
            ["Kelp liquid", "--sprayer", "Hose-end sprayer", "--carrier", "1 gal/1000 sq ft"],
            "follows from its dilution",
            id="a carrier for a hose-end sprayer",
        ),
        pytest.param(["Kelp liquid", "--sprayer", "Spreader"], "liquids need a sprayer", id="a spreader"),
    ],
)
def test_what_cannot_be_is_said_with_the_way_out(words: list[str], said: str) -> None:
    assert said in refused(*words, "--demo")


def test_all_unknown_products_are_told_together() -> None:
    said = refused("Humik", "Kelb liquid", "--demo")
    assert "'Humik'" in said
    assert "'Kelb liquid'" in said


def test_nothing_named_and_no_single_round_lists_what_there_is(tmp_path: Path) -> None:
    site = tmp_path / "site.yaml"
    text = shipped("config", "demo.yaml").read_text(encoding="utf-8")
    start, end = text.index("\nrounds:"), text.index("\ndecision:")
    site.write_text(text[:start] + text[end:], encoding="utf-8")
    said = refused("--site", str(site))
    assert "say which round or products" in said
    assert "Kelp liquid" in said


def test_the_command_is_loaded_without_numpy() -> None:
    import subprocess

    code = "import sys, advisor.faces.cli.main; sys.exit('numpy' in sys.modules or 'pandas' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
