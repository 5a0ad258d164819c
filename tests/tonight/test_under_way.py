"""Runs that an earlier advice asked for: the same question twice cancels nothing, and nothing counts twice."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, time, timedelta

import pytest
from made import EVENING, made_site, made_weather, made_zone

from advisor.advice.advice import Advice
from advisor.advice.reasons import ReasonKind
from advisor.lawn.records import ProbeReading, Records, Run
from advisor.lawn.site_values import Rate, Rules, Site, Supply
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
    return advise(site=site, records=records, weather=made_weather(), now=now, previous=previous)


def later(first: Advice, minutes_in: float, *, site: Site = SITE, records: Records = DRY) -> Advice:
    now = first.runs[0].cycles[0].starts_at + timedelta(minutes=minutes_in)
    return asked(now, site=site, records=records, previous=first)


def doubts(advice: Advice) -> dict[ReasonKind, tuple[str, ...]]:
    kinds = (
        ReasonKind.RUN_NOT_RECORDED,
        ReasonKind.RUN_COUNTS_AS_NOT_MADE,
        ReasonKind.LAST_NIGHT_NOT_RECORDED,
    )
    return {each.kind: each.zones for each in advice.unknown_reasons if each.kind in kinds}


def made_run(first: Advice, share: float = 1.0) -> Run:
    """A record of the first run of an advice, whole, shortened or (0) skipped."""
    run = first.runs[0]
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


def test_a_third_advice_tells_of_the_first_run_still_and_of_it_alone() -> None:
    second = later(asked(EVENING), 10)
    third = later(second, 10)
    assert [run.cycles[0].starts_at for run in third.unrecorded] == [
        run.cycles[0].starts_at for run in second.unrecorded
    ]


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


def test_until_the_margin_has_passed_it_is_not_taken_as_made_and_the_new_plan_of_it_never_is() -> None:
    site = replace(SITE, rules=replace(RULES, assume_made_after_min=30.0))
    first = asked(EVENING, site=site)
    begins = first.runs[0].cycles[0].starts_at
    second = later(first, 20, site=site)
    assert [run.zone for run in second.unrecorded] == ["Front"]
    third = asked(begins + timedelta(minutes=70), site=site, previous=second)
    assert [run.cycles[0].starts_at for run in third.under_way] == [begins]
    assert third.runs == ()


def test_the_others_run_in_the_soaks_of_what_is_under_way_and_after_it() -> None:
    """With valves: a sprinkler that a person moves is never taken as run by itself."""
    zones = tuple(replace(zone, by_hand=False) for zone in SLOPE.zones)
    site = replace(SLOPE, zones=zones, rules=replace(SLOPE.rules, assume_made_after_min=0.0))
    first = asked(EVENING, site=site, records=ALL_DRY)
    second = asked(EVENING + timedelta(minutes=16), site=site, records=ALL_DRY, previous=first)
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


@pytest.mark.parametrize("recorded", [True, False], ids=["recorded", "not recorded"])
def test_the_next_evening_asks_after_runs_that_are_not_recorded(recorded: bool) -> None:
    first = asked(EVENING)
    records = replace(DRY, runs=(made_run(first),)) if recorded else DRY
    advice = asked(EVENING + timedelta(days=1), records=records, previous=first)
    told = {} if recorded else {ReasonKind.LAST_NIGHT_NOT_RECORDED: ("Front",)}
    assert doubts(advice) == told
    assert any("the night before is not recorded" in text for text in advice.unknowns) is not recorded
