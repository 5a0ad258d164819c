"""What stands between products on one zone, each rule at its edge, out of made applications and choices."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pytest
from made import EVENING
from made_products import chosen, put_down

from advisor.advice import Reason, ReasonKind, Status
from advisor.watering_in import Choice, ZoneApplication, agreed_depth, bears_mm, conflict_reasons

MINUTE = timedelta(minutes=1)


def told(
    *pairs: tuple[ZoneApplication, Choice | None], number: int = 0, watered_at: datetime | None = None
) -> list[Reason]:
    return list(conflict_reasons(pairs, number, EVENING, watered_at))


@pytest.mark.parametrize(
    ("most_mm", "had_mm", "bears"),
    [(12.0, 0.0, 12.0), (12.0, 5.0, 7.0), (12.0, 12.0, 0.0), (12.0, 15.0, 0.0)],
)
def test_a_product_bears_what_is_left_of_its_most_and_never_less_than_nothing(
    most_mm: float, had_mm: float, bears: float
) -> None:
    assert bears_mm(put_down("A", most_mm=most_mm, total_received_mm=had_mm)) == bears


@pytest.mark.parametrize("minutes", [-1, 0, 1])
def test_what_waits_for_anothers_dry_period_says_until_when(minutes: int) -> None:
    """B stays dry until a minute before, at or after the time from which A's water counts, or now."""
    for counts_from in (EVENING - timedelta(hours=1), EVENING + timedelta(hours=2)):
        from_then = max(EVENING, counts_from)
        a = put_down("A", counts_from=counts_from)
        b = put_down("B", dry_until=from_then + minutes * MINUTE, counts_from=from_then + minutes * MINUTE)
        found = told((a, chosen(a)), (b, None))
        kinds = [reason.kind for reason in found]
        assert kinds == [ReasonKind.OTHER_STAYS_DRY] * (minutes > 0)
        for reason in found:
            assert (reason.products, reason.other, reason.until) == (("A",), "B", b.dry_until)
        assert told((a, None), (b, None)) == []  # what asks for nothing waits for nothing


def test_of_several_dry_periods_the_longest_is_told_and_those_of_other_zones_are_not() -> None:
    a = put_down("A")
    ends = [EVENING + timedelta(hours=h) for h in (2, 9, 5, 20)]
    dry = [put_down(name, dry_until=end, counts_from=end) for name, end in zip("BCDE", ends, strict=True)]
    others = [*dry[:3], replace(dry[3], zone_index=1)]
    (reason,) = told((a, chosen(a)), *((o, None) for o in others))
    assert (reason.other, reason.until) == ("C", ends[1])


def test_what_stays_dry_names_each_that_waits_for_it_once() -> None:
    until = EVENING + timedelta(hours=5)
    dry = put_down("Dry", dry_until=until, counts_from=until)
    a, late = put_down("A"), put_down("Late", counts_from=until)
    early = put_down("Early", counts_from=until - MINUTE)
    pairs = [(dry, None), (a, chosen(a)), (late, chosen(late)), (early, chosen(early)), (a, chosen(a))]
    (reason,) = told(*pairs)
    assert (reason.kind, reason.products) == (ReasonKind.OTHERS_WAIT, ("A", "Early"))
    over = replace(dry, dry_until=EVENING, counts_from=EVENING)
    assert told((over, None), *pairs[1:]) == []
    assert told((dry, None), (a, None)) == []  # A asks for nothing any more


@pytest.mark.parametrize(("minutes", "late"), [(-1, False), (0, False), (1, True)])
def test_water_after_the_due_time_is_told_as_late(minutes: int, late: bool) -> None:
    due = EVENING + timedelta(hours=4)
    a = put_down("A", due_at=due)
    found = told((a, chosen(a)), watered_at=due + minutes * MINUTE)
    assert [(r.kind, r.at) for r in found] == [(ReasonKind.WAS_DUE, due)] * late
    overdue = replace(a, status=Status.OVERDUE)
    assert told((overdue, chosen(a)), watered_at=due + MINUTE) == []  # that is said already


def test_where_no_hour_is_left_before_it_is_due_the_first_after_it_is_told() -> None:
    due = EVENING + timedelta(minutes=89)  # the hours begin in 60 min and a run takes 30
    a = put_down("A", due_at=due)
    (reason,) = told((a, chosen(a)))
    assert (reason.kind, reason.until, reason.at) == (
        ReasonKind.NO_HOUR_BEFORE_DUE,
        due,
        EVENING + timedelta(hours=1),
    )
    just = replace(a, due_at=due + MINUTE)
    assert told((just, chosen(just))) == []
    assert told((replace(a, due_at=None), chosen(a))) == []
    assert told((replace(a, status=Status.OVERDUE), chosen(a))) == []
    closed = chosen(a, ways=tuple(way for way in chosen(a).ways if way.action == "rain"))
    assert told((a, closed)) == []


@pytest.mark.parametrize(
    ("least_mm", "had_mm", "most_mm", "kinds"),
    [
        (9.0, 0.0, 8.0, 1),
        (8.0, 0.0, 8.0, 0),  # just what the other bears
        (8.1, 0.0, 8.0, 1),
        (9.0, 1.0, 8.0, 0),
        (9.0, 0.0, 0.0, 0),  # the other asks for no water and loses none
    ],
)
def test_where_one_needs_more_than_another_bears_it_is_told_which_wins(
    least_mm: float, had_mm: float, most_mm: float, kinds: int
) -> None:
    more = put_down("More", least_mm=least_mm, target_mm=10.0, received_mm=had_mm)
    less = put_down("Less", least_mm=2.0, target_mm=3.0, most_mm=most_mm)
    same, done = put_down("More", least_mm=least_mm), put_down("Done", least_mm=1.0, most_mm=2.0)
    for number, pair in enumerate(((more, less), (less, more))):
        pairs = [(o, chosen(o)) for o in pair]
        # one more product of the same name, and one that asks for nothing, hide nothing
        found = told(pairs[0], (replace(same, product=pair[0].product), pairs[0][1]), (done, None), pairs[1])
        depths = [r for r in found if r.kind in (ReasonKind.DEEPER_WINS, ReasonKind.SHALLOWER_WINS)]
        assert len(depths) == kinds, number
        for reason in depths:
            assert reason.products == ("More", "Less")
            assert (reason.depth_mm, reason.of_mm) == (pytest.approx(least_mm - had_mm), most_mm)


def test_a_run_is_as_deep_as_wanted_where_all_bear_it_and_else_as_deep_as_costs_least() -> None:
    a, b = put_down("A", target_mm=9.0), put_down("B", most_mm=7.0)
    pairs = [(a, chosen(a)), (b, chosen(b))]
    assert agreed_depth(7.0, pairs) == 7.0
    assert agreed_depth(9.0, [(a, chosen(a)), (b, None)]) == 9.0
    assert agreed_depth(9.0, [(a, chosen(a)), (replace(b, most_mm=0.0), chosen(b))]) == 9.0
    found = agreed_depth(9.0, pairs)
    cost = {depth: sum(c.expected(depth) for _, c in pairs) for depth in np.arange(0.5, 9.01, 0.5).tolist()}
    assert cost[found] <= min(cost.values()) + 1e-9
    assert found in (3.0, 7.0, 9.0)
