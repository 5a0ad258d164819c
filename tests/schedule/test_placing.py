"""Where runs are put in nights that are nearly full, split or over: by the minute."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta
from random import Random
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from advisor.advice import ChangeKind, NotPlannedKind
from advisor.hours import Window
from advisor.lawn import Rules
from advisor.lawn.site_values import Supply
from advisor.schedule import SEED, SPARE, TURF, Air, Plan, PlanInputs, Planner, Request, make_plan
from advisor.schedule.arrange import Arranger, _calm_and_late, _grid
from advisor.schedule.cycles import Task, chain_fits, first_fit, pack, pack_late, task_of
from advisor.schedule.limits import _lies_in, _overlap, night_limits
from advisor.schedule.not_planned import _first

CHICAGO = ZoneInfo("America/Chicago")
# A night on Larkmoor Lane (invented): hours from 22:00 to 5:40, the same wind throughout.
NOW = datetime(2026, 7, 17, 20, 15, tzinfo=CHICAGO).astimezone(UTC)
MIDNIGHT = datetime(2026, 7, 18, tzinfo=CHICAGO).astimezone(UTC)
BEGIN, END = MIDNIGHT - timedelta(hours=2), MIDNIGHT + timedelta(hours=5, minutes=40)


def clock(hour: int, minute: int = 0) -> datetime:
    return MIDNIGHT + timedelta(hours=hour - 24 if hour >= 12 else hour, minutes=minute)


def want(zone: str, minutes: float, **more: Any) -> Request:
    given = {"cycle_min": None, "soak_min": 0.0, "priority": TURF, "urgency": 1.0} | more
    return Request(
        zone=zone, depth_mm=minutes / 6, effective_mm=minutes / 8, minutes=minutes, area_m2=100.0, **given
    )


def plan_of(*requests: Request, now: datetime = NOW, ends: datetime = END, flow: float | None = None) -> Plan:
    inputs = PlanInputs(
        windows=(Window(BEGIN, ends),),
        supply=Supply(flow),
        air=Air(NOW.replace(minute=0), [2.0] * 24, [15.0] * 24),
        rules=Rules(hours=((time(22), time(6)),)),
        local=CHICAGO,
        now=now,
    )
    return make_plan(requests, inputs)


def times(plan: Plan) -> dict[str, list[str]]:
    return {
        run.zone: [
            f"{c.starts_at.astimezone(CHICAGO):%H:%M}-{c.ends_at.astimezone(CHICAGO):%H:%M}"
            for c in run.cycles
        ]
        for run in plan.runs
    }


def test_a_run_that_does_not_fit_leaves_the_others_in_their_best_place() -> None:
    """Long and Short fill the end of the night; Middle would fit alone, but not beside Long."""
    plan = plan_of(want("Long", 400, urgency=9.0), want("Middle", 100, urgency=5.0), want("Short", 20))
    assert times(plan) == {"Long": ["22:35-05:15"], "Short": ["05:15-05:35"]}
    assert [left.zone for left in plan.not_planned] == ["Middle"]


def test_runs_packed_over_the_whole_night_keep_the_margin_before_its_end() -> None:
    """Early may run from midnight to 3:00 only; wherever it stands there, Long has to come right after it."""
    early = want("Early", 60, earliest=clock(0), latest=clock(3))
    assert times(plan_of(early, want("Long", 250))) == {"Early": ["00:25-01:25"], "Long": ["01:25-05:35"]}


def test_the_margin_of_the_whole_night_is_given_up_where_nothing_fits_with_it() -> None:
    early = want("Early", 60, earliest=clock(0), latest=clock(3))
    plan = plan_of(early, want("Long", 279))
    assert plan.not_planned == ()
    assert times(plan) == {"Early": ["00:01-01:01"], "Long": ["01:01-05:40"]}


@pytest.mark.parametrize("minutes_ago", [0, 1, 60])
def test_a_night_whose_hours_are_over_has_none_left(minutes_ago: int) -> None:
    plan = plan_of(want("Front", 30), now=END + timedelta(minutes=minutes_ago))
    (left,) = plan.not_planned
    assert left.reason is not None
    assert left.reason.kind == NotPlannedKind.NO_HOURS
    assert plan.runs == ()


def test_the_last_minute_of_a_night_is_still_one() -> None:
    plan = plan_of(want("Front", 30), now=END - timedelta(minutes=1))
    (left,) = plan.not_planned
    assert left.reason is not None
    assert (left.reason.kind, left.reason.limit_minutes) == (NotPlannedKind.TOO_LONG, 1)


def task(
    minutes: float, cycle: float, soak: float, *rooms: tuple[tuple[int, int], ...], order: int = 0
) -> Task:
    return task_of(order, want(f"Z{order}", minutes, cycle_min=cycle, soak_min=soak), rooms)


def test_all_cycles_have_to_fit_into_one_room() -> None:
    """Two cycles of 30 min with an hour's soak take two hours."""
    two = task(60, 30, 60, ((0, 500),))
    assert two.length == 120
    assert chain_fits(two, ((0, 120),), 0)
    assert not chain_fits(two, ((0, 119),), 0)
    assert not chain_fits(two, ((0, 120),), 1)
    assert chain_fits(two, ((0, 30), (90, 120)), 0)
    assert not chain_fits(two, ((0, 29), (90, 120)), 0)
    assert not chain_fits(two, ((0, 30), (91, 120)), 0)
    assert chain_fits(two, ((0, 30), (91, 121)), 0)
    assert not chain_fits(two, ((0, 30), (60, 89)), 0)
    assert not chain_fits(two, ((0, 30), (60, 90), (100, 125)), 0)
    assert chain_fits(two, ((0, 30), (60, 90), (100, 130)), 0)
    assert first_fit(((0, 30), (60, 95)), 10, 30) == 60
    assert first_fit(((0, 30), (60, 89)), 10, 30) is None


def test_a_run_begins_in_no_room_that_does_not_hold_all_of_it() -> None:
    split = task(60, 30, 60, ((0, 60),), ((100, 400),))
    found = pack([split], None, 0)
    assert found is not None
    assert found[0].starts == (100, 190)
    late = pack_late([split], None, 400)
    assert late is not None
    assert late[0].starts == (280, 370)


def test_one_zone_soaks_while_the_other_runs_in_what_both_need_at_least() -> None:
    """Both have two cycles of 30 min and soaks of 30: together two hours, first to last minute."""
    room = ((0, 120),)
    found = pack([task(60, 30, 30, room), task(60, 30, 30, room, order=1)], None, 0)
    assert found is not None
    assert [each.starts for each in found] == [(0, 60), (30, 90)]
    assert pack([task(60, 30, 30, ((0, 119),)), task(60, 30, 30, ((0, 119),), order=1)], None, 0) is None


def planner() -> Planner:
    return Planner(
        PlanInputs(
            windows=(Window(BEGIN, END),),
            supply=Supply(),
            air=Air(NOW.replace(minute=0), [2.0] * 24, [15.0] * 24),
            rules=Rules(hours=((time(22), time(6)),)),
            local=CHICAGO,
            now=NOW,
        )
    )


def test_runs_that_wait_for_the_rain_wait_no_shorter_than_they_asked() -> None:
    """Kept to the end of the night, but none before the minute it asked for, and seed as it asked."""
    requests = (
        want("Late", 30, earliest=END - timedelta(minutes=32)),
        want("Early", 30, earliest=clock(23)),
        want("Seed", 10, priority=SEED, latest=clock(23)),
    )
    plan, taken = planner().late_or_calm(requests, 0.9)
    begin = END - SPARE - timedelta(minutes=60)
    assert [each.earliest for each in taken] == [END - timedelta(minutes=32), begin, None]
    starts = {run.zone: run.cycles[0].starts_at for run in plan.runs}
    assert starts["Late"] >= END - timedelta(minutes=32)
    assert starts["Early"] >= begin
    assert starts["Seed"] < clock(23)
    calm, same = planner().late_or_calm(requests, 0.0)
    assert same == requests
    assert len(calm.runs) == 3


@pytest.mark.parametrize("count", range(8))
@pytest.mark.parametrize("low", range(3))
def test_the_first_hour_that_would_do_is_found_by_leaps_as_one_by_one(count: int, low: int) -> None:
    for first in range(count + 1):
        tried: list[int] = []

        def holds(i: int, first: int = first, tried: list[int] = tried) -> bool:
            tried.append(i)
            return i >= first

        expected = next((i for i in range(low, count) if i >= first), None)
        assert _first(count, low, holds) == expected
        assert all(low <= i < count for i in tried)


def test_stretches_lie_in_others_only_if_each_does() -> None:
    assert _lies_in([(0, 10), (50, 60)], [(0, 20), (40, 60)])
    assert not _lies_in([(0, 10), (50, 60)], [(0, 20)])
    assert not _lies_in([(0, 10)], [(0, 9), (9, 20)])


def test_a_zone_that_may_run_in_two_stretches_is_not_held_to_the_shorter() -> None:
    """Morning may run from 4:00 only, for 100 min; Any takes the hours before it."""
    plan = plan_of(want("Morning", 95, earliest=clock(4)), want("Any", 300))
    assert plan.not_planned == ()
    assert {run.zone for run in plan.runs} == {"Morning", "Any"}


def test_stretches_that_only_touch_do_not_overlap() -> None:
    assert _overlap([(0, 10)], [(10, 20), (5, 8), (9, 12)]) == ((5, 8), (9, 10))


@pytest.mark.parametrize(("minutes", "since"), [(345, time(23, 45)), (1060, time(12)), (1061, None)])
def test_earlier_hours_are_looked_for_back_to_noon(minutes: int, since: time | None) -> None:
    """Hours from midnight to 5:40 hold 340 min; those from noon on twelve hours more."""
    inputs = PlanInputs(
        windows=(Window(MIDNIGHT, END),),
        supply=Supply(),
        air=Air(MIDNIGHT - timedelta(hours=14), [2.0] * 24, [15.0] * 24),
        rules=Rules(hours=((time(0), time(6)),)),
        local=CHICAGO,
        now=MIDNIGHT - timedelta(hours=14),
    )
    (left,) = make_plan([want("Front", minutes)], inputs).not_planned
    told = [change.since for change in left.changes if change.kind == ChangeKind.HOURS_FROM]
    assert told == ([] if since is None else [since])


def crowded(seed: int) -> tuple[list[Request], float | None]:
    """A made night of several zones with and without soaks, flows and leasts, too full for all of them."""
    rng = Random(seed)
    requests = [
        want(
            f"Z{number}",
            rng.choice([30, 60, 90, 120, 200]),
            urgency=float(9 - number),
            cycle_min=rng.choice([None, 10, 15]),
            soak_min=rng.choice([0, 20, 40]),
            flow_l_min=rng.choice([None, 10.0, 20.0]),
            least_minutes=rng.choice([None, None, 20.0]),
        )
        for number in range(rng.randint(3, 6))
    ]
    return requests, rng.choice([None, 30.0])


@pytest.mark.parametrize("seed", [2, 7, 38, 41, 47, 50])
def test_with_the_earlier_hour_that_is_advised_the_zone_runs_whole(seed: int) -> None:
    requests, flow = crowded(seed)
    asked = {request.zone: request.length.minutes for request in requests}
    told = [
        (left.zone, change.since)
        for left in plan_of(*requests, flow=flow).not_planned
        for change in left.changes
        if change.kind == ChangeKind.HOURS_FROM
    ]
    for zone, since in told:
        assert since is not None
        inputs = PlanInputs(
            windows=(Window(clock(since.hour, since.minute), END),),
            supply=Supply(flow),
            air=Air(NOW - timedelta(hours=9), [2.0] * 24, [15.0] * 24),
            rules=Rules(hours=((since, time(6)),)),
            local=CHICAGO,
            now=NOW - timedelta(hours=9),
        )
        ran = {run.zone: run.minutes for run in make_plan(requests, inputs).runs}
        assert ran.get(zone) == asked[zone]


def laid(seed: int, tries: int) -> dict[str, tuple[int, ...]]:
    """By zone the starts in a crowded night in which so many cycles may be packed in vain."""
    requests, flow = crowded(seed)
    inputs = PlanInputs(
        windows=(Window(BEGIN, END),),
        supply=Supply(flow),
        air=Air(NOW.replace(minute=0), [2.0] * 24, [15.0] * 24),
        rules=Rules(hours=((time(22), time(6)),)),
        local=CHICAGO,
        now=NOW,
    )
    night = night_limits(inputs, inputs.windows, any_by_hand=False)
    placed = Arranger(night, requests, tries=tries).with_parts().placed
    return {run.task.request.zone: run.starts for run in placed}


@pytest.mark.parametrize("seed", [7, 16, 23, 36, 37, 47])
def test_where_no_tries_are_left_runs_are_only_put_among_those_that_stand(seed: int) -> None:
    """None left is none, whether the last was used up or more than that; a night with tries is fuller."""
    assert laid(seed, 0) == laid(seed, -7) != laid(seed, 1200)


@pytest.mark.parametrize(
    ("span", "length", "taken", "night_end", "starts"),
    [
        ((0, 100), 40, [], 200, [60, 45, 30, 15, 0]),
        ((0, 100), 40, [], 100, [55, 40, 25, 10, 0]),  # five minutes before the night's end
        ((0, 45), 40, [], 45, [0]),
        ((0, 44), 40, [], 44, [4, 0]),  # with the margin it would not fit
        ((0, 40), 40, [], 40, [0]),
        ((0, 39), 40, [], 200, []),
        ((0, 100), 40, [(40, 60)], 200, [0, 60]),
        ((0, 100), 40, [(39, 60)], 200, [60]),
        ((0, 100), 40, [(40, 61)], 200, [0]),
        ((0, 100), 30, [(-10, 10), (90, 120)], 200, [60, 45, 30, 15, 10]),
        ((0, 100), 30, [(0, 100)], 200, []),
        ((0, 100), 30, [(100, 120)], 200, [70, 55, 40, 25, 10, 0]),
    ],
)
def test_a_block_is_tried_every_quarter_back_from_its_latest_start_and_at_the_first(
    span: tuple[int, int],
    length: int,
    taken: list[tuple[int, int]],
    night_end: int,
    starts: list[int],
) -> None:
    assert _grid(*span, length, taken, night_end) == starts


@pytest.mark.parametrize(
    ("costs", "choice"),
    [([2.0, 2.0, 2.0], 2), ([2.0, 2.3, 2.31], 1), ([2.0, 2.31, 2.29], 2), ([2.5, 2.0, 2.4], 1), ([1.0], 0)],
)
def test_the_latest_within_a_trifle_of_the_calmest_is_taken(costs: list[float], choice: int) -> None:
    """Three tenths of a metre a second are not worth being sooner for."""
    assert _calm_and_late(range(len(costs)), costs) == choice
