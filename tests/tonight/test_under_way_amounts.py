"""What a run that goes on brings, where its record says another length than the advice."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from made import EVENING, made_site, made_weather, made_zone

from advisor.advice import Advice, PlannedRun
from advisor.lawn import ProbeReading, Records, Run
from advisor.tonight import advise

DRY = Records(probes=(ProbeReading("Front", EVENING - timedelta(hours=2), 22.0),))
SITE = made_site(made_zone())


def recorded(share: float) -> tuple[PlannedRun, Advice]:
    """The run as advised, and the advice while it goes on as recorded with so much of its minutes."""
    first = advise(site=SITE, records=DRY, weather=made_weather(), now=EVENING)
    (run,) = first.runs
    begins = run.cycles[0].starts_at
    going = Run("Front", begins, begins + timedelta(minutes=share * run.minutes), share * run.minutes)
    now = begins + timedelta(minutes=5)
    records = replace(DRY, runs=(going,))
    return run, advise(site=SITE, records=records, weather=made_weather(), now=now, previous=first)


@pytest.mark.parametrize("share", [0.5, 0.75, 2.0])
def test_a_run_that_goes_on_brings_what_its_recorded_minutes_bring(share: float) -> None:
    run, advice = recorded(share)
    (going,) = advice.under_way
    assert going.minutes == pytest.approx(share * run.minutes)
    assert going.depth_mm == pytest.approx(share * run.depth_mm)
    assert going.effective_mm == pytest.approx(share * run.effective_mm)
    assert going.litres == pytest.approx(share * run.litres)
    assert len(going.cycles) == 1
