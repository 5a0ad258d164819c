"""Two fetches of one evening: a trifle flips nothing, and what did change is told."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from made import EVENING, made_site, made_weather

from advisor.advice.advice import Advice
from advisor.lawn.products import Product
from advisor.lawn.records import Application, ProbeReading, Records
from advisor.lawn.tables import kind_table
from advisor.tonight.advise import advise

AT = EVENING - timedelta(hours=3)
SITE = replace(made_site(), products={"Calcium": Product("Calcium", kind_table()["soil-liquid"])})
RECORDS = Records(
    applications=(Application("Calcium", ("Front",), AT, AT, "backpack"),),
    probes=(ProbeReading("Front", EVENING - timedelta(hours=2), 1.0),),
)
LATER = EVENING + timedelta(minutes=70)
SHAPE = np.random.default_rng(7).gamma(0.7, 1.0, size=(31, 1)) * np.ones((31, 5))


def fetched(wetness: float) -> np.ndarray:
    """Rain members of one fetch: a spell from midnight on, as wet as said."""
    members = np.zeros((31, 240))
    members[:, 4:9] = wetness * SHAPE
    return members


def advised(wetness: float, previous: Advice | None = None) -> Advice:
    now = EVENING if previous is None else LATER
    weather = made_weather(fetched(wetness), now=EVENING)
    return advise(site=SITE, records=RECORDS, weather=weather, now=now, previous=previous)


def answer(advice: Advice) -> str:
    return advice.obligations[0].action


@pytest.fixture(scope="module")
def tipping() -> tuple[float, float]:
    """The wetnesses on either side of the point at which a first advice would answer otherwise."""
    drier, wetter = 0.0, 8.0
    first = answer(advised(drier))
    assert answer(advised(wetter)) != first
    for _ in range(9):
        middle = (drier + wetter) / 2.0
        drier, wetter = (middle, wetter) if answer(advised(middle)) == first else (drier, middle)
    return drier, wetter


def test_a_trifle_between_two_fetches_does_not_flip_the_answer(tipping: tuple[float, float]) -> None:
    drier, wetter = tipping
    before = advised(drier)
    after = advised(wetter, previous=before)
    assert answer(advised(wetter)) != answer(before)
    assert answer(after) == answer(before)
    assert after.changes == ()


def test_the_way_back_does_not_flip_it_either(tipping: tuple[float, float]) -> None:
    drier, wetter = tipping
    before = advised(wetter)
    assert answer(advised(drier, previous=before)) == answer(before)


def test_a_true_change_between_two_fetches_flips_the_answer_and_is_told_with_the_rain() -> None:
    before = advised(0.0)
    after = advised(8.0, previous=before)
    assert answer(after) != answer(before)
    told = " ".join(after.changes)
    assert (
        f"Calcium on Front: now \u201c{answer(after)}\u201d, at 20:15 it was \u201c{answer(before)}\u201d."
        in told
    )
    assert "Rain expected tonight: now " in told
    assert ", at 20:15 it was 0.0 mm." in told


def test_a_run_that_is_a_little_longer_is_not_worth_telling_and_one_much_longer_is() -> None:
    site = made_site()

    def dry(depletion_mm: float, previous: Advice | None = None) -> Advice:
        records = Records(probes=(ProbeReading("Front", EVENING - timedelta(hours=2), depletion_mm),))
        now = EVENING if previous is None else LATER
        weather = made_weather(now=EVENING)
        return advise(site=site, records=records, weather=weather, now=now, previous=previous)

    before, little, much = dry(18.0), dry(18.2, dry(18.0)), dry(21.0, dry(18.0))
    assert 0.0 < little.zones[0].minutes_firm - before.zones[0].minutes_firm < 3.0
    assert little.changes == ()
    assert much.changes[0].startswith("Front: now ")


def test_the_advice_of_another_night_has_no_say() -> None:
    before = advised(0.0)
    past = before.model_copy(update={"night": before.night - timedelta(days=1)})
    after = advised(8.0, previous=past)
    assert after.changes == ()
    assert answer(after) == answer(advised(8.0))
