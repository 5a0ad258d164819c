"""Runs that an earlier advice set going are not forgotten, and not counted twice."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from made import EVENING, made_site, made_weather, made_zone

from advisor.advice.advice import Advice
from advisor.lawn.records import ProbeReading, Records, Run
from advisor.tonight.advise import advise

SITE = made_site(made_zone("Front"), made_zone("Back"))
DRY = Records(
    probes=(
        ProbeReading("Front", EVENING - timedelta(hours=2), 22.0),
        ProbeReading("Back", EVENING - timedelta(hours=2), 3.0),
    )
)


def evening() -> Advice:
    return advise(site=SITE, records=DRY, weather=made_weather(), now=EVENING)


def later(records: Records, minutes_in: float) -> Advice:
    first = evening()
    now = first.runs[0].cycles[0].starts_at + timedelta(minutes=minutes_in)
    return advise(site=SITE, records=records, weather=made_weather(), now=now, previous=first)


def test_a_run_in_progress_is_taken_as_made_and_told() -> None:
    advice = later(DRY, 10)
    assert [run.zone for run in advice.under_way] == ["Front"]
    assert advice.runs == ()
    front = advice.zones[0]
    assert front.depletion_mm < evening().zones[0].depletion_mm - 10.0 or front.verdict == "not needed"
    assert "is under way, as advised" in front.reason
    assert any("taken as made" in text for text in advice.unknowns)
    assert not any("Front" in text for text in advice.changes)


def test_a_third_advice_still_knows_of_it() -> None:
    second = later(DRY, 10)
    third = advise(
        site=SITE,
        records=DRY,
        weather=made_weather(),
        now=second.now + timedelta(minutes=20),
        previous=second,
    )
    assert [run.zone for run in third.under_way] == ["Front"]
    assert third.runs == ()


def test_what_the_records_say_goes_before_what_was_advised() -> None:
    run = evening().runs[0]
    start = run.cycles[0].starts_at
    skipped = Run("Front", start, start, 0.0, source="as advised", note="skipped")
    advice = later(replace(DRY, runs=(skipped,)), 10)
    assert advice.under_way == ()
    assert advice.zones[0].verdict == "run"


@pytest.mark.parametrize("recorded", [True, False], ids=["recorded", "not recorded"])
def test_the_next_evening_asks_after_runs_that_are_not_recorded(recorded: bool) -> None:
    first = evening()
    run = first.runs[0]
    made = Run("Front", run.cycles[0].starts_at, run.cycles[-1].ends_at, run.minutes, source="as advised")
    records = replace(DRY, runs=(made,)) if recorded else DRY
    advice = advise(
        site=SITE,
        records=records,
        weather=made_weather(),
        now=EVENING + timedelta(days=1),
        previous=first,
    )
    assert any("the night before is not recorded" in text for text in advice.unknowns) is not recorded
