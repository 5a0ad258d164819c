"""A small fixed part of the table of what the advice is worth, made again; and the claims that hold today.

The bounds are what was seen when the table was made and twice its standard error, written beside each; where a claim
does not hold, the table says so and no test pretends it. A change that makes the advice better moves them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache

import pytest
from worth.archive import Chance, chances, evenings
from worth.page import GRASS_HEAD, evenings_of, grass_row, looks_line
from worth.plan import HONEST, PRODUCTS
from worth.reckon import Lived, at_equal_unmet, mean_of
from worth.table import PAGE, groups_of, small_part, small_results

from advisor.replay.equal_unmet import ALIKE_MM
from advisor.replay.job import BEST, CLOCK, CLOCK_RAIN_STOP, DEFICIT, Result
from advisor.replay.past_nights import (
    ALWAYS,
    FORESIGHT,
    NEVER,
    OUR_DEPTH,
    OURS,
    PLAIN_RULES,
    PRICES,
    USUAL,
    RuleCost,
    rule_name,
)


@cache
def results() -> tuple[Result, ...]:
    return tuple(small_results())


@cache
def groups() -> dict[str, list[Lived]]:
    return groups_of(results())


@cache
def archive(calibrated: bool) -> dict[str, tuple[RuleCost, ...]]:
    return evenings(calibrated=calibrated, nights=30, seeds=1)


@cache
def told() -> tuple[Chance, ...]:
    return tuple(chances())


def row(rows: Sequence[RuleCost], rule: str) -> RuleCost:
    return next(each for each in rows if each.rule == rule)


def test_the_small_part_of_the_page_is_what_the_program_makes_today() -> None:
    """After a change that means the figures to differ: python tests/benchmarks/bench_worth.py --write."""
    made = small_part(results())
    assert made.strip() in PAGE.read_text(encoding="utf-8")


def more(family: str, run_mm: float = 0.0) -> float:
    """How much more than ours a family takes at our unmet demand, mm in 24 nights; ours takes 111.7 ± 14.9."""
    return at_equal_unmet(groups()[HONEST], family, run_mm).more.mean


def test_ours_lies_between_the_bound_and_what_two_errors_leave_of_it() -> None:
    """The bound takes 4.4 ± 4.0 less; nobody takes less than the bound."""
    assert -12.4 <= more(BEST) <= ALIKE_MM


def test_ours_takes_hardly_more_than_a_deficit_rule_that_knows_the_soil_and_fewer_runs() -> None:
    """The rule takes 3.8 ± 2.7 less; with a run at 1 mm, 1.9 ± 1.6 more."""
    assert -more(DEFICIT) <= 3.8 + 2 * 2.7
    assert more(DEFICIT, 1.0) >= 1.9 - 2 * 1.6


def test_a_clock_takes_far_more() -> None:
    """By the usual year 93.2 ± 35.5 more; with a rain stop, 87.4 ± 44.8, of which nothing is left at two errors but
    the sign."""
    assert more(CLOCK) >= 93.2 - 2 * 35.5
    assert more(CLOCK_RAIN_STOP) > 0.0


def test_the_page_tells_looks_by_the_hour_and_moves_by_hand() -> None:
    each = groups()[HONEST][0]
    looks = tuple(2 if hour in (5, 21) else 0 for hour in range(24))
    ours = replace(each.ours, looks=looks, hand_moves=7)
    made = replace(each, result=replace(each.result, ours=ours))
    assert looks_line([made]) == "Looks a season by the hour of the day: 05h 2, 21h 2.\n"
    told = dict(zip(GRASS_HEAD, grass_row("made", [made]), strict=True))
    assert (told["looks by day"], told["looks 22–7 h"], told["moves by hand"]) == ("2.0", "2.0", "7.0")


def test_no_advice_was_refused_and_the_grass_goes_little_short() -> None:
    """Of the demand 0.8 ± 0.3 % goes unmet; on 41.0 ± 3.5 % of days the soil is drier than allowed, by 0.9 mm on the
    mean day: that is a claim that does not hold, see the table."""
    lived = groups()[HONEST]
    assert all(each.ours.refused == 0 for each in lived)
    unmet = mean_of(lived, lambda each: each.ours.grass.unmet_mm / each.ours.grass.demand_mm)
    past = mean_of(lived, lambda each: each.ours.grass.days_past)
    assert unmet.mean <= 0.008 + 2 * 0.003
    assert past.mean <= 0.410 + 2 * 0.035


def test_products_are_in_time() -> None:
    """All 9 were; 2 of them had more water than they bear, which is not what is wanted."""
    for each in groups()[PRODUCTS]:
        duties = each.ours.duties
        assert duties.count > 0
        assert duties.on_time == duties.count
        assert duties.past_most <= 2


def test_on_our_seasons_leaving_all_to_the_rain_costs_more_at_every_price() -> None:
    """0.31 of a whole application at the usual prices, 0.15 where what falls short counts half; one season, so without
    an error."""
    by_price = evenings_of(groups()[PRODUCTS])
    assert set(by_price) == set(PRICES)
    assert row(by_price[USUAL], NEVER).worse_by >= 0.25
    for price, rows in by_price.items():
        assert row(rows, NEVER).worse_by >= 0.12, price
        assert row(rows, FORESIGHT).worse_by <= 1e-9, price


def test_on_the_archive_after_learning_no_plain_rule_costs_less_beyond_the_error() -> None:
    """RainIbk: see worth.archive."""
    for price, rows in archive(True).items():
        for rule in PLAIN_RULES:
            found = row(rows, rule)
            assert found.worse_by > -2.0 * found.give_or_take, (price, rule)


def test_before_learning_running_at_our_depth_costs_less_than_ours() -> None:
    """The row that looks bad: its members are twice too wet and nothing has been learnt. It is to be mended, and this
    bound to be turned round then."""
    rows = archive(False)[USUAL]
    found = row(rows, rule_name(ALWAYS, OUR_DEPTH))
    assert found.worse_by >= -0.03
    assert row(rows, OURS).cost < row(rows, NEVER).cost


@pytest.mark.parametrize("limit", [1.0, 5.0, 10.0, 15.0])
def test_the_fitted_chance_beats_climatology(limit: float) -> None:
    fitted = next(c for c in told() if c.threshold_mm == limit and c.way.startswith("the curve fitted"))
    assert fitted.brier < fitted.climatology - 0.01
    assert fitted.miss <= 0.03


def test_the_default_chance_is_told_though_it_does_worse_than_climatology() -> None:
    """At 5 mm a Brier score of 0.256 against 0.242: the row stands in the table until it is mended."""
    default = next(c for c in told() if c.threshold_mm == 5.0 and c.way == "the default curve")
    assert default.brier == pytest.approx(0.256, abs=0.001)
    assert default.climatology == pytest.approx(0.242, abs=0.001)
    assert f"| {default.brier:.3f} | {default.climatology:.3f} |" in PAGE.read_text(encoding="utf-8")
