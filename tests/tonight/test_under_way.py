"""Runs that an earlier advice asked for: the same question twice cancels nothing, and nothing counts twice."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, time, timedelta
from random import Random

import numpy as np
import pytest
from made import EVENING, made_site, made_weather, made_zone

from advisor.advice.advice import Advice, GaugeCondition, LookKind, PlannedRun
from advisor.advice.look_outcome import LookVerdict, look_outcome
from advisor.advice.reasons import ReasonKind
from advisor.lawn.products import Product
from advisor.lawn.records import Application, GaugeReading, ProbeReading, Records, Run
from advisor.lawn.site_values import Rate, Rules, Site, Supply
from advisor.lawn.tables import kind_table
from advisor.tonight.advise import advise

HOURS = ((time(20), time(8)),)
ALL_DAY = ((time(0), time(0)),)
RULES = Rules(hours=HOURS)
BY_CLOCK = replace(RULES, assume_made_after_min=5.0)
SITE = made_site(made_zone("Front"), made_zone("Back"), rules=RULES)
DRY = Records(
    probes=(
        ProbeReading("Front", EVENING - timedelta(hours=2), 22.0),
        ProbeReading("Back", EVENING - timedelta(hours=2), 3.0),
    )
)


def asked(
    now: datetime, *, site: Site = SITE, records: Records = DRY, previous: Advice | None = None
) -> Advice:
    weather = made_weather() if now < EVENING + timedelta(days=3) else made_weather(now=now)
    return advise(site=site, records=records, weather=weather, now=now, previous=previous)


def later(first: Advice, minutes_in: float, *, site: Site = SITE, records: Records = DRY) -> Advice:
    now = first.runs[0].cycles[0].starts_at + timedelta(minutes=minutes_in)
    return asked(now, site=site, records=records, previous=first)


def doubts(advice: Advice) -> dict[ReasonKind, tuple[str, ...]]:
    kinds = (
        ReasonKind.RUN_NOT_RECORDED,
        ReasonKind.RUN_COUNTS_AS_NOT_MADE,
        ReasonKind.LAST_NIGHT_NOT_RECORDED,
        ReasonKind.WAITED_NOT_RECORDED,
    )
    return {each.kind: each.zones for each in advice.unknown_reasons if each.kind in kinds}


def made_run(first: Advice, share: float = 1.0) -> Run:
    """A record of the first run of an advice, whole, shortened or (0) skipped."""
    return recorded(first.runs[0], share)


def recorded(run: PlannedRun, share: float = 1.0) -> Run:
    begins = run.cycles[0].starts_at
    ends = begins + share * (run.cycles[-1].ends_at - begins)
    minutes, depth = share * run.minutes, share * run.depth_mm
    return Run(
        run.zone, begins, ends, minutes, depth, source="as advised", note="skipped" if not share else ""
    )


# --- two asks in the same minute -------------------------------------------------------------------

NAMES = ("Slope", "Front", "Back", "Side")
SLOPE = made_site(
    *(
        made_zone(
            name, by_hand=name == "Slope", first_puddle_min=12.0, rate=Rate(36.0, "measured", 36.0, 36.0)
        )
        for name in NAMES
    ),
    rules=Rules(hours=((time(20), time(22, 40)),), finish="window", awake=(time(6), time(23))),
)
"""A hose that is moved on a slope, whose soaks the three others fill: from now on to the last minute."""
ALL_DRY = Records(
    probes=tuple(
        ProbeReading(name, EVENING - timedelta(hours=2), 17.0 if name == "Slope" else 14.0) for name in NAMES
    )
)


def test_asked_twice_in_the_same_minute_the_answer_is_the_same() -> None:
    first = asked(EVENING, site=SLOPE, records=ALL_DRY)
    assert {run.zone for run in first.runs} == set(NAMES)
    second = asked(EVENING, site=SLOPE, records=ALL_DRY, previous=first)
    assert second.runs == first.runs
    assert second.not_planned == first.not_planned
    assert (second.under_way, second.changes) == ((), ())
    assert doubts(second) == {}


@pytest.mark.parametrize("minutes", [0.0, 15.0, 40.0])
def test_nothing_is_planned_before_the_owner_can_act(minutes: float) -> None:
    site = replace(SLOPE, rules=replace(SLOPE.rules, act_within_min=minutes))
    first = asked(EVENING, site=site, records=ALL_DRY)
    assert first.runs[0].cycles[0].starts_at >= EVENING + timedelta(minutes=minutes)
    assert first.window_starts_at == EVENING + timedelta(minutes=minutes)


def test_a_night_of_which_too_little_is_left_is_over() -> None:
    late = EVENING.replace(hour=7, minute=50) + timedelta(days=1)
    assert asked(late - timedelta(hours=3)).night == EVENING.date()
    assert asked(late).night == late.date()


# --- after the start, unrecorded -------------------------------------------------------------------


def test_a_run_that_is_not_recorded_counts_as_not_made_and_is_planned_again() -> None:
    first = asked(EVENING)
    advice = later(first, 10)
    assert (advice.under_way, [run.zone for run in advice.unrecorded]) == ((), ["Front"])
    assert [run.zone for run in advice.runs] == ["Front"]
    assert advice.runs[0].cycles[0].starts_at >= advice.now + timedelta(minutes=15)
    assert doubts(advice) == {ReasonKind.RUN_COUNTS_AS_NOT_MADE: ("Front",)}
    at = f"{first.runs[0].cycles[0].starts_at.astimezone(SITE.place.zone):%H:%M}"
    assert any(f"the run advised for {at} is not recorded" in text for text in advice.unknowns)


def test_a_run_that_is_not_recorded_cancels_no_other_zone() -> None:
    first = asked(EVENING, site=SLOPE, records=ALL_DRY)
    now = EVENING + timedelta(minutes=16)
    second = asked(now, site=SLOPE, records=ALL_DRY, previous=first)
    assert [run.zone for run in second.unrecorded] == ["Slope"]
    assert {run.zone for run in second.runs} == set(NAMES)


def test_a_third_advice_tells_of_the_run_that_was_planned_last_and_of_it_alone() -> None:
    second = later(asked(EVENING), 10)
    third = later(second, 10)
    assert [run.cycles[0].starts_at for run in third.unrecorded] == [
        run.cycles[0].starts_at for run in second.runs
    ]


@pytest.mark.parametrize("which", ["first", "planned again"])
def test_of_a_run_and_the_one_planned_for_it_again_the_recorded_one_stands_for_both(which: str) -> None:
    first = asked(EVENING)
    second = later(first, 10)
    mine = first.runs[0] if which == "first" else second.runs[0]
    records = replace(DRY, runs=(recorded(mine),))
    third = asked(mine.cycles[-1].ends_at + timedelta(hours=1), records=records, previous=second)
    assert (third.unrecorded, doubts(third)) == ((), {})
    assert [run.cycles[0].starts_at for run in third.recorded] == [mine.cycles[0].starts_at]


# --- taken as made, where the owner says so ---------------------------------------------------------


def test_where_a_clock_makes_the_runs_one_in_progress_is_taken_as_made_and_told() -> None:
    """The old rule, which held everywhere: now only where the site file says so."""
    site = replace(SITE, rules=BY_CLOCK)
    first = asked(EVENING, site=site)
    advice = later(first, 10, site=site)
    assert ([run.zone for run in advice.under_way], advice.runs) == (["Front"], ())
    front = advice.zones[0]
    assert front.depletion_mm < first.zones[0].depletion_mm - 10.0 or front.verdict == "not needed"
    assert "is under way, as advised" in front.reason
    assert doubts(advice) == {ReasonKind.RUN_NOT_RECORDED: ("Front",)}
    assert not any("Front" in text for text in advice.changes)
    third = asked(advice.now + timedelta(minutes=20), site=site, previous=advice)
    assert ([run.zone for run in third.under_way], third.runs) == (["Front"], ())


def test_until_the_margin_has_passed_it_stands_as_advised_and_is_neither_made_nor_planned_again() -> None:
    site = replace(SITE, rules=replace(RULES, assume_made_after_min=30.0))
    first = asked(EVENING, site=site)
    begins = first.runs[0].cycles[0].starts_at
    second = later(first, 20, site=site)
    assert ([run.zone for run in second.under_way], second.unrecorded, second.runs) == (["Front"], (), ())
    third = asked(begins + timedelta(minutes=70), site=site, previous=second)
    told = (*third.under_way, *third.taken_as_made)
    assert [run.cycles[0].starts_at for run in told] == [begins]
    assert third.runs == ()


@pytest.mark.parametrize("minutes_before", [14.0, 5.0, 0.0])
def test_a_run_that_begins_sooner_than_the_owner_can_act_stands_where_a_clock_makes_it(
    minutes_before: float,
) -> None:
    site = replace(SITE, rules=BY_CLOCK)
    first = asked(EVENING, site=site)
    begins = first.runs[0].cycles[0].starts_at
    advice = later(first, -minutes_before, site=site)
    assert [run.cycles[0].starts_at for run in advice.under_way] == [begins]
    assert (advice.runs, advice.unrecorded, advice.changes) == ((), (), ())
    at = f"{begins.astimezone(SITE.place.zone):%H:%M}"
    said = f"Front runs from {at} as advised before." if minutes_before else "Front is under way until"
    assert said in advice.headline
    sooner = later(first, -40, site=site)
    assert (sooner.under_way, [run.zone for run in sooner.runs]) == ((), ["Front"])


def test_the_others_run_in_the_soaks_of_what_is_under_way_and_after_it() -> None:
    """With valves: a sprinkler that a person moves is never taken as run by itself."""
    zones = tuple(replace(zone, by_hand=False) for zone in SLOPE.zones)
    site = replace(SLOPE, zones=zones, rules=replace(SLOPE.rules, assume_made_after_min=0.0))
    first = asked(EVENING, site=site, records=ALL_DRY)
    at_once = replace(site, rules=replace(site.rules, act_within_min=0.0))
    second = asked(EVENING + timedelta(minutes=16), site=at_once, records=ALL_DRY, previous=first)
    going = [c for run in second.under_way for c in run.cycles]
    planned = [c for run in second.runs for c in run.cycles]
    assert [run.zone for run in second.under_way] == ["Slope"]
    assert {run.zone for run in second.runs} == {"Front", "Back", "Side"}
    assert not any(a.starts_at < b.ends_at and b.starts_at < a.ends_at for a in going for b in planned)
    assert min(c.starts_at for c in planned) < max(c.ends_at for c in going)
    assert [check.why for check in second.checks if not check.passed] == []


def test_a_sprinkler_that_a_person_moves_is_never_taken_as_run_by_itself() -> None:
    site = replace(SLOPE, rules=replace(SLOPE.rules, assume_made_after_min=0.0))
    first = asked(EVENING, site=site, records=ALL_DRY)
    assert any(run.by_hand for run in first.runs)
    second = asked(EVENING + timedelta(minutes=16), site=site, records=ALL_DRY, previous=first)
    assert not any(run.by_hand for run in second.under_way)
    moved = [run.zone for run in first.runs if run.by_hand and run.cycles[0].starts_at <= second.now]
    told = next(r for r in second.step_reasons if r.kind == ReasonKind.RUN_COUNTS_AS_NOT_MADE)
    assert list(told.zones) == moved
    assert told.text in second.headline


def test_what_the_supply_carries_runs_beside_what_is_under_way() -> None:
    def planned(supply_l_min: float) -> Advice:
        zones = (made_zone("Front", flow_l_min=10.0), made_zone("Back", flow_l_min=10.0))
        rules = Rules(hours=((time(21), time(23)),), finish="window")
        site = made_site(*zones, rules=rules, supply=Supply(supply_l_min))
        going = Run("Front", EVENING, EVENING + timedelta(hours=2, minutes=30), 150.0, 30.0)
        probes = (ProbeReading("Back", EVENING - timedelta(hours=2), 15.0),)
        now = EVENING + timedelta(minutes=1)
        return asked(now, site=site, records=Records(runs=(going,), probes=probes))

    beside, alone = planned(20.0), planned(15.0)
    assert [run.zone for run in beside.runs] == ["Back"]
    assert beside.not_planned == ()
    assert all(c.starts_at >= EVENING + timedelta(hours=2, minutes=30) for r in alone.runs for c in r.cycles)


# --- recorded ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("share", "verdict"), [(1.0, "not needed"), (0.5, "run"), (0.0, "run")], ids=["whole", "half", "skipped"]
)
@pytest.mark.parametrize("rules", [RULES, BY_CLOCK], ids=["by hand", "by clock"])
def test_what_the_records_say_goes_before_what_was_advised(rules: Rules, share: float, verdict: str) -> None:
    rules = replace(rules, hours=ALL_DAY, finish="window")
    site = replace(SITE, rules=rules)
    first = asked(EVENING, site=site)
    records = replace(DRY, runs=(made_run(first, share),))
    over_in = (first.runs[0].cycles[-1].ends_at - first.runs[0].cycles[0].starts_at) / timedelta(minutes=1)
    advice = later(first, over_in + 5, site=site, records=records)
    assert advice.night == first.night
    assert (advice.under_way, advice.unrecorded, doubts(advice)) == ((), (), {})
    assert advice.zones[0].verdict == verdict
    if share == 0.5:
        assert advice.runs[0].minutes < 0.75 * first.runs[0].minutes


def test_a_recorded_run_that_goes_on_is_under_way_and_not_in_doubt() -> None:
    first = asked(EVENING)
    advice = later(first, 10, records=replace(DRY, runs=(made_run(first),)))
    assert [run.zone for run in advice.under_way] == ["Front"]
    assert (advice.runs, doubts(advice)) == ((), {})
    assert "is under way" in advice.zones[0].reason


# --- the morning and the evening after --------------------------------------------------------------


def test_the_morning_after_an_unrecorded_run_is_told_and_planned_while_hours_are_left() -> None:
    site = replace(SITE, rules=replace(RULES, hours=((time(20), time(10)),), finish="window"))
    first = asked(EVENING, site=site)
    begins = first.runs[0].cycles[0].starts_at
    morning = EVENING.replace(hour=9, minute=30) + timedelta(days=1)
    assert begins < morning
    advice = asked(morning, site=site, previous=first)
    assert doubts(advice) == {ReasonKind.RUN_COUNTS_AS_NOT_MADE: ("Front",)}
    assert advice.zones[0].verdict in ("run", "cannot")


@pytest.mark.parametrize("known", [True, False], ids=["recorded", "not recorded"])
def test_the_next_evening_asks_after_runs_that_are_not_recorded(known: bool) -> None:
    first = asked(EVENING)
    records = replace(DRY, runs=(made_run(first),)) if known else DRY
    told = {} if known else {ReasonKind.LAST_NIGHT_NOT_RECORDED: ("Front",)}
    advice = first
    for hours in (13, 24, 25, 28):  # in the morning, in the evening, and again in that night
        advice = asked(EVENING + timedelta(hours=hours), records=records, previous=advice)
        assert doubts(advice) == told
        words = any("the night before is not recorded" in text for text in advice.unknowns)
        assert words is not known
    after = asked(EVENING + timedelta(days=2), records=records, previous=advice)
    assert ReasonKind.LAST_NIGHT_NOT_RECORDED not in doubts(after) or after.unrecorded[0].night != first.night


def test_what_a_clock_made_counts_for_as_long_as_the_balance_looks_back() -> None:
    """Evening after evening: once, without a record, and then as if it had been recorded."""
    site = replace(SITE, rules=BY_CLOCK)
    first = asked(EVENING, site=site)
    made = first.runs[0]
    advice = first
    for days in range(1, 40):
        advice = asked(EVENING + timedelta(days=days), site=site, records=DRY, previous=advice)
        mine = [run for run in advice.taken_as_made if run.cycles[0].starts_at == made.cycles[0].starts_at]
        assert len(mine) == (1 if days <= 31 else 0), days
        records = replace(DRY, runs=tuple(recorded(run) for run in advice.taken_as_made))
        same = asked(EVENING + timedelta(days=days), site=site, records=records)
        assert [z.depletion_mm for z in advice.zones] == [z.depletion_mm for z in same.zones]
        assert advice.unrecorded == ()
    assert 10 < len(advice.taken_as_made) < 62


@pytest.mark.parametrize("hours", [9.5, 9.8, 24.0])
def test_the_night_over_a_run_that_a_clock_made_is_not_planned_again(hours: float) -> None:
    site = replace(SITE, rules=BY_CLOCK)
    first = asked(EVENING, site=site)
    advice = first
    for each in (3.0, 9.0, hours):
        advice = asked(EVENING + timedelta(hours=each), site=site, previous=advice)
    assert [run.zone for run in (*advice.under_way, *advice.taken_as_made)] == ["Front"]
    assert (advice.unrecorded, advice.runs) == ((), ())
    skipped = replace(DRY, runs=(made_run(first, 0.0),))
    again = asked(EVENING + timedelta(hours=24), site=site, records=skipped, previous=advice)
    assert (again.taken_as_made, [run.zone for run in again.runs]) == ((), ["Front"])


def test_a_run_that_is_recorded_while_it_goes_on_is_not_asked_for_again() -> None:
    """A hose that runs since 21:00: the rest of its water is on its way."""
    products = {"Potash": Product("Potash", kind_table()["soil-liquid"])}
    site = replace(SITE, products=products)
    begun, ended = EVENING + timedelta(minutes=45), EVENING + timedelta(minutes=135)
    laid = Application(
        "Potash", ("Front",), EVENING - timedelta(hours=3), EVENING - timedelta(hours=2), "tank"
    )
    run = Run("Front", begun, ended, 90.0)
    records = replace(DRY, applications=(replace(laid, id=1),), runs=(run,))
    advice = asked(begun + timedelta(minutes=1), site=site, records=records)
    assert "Front" not in {run.zone for run in advice.runs}


@pytest.mark.parametrize("rules", [RULES, BY_CLOCK], ids=["by hand", "by clock"])
@pytest.mark.parametrize("hours", [9.0, 24.0])
def test_a_record_that_is_taken_back_leaves_the_run_as_it_was_before(rules: Rules, hours: float) -> None:
    site = replace(SITE, rules=rules)
    first = asked(EVENING, site=site)
    records = replace(DRY, runs=(made_run(first),))
    second = asked(EVENING + timedelta(hours=hours), site=site, records=records, previous=first)
    assert (second.taken_as_made, second.unrecorded, len(second.recorded)) == ((), (), 1)
    third = asked(second.now + timedelta(minutes=2), site=site, previous=second)
    as_if = asked(second.now + timedelta(minutes=2), site=site, previous=first)
    assert (third.taken_as_made, third.unrecorded) == (as_if.taken_as_made, as_if.unrecorded)
    assert len((*third.taken_as_made, *third.unrecorded, *third.under_way)) == 1
    assert third.runs == as_if.runs


@pytest.mark.parametrize("minutes", [14.0, 7.0, 1.0, 0.0])
def test_asking_shortly_before_a_run_does_not_move_it(minutes: float) -> None:
    first = asked(EVENING, site=SLOPE, records=ALL_DRY)
    begins = first.runs[0].cycles[0].starts_at
    asks = [begins - timedelta(minutes=each) for each in (14.0, 7.0, 1.0, 0.0) if each >= minutes]
    advice = first
    for now in asks:
        advice = asked(now, site=SLOPE, records=ALL_DRY, previous=advice)
    assert advice.runs == first.runs
    assert (advice.unrecorded, advice.changes) == ((), ())


def test_a_run_that_is_recorded_while_it_goes_on_is_told_once_with_its_recorded_end() -> None:
    first = asked(EVENING)
    begins = first.runs[0].cycles[0].starts_at
    second = asked(begins + timedelta(minutes=8), previous=first)
    assert [run.zone for run in second.runs] == ["Front"]
    going = Run("Front", begins, begins + timedelta(minutes=90), 90.0)
    third = asked(second.now + timedelta(minutes=1), records=replace(DRY, runs=(going,)), previous=second)
    assert [(run.zone, run.cycles[-1].ends_at) for run in third.under_way] == [("Front", going.ended_at)]
    at = f"{going.ended_at.astimezone(SITE.place.zone):%H:%M}"
    assert third.headline.count("Front is under way until") == 1
    assert f"Front is under way until {at}." in third.headline
    assert third.runs == ()


@pytest.mark.parametrize("rules", [RULES, BY_CLOCK], ids=["by hand", "by clock"])
@pytest.mark.parametrize(
    ("read_mm", "told"),
    [
        pytest.param(None, True, id="not read"),
        pytest.param(0.5, True, id="under the rule"),
        pytest.param(6.0, False, id="enough"),
    ],
)
def test_a_run_that_waited_for_the_gauge_is_asked_after_unless_the_reading_forbade_it(
    rules: Rules, read_mm: float | None, told: bool
) -> None:
    site = replace(SITE, rules=rules)
    first = asked(EVENING, site=site)
    look_at = first.runs[0].cycles[0].starts_at - timedelta(hours=1)
    waits = first.runs[0].model_copy(update={"condition": GaugeCondition(look_at=look_at, under_mm=2.0)})
    previous = first.model_copy(update={"runs": (waits,)})
    read = () if read_mm is None else (GaugeReading(look_at + timedelta(minutes=5), read_mm, EVENING),)
    records = replace(DRY, gauge=read)
    night = asked(EVENING + timedelta(days=1), site=site, records=records, previous=previous)
    assert doubts(night) == ({ReasonKind.WAITED_NOT_RECORDED: ("Front",)} if told else {})
    assert night.taken_as_made == ()
    made = replace(records, runs=(recorded(first.runs[0]),))
    after = asked(night.now + timedelta(minutes=1), site=site, records=made, previous=night)
    assert doubts(after) == {}


# --- whatever is asked and recorded, and taken back ---------------------------------------------------


def key(run: PlannedRun) -> tuple[str, datetime]:
    return run.zone, run.cycles[0].starts_at


@pytest.mark.parametrize("rules", [RULES, BY_CLOCK], ids=["by hand", "by clock"])
@pytest.mark.parametrize("seed", range(12))
def test_no_run_that_was_advised_is_lost_and_none_counts_twice(rules: Rules, seed: int) -> None:
    """Asks at any time of some days, records and records taken back between them."""
    rng = Random(seed)
    zones = (made_zone("Front"), made_zone("Back"), made_zone("Hose", by_hand=seed % 2 == 0))
    site = made_site(*zones, rules=replace(rules, awake=(time(6), time(23))))
    begun: dict[tuple[str, datetime], PlannedRun] = {}
    made: dict[tuple[str, datetime], Run] = {}
    advice, now = None, EVENING
    for _ in range(16):
        records = replace(DRY, runs=tuple(made.values()))
        last, advice = advice, asked(now, site=site, records=records, previous=advice)
        if last is not None:
            begun |= {key(run): run for run in last.runs if run.cycles[0].starts_at < now}
        told = [*advice.under_way, *advice.taken_as_made, *advice.unrecorded]
        told += [run for run in advice.recorded if run.zone not in {each.zone for each in advice.under_way}]
        names = [(run.zone, run.night, run.cycles[0].starts_at) for run in told]
        assert len(set(names)) == len(names)
        known = {key(run) for run in (*told, *advice.recorded)}
        for run in begun.values():
            assert run.night is not None
            kept_for = 31 if rules.assume_made_after_min is not None else 1
            instead = any(
                other.zone == run.zone and other.night == run.night and key(other) != key(run)
                for other in begun.values()
            )
            lost = key(run) not in known and (advice.night - run.night).days <= kept_for
            assert not lost or instead or (run.by_hand and (advice.night - run.night).days > 1), (
                seed,
                now,
                run,
            )
        if rules.assume_made_after_min is not None:
            assert all(run.by_hand for run in advice.unrecorded)
        else:
            assert advice.taken_as_made == ()
        for at, run in begun.items():
            if rng.random() < 0.3 and run.cycles[-1].ends_at <= now and at not in made:
                made[at] = recorded(run, rng.choice((1.0, 0.5, 0.0)))
        for at in [at for at in made if rng.random() < 0.15]:
            del made[at]
        now += timedelta(minutes=rng.choice((1, 4, 12, 35, 100, 400, 800, 1400)))
    assert begun


# --- a look just before a turf run --------------------------------------------------------------------


@pytest.mark.parametrize("rules", [RULES, BY_CLOCK], ids=["by hand", "by clock"])
@pytest.mark.parametrize("act_within", [0.0, 15.0, 45.0])
@pytest.mark.parametrize("seconds_late", [0, 40, 200])
@pytest.mark.parametrize("pours", [True, False])
def test_at_the_look_before_a_turf_run_the_run_can_still_be_skipped(
    rules: Rules, act_within: float, seconds_late: int, pours: bool
) -> None:
    site = replace(SITE, rules=replace(rules, act_within_min=act_within))
    wet = np.zeros((10, 240))
    wet[:4, 2:5] = 8.0
    first = advise(site=site, records=DRY, weather=made_weather(wet), now=EVENING)
    look = next(each for each in first.next_looks if each.kind is LookKind.SKIP)
    (run,) = first.runs
    now = look.at + timedelta(seconds=seconds_late)
    fallen = made_weather(np.where(pours, 8.0, 0.0) * np.ones((10, 240)), now=now)
    advice = advise(site=site, records=DRY, weather=fallen, now=now, previous=first)
    outcome = look_outcome(advice, look)
    assert advice.under_way == ()
    if pours:
        assert (advice.runs, outcome.verdict) == ((), LookVerdict.SKIP)
    else:
        (again,) = advice.runs
        assert now <= again.cycles[0].starts_at <= run.cycles[0].starts_at
        assert outcome.verdict == LookVerdict.GO_AHEAD


def test_a_look_that_comes_too_late_to_skip_a_clocks_run_does_not_say_that_it_is_skipped() -> None:
    site = replace(SITE, rules=BY_CLOCK)
    wet = np.zeros((10, 240))
    wet[:4, 2:5] = 8.0
    first = advise(site=site, records=DRY, weather=made_weather(wet), now=EVENING)
    look = next(each for each in first.next_looks if each.kind is LookKind.SKIP)
    late = first.runs[0].cycles[0].starts_at - timedelta(minutes=5)
    pours = made_weather(np.full((10, 240), 8.0), now=late)
    advice = advise(site=site, records=DRY, weather=pours, now=late, previous=first)
    assert [run.zone for run in advice.under_way] == ["Front"]
    assert look_outcome(advice, look).verdict == LookVerdict.GO_AHEAD
