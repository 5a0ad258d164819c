"""Slips in records: what is refused on this lawn and what is let pass."""

from __future__ import annotations

import sys
from datetime import datetime, timedelta
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1]))

from made import EVENING, made_site, made_zone

from advisor.lawn.bounds import beyond, out_of_bounds, stock_below_zero
from advisor.lawn.products import Product
from advisor.lawn.records import Application, GaugeReading, ProbeReading, Record, Records, Run, StockChange
from advisor.lawn.site_values import Site
from advisor.lawn.tables import kind_table
from advisor.lawn.understood import declared_figures

POTASH = Product("Potash", kind_table()["soil-liquid"], rate=1.0, stock=2000.0)
SITE: Site = made_site(made_zone(), products={"Potash": POTASH})
HELD = declared_figures(SITE.zones[0]).taw_mm


def ago(**back: float) -> datetime:
    return EVENING - timedelta(**back)


BEFORE = (GaugeReading(ago(days=4), 1.0, id=1),)


@pytest.mark.parametrize(
    ("record", "words"),
    [
        pytest.param(GaugeReading(EVENING, 251.0), "allowed: up to 250.0 mm for a day", id="rain of a day"),
        pytest.param(
            GaugeReading(EVENING, 260.0, ago(hours=2)), "found 260.0 mm", id="a short span counts as a day"
        ),
        pytest.param(
            ProbeReading("Front", EVENING, HELD + 0.1), "root zone of Front holds", id="probe below empty"
        ),
        pytest.param(
            Application("Potash", ("Front",), EVENING, EVENING, rate=30.0),
            "the rate is 30 times that of Potash in the site file; found 30.00 mL/m2; allowed: up to 3 times 1.00 mL/m2",
            id="thirty times the rate",
        ),
        pytest.param(Run("Front", ago(days=2), EVENING, 1441.0), "for more than a day", id="run over a day"),
    ],
)
def test_a_slip_is_found_with_what_was_found_and_what_is_allowed(record: Record, words: str) -> None:
    found = beyond(record, SITE)
    assert found is not None
    assert words in str(found)
    assert [each for each, _ in out_of_bounds(_records(record), SITE)] == [record]


@pytest.mark.parametrize(
    "record",
    [
        pytest.param(GaugeReading(EVENING, 250.0), id="as much as may fall in a day"),
        pytest.param(GaugeReading(EVENING, 900.0), id="over the four days since the last reading"),
        pytest.param(ProbeReading("Front", EVENING, HELD), id="nothing left"),
        pytest.param(ProbeReading("Gone", EVENING, 999.0), id="a zone no longer there"),
        pytest.param(Application("Potash", ("Front",), EVENING, EVENING, rate=3.0), id="three times"),
        pytest.param(Application("Potash", ("Front",), EVENING, EVENING), id="no rate"),
        pytest.param(Run("Front", ago(days=1), EVENING, 1440.0), id="a whole day"),
    ],
)
def test_what_may_be_is_let_pass(record: Record) -> None:
    assert beyond(record, SITE, BEFORE) is None


def test_a_reading_is_not_its_own_beginning() -> None:
    moved = GaugeReading(EVENING, 900.0, id=2)
    assert beyond(moved, SITE, (*BEFORE, GaugeReading(ago(hours=1), 900.0, id=2))) is None


def test_a_stock_below_zero_is_told_and_one_that_is_not_tracked_is_not() -> None:
    used = StockChange("Potash", EVENING, -3600.0)
    told = list(stock_below_zero([used], SITE, ["Potash", "Potash", "Gone"]))
    assert len(told) == 1
    assert told[0].startswith("the stock of Potash is 1.6 L below zero")
    assert list(stock_below_zero([StockChange("Potash", EVENING, -2000.0)], SITE, ["Potash"])) == []
    untracked = made_site(products={"Potash": Product("Potash", kind_table()["soil-liquid"])})
    assert list(stock_below_zero([used], untracked, ["Potash"])) == []


def _records(record: Record) -> Records:
    from advisor.lawn.record_fields import gathered

    return gathered([record])
