"""A reading of the gauge at a look for which it was to be emptied counts from then on."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from made import kept_advice
from typer.testing import CliRunner

from advisor.faces.cli.main import program
from advisor.shipped import shipped
from advisor.store import open_store

GIVEN_AT = datetime(2026, 6, 18, 1, 15, tzinfo=UTC)  # 20:15, the time of the kept advice
LOOK_AT = "2026-06-18T09:15:00Z"  # 04:15


@pytest.fixture
def site(tmp_path: Path) -> Path:
    """The demo's site, with an advice that asks for a look."""
    path = tmp_path / "site.yaml"
    path.write_text(shipped("config", "demo.yaml").read_text(encoding="utf-8"), encoding="utf-8")
    cycles = [{"starts_at": "2026-06-18T09:40:00Z", "ends_at": "2026-06-18T10:00:00Z"}]
    advice = json.loads(
        kept_advice({"zone": "Front", "minutes": 20.0, "cycles": cycles, "only_if": "the gauge shows little"})
    )
    assert advice["next_looks"][0]["at"] == LOOK_AT
    with open_store(tmp_path / "larkmoor-lane.sqlite") as store:
        store.keep_advice(
            json.dumps(advice),
            site="Larkmoor Lane",
            night=date(2026, 6, 17),
            given_at=GIVEN_AT,
            digest="d",
        )
    return path


def record(site: Path, *words: str, now: str) -> str:
    result = CliRunner().invoke(
        program(), ["record", "rain", *words, "--site", str(site), "--now", now], catch_exceptions=False
    )
    return result.output


def since(site: Path) -> list[datetime | None]:
    with open_store(site.with_name("larkmoor-lane.sqlite")) as store:
        return [reading.since for reading in store.records().gauge]


@pytest.mark.parametrize("at", ["04:15", "05:30", "22:00"])
def test_a_reading_at_the_look_counts_from_the_emptying(site: Path, at: str) -> None:
    told = record(site, "0.1 in", "--at", at, now="2026-06-18T05:40")
    assert since(site) == [GIVEN_AT]
    assert "It counts from 20:15 on, when the gauge was to be emptied" in told


@pytest.mark.parametrize(
    ("words", "now"),
    [
        pytest.param(["--since", "21:00"], "2026-06-18T04:20", id="said otherwise"),
        pytest.param([], "2026-06-18T11:30", id="long after the look"),
        pytest.param(["--at", "20:00"], "2026-06-18T04:20", id="before it was emptied"),
    ],
)
def test_another_reading_counts_as_always(site: Path, words: list[str], now: str) -> None:
    told = record(site, "0.1 in", *words, now=now)
    assert since(site) != [GIVEN_AT]
    assert "to be emptied" not in told


def test_after_a_reading_the_next_counts_from_that_one(site: Path) -> None:
    record(site, "0.1 in", "--at", "23:00", now="2026-06-17T23:01")
    record(site, "0.2 in", now="2026-06-18T04:15")
    assert since(site) == [GIVEN_AT, None]
