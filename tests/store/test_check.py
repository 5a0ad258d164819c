"""What is doubtful in the records is found and named; sound records are let pass."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from advisor.lawn.load import load_site
from advisor.lawn.records import Application, GaugeReading, ProbeReading, Record, Run, StockChange
from advisor.lawn.records_file import read_rows
from advisor.shipped import shipped
from advisor.store import open_store

T = datetime(2026, 6, 17, 9, 30, tzinfo=UTC)
MIN = timedelta(minutes=1)
RUN = Run("Front", T, T + 20 * MIN, 20.0)
SITE = replace(load_site(shipped("config", "demo.yaml")), path=Path("lane.yaml"))


@pytest.mark.parametrize(
    ("records", "words"),
    [
        pytest.param(
            [RUN, replace(RUN, started_at=T + 10 * MIN, ended_at=T + 30 * MIN)], "counted twice", id="overlap"
        ),
        pytest.param(
            [replace(RUN, ended_at=T + 5 * MIN)], "found 20 min; allowed: up to 5 min", id="too short"
        ),
        pytest.param([GaugeReading(T, 5.0), GaugeReading(T, 6.0)], "at the same time", id="gauge twice"),
        pytest.param(
            [GaugeReading(T, 5.0), GaugeReading(T + 60 * MIN, 5.0, since=T - MIN)],
            "same rain",
            id="gauge overlap",
        ),
        pytest.param(
            [replace(RUN, zone="Frnt")],
            "no such zone in lane.yaml; found 'Frnt'; allowed: did you mean 'Front'",
            id="zone",
        ),
        pytest.param(
            [Application("Calcium solution", ("Lawn",), T, T)],
            "no such zone in lane.yaml; found 'Lawn'",
            id="zones",
        ),
        pytest.param(
            [Application("Kale", ("Front",), T, T)],
            "no such product in lane.yaml; found 'Kale'",
            id="product",
        ),
        pytest.param(
            [GaugeReading(T + timedelta(days=9), 5.0)],
            "gauge reading 1: only what has happened is recorded; found 2026-06-26",
            id="future",
        ),
        pytest.param(
            [RUN, replace(RUN, started_at=T + 10 * MIN, ended_at=T + 30 * MIN)],
            "run 2: run 1 on Front lasts from 2026-06-17 04:30 to 2026-06-17 04:50, so",
            id="local times",
        ),
        pytest.param([GaugeReading(T, 600.0)], "gauge reading 1: so much rain is likely", id="too much rain"),
        pytest.param([ProbeReading("Front", T, 200.0)], "probe reading 1: more water cannot be", id="probe"),
        pytest.param(
            [Application("Calcium solution", ("Front",), T, T, rate=30.0)],
            "application 1: the rate is",
            id="rate",
        ),
        pytest.param(
            [StockChange("Calcium solution", T, -1e5)],
            "the stock of Calcium solution is 3,285.4 fl oz below zero",
            id="stock",
        ),
    ],
)
def test_each_doubt_is_told_in_a_sentence(records: list[Record], words: str) -> None:
    with open_store(None) as store:
        store.add(records)
        (found,) = store.check(site=SITE, now=T + timedelta(days=1))
        assert words in found.text


@pytest.mark.parametrize(
    "records",
    [
        pytest.param(
            [RUN, replace(RUN, started_at=T + 20 * MIN, ended_at=T + 40 * MIN)], id="one after another"
        ),
        pytest.param([RUN, replace(RUN, zone="Back")], id="two zones at once"),
        pytest.param([RUN, replace(RUN, minutes=0.0)], id="a skipped run"),
        pytest.param([GaugeReading(T, 5.0), GaugeReading(T + 60 * MIN, 5.0, since=T)], id="gauge in a row"),
        pytest.param([GaugeReading(T + 60 * MIN, 5.0), GaugeReading(T, 2.0)], id="a reading entered late"),
    ],
)
def test_sound_records_are_let_pass(records: list[Record]) -> None:
    with open_store(None) as store:
        store.add(records)
        assert store.check(site=SITE, now=T + timedelta(days=1)) == []


def test_the_demo_records_are_sound() -> None:
    with open_store(None, seed=read_rows(shipped("data", "demo_records.json")).records) as store:
        assert store.check(site=SITE, now=datetime(2026, 6, 18, 1, 15, tzinfo=UTC)) == []


def test_a_zone_without_its_application_is_found(tmp_path: Path) -> None:
    path = tmp_path / "lawn.db"
    open_store(path).close()
    with closing(sqlite3.connect(path)) as other, other:
        other.execute("INSERT INTO application_zones VALUES (9, 0, 'Front')")
    with open_store(path) as store:
        (found,) = store.check()
        assert "application_zones 1 refers to a record of applications that is not there" in found.text


def test_a_damaged_index_is_found(tmp_path: Path) -> None:
    path = tmp_path / "lawn.db"
    with open_store(path) as store:
        store.add_run(RUN)
    with closing(sqlite3.connect(path)) as other, other:
        other.execute("PRAGMA writable_schema = ON")
        other.execute(
            "UPDATE sqlite_master SET sql = 'CREATE INDEX ix_runs_ended_at ON runs (started_at)'"
            " WHERE name = 'ix_runs_ended_at'"
        )
    with open_store(path) as store:
        assert any("is damaged" in found.text and "backup" in found.text for found in store.check())
