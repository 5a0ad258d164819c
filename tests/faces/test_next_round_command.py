"""`advisor next-round` as typed, on the invented demo site and on a site of one's own."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from advisor.advice.next_round import NextRounds
from advisor.errors import AdvisorError
from advisor.faces.cli.main import program
from advisor.lawn.records import Application
from advisor.shipped import shipped
from advisor.store import open_store


def run(*words: str) -> str:
    result = CliRunner().invoke(program(), ["next-round", *words])
    assert result.exception is None, result.exception
    return result.output


def refused(*words: str) -> str:
    result = CliRunner().invoke(program(), ["next-round", *words])
    assert isinstance(result.exception, AdvisorError), result.output
    return str(result.exception)


def test_the_demo_tells_due_zones_best_hours_and_what_is_not_due_yet() -> None:
    text = " ".join(run("--demo").split())
    assert "Summer soil round on Side and Bank Due Wed 17 Jun. Best:" in text
    assert "1. " in text
    assert "(limit 8 mph)" in text
    assert "Summer soil round on Front and Back Due Wed 15 Jul." in text
    assert "ask again from Sun 12 Jul" in text
    assert "Invented demo" in text
    assert "The label is the law" in text


def test_json_is_the_whole_object_under_its_schema() -> None:
    told = json.loads(run("summer soil round", "--demo", "--json"))
    assert told["schema_version"] == "advisor.next-round/1"
    found = NextRounds.model_validate(told)
    assert [r.round for r in found.rounds] == ["Summer soil round"] * 2
    assert found.rounds[0].slots[0].rank == 1


def test_text_keeps_to_the_width_of_a_terminal() -> None:
    assert max(map(len, run("--demo").splitlines())) <= 92


def test_an_unknown_round_is_a_sentence_with_the_names() -> None:
    assert "Summer soil round" in refused("summer", "--demo")


def site_without_network(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "site.yaml"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_site_without_rounds_is_told_how_to_declare_one(tmp_path: Path) -> None:
    text = shipped("config", "demo.yaml").read_text(encoding="utf-8")
    before, rest = text.split("\nrounds:", 1)
    site = site_without_network(tmp_path, before + "\n" + rest[rest.index("\ndecision:") :])
    assert "the site file has no rounds" in refused("--site", str(site))


def hourly_csv(tmp_path: Path) -> Path:
    """Ten invented days of mild, dry, hourly weather from 12 June 2026 on."""
    import numpy as np

    hours = np.datetime64("2026-06-12T00") + np.arange(240)
    rows = [f"{hour}:00:00Z,{16 + 6 * np.sin(i / 3.82):.1f},8.0,2.0,0.6,0.0" for i, hour in enumerate(hours)]
    path = tmp_path / "weather.csv"
    head = "time,temp_c,dew_c,wind10_m_s,rs_mj_m2_h,rain_mm"
    path.write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")
    return path


def test_an_interval_longer_than_the_water_balance_looks_back_is_kept(tmp_path: Path) -> None:
    """Sixty days ago is beyond what the balance reads, yet the round is due by it."""
    from datetime import UTC, datetime

    text = shipped("config", "demo.yaml").read_text(encoding="utf-8")
    site = site_without_network(tmp_path, text.replace("every: 28 days", "every: 70 days"))
    when = datetime(2026, 4, 11, 15, 0, tzinfo=UTC)
    with open_store(tmp_path / "larkmoor-lane.sqlite") as store:
        for product in ("Potash solution", "Calcium solution"):
            store.add_application(
                Application(product, ("Front", "Back", "Side", "Bank"), when, when, "backpack")
            )
    text = run(
        "--site", str(site), "--weather", str(hourly_csv(tmp_path)), "--now", "2026-06-17T06:00"
    )  # 70 days after 11 April
    assert "Due Sat 20 Jun." in text


@pytest.mark.parametrize("flag", ["--help"])
def test_help_names_the_job(flag: str) -> None:
    assert "rain does the watering in" in " ".join(run(flag).split())
