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
    assert "1. Potash solution with Cart tank" in text
    assert "2. Calcium solution with Cart tank" in text
    assert "may not share a tank, even diluted" in text
    # 4 and 6.5 fl oz on each 1,000 of 7,040 sq ft
    assert "Potash solution 833 mL 28.2 fl oz" in text
    assert "Calcium solution 1,353 mL 45.8 fl oz" in text
    assert "Fill the tank half with water." in text


def test_six_thousand_square_feet_take_what_the_rates_ask_and_a_second_filling() -> None:
    text = squeezed(run("Summer soil round", "--demo", "--area", "6,000 sq ft"))
    # 6 x 4 and 6 x 6.5 fl oz; 6 x 1.8 gal is 10.8, a tank of 9 and 1.8 more
    assert "Potash solution 710 mL 24.0 fl oz" in text
    assert "Calcium solution 1,153 mL 39.0 fl oz" in text
    assert "Filling 2, partly full" in text


def test_what_may_share_a_tank_goes_in_by_the_filling_order() -> None:
    text = squeezed(run("Wetting agent", "Potash solution", "--demo", "--sprayer", "Cart tank"))
    assert "Potash solution and Wetting agent together with Cart tank" in text
    assert "Then the concentrates: Potash solution, then Wetting agent" in text


def test_full_fillings_are_told_once() -> None:
    text = squeezed(run("potash solution", "--demo", "--area", "7000 sq ft", "--sprayer", "backpack"))
    # 10.5 gal of spray from 3 gal
    assert "Fillings 1–3, each" in text
    assert "Filling 4, partly full" in text


def test_json_holds_the_whole_object_under_its_schema() -> None:
    worked = json.loads(run("--demo", "--zones", "Front,Back", "--json"))
    assert worked["schema_version"] == "advisor.mix/1"
    assert worked["zones"] == ["Front", "Back"]
    assert worked["area_m2"] == pytest.approx(5500 * 0.09290304)


@pytest.fixture
def hose_end(tmp_path: Path) -> tuple[str, ...]:
    """The words for the demo's lawn with a hose-end sprayer too, and a pair that may not meet undiluted."""
    text = shipped("config", "demo.yaml").read_text(encoding="utf-8")
    cup = 'equipment:\n  - {name: Hose-end sprayer, method: hose-end, dilution: "24:1"}\n'
    text = text.replace("equipment:\n", cup).replace("together_diluted", "together_undiluted")
    site = tmp_path / "site.yaml"
    site.write_text(text, encoding="utf-8")
    return ("--site", str(site), "--now", "2026-06-17T20:15", "--sprayer", "Hose-end sprayer")


def test_through_the_hose_end_sprayer_no_watering_in_is_needed(hose_end: tuple[str, ...]) -> None:
    text = squeezed(run("Potash solution", "Calcium solution", *hose_end))
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
            store.add_stock(StockChange("Potash solution", datetime(2026, 6, day, tzinfo=UTC), amount))
    worked = json.loads(
        run("Potash solution", "--site", str(site), "--now", "2026-06-10", "--json", "--sprayer", "Backpack")
    )
    assert worked["items"][0]["stock"] == pytest.approx(128 * 29.5735295625 - 900.0)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        pytest.param(["Potash soluton"], "did you mean 'Potash solution'", id="a near product"),
        pytest.param(["Summer soyl round"], "did you mean 'Summer soil round'", id="a near round"),
        pytest.param(["Wetting agent", "--zones", "Fron"], "did you mean 'Front'", id="a near zone"),
        pytest.param(
            ["Wetting agent", "--sprayer", "Backpak"], "did you mean 'Backpack'", id="a near sprayer"
        ),
        pytest.param(["--area", "5 ha", "--zones", "Front"], "not both", id="zones and area"),
        pytest.param(["--area", "5000"], "needs its unit", id="an area without its unit"),
        pytest.param(["--carrier", "1 gal"], "--carrier", id="a carrier that is none"),
        pytest.param(["Wetting agent", "--sprayer", "Spreader"], "liquids need a sprayer", id="a spreader"),
    ],
)
def test_what_cannot_be_is_said_with_the_way_out(words: list[str], said: str) -> None:
    assert said in refused(*words, "--demo")


def test_a_carrier_for_a_hose_end_sprayer_is_refused(hose_end: tuple[str, ...]) -> None:
    said = refused("Wetting agent", "--carrier", "1 gal/1000 sq ft", *hose_end)
    assert "follows from its dilution" in said


def test_all_unknown_products_are_told_together() -> None:
    said = refused("Potasch", "Kalk solution", "--demo")
    assert "'Potasch'" in said
    assert "'Kalk solution'" in said


def test_nothing_named_and_no_single_round_lists_what_there_is(tmp_path: Path) -> None:
    site = tmp_path / "site.yaml"
    text = shipped("config", "demo.yaml").read_text(encoding="utf-8")
    start, end = text.index("\nrounds:"), text.index("\ndecision:")
    site.write_text(text[:start] + text[end:], encoding="utf-8")
    said = refused("--site", str(site))
    assert "say which round or products" in said
    assert "Wetting agent" in said


def test_the_command_is_loaded_without_numpy() -> None:
    import subprocess

    code = "import sys, advisor.faces.cli.main; sys.exit('numpy' in sys.modules or 'pandas' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
