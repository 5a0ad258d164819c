"""A probe read in the hour that is running is the state of now."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from made import EVENING, made_site, made_weather

from advisor.advice.advice import Advice
from advisor.lawn.records import ProbeReading, Records, Run
from advisor.tonight import advise

DRY_WEEKS = replace(made_weather(np.zeros((3, 240))), members_mm=made_weather(np.zeros((3, 240))).members_mm)


def advised(*probes: ProbeReading, runs: tuple[Run, ...] = ()) -> Advice:
    return advise(site=made_site(), records=Records(probes=probes, runs=runs), weather=DRY_WEEKS, now=EVENING)


@pytest.mark.parametrize("minutes_ago", [0, 5, 14, 16, 40])
def test_a_probe_counts_from_the_minute_it_is_read(minutes_ago: int) -> None:
    """20:15 is asked: 14 minutes ago is in the same hour, 16 in the one before, and they differ by that hour's use."""
    read = EVENING - timedelta(minutes=minutes_ago)
    (zone,) = advised(ProbeReading("Front", read, 2.0)).zones
    assert 2.0 <= zone.depletion_mm <= (2.0 if minutes_ago < 15 else 2.6)
    assert zone.depletion_low_mm == zone.depletion_high_mm == zone.depletion_mm
    assert zone.minutes_firm == 0


def test_the_last_of_two_probes_of_the_hour_counts() -> None:
    early, late = (
        ProbeReading("Front", EVENING - timedelta(minutes=m), mm) for m, mm in ((12, 9.0), (3, 1.0))
    )
    assert advised(early, late).zones[0].depletion_mm == pytest.approx(1.0)


def test_water_after_the_probe_in_the_same_hour_counts_and_water_before_it_does_not_twice() -> None:
    probe = ProbeReading("Front", EVENING - timedelta(minutes=10), 9.0)
    before = Run("Front", EVENING - timedelta(minutes=14), EVENING - timedelta(minutes=11), 3.0, 4.88)
    after = Run("Front", EVENING - timedelta(minutes=8), EVENING - timedelta(minutes=2), 6.0, 4.88)
    assert advised(probe, runs=(before,)).zones[0].depletion_mm == pytest.approx(9.0)
    assert advised(probe, runs=(after,)).zones[0].depletion_mm == pytest.approx(9.0 - 4.88 * 0.82, abs=0.01)
