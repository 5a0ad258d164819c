"""The ways in words: the run as planned only where it is made in any case, and the run that is just deep enough."""

from __future__ import annotations

from dataclasses import replace
from datetime import time, timedelta

import numpy as np
import pytest
from made import EVENING, made_site, made_weather, made_zone

from advisor.advice import Action, Advice, ReasonKind
from advisor.lawn import Application, ProbeReading, Product, Records, Rules
from advisor.lawn.tables import kind_table
from advisor.tonight import advise, rain_answer

DOWN = EVENING - timedelta(hours=4)


def advised(kind: str, members: int, *, rain_mm: float = 8.0, **changes: float) -> Advice:
    """So much rain in the evening in the first `members` of 31."""
    rain = np.zeros((31, 240))
    rain[:members, 3:6] = rain_mm / 3.0
    it = Product("It", replace(kind_table()[kind], **changes))
    records = Records(
        applications=(Application("It", ("Front",), DOWN, DOWN, "tank", id=1),),
        probes=(ProbeReading("Front", EVENING - timedelta(hours=1), 0.0),),
    )
    rules = Rules(hours=((time(21), time(8)),), awake=(time(4), time(22, 30)))
    site = made_site(made_zone(uniformity=1.0), products={"It": it}, rules=rules)
    return advise(site=site, records=records, weather=made_weather(rain), now=EVENING)


def words(advice: Advice) -> dict[Action, str]:
    (verdict,) = rain_answer(advice).verdicts
    return {option.action: option.words for option in verdict.options}


def test_a_run_that_is_made_in_any_case_is_told_as_planned_and_nothing_else_is() -> None:
    advice = advised("granular-slow", 0)
    assert advice.obligations[0].action == Action.RUN
    (run,) = advice.runs
    assert run.condition is None
    told = words(advice)
    assert told[Action.RUN].endswith("as planned tonight")
    assert told[Action.RAIN] == "leave it to the rain"
    at = run.cycles[0].starts_at.astimezone(EVENING.tzinfo)
    assert f"{at:%H:%M}" in rain_answer(advice).headline


def test_a_run_that_waits_for_the_gauge_is_told_as_a_look_and_never_as_planned() -> None:
    advice = advised("soil-liquid", 15)
    assert advice.obligations[0].action == Action.WAIT
    assert all(run.condition is not None for run in advice.runs)
    told = words(advice)
    assert told[Action.WAIT].startswith("look at ")
    assert "at the first chance" in told[Action.RUN]
    assert not any("as planned" in each for each in told.values())
    assert "wait and look again at " in rain_answer(advice).headline


def test_what_is_left_to_the_rain_names_its_run_as_a_chance_and_not_as_planned() -> None:
    advice = advised("soil-liquid", 31, rain_mm=20.0)
    assert advice.obligations[0].action == Action.RAIN
    told = words(advice)
    assert "at the first chance" in told[Action.RUN]
    assert not any("as planned" in each for each in told.values())


@pytest.mark.parametrize("least_mm", [5.0, 6.0, 7.3])
def test_a_run_that_is_just_as_deep_as_what_is_missing_waters_it_in(least_mm: float) -> None:
    advice = advised("root-zone-fungicide", 0, least_mm=least_mm, target_mm=least_mm)
    (run,), (one,) = advice.runs, advice.obligations
    assert run.effective_mm == pytest.approx(least_mm, abs=0.25)
    assert ReasonKind.RUN_WATERS_IT_IN in [reason.kind for reason in one.reasons]
    waters = [r.products for r in advice.zones[0].reasons if r.kind == ReasonKind.WATERS_IN]
    assert waters == [("It",)]
