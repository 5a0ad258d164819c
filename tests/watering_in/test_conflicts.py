"""Several products on one zone: what one run does for all, which wins where it cannot, and why."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np
import pytest
from made import CHICAGO, EVENING, made_site, made_weather, made_zone

from advisor.advice.advice import Advice, ApplicationAdvice
from advisor.lawn.products import Product
from advisor.lawn.records import Application, ProbeReading, Records
from advisor.lawn.tables import kind_table
from advisor.tonight.advise import advise


def clock(hour: int, minute: int = 0, day: int = 17) -> datetime:
    return datetime(2026, 6, day, hour, minute, tzinfo=CHICAGO)


def advice(*put_down: tuple[str, str, datetime], by_hand: bool = False) -> Advice:
    """Products (name, kind, end of application) on one even, moist zone; no rain in any member."""
    products = {name: Product(name, kind_table()[kind]) for name, kind, _ in put_down}
    applications = tuple(
        Application(name, ("Front",), ended - timedelta(minutes=10), ended, "spreader", id=number)
        for number, (name, _, ended) in enumerate(put_down, 1)
    )
    site = made_site(made_zone(uniformity=1.0, by_hand=by_hand), products=products)
    records = Records(
        applications=applications, probes=(ProbeReading("Front", EVENING - timedelta(hours=1), 0.0),)
    )
    return advise(site=site, records=records, weather=made_weather(np.zeros((31, 240))), now=EVENING)


def of(given: Advice, product: str) -> ApplicationAdvice:
    return next(o for o in given.obligations if o.product == product)


def test_one_run_meets_all_that_it_can() -> None:
    given = advice(("Potash", "soil-liquid", clock(16)), ("Feed", "granular-slow", clock(16)))
    (run,) = given.runs
    assert run.effective_mm == pytest.approx(6.0)
    assert all(o.action == "run" for o in given.obligations)
    assert all("wins" not in note for o in given.obligations for note in o.notes)


def test_a_dry_period_wins_over_water_and_both_are_told_why() -> None:
    given = advice(("Spray", "post-emergent-liquid", clock(9)), ("Feed", "granular-slow", clock(16)))
    assert given.runs == ()
    wet = of(given, "Feed")
    assert (
        "Spray must stay dry on Front until Thu 09:00, and that wins: it would be washed off" in wet.notes[0]
    )
    assert "No allowed hour is left to run it before it is due at Thu 16:00" in wet.notes[1]
    assert "the first chance to run is Thu 21:00" in wet.notes[1]
    assert "Feed on Front waits for water until then: staying dry wins." in of(given, "Spray").notes


def test_after_the_dry_period_there_may_be_time_the_same_night() -> None:
    given = advice(("Spray", "foliar-fungicide", clock(22, day=16)), ("Feed", "granular-slow", clock(16)))
    (run,) = given.runs
    assert run.cycles[0].starts_at >= clock(22)
    assert of(given, "Feed").action == "run"
    assert any("that wins" in note for note in of(given, "Feed").notes)
    assert not any("No allowed hour" in note for note in of(given, "Feed").notes)


def test_what_needs_more_than_another_bears_wins_where_it_is_worth_more() -> None:
    """Grubs need 13 mm, the potash bears 12: 1 mm too much costs little, 1 mm too little a failed treatment."""
    given = advice(("Grubs", "soil-insecticide", clock(16)), ("Potash", "soil-liquid", clock(16)))
    (run,) = given.runs
    assert run.effective_mm >= 13.0
    told = "Grubs still needs 13.0 mm, more than the 12.0 mm that Potash bears: Grubs wins"
    assert any(told in note for note in of(given, "Potash").notes)
    assert any(told in note for note in of(given, "Grubs").notes)


def test_a_zone_moved_by_hand_is_looked_at_and_run_in_waking_hours_only() -> None:
    given = advice(("Feed", "granular-slow", clock(16)), by_hand=True)
    for run in given.runs:
        assert all(21 <= c.starts_at.astimezone(CHICAGO).hour <= 22 for c in run.cycles)
    way = {o.action: o for o in of(given, "Feed").options}
    if "wait" in way:
        assert way["wait"].look_at is not None
        assert clock(21) <= way["wait"].look_at <= clock(22, 30)
    assert of(given, "Feed").action == "run"
