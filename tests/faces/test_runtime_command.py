"""`advisor runtime` as typed, on the invented demo site."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from advisor.errors import AdvisorError
from advisor.faces.cli.main import program
from advisor.shipped import shipped

ETO = "25 35 70 110 150 180 190 165 115 70 35 22 mm"


def run(*words: str) -> str:
    result = CliRunner().invoke(program(), ["runtime", *words])
    assert result.exception is None, result.exception
    return result.output


def refused(*words: str) -> str:
    result = CliRunner().invoke(program(), ["runtime", *words])
    assert isinstance(result.exception, AdvisorError), result.output
    return str(result.exception)


def test_every_zone_is_told_for_a_quarter_half_and_one_inch() -> None:
    text = run("--demo")
    for words in ("Front", "Back", "Side", "Bank", "0.25 in", "0.50 in", "1.00 in", "Invented demo"):
        assert words in text


def test_a_guess_tells_its_range_and_what_an_audit_is_worth() -> None:
    text = " ".join(run("--demo", "--zone", "back", "--depth", "0.25 in").split())
    assert "a guess from the head type" in text
    assert "could really put down" in text
    assert "Not knowing the rate costs" in text


def test_a_measured_zone_says_when() -> None:
    text = run("--demo", "--zone", "Bank", "--minutes", "20")
    assert "measured, in the site file on 2026-05-10" in text
    assert "Not knowing" not in text


def test_depth_and_minutes_undo_each_other() -> None:
    there = json.loads(run("--demo", "--zone", "Bank", "--depth", "6 mm", "--json"))
    assert there["schema_version"] == "advisor.runtime/1"
    minutes = there["zones"][0]["runs"][0]["minutes"]
    back = json.loads(run("--demo", "--zone", "Bank", "--minutes", str(minutes), "--json"))
    assert back == there
    assert 6.0 <= back["zones"][0]["runs"][0]["effective_mm"] < 6.2


def test_water_is_told_in_the_owners_money_and_per_25_mm_on_a_metric_site(tmp_path: Path) -> None:
    text = shipped("config", "demo.yaml").read_text(encoding="utf-8")
    metric = text.replace("units: us", "units: metric")
    site = tmp_path / "site.yaml"
    site.write_text(
        metric.replace("  flow: 16 gal/min", "  flow: 16 gal/min\n  water_cost_per_m3: 2.10"),
        encoding="utf-8",
    )
    told = " ".join(run("--site", str(site), "--zone", "Back").split())
    assert "for every 25 mm" in told
    assert " of your currency for water" in told
    assert "25.4" not in told
    assert "for every inch" in " ".join(run("--demo", "--zone", "Back").split())


def test_a_climate_adds_the_minutes_by_month_and_a_mean_day() -> None:
    text = run("--demo", "--zone", "Back", "--eto-months", ETO)
    assert "June's mean day" in text
    assert "By month, before rain" in text
    assert "in June" in " ".join(text.split())
    worked = json.loads(run("--demo", "--zone", "Back", "--eto-months", ETO, "--json"))
    assert len(worked["zones"][0]["months"]) == 12


@pytest.mark.parametrize(
    ("words", "said"),
    [
        pytest.param(["--zone", "Bacck"], "did you mean 'Back'", id="a near zone"),
        pytest.param(["--depth", "0.25"], "needs its unit", id="no unit"),
        pytest.param(["--depth", "2 m"], "no one waters so much", id="too deep"),
        pytest.param(["--depth", "0 mm"], "there is nothing to give; found '0 mm'", id="no depth"),
        pytest.param(["--depth", "6 mm", "--minutes", "5"], "not both", id="both"),
        pytest.param(["--minutes", "-5"], "run time cannot be", id="negative minutes"),
        pytest.param(["--eto-months", "1 2 3 mm"], "found 3 numbers", id="three months"),
    ],
)
def test_what_cannot_be_is_said_with_the_way_out(words: list[str], said: str) -> None:
    assert said in refused("--demo", *words)
