"""Short texts that fit a lock screen, with the whole advice behind them."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from made import made_weather
from service.made_service import applied, at, service_site

from advisor.advice.advice import Advice, Check, LookKind, NextLook, NotPlanned
from advisor.advice.look_outcome import asks_for_an_act
from advisor.advice.schedule import CheckName
from advisor.lawn.records import ProbeReading, Records
from advisor.service.messages import LOCK_SCREEN, for_advice, for_look, for_nothing, shortened
from advisor.tonight.advise import advise
from advisor.weather.archiving import RainSoFar

EVENING = at("2026-06-17T20:15")
NEXT = at("2026-06-18T20:15")
DAWN = at("2026-06-18T04:45")


@pytest.fixture(scope="module")
def dry(tmp_path_factory: pytest.TempPathFactory) -> Advice:
    site = service_site(tmp_path_factory.mktemp("dry"))
    records = Records(
        applications=(applied(at("2026-06-17T10:00")),),
        probes=(ProbeReading("Front", at("2026-06-17T18:00"), 24.0),),
    )
    return advise(site=site, records=records, weather=made_weather(now=EVENING), now=EVENING)


@pytest.fixture(scope="module")
def wet(tmp_path_factory: pytest.TempPathFactory) -> Advice:
    site = service_site(tmp_path_factory.mktemp("wet"))
    records = Records(probes=(ProbeReading("Front", at("2026-06-17T18:00"), 0.0),))
    return advise(site=site, records=records, weather=made_weather(now=EVENING), now=EVENING)


def look(**changes: object) -> NextLook:
    rule = {
        "kind": LookKind.GAUGE,
        "at": DAWN,
        "zones": ("Front",),
        "under_mm": 3.0,
        "over_mm": None,
        "minutes": {"Front": 20.0},
        "words": "Look at 04:45.",
    }
    return NextLook(**(rule | changes))  # type: ignore[arg-type]


@given(st.text(max_size=600))
def test_a_short_text_is_one_line_that_fits_whatever_is_said(text: str) -> None:
    short = shortened(text)
    assert len(short) <= LOCK_SCREEN
    assert "\n" not in short
    assert short.endswith("…") or short == " ".join(text.split())


def test_a_long_text_is_cut_after_a_sentence_else_after_a_word() -> None:
    sentences = "Run Front 20 min at 04:37. " * 10
    assert shortened(sentences) == "Run Front 20 min at 04:37. " * 5 + "Run Front 20 min at 04:37.…"
    assert shortened("word " * 100).endswith("word…")
    assert shortened("x" * 400) == "x" * 177 + "…"


def test_the_nightly_message_is_the_headline_with_the_whole_advice_behind_it(dry: Advice) -> None:
    message = for_advice(dry, late=False, next_at=NEXT, always=True)
    assert message.short == f"{dry.headline} Next advice Thu 20:15."
    assert message.after == (
        "The next advice is due Thursday 18 June, 20:15. If no message comes then, see `advisor status`."
    )
    assert message.next_at == NEXT
    assert message.lead == ""  # the whole advice is made again from the kept one when it is sent
    assert message.to_do


def test_a_long_headline_leaves_the_next_advice_to_the_text(dry: Advice) -> None:
    long = dry.model_copy(update={"headline": "Run Front 20 min at 04:37. " * 7})
    message = for_advice(long, late=False, next_at=NEXT, always=False)
    assert message.short == shortened(long.headline)
    assert message.after.endswith("A message comes of it only where there is something to do.")


def test_a_late_message_says_when_it_was_given(dry: Advice) -> None:
    assert for_advice(dry, late=True, next_at=NEXT, always=True).short.startswith(
        "Late, given at 20:15: Run Front"
    )


def test_a_plan_that_failed_its_own_checks_says_so_first(dry: Advice) -> None:
    failed = Check(name=CheckName.SUNRISE, passed=False, why="it does not")
    doubtful = dry.model_copy(update={"checks": (failed,)})
    message = for_advice(doubtful, late=False, next_at=NEXT, always=True)
    assert message.short.startswith("Check this plan, it failed its own checks: Run")


def test_only_a_run_a_look_that_decides_or_water_that_does_not_fit_is_something_to_do(
    dry: Advice, wet: Advice
) -> None:
    none = {"runs": (), "next_looks": (), "not_planned": ()}
    left = NotPlanned(zone="Front", depth_mm=5, minutes=20, why="no time", waits_for=None, could_change=())
    assert asks_for_an_act(dry)
    assert not asks_for_an_act(wet)
    assert asks_for_an_act(wet.model_copy(update=none | {"next_looks": (look(),)}))
    assert not asks_for_an_act(
        wet.model_copy(update=none | {"next_looks": (look(kind=LookKind.SKIP, minutes={}),)})
    )
    assert asks_for_an_act(wet.model_copy(update=none | {"not_planned": (left,)}))


@pytest.mark.parametrize(
    ("asked", "advice", "verdict", "worth"),
    [
        (look(), "dry", "Top-up", True),
        (look(), "wet", "All clear", True),
        (
            look(kind=LookKind.SKIP, minutes={}, under_mm=None, over_mm=3.0),
            "dry",
            "Go ahead as planned",
            False,
        ),
        (look(kind=LookKind.SKIP, minutes={}, under_mm=None, over_mm=3.0), "wet", "Skip it", True),
    ],
    ids=["top-up", "all clear", "go ahead", "skip"],
)
def test_a_look_says_what_fell_and_what_follows(
    request: pytest.FixtureRequest, asked: NextLook, advice: str, verdict: str, worth: bool
) -> None:
    given_then: Advice = request.getfixturevalue(advice)
    now = given_then.model_copy(update={"now": DAWN})
    message = for_look(now, asked, EVENING, RainSoFar(2.54, 1.0, "gauge"), late=False)
    assert message.short.startswith(f"{verdict}: 2.5 mm since Wed 20:15 in your gauge. ")
    assert message.to_do is worth
    assert message.lead.splitlines()[1] == asked.words


def test_a_look_that_settles_nothing_says_so_and_tells_how_much_of_the_rain_is_known(wet: Advice) -> None:
    again = wet.model_copy(update={"next_looks": (look(),)})
    message = for_look(again, look(), EVENING, RainSoFar(0.0, 0.8, "model"), late=True)
    assert message.short.startswith(
        "Late, given at 20:15: Not settled yet: 0.0 mm since 20:15 by the weather service"
    )
    assert "of the 80 % of the time that is known" in message.lead


def test_the_quiet_message_says_why_and_what_was_to_be_decided(tmp_path: Path) -> None:
    site = service_site(tmp_path)
    now = EVENING + timedelta(minutes=30)
    plain = for_nothing(site, "the services do not answer", now)
    assert plain.short == "No advice tonight (tried until 20:45): the services do not answer"
    asked = for_nothing(site, "the services do not answer", now, look=look())
    assert asked.short == "The look could not be done: Look at 04:45. (the services do not answer)"
    assert "What it was to decide: Look at 04:45." in asked.lead
    assert plain.to_do
    assert asked.to_do


def test_us_customary_owners_read_inches(dry: Advice) -> None:
    message = for_look(
        dry.model_copy(update={"units": "us"}), look(), EVENING, RainSoFar(25.4, 1.0, "gauge"), late=False
    )
    assert "1.00 in since 20:15" in message.short or "1 in since 20:15" in message.short
