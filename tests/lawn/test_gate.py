"""What the gate refuses, what it asks, and what it lets pass, on this lawn and beside other records."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1]))

from made import EVENING, made_site, made_zone

from advisor.lawn.bounds import stock_below_zero
from advisor.lawn.gate import Gate, outside_of
from advisor.lawn.outside import Outside, OutsideWhy, Weight
from advisor.lawn.products import Product
from advisor.lawn.record_fields import gathered
from advisor.lawn.records import (
    Application,
    Audit,
    GaugeReading,
    ProbeReading,
    Record,
    Records,
    Run,
    StockChange,
)
from advisor.lawn.site_values import Site
from advisor.lawn.tables import kind_table
from advisor.lawn.understood import declared_figures

POTASH = Product("Potash", kind_table()["soil-liquid"], rate=1.0, stock=2000.0)
GRANULES = Product("Granules", kind_table()["granular-slow"], rate=20.0)
SITE: Site = made_site(made_zone(), products={"Potash": POTASH, "Granules": GRANULES})
HELD = declared_figures(SITE.zones[0]).taw_mm
MIN = timedelta(minutes=1)
CANNOT, ASKED = Weight.CANNOT_BE, Weight.UNLIKELY
Why = OutsideWhy


def ago(**back: float) -> datetime:
    return EVENING - timedelta(**back)


BEFORE = GaugeReading(ago(days=4), 1.0, id=1)
RUN = Run("Front", ago(hours=15), ago(hours=15) + 20 * MIN, 20.0)
THERE = replace(RUN, id=7)
PUT = Application("Potash", ("Front",), ago(hours=4), ago(hours=4))
BOUGHT = StockChange("Potash", ago(hours=2), 500.0)


def outside(record: Record, *there: Record, batch: Iterable[Record] | None = None) -> tuple[Outside, ...]:
    return Gate(SITE, gathered(there), EVENING, batch=batch).outside(record)


@pytest.mark.parametrize(
    ("record", "why", "weight", "words"),
    [
        pytest.param(
            GaugeReading(EVENING, 251.0),
            Why.TOO_MUCH,
            ASKED,
            "allowed: up to 250.0 mm for a day",
            id="rain of a day",
        ),
        pytest.param(
            GaugeReading(EVENING, 260.0, ago(hours=2)),
            Why.TOO_MUCH,
            ASKED,
            "found 260.0 mm",
            id="a short span counts as a day",
        ),
        pytest.param(
            GaugeReading(EVENING, 13_970.0),
            Why.MAKES_NO_SENSE,
            CANNOT,
            "found 13,970.0 mm; allowed: 0.0 mm to 2,000.0 mm",
            id="rain that no gauge holds",
        ),
        pytest.param(GaugeReading(EVENING, 5.0, ago(days=100)), Why.LENGTH, ASKED, "for so long", id="since"),
        pytest.param(
            ProbeReading("Front", EVENING, HELD + 0.1),
            Why.TOO_MUCH,
            CANNOT,
            "root zone of Front holds",
            id="probe below empty",
        ),
        pytest.param(
            replace(PUT, rate=30.0),
            Why.TOO_MUCH,
            ASKED,
            "the rate is 30 times that of Potash in the site file; found 30.00 mL/m2; allowed: up to 3 times 1.00 mL/m2",
            id="thirty times the rate",
        ),
        pytest.param(
            replace(PUT, rate=0.01), Why.TOO_MUCH, ASKED, "0.01 times", id="a hundredth of the rate"
        ),
        pytest.param(
            replace(PUT, dilution=1e30),
            Why.MAKES_NO_SENSE,
            CANNOT,
            "0.5 to 10,000",
            id="dilution beyond sense",
        ),
        pytest.param(
            replace(PUT, method="spreader"), Why.WRONG_METHOD, CANNOT, "is a liquid", id="liquid by spreader"
        ),
        pytest.param(
            replace(PUT, product="Granules", method="backpack"),
            Why.WRONG_METHOD,
            CANNOT,
            "allowed: spreader, by hand",
            id="granules by sprayer",
        ),
        pytest.param(
            replace(PUT, product="Granules", method="spreader", dilution=16.0),
            Why.WRONG_METHOD,
            CANNOT,
            "nothing is diluted",
            id="granules diluted",
        ),
        pytest.param(
            replace(PUT, started_at=ago(days=3)), Why.LENGTH, ASKED, "more than a day", id="put down for days"
        ),
        pytest.param(
            replace(PUT, zones=("Frnt",)), Why.NAME_UNKNOWN, ASKED, "did you mean 'Front'", id="zone"
        ),
        pytest.param(replace(PUT, product="Kale"), Why.NAME_UNKNOWN, ASKED, "found 'Kale'", id="product"),
        pytest.param(
            replace(PUT, ended_at=EVENING + MIN), Why.FUTURE, CANNOT, "what has happened", id="not done yet"
        ),
        pytest.param(
            replace(PUT, started_at=ago(days=2500), ended_at=ago(days=2500)),
            Why.LONG_AGO,
            ASKED,
            "dated 7 years back",
            id="years back",
        ),
        pytest.param(
            replace(RUN, started_at=ago(days=3), minutes=1441.0),
            Why.MAKES_NO_SENSE,
            CANNOT,
            "0 to 1,440",
            id="minutes of more than a day",
        ),
        pytest.param(
            replace(RUN, started_at=ago(days=2)),
            Why.LENGTH,
            CANNOT,
            "for more than a day",
            id="run over a day",
        ),
        pytest.param(
            replace(RUN, ended_at=RUN.started_at + 661 * MIN),
            Why.LENGTH,
            ASKED,
            "up to 660 min",
            id="longer than the night",
        ),
        pytest.param(
            replace(RUN, minutes=30.0), Why.LENGTH, CANNOT, "up to 20 min", id="longer than it lasts"
        ),
        pytest.param(
            replace(RUN, started_at=EVENING + MIN, ended_at=EVENING + 21 * MIN),
            Why.FUTURE,
            CANNOT,
            "what has happened",
            id="not begun yet",
        ),
        pytest.param(
            replace(RUN, depth_mm=90.0), Why.TOO_MUCH, CANNOT, "no lawn sprinkler", id="90 mm in 20 min"
        ),
        pytest.param(
            replace(RUN, depth_mm=20.0), Why.TOO_MUCH, ASKED, "up to 16.0 mm", id="five times its rate"
        ),
        pytest.param(
            replace(RUN, minutes=0.0, depth_mm=2.0), Why.TOO_MUCH, CANNOT, "gave no water", id="skipped"
        ),
        pytest.param(
            Audit("Front", ago(days=9), 12.0, 0.7, cans=1, method="single can"),
            Why.CANNOT_TELL,
            CANNOT,
            "several cans",
            id="evenness of one can",
        ),
        pytest.param(
            Audit("Front", ago(days=9), 12.0, cans=8, method="flow meter"),
            Why.CANNOT_TELL,
            CANNOT,
            "found 8; allowed: 0",
            id="cans of a meter",
        ),
        pytest.param(
            replace(BOUGHT, amount=0.0), Why.TOO_MUCH, CANNOT, "nothing was bought", id="nothing bought"
        ),
        pytest.param(
            replace(BOUGHT, amount=2e6), Why.TOO_MUCH, ASKED, "slip of the unit", id="two cubic metres"
        ),
    ],
)
def test_a_slip_is_found_with_what_was_found_and_what_is_allowed(
    record: Record, why: OutsideWhy, weight: Weight, words: str
) -> None:
    (found,) = outside(record)
    assert (found.why, found.weight) == (why, weight)
    assert words in str(found)


@pytest.mark.parametrize(
    "record",
    [
        pytest.param(GaugeReading(EVENING, 250.0), id="as much as may fall in a day"),
        pytest.param(GaugeReading(EVENING, 900.0), id="over the four days since the last reading"),
        pytest.param(ProbeReading("Front", EVENING, HELD), id="nothing left"),
        pytest.param(replace(PUT, rate=3.0), id="three times"),
        pytest.param(PUT, id="no rate"),
        pytest.param(replace(PUT, product="Granules", method="by hand"), id="granules by hand"),
        pytest.param(replace(PUT, method="by hand", dilution=10.0), id="a liquid from a can"),
        pytest.param(Run("Front", ago(hours=11), EVENING, 660.0), id="the whole night"),
        pytest.param(replace(RUN, started_at=EVENING, ended_at=EVENING + 20 * MIN), id="a run that goes on"),
        pytest.param(Audit("Front", ago(days=800), 12.0, 0.7, cans=24), id="an audit"),
    ],
)
def test_what_may_be_is_let_pass(record: Record) -> None:
    batch = None if not isinstance(record, Audit) else (record,)
    assert outside(record, BEFORE, batch=batch) == ()


@pytest.mark.parametrize(
    ("record", "there", "why", "weight"),
    [
        pytest.param(RUN, [THERE], Why.RECORDED_ALREADY, CANNOT, id="the same run"),
        pytest.param(replace(RUN, note="again"), [THERE], Why.COUNTED_TWICE, ASKED, id="but for its note"),
        pytest.param(
            replace(RUN, started_at=RUN.started_at - 10 * MIN),
            [THERE],
            Why.COUNTED_TWICE,
            ASKED,
            id="overlap",
        ),
        pytest.param(
            replace(PUT, note="again"), [replace(PUT, id=1)], Why.RECORDED_ALREADY, CANNOT, id="application"
        ),
        pytest.param(
            replace(PUT, ended_at=EVENING),
            [replace(PUT, id=1)],
            Why.PERHAPS_TWICE,
            ASKED,
            id="put down again",
        ),
        pytest.param(GaugeReading(BEFORE.read_at, 2.0), [BEFORE], Why.COUNTED_TWICE, CANNOT, id="read twice"),
        pytest.param(
            GaugeReading(ago(days=3), 2.0, ago(days=5)),
            [BEFORE],
            Why.COUNTED_TWICE,
            ASKED,
            id="read in between",
        ),
        pytest.param(
            GaugeReading(ago(days=4, hours=2), 2.0),
            [replace(BEFORE, since=ago(days=5))],
            Why.COUNTED_TWICE,
            ASKED,
            id="within another",
        ),
        pytest.param(
            GaugeReading(BEFORE.read_at + 5 * MIN, 1.0), [BEFORE], Why.PERHAPS_TWICE, ASKED, id="typed again"
        ),
        pytest.param(
            ProbeReading("Front", EVENING, 5.0),
            [ProbeReading("Front", EVENING, 9.0, id=2)],
            Why.PERHAPS_TWICE,
            ASKED,
            id="two depths at once",
        ),
        pytest.param(
            replace(BOUGHT, changed_at=EVENING), [replace(BOUGHT, id=1)], Why.PERHAPS_TWICE, ASKED, id="stock"
        ),
    ],
)
def test_what_does_not_go_with_another_record_is_found(
    record: Record, there: list[Record], why: OutsideWhy, weight: Weight
) -> None:
    (found,) = outside(record, *there)
    assert (found.why, found.weight) == (why, weight)


@pytest.mark.parametrize(
    ("record", "there"),
    [
        pytest.param(
            replace(RUN, started_at=RUN.ended_at, ended_at=RUN.ended_at + 20 * MIN),
            [THERE],
            id="one after another",
        ),
        pytest.param(replace(RUN, minutes=0.0), [THERE], id="a skipped run"),
        pytest.param(THERE, [THERE], id="a run is not held against itself"),
        pytest.param(GaugeReading(ago(days=3), 2.0, BEFORE.read_at), [BEFORE], id="gauge in a row"),
        pytest.param(
            GaugeReading(BEFORE.read_at + 5 * MIN, 0.0), [replace(BEFORE, depth_mm=0.0)], id="dry twice"
        ),
        pytest.param(
            StockChange("Potash", PUT.ended_at, -9.0),
            [StockChange("Potash", PUT.ended_at, -9.0, id=1), PUT],
            id="what two applications took",
        ),
        pytest.param(replace(BOUGHT, amount=400.0), [replace(BOUGHT, id=1)], id="another amount"),
    ],
)
def test_what_goes_with_the_others_is_let_pass(record: Record, there: list[Record]) -> None:
    assert outside(record, *there) == ()


def test_a_reading_is_not_its_own_beginning() -> None:
    moved = GaugeReading(EVENING, 900.0, id=2)
    assert outside(moved, BEFORE, GaugeReading(ago(hours=1), 900.0, id=2)) == ()


def test_an_old_day_among_others_of_its_year_is_no_slip_where_records_come_together() -> None:
    old = [replace(RUN, started_at=at, ended_at=at + 20 * MIN) for at in (ago(days=900), ago(days=890))]
    assert outside(old[0], batch=old) == ()
    assert [each.why for each in outside(old[0], batch=old[:1])] == [Why.LONG_AGO]
    assert [each.why for each in outside(old[0])] == [Why.LONG_AGO]


def test_records_that_stand_are_held_against_those_before_them() -> None:
    later = replace(RUN, id=8, note="again")
    found = list(outside_of(SITE, gathered([THERE, later]), EVENING))
    assert [(record.id, each.why) for record, each in found] == [(8, Why.COUNTED_TWICE)]
    assert list(outside_of(SITE, Records(), EVENING)) == []


def test_a_stock_below_zero_is_told_and_one_that_is_not_tracked_is_not() -> None:
    used = StockChange("Potash", EVENING, -3600.0)
    told = list(stock_below_zero([used], SITE, ["Potash", "Potash", "Gone"]))
    assert len(told) == 1
    assert told[0].startswith("the stock of Potash is 1.6 L below zero")
    assert list(stock_below_zero([StockChange("Potash", EVENING, -2000.0)], SITE, ["Potash"])) == []
    untracked = made_site(products={"Potash": Product("Potash", kind_table()["soil-liquid"])})
    assert list(stock_below_zero([used], untracked, ["Potash"])) == []
