"""What became of advised runs, at the edges: the minute that decides, and the water that a run had by then."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, time, timedelta
from functools import cache

import pytest
from made import EVENING, made_site, made_weather, made_zone

from advisor.advice import AT_THE_LOOK, Advice, Cycle, GaugeCondition, PlannedRun
from advisor.lawn import Application, GaugeReading, ProbeReading, Product, Records, Rules, Run
from advisor.lawn.tables import kind_table
from advisor.soil_water import PAST_DAYS
from advisor.tonight import advise
from advisor.tonight.under_way import EarlierRuns, earlier_runs, running, soonest_start, with_runs

MINUTE = timedelta(minutes=1)
RULES = Rules(hours=((time(20), time(8)),))
BY_CLOCK = replace(RULES, assume_made_after_min=5.0)
DRY = Records(probes=(ProbeReading("Front", EVENING - timedelta(hours=2), 22.0),))


@cache
def first_advice() -> Advice:
    site = made_site(made_zone("Front"), made_zone("Back"), rules=RULES)
    return advise(site=site, records=DRY, weather=made_weather(), now=EVENING)


def planned(*cycles: tuple[datetime, float], **changes: object) -> PlannedRun:
    """A run with cycles that begin then and last so many minutes."""
    made = tuple(Cycle(starts_at=at, ends_at=at + n * MINUTE) for at, n in cycles)
    given = {"cycles": made, "minutes": sum(n for _, n in cycles), "night": EVENING.date()}
    return first_advice().runs[0].model_copy(update=given | changes)


def before(*runs: PlannedRun, night: datetime = EVENING) -> Advice:
    """The advice before with these runs instead of its own."""
    return first_advice().model_copy(update={"runs": runs, "night": night.date()})


def fate(run: PlannedRun, now: datetime, rules: Rules = RULES, records: Records = DRY) -> str:
    """Under which name the run is found, "" where it is not."""
    found = earlier_runs(before(run), EVENING.date(), records, rules, now)
    names = [name for name in ("recorded", "going", "made", "unrecorded") if getattr(found, name)]
    return " ".join(names)


@pytest.mark.parametrize(
    ("minutes", "by_hand", "by_clock"),
    [
        (-16, "", ""),
        (-15, "", ""),  # the owner can just act
        (-14, "", "going"),
        (0, "", "going"),  # it has not begun before now
        (1, "unrecorded", "going"),
        (49, "unrecorded", "going"),
        (50, "unrecorded", "made"),  # its last cycle is over
    ],
)
def test_by_the_minute_a_run_is_still_to_come_goes_on_or_is_over(
    minutes: int, by_hand: str, by_clock: str
) -> None:
    """Two cycles of 10 min, 30 min apart; the owner needs 15 min to act."""
    begins = EVENING + timedelta(hours=2)
    run = planned((begins, 10), (begins + 40 * MINUTE, 10))
    now = begins + minutes * MINUTE
    assert fate(run, now) == by_hand
    assert fate(run, now, BY_CLOCK) == by_clock
    moved = run.model_copy(update={"by_hand": True})
    assert fate(moved, now, BY_CLOCK) == by_hand
    waits = run.model_copy(update={"condition": GaugeCondition(look_at=begins, under_mm=2.0)})
    assert fate(waits, now, BY_CLOCK) == by_hand


@pytest.mark.parametrize(("minutes", "name"), [(20, "going"), (59, "going"), (60, "made"), (61, "made")])
def test_a_short_run_counts_as_made_when_the_margin_after_its_start_has_passed(
    minutes: int, name: str
) -> None:
    begins = EVENING + timedelta(hours=2)
    rules = replace(RULES, assume_made_after_min=60.0)
    assert fate(planned((begins, 10)), begins + minutes * MINUTE, rules) == name


@pytest.mark.parametrize(("after", "told"), [(0, True), (1, True), (2, False)])
def test_an_unrecorded_run_is_asked_after_until_the_evening_after(after: int, told: bool) -> None:
    run = planned((EVENING + timedelta(hours=2), 10))
    night = EVENING + timedelta(days=after)
    found = earlier_runs(before(run), night.date(), DRY, RULES, night + timedelta(hours=3))
    assert bool(found.unrecorded) == told
    record = Run("Front", run.cycles[0].starts_at, run.cycles[0].ends_at, 10.0)
    kept = earlier_runs(
        before(run), night.date(), replace(DRY, runs=(record,)), RULES, night + timedelta(hours=3)
    )
    assert (bool(kept.recorded), kept.unrecorded, kept.under_record) == (told, (), ())


@pytest.mark.parametrize(("days", "made"), [(1, True), (PAST_DAYS, True), (PAST_DAYS + 1, False)])
def test_what_a_clock_made_counts_as_long_as_the_balance_looks_back(days: int, made: bool) -> None:
    run = planned((EVENING + timedelta(hours=2), 10))
    night = EVENING + timedelta(days=days)
    found = earlier_runs(before(run), night.date(), DRY, BY_CLOCK, night)
    assert (found.made != ()) == made
    assert found.made_in(EVENING.date()) == found.made
    assert found.made_in(night.date()) == ()


def test_an_advice_of_a_later_night_tells_nothing_of_this_one() -> None:
    run = planned((EVENING + timedelta(hours=2), 10))
    now = EVENING + timedelta(hours=3)
    assert earlier_runs(None, EVENING.date(), DRY, RULES, now) == EarlierRuns()
    later = before(run, night=EVENING + timedelta(days=1))
    assert earlier_runs(later, EVENING.date(), DRY, RULES, now) == EarlierRuns()
    assert earlier_runs(before(run), EVENING.date(), DRY, RULES, now).unrecorded == (run,)


@pytest.mark.parametrize(
    ("apart", "read_mm", "told"),
    [
        (timedelta(0), 1.9, True),
        (timedelta(0), 2.0, False),
        (AT_THE_LOOK, 2.0, False),
        (-AT_THE_LOOK, 2.0, False),
        (AT_THE_LOOK + MINUTE, 9.0, True),
        (-AT_THE_LOOK - MINUTE, 9.0, True),
    ],
)
def test_a_reading_at_the_look_that_shows_the_mark_forbade_the_run(
    apart: timedelta, read_mm: float, told: bool
) -> None:
    """It was to be made under 2 mm; only a reading near the look says what the owner saw then."""
    begins = EVENING + timedelta(hours=5)
    look_at = begins - timedelta(hours=1)
    run = planned((begins, 10), condition=GaugeCondition(look_at=look_at, under_mm=2.0))
    records = replace(DRY, gauge=(GaugeReading(look_at + apart, read_mm, EVENING),))
    assert fate(run, begins + timedelta(hours=3), records=records) == ("unrecorded" if told else "")


@pytest.mark.parametrize(
    ("minutes", "soonest"), [(-1, 15), (0, 0), (1, 1), (14, 14), (15, 15), (16, 15), (40, 15)]
)
def test_what_begins_before_the_owner_can_act_may_begin_as_it_was_advised(minutes: int, soonest: int) -> None:
    """The owner needs 15 min; a run that begins sooner is not moved by being asked after."""
    now = EVENING + timedelta(hours=1)
    told = before(planned((now + minutes * MINUTE, 30)), planned((now + 100 * MINUTE, 30)))
    assert soonest_start(told, now, RULES) == now + soonest * MINUTE
    assert soonest_start(None, now, RULES) == now + 15 * MINUTE


@pytest.mark.parametrize(
    ("begins_s", "ends_s", "as_advised"),
    [(0, 0, True), (60, -60, True), (-60, 60, True), (61, 0, False), (0, -61, False), (0, 61, False)],
)
def test_a_record_within_a_minute_of_the_advice_keeps_its_cycles(
    begins_s: int, ends_s: int, as_advised: bool
) -> None:
    begins = EVENING + timedelta(hours=2)
    run = planned((begins, 10), (begins + 40 * MINUTE, 10))
    record = Run(
        "Front",
        begins + timedelta(seconds=begins_s),
        begins + 50 * MINUTE + timedelta(seconds=ends_s),
        18.0,
    )
    found = earlier_runs(
        before(run), EVENING.date(), replace(DRY, runs=(record,)), RULES, begins + 20 * MINUTE
    )
    (going,) = found.under_record
    assert (going == run) == as_advised
    if not as_advised:
        assert [(c.starts_at, c.ends_at) for c in going.cycles] == [(record.started_at, record.ended_at)]
        assert (going.minutes, going.depth_mm) == (18.0, pytest.approx(0.9 * run.depth_mm))


# --- the water of a run that goes on --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("begun_min", "left_min", "from_min", "until_min"),
    [
        (40, 20, 40, 0),  # it goes on: from its own start until now
        (1, 59, 1, 0),
        (0, 60, 1, 0),  # it begins now: a minute is the least stretch
        (60, 0, 60, 0),  # it is just over
        (90, -30, 90, 30),
    ],
)
def test_all_the_water_of_a_run_that_goes_on_counts_from_its_own_start_until_now(
    begun_min: int, left_min: int, from_min: int, until_min: int
) -> None:
    now = EVENING
    begins, ends = now - begun_min * MINUTE, now + left_min * MINUTE
    record = Run("Front", begins, ends, 60.0, 12.0)
    other = Run("Back", now - timedelta(hours=9), now - timedelta(hours=8), 60.0)
    (had, same) = with_runs(replace(DRY, runs=(record, other)), (), now).runs
    assert same == other
    assert (had.started_at, had.ended_at) == (now - from_min * MINUTE, now - until_min * MINUTE)
    assert (had.zone, had.minutes, had.depth_mm) == ("Front", 60.0, 12.0)
    assumed = with_runs(DRY, (planned((begins, begun_min + left_min), minutes=60.0, depth_mm=12.0),), now)
    assert [replace(run, source="by hand", note="") for run in assumed.runs] == [had]


def test_a_run_that_is_to_begin_in_a_moment_counts_in_the_minute_before_now() -> None:
    run = planned((EVENING + 10 * MINUTE, 30))
    (had,) = with_runs(DRY, (run,), EVENING).runs
    assert (had.started_at, had.ended_at) == (EVENING - MINUTE, EVENING)
    assert (had.minutes, had.depth_mm) == (run.minutes, run.depth_mm)


def test_records_without_a_run_that_goes_on_are_left_as_they_are() -> None:
    over = Run("Front", EVENING - timedelta(hours=1), EVENING, 60.0)
    skipped = Run("Back", EVENING - timedelta(hours=1), EVENING + timedelta(hours=1), 0.0)
    records = replace(DRY, runs=(over, skipped))
    assert with_runs(records, (), EVENING) is records
    assert running(EarlierRuns(), records, {}, EVENING) == ()


def test_what_draws_water_from_now_on_is_each_cycle_that_is_not_over_and_each_zone_once() -> None:
    """Three cycles: one ended just now, one goes on, one is to come; the record of the same zone adds none."""
    now = EVENING
    run = planned((now - 10 * MINUTE, 10), (now, 10), (now + 30 * MINUTE, 10))
    records = replace(
        DRY,
        runs=(
            Run("Front", now - 10 * MINUTE, now + 40 * MINUTE, 30.0),
            Run("Back", now, now + 5 * MINUTE, 5.0),
        ),
    )
    found = running(EarlierRuns(going=(run,)), records, {"Front": 20.0}, now)
    assert [(r.zone, (r.starts_at - now) / MINUTE, (r.ends_at - now) / MINUTE) for r in found] == [
        ("Front", 0.0, 10.0),
        ("Front", 30.0, 40.0),
        ("Back", 0.0, 5.0),
    ]
    assert [r.flow_l_min for r in found] == [20.0, 20.0, None]


@pytest.mark.parametrize(("ended_min_ago", "had_mm"), [(90, 12.0), (30, 6.0), (1, 0.2)])
def test_a_product_put_down_in_a_run_that_goes_on_has_the_part_of_it_that_came_after(
    ended_min_ago: int, had_mm: float
) -> None:
    """A record of an hour at 12 mm/h, made when it began an hour ago, of which a minute is still to come."""
    down = EVENING - ended_min_ago * MINUTE
    site = made_site(
        made_zone(uniformity=1.0),
        rules=RULES,
        products={"Feed": Product("Feed", kind_table()["granular-slow"])},
    )
    records = Records(
        probes=(ProbeReading("Front", EVENING - timedelta(hours=2), 3.0),),
        applications=(Application("Feed", ("Front",), down, down, "spreader", id=1),),
        runs=(Run("Front", EVENING - 60 * MINUTE, EVENING + MINUTE, 60.0),),
    )
    advice = advise(site=site, records=records, weather=made_weather(), now=EVENING)
    assert advice.obligations[0].received_mm == pytest.approx(had_mm)
