"""When the turf is run for its own sake, and how deep."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made import EVENING, JUDGED, made_site, made_weather, made_zone

from advisor.lawn.records import ProbeReading, Records, Run
from advisor.lawn.site_values import Decision
from advisor.soil_water.requirement import Requirement, turf_requirement
from advisor.soil_water.root_zone import survey

RUN_AT = EVENING + timedelta(hours=9)
NEXT_AT = RUN_AT + timedelta(days=1)


def need_of(depletion_mm: float, members: np.ndarray, dial: str = "balanced") -> Requirement:
    probe = ProbeReading("Front", EVENING - timedelta(hours=2), depletion_mm)
    site = made_site(made_zone(), decision=Decision(dial=dial))
    root_zone = survey(
        site=site, records=Records(probes=(probe,)), weather=made_weather(members), now=EVENING
    )
    return turf_requirement(
        root_zone=root_zone, zone=0, run_at=RUN_AT, next_at=NEXT_AT, decision=site.decision, judgement=JUDGED
    )


DRY = np.zeros((11, 240))


def test_moist_soil_asks_for_nothing() -> None:
    assert need_of(3.0, DRY).wanted_mm == 0.0


def test_soil_past_its_allowance_is_refilled_where_no_rain_comes() -> None:
    need = need_of(20.0, DRY)
    assert need.wanted_mm == pytest.approx(need.at_run_mm, abs=0.5)
    assert need.chance_past == 1.0


def test_sure_rain_leaves_no_room_for_a_run() -> None:
    wet = DRY.copy()
    wet[:, 14:20] = 8.0
    need = need_of(20.0, wet)
    assert need.wanted_mm == 0.0


def test_a_cautious_owner_runs_where_a_thrifty_one_waits() -> None:
    between = [d for d in np.arange(8.0, 24.0, 0.5) if need_of(float(d), DRY, "cautious").wanted_mm > 0]
    thrifty = [d for d in np.arange(8.0, 24.0, 0.5) if need_of(float(d), DRY, "thrifty").wanted_mm > 0]
    assert len(between) > len(thrifty) > 0


amounts = st.lists(st.floats(0.0, 12.0), min_size=6, max_size=6)


@settings(max_examples=25, deadline=None)
@given(amounts, amounts, st.floats(5.0, 28.0))
def test_more_rain_in_every_member_never_deepens_a_run(
    first: list[float], more: list[float], start: float
) -> None:
    rain = np.zeros((6, 240))
    rain[:, 5] = first
    wetter = rain.copy()
    wetter[:, 30] = more
    a, b = need_of(start, rain), need_of(start, wetter)
    assert b.wanted_mm <= a.wanted_mm + 1e-9 or (a.wanted_mm == 0.0 and b.wanted_mm == 0.0)


@settings(max_examples=25, deadline=None)
@given(amounts, st.floats(0.0, 25.0), st.floats(0.0, 10.0))
def test_wetter_soil_never_deepens_a_run(rain_mm: list[float], start: float, wetter: float) -> None:
    rain = np.zeros((6, 240))
    rain[:, 20] = rain_mm
    assert need_of(max(0.0, start - wetter), rain).wanted_mm <= need_of(start, rain).wanted_mm + 1e-9


def test_no_turf_run_is_shallower_than_one_that_reaches_roots() -> None:
    for start in np.arange(0.0, 30.0, 1.0):
        wanted = need_of(float(start), DRY).wanted_mm
        assert wanted == 0.0 or wanted >= JUDGED.turf.least_run_mm


def test_the_doubt_of_an_unmeasured_rate_is_carried() -> None:
    from datetime import datetime

    from advisor.lawn.site_values import Rate

    at: datetime = EVENING - timedelta(days=2)
    runs = (Run("Front", at, at + timedelta(minutes=40), 40.0),)
    guess = made_zone(rate=Rate(12.0, "guess", 8.0, 18.0))
    probe = ProbeReading("Front", at - timedelta(hours=5), 12.0)
    for zone, doubtful in ((guess, True), (made_zone(), False)):
        site = made_site(zone)
        root_zone = survey(
            site=site, records=Records(runs=runs, probes=(probe,)), weather=made_weather(), now=EVENING
        )
        need = turf_requirement(
            root_zone=root_zone,
            zone=0,
            run_at=RUN_AT,
            next_at=NEXT_AT,
            decision=site.decision,
            judgement=JUDGED,
        )
        assert (need.high_mm - need.low_mm > 1.0) is doubtful


def test_the_unknown_start_is_forgotten_after_a_soaking_rain() -> None:
    weather = made_weather()
    rain = weather.rain_mm.copy()
    rain[24 * 20 : 24 * 20 + 12] = 6.0
    site = made_site()
    ran = Run("Front", EVENING - timedelta(days=2), EVENING - timedelta(days=2, minutes=-1), 1.0)
    records = Records(runs=(ran,))
    dry = survey(site=site, records=records, weather=made_weather(past_days=3), now=EVENING)
    soaked = survey(site=site, records=records, weather=replace(weather, rain_mm=rain), now=EVENING)
    width = [float(np.ptp(g.depletion_mm[0, :, -1])) for g in (dry, soaked)]
    assert width[0] > 1.0
    assert width[1] < 1e-6


def test_a_first_evening_without_records_is_a_guess_held_at_the_allowance() -> None:
    site = made_site()
    weather = made_weather()
    root_zone = survey(site=site, records=Records(), weather=weather, now=EVENING)
    need = turf_requirement(
        root_zone=root_zone, zone=0, run_at=RUN_AT, next_at=NEXT_AT, decision=site.decision, judgement=JUDGED
    )
    assert root_zone.unwatered == (0,)
    assert need.depletion_mm <= need.allowed_mm + 1.0
    assert need.high_mm > need.allowed_mm > need.low_mm
    ran = Run("Elsewhere", EVENING - timedelta(days=2), EVENING - timedelta(days=2, minutes=-1), 1.0)
    told = survey(site=site, records=Records(runs=(ran,)), weather=weather, now=EVENING)
    assert told.unwatered == ()
