"""Which judged numbers an answer hangs on: named, and by their change the answer really turns."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import numpy as np
import pytest
from made import EVENING, JUDGED, made_site, made_weather
from made_evenings import evenings
from sizes import NIGHTLY

from advisor.advice import Action, Advice, JudgedWhy, ZoneVerdict
from advisor.errors import AdvisorError
from advisor.lawn.judgement import judged_rows
from advisor.lawn.records import ProbeReading, Records
from advisor.lawn.site_values import Decision
from advisor.tonight.advise import advise, advise_on
from advisor.tonight.lawn_state import judged_anew, lawn_state
from advisor.tonight.what_if_judged import ONLY_TOLD, judged_why


def asked_with(depletion_mm: float, **changes: Any) -> dict[str, Any]:
    """A dry evening on one zone that a probe found so far below field capacity."""
    probe = ProbeReading("Front", EVENING - timedelta(hours=2), depletion_mm)
    asks = {
        "site": made_site(),
        "records": Records(probes=(probe,)),
        "weather": made_weather(np.zeros((11, 240))),
    }
    return asks | {"now": EVENING} | changes


def by(asks: dict[str, Any], key: str, value: float) -> Advice:
    """What is advised with one number changed, from the start."""
    judgement = asks["site"].judgement.with_number(key, asks["site"].decision.dial, value)
    return advise(**asks | {"site": replace(asks["site"], judgement=judgement)})


def turns_come_true(asks: dict[str, Any], why: JudgedWhy) -> int:
    """Every turn that is told is what `advise` gives with that number; how many there are."""
    told = 0
    for zone in why.zones:
        for turn in zone.turns:
            then = by(asks, turn.number.key, turn.number.other)
            (other,) = [z for z in then.zones if z.zone == zone.zone]
            assert other.verdict == turn.verdict
            assert other.depth_firm_mm + other.depth_conditional_mm == pytest.approx(turn.depth_mm)
            told += other.verdict != zone.verdict
    for one in why.applications:
        for turned in one.turns:
            then = by(asks, turned.number.key, turned.number.other)
            actions = [
                o.action
                for o in then.obligations
                if (o.application_id, o.product, o.zone) == (one.application_id, one.product, one.zone)
            ]
            assert (actions or [Action.NONE]) == [turned.action] != [one.action]
            told += 1
    return told


def test_the_price_of_thirst_that_turns_a_run_is_named_and_turns_it() -> None:
    depth = next(
        d
        for d in np.arange(6.0, 24.0, 0.25)
        if advise(**asked_with(float(d))).zones[0].verdict == ZoneVerdict.RUN
    )
    asks = asked_with(float(depth))
    why = judged_why(**asks)
    (zone,) = why.zones
    assert (zone.verdict, zone.words) == (ZoneVerdict.RUN, "Front: run.")
    turn = next(t for t in zone.turns if t.number.key == "turf.stress")
    assert (turn.number.value, turn.number.other, turn.verdict) == (3.0, 1.5, ZoneVerdict.NOT_NEEDED)
    assert turn.words == (
        "It would need nothing if water that the grass goes short of counted 1.5 instead of 3 times as much as "
        "water that is run (our judgement)."
    )
    assert turns_come_true(asks, why) >= 1


def test_where_nothing_turns_that_is_said() -> None:
    why = judged_why(**asked_with(0.0))
    (zone,) = why.zones
    assert (zone.verdict, zone.turns) == (ZoneVerdict.NOT_NEEDED, ())
    assert zone.words == (
        "Front: nothing needed. No single number, halved or doubled, changes the verdict of Front."
    )


def test_what_was_put_down_has_its_own_turns() -> None:
    """Made evening 36, on which rain is in doubt: the look is worth it as long as looks are cheap."""
    asks = dict(next(e for i, e in enumerate(evenings()) if i == 36).asks)
    why = judged_why(**asks)
    (one,) = why.applications
    assert (one.action, one.words) == (Action.WAIT, "Label Drench on Front: wait for a look at the gauge.")
    turn = next(t for t in one.turns if t.number.key == "costs.look")
    assert (turn.number.value, turn.number.other, turn.action) == (0.015, 0.03, Action.RUN)
    assert turn.words == (
        "The answer would be to water in with a run if the trouble of a look counted as 3 instead of 1.5 % of the "
        "worth of what was put down (our judgement)."
    )
    assert turns_come_true(asks, why) >= 2


@pytest.mark.parametrize(("number", "least"), [(198, 3), (135, 0)])
def test_on_made_evenings_every_turn_that_is_told_comes_true(number: int, least: int) -> None:
    """Invented evenings: one with several products, one asked a third time."""
    asks = dict(next(e for i, e in enumerate(evenings()) if i == number).asks)
    why = judged_why(**asks)
    assert why.inputs_digest == advise(**asks).inputs_digest
    assert turns_come_true(asks, why) >= least
    assert [z.verdict for z in why.zones] == [z.verdict for z in advise(**asks).zones]


def test_a_lawn_judged_anew_is_advised_as_one_that_was_judged_so_from_the_start() -> None:
    asks = dict(next(e for i, e in enumerate(evenings()) if i == 90).asks)
    lawn = lawn_state(**asks)
    for key, value in (("rain.interception_mm", 2.0), ("need.enough_dilution", 10.0), ("costs.water", 0.2)):
        anew = judged_anew(lawn, lawn.site.judgement.with_number(key, lawn.site.decision.dial, value))
        assert advise_on(anew) == by(asks, key, value)


def test_numbers_that_are_not_tried_turn_no_answer() -> None:
    """On every thirtieth made evening (once a night every tenth), all at once at either end of their ranges."""
    for evening in list(evenings())[:: 10 if NIGHTLY else 30]:
        asks = dict(evening.asks)
        site = asks["site"]
        try:
            usual = advise(**asks)
        except AdvisorError:
            continue
        for end in ("least", "most"):
            judgement = site.judgement
            for key in ONLY_TOLD:
                judgement = judgement.with_number(key, site.decision.dial, getattr(judged_rows()[key], end))
            other = advise(**asks | {"site": replace(site, judgement=judgement)})
            assert [z.verdict for z in other.zones] == [z.verdict for z in usual.zones]
            assert [o.action for o in other.obligations] == [o.action for o in usual.obligations]


def test_a_number_that_the_owner_has_set_is_not_tried() -> None:
    asks = asked_with(20.0)
    own = asks | {"site": made_site(decision=Decision(costs={"stress": 3.0}))}
    assert judged_why(**own).tried == judged_why(**asks).tried - 1
    assert asks["site"].judgement is JUDGED
