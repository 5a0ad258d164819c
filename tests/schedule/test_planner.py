"""The night's plan on nights made by hand: what runs when, and what is told when it does not."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from advisor.hours.window import Window
from advisor.hours.windows import NightWindows, closed_dates, windows_for
from advisor.lawn.site_values import DateSpan, Rules, Supply
from advisor.schedule.arrange import CALM_TIE_M_S
from advisor.schedule.limits import Air, PlanInputs
from advisor.schedule.planner import Plan, make_plan
from advisor.schedule.request import DUE, SEED, TURF, Request
from advisor.sentences.schedule import plan_note_words, wind_words
from advisor.wording import Say

CHICAGO = ZoneInfo("America/Chicago")
# Nights on Larkmoor Lane (invented), where the wind is the same all night.
NIGHT = date(2026, 7, 17)
NOW = datetime(2026, 7, 17, 20, 15, tzinfo=CHICAGO).astimezone(UTC)
SUNRISE = datetime(2026, 7, 18, 5, 40, tzinfo=CHICAGO).astimezone(UTC)
MIDNIGHT = datetime(2026, 7, 17, tzinfo=UTC)
STILL = Air(MIDNIGHT, [2.0] * 48, [15.0] * 48)
SAY = Say("metric", CHICAGO, NOW)
NIGHT_HOURS = Rules(hours=((time(22), time(6)),))


def window_of(night: date, begins: int = 22, ends: int = 6) -> Window:
    """The window of a coming night, by local hours."""
    return Window(
        datetime.combine(night, time(begins), CHICAGO).astimezone(UTC),
        datetime.combine(night + timedelta(days=1), time(ends), CHICAGO).astimezone(UTC),
    )


NEXT_NIGHTS = tuple(
    NightWindows(night, (window_of(night),)) for night in (date(2026, 7, 18), date(2026, 7, 19))
)


def want(zone: str, minutes: float, **more: Any) -> Request:
    """A want of 10 mm/h on 100 m² without limits, unless said otherwise."""
    given = {"cycle_min": None, "soak_min": 0.0, "priority": TURF, "urgency": 1.0} | more
    return Request(
        zone=zone,
        depth_mm=minutes / 6,
        effective_mm=minutes / 8,
        minutes=minutes,
        area_m2=100.0,
        why="turf",
        **given,
    )


def plan_of(*requests: Request, rules: Rules = NIGHT_HOURS, flow: float | None = None, **more: Any) -> Plan:
    """The plan of 17 July with these wants."""
    windows = windows_for(rules=rules, night=NIGHT, local=CHICAGO, sunrise_at=SUNRISE, now=NOW)
    given = {"air": STILL, "next_nights": NEXT_NIGHTS} | more
    inputs = PlanInputs(windows=windows, supply=Supply(flow), rules=rules, local=CHICAGO, now=NOW, **given)
    return make_plan(requests, inputs)


def notes_of(plan: Plan) -> list[str]:
    """The plan's notes in words."""
    return [plan_note_words(SAY, note) for note in plan.notes]


def times(plan: Plan) -> dict[str, list[str]]:
    """Each zone's cycles as local clock times."""
    return {
        run.zone: [
            f"{c.starts_at.astimezone(CHICAGO):%H:%M}-{c.ends_at.astimezone(CHICAGO):%H:%M}"
            for c in run.cycles
        ]
        for run in plan.runs
    }


def local(hour: int, minute: int = 0, day: int = 18) -> datetime:
    """A clock time of that night as UTC."""
    return datetime(2026, 7, day, hour, minute, tzinfo=CHICAGO).astimezone(UTC)


def test_in_equal_wind_the_runs_end_a_little_before_sunrise() -> None:
    assert times(plan_of(want("Front", 30))) == {"Front": ["05:05-05:35"]}


def test_the_margin_before_sunrise_is_given_up_when_the_night_is_full() -> None:
    assert times(plan_of(want("Front", 458))) == {"Front": ["22:02-05:40"]}


def test_the_calmest_hours_are_chosen_over_later_ones() -> None:
    wind = [4.0] * 48
    wind[31] = 1.0  # 07:00 UTC, 02:00 local
    plan = plan_of(want("Front", 40), air=replace(STILL, wind10_m_s=wind))
    assert times(plan)["Front"][0].startswith("02:")
    assert wind_words(SAY, plan.wind) == (
        "Mean wind while water runs 1.0 m/s; over all allowed hours 3.6 m/s."
    )


def test_a_trifle_of_wind_is_not_worth_moving_for() -> None:
    wind = [4.0] * 48
    wind[31] = 4.0 - CALM_TIE_M_S
    assert times(plan_of(want("Front", 40), air=replace(STILL, wind10_m_s=wind))) == {
        "Front": ["04:55-05:35"]
    }


def test_unknown_wind_is_told_and_the_latest_hours_are_taken() -> None:
    plan = plan_of(want("Front", 30), air=replace(STILL, wind10_m_s=[]))
    assert times(plan) == {"Front": ["05:05-05:35"]}
    assert notes_of(plan) == ["The wind is not known for the allowed hours: the latest hours are taken."]
    assert plan.wind is None


def test_one_zone_soaks_while_the_others_run() -> None:
    limits = {"cycle_min": 10, "soak_min": 20}
    plan = plan_of(want("A", 30, **limits), want("B", 30, **limits), want("C", 30, **limits))
    assert times(plan) == {
        "A": ["04:05-04:15", "04:35-04:45", "05:05-05:15"],
        "B": ["04:15-04:25", "04:45-04:55", "05:15-05:25"],
        "C": ["04:25-04:35", "04:55-05:05", "05:25-05:35"],
    }


@pytest.mark.parametrize(
    ("flow", "at_once"),
    [(None, 1), (19.0, 1), (20.0, 2), (29.9, 2), (30.0, 3)],
    ids=["unknown supply", "one", "two exactly", "not quite three", "three"],
)
def test_as_many_zones_run_at_once_as_the_supply_carries(flow: float | None, at_once: int) -> None:
    plan = plan_of(*(want(name, 30, flow_l_min=10.0) for name in "ABC"), flow=flow)
    starts = [c.starts_at for run in plan.runs for c in run.cycles]
    assert max(starts.count(s) for s in starts) == at_once


def test_a_zone_of_unknown_flow_runs_alone() -> None:
    plan = plan_of(want("A", 30), want("B", 30, flow_l_min=5.0), flow=100.0)
    assert times(plan) == {"A": ["04:35-05:05"], "B": ["05:05-05:35"]}


def test_minutes_are_rounded_up_and_the_depth_and_litres_follow() -> None:
    run = plan_of(want("Front", 20.2, cycle_min=7.9, soak_min=10)).runs[0]
    assert [round((c.ends_at - c.starts_at) / timedelta(minutes=1)) for c in run.cycles] == [7, 7, 7]
    assert run.minutes == 21
    assert run.depth_mm == pytest.approx(21 / 6)
    assert run.effective_mm == pytest.approx(21 / 8)
    assert run.litres == pytest.approx(350.0)


def test_no_minutes_ask_for_nothing() -> None:
    assert plan_of(want("Front", 0.0)) == Plan()


def test_two_wants_for_one_zone_are_a_mistake_of_the_caller() -> None:
    with pytest.raises(ValueError, match="one request a zone"):
        plan_of(want("Front", 5), want("Front", 6))


def test_due_comes_before_seed_and_seed_before_the_driest_turf() -> None:
    plan = plan_of(
        want("Damp", 200, urgency=1.0),
        want("Dry", 200, urgency=9.0),
        want("Seed", 120, priority=SEED, urgency=0.0),
        want("Fed", 130, priority=DUE, urgency=0.0),
    )
    assert [run.zone for run in plan.runs] == ["Fed", "Seed", "Dry"]
    assert [left.zone for left in plan.not_planned] == ["Damp"]
    assert plan.not_planned[0].why == (
        "Fed, Seed and Dry come first; 200 min of water for Damp do not fit beside that in the allowed hours."
    )
    assert plan.not_planned[0].waits_for == date(2026, 7, 19)


def test_a_run_lies_wholly_on_one_side_of_a_freezing_hour() -> None:
    temp = [15.0] * 48
    temp[33] = 3.9  # 04:00 local
    plan = plan_of(want("Front", 30, cycle_min=10, soak_min=30), air=replace(STILL, temp_c=temp))
    assert times(plan) == {"Front": ["02:30-02:40", "03:10-03:20", "03:50-04:00"]}


def test_an_unknown_temperature_stops_nothing_but_is_told() -> None:
    plan = plan_of(want("Front", 30), air=replace(STILL, temp_c=[15.0] * 34))
    assert times(plan) == {"Front": ["05:05-05:35"]}
    assert notes_of(plan) == [
        "The temperature is not known for all of the planned hours: run nothing if there is frost."
    ]


def test_a_sprinkler_moved_by_hand_runs_while_somebody_is_awake_and_the_rest_before_dawn() -> None:
    plan = plan_of(
        want("Hose", 25, by_hand=True, cycle_min=6, soak_min=5),
        want("Front", 30),
        rules=replace(NIGHT_HOURS, hours=((time(20), time(6)),)),
    )
    assert times(plan) == {"Hose": ["21:55-22:04", "22:09-22:17", "22:22-22:30"], "Front": ["05:05-05:35"]}
    assert notes_of(plan) == [
        "Hose: the soil takes only 6.0 min at a time; the plan has 9 min. "
        "Stop when it puddles and go on after a soak."
    ]


def test_two_sprinklers_moved_by_hand_never_run_at_once() -> None:
    plan = plan_of(
        want("Left", 20, by_hand=True, flow_l_min=5.0),
        want("Right", 20, by_hand=True, flow_l_min=5.0),
        rules=replace(NIGHT_HOURS, hours=((time(20), time(6)),)),
        flow=50.0,
    )
    assert times(plan) == {"Left": ["21:50-22:10"], "Right": ["22:10-22:30"]}


COLD = Air(MIDNIGHT, [2.0] * 48, [1.0] * 48)
WINDOWS_CLOSE_AT_MIDNIGHT = "The rules allow no watering on Saturday 18 July: blackout (fair)."


@pytest.mark.parametrize(
    ("requests", "more", "why", "changes"),
    [
        pytest.param(
            [want("Front", 500)],
            {},
            "Front needs 500 min of water; the longest allowed stretch tonight has 460 min.",
            (
                "allow watering from 21:15, if local rules allow it",
                "split the depth over two nights",
            ),
            id="longer than the night",
        ),
        pytest.param(
            [want("Front", 100, cycle_min=5, soak_min=30)],
            {},
            "Front needs 100 min of water and 570 min of soaking; "
            "the longest allowed stretch tonight has 460 min.",
            (
                "allow watering from 18:30, if local rules allow it",
                "split the depth over two nights",
            ),
            id="soaks longer than the night",
        ),
        pytest.param(
            [want("Front", 30)],
            {"air": COLD},
            "It is forecast to be below 4.0 °C in the allowed hours: no run when it may freeze.",
            ("wait for a night without frost",),
            id="frost",
        ),
        pytest.param(
            [want("Front", 30)],
            {"air": COLD, "units": "us"},
            "It is forecast to be below 39 °F in the allowed hours: no run when it may freeze.",
            ("wait for a night without frost",),
            id="frost in the owner's units",
        ),
        pytest.param(
            [want("Front", 30, dry=(Window(NOW, local(9)),))],
            {},
            "Front has to stay dry until 09:00 on Saturday 18 July.",
            (),
            id="dry period",
        ),
        pytest.param(
            [want("Front", 60, latest=local(22, 30, 17))],
            {},
            "Front needs 60 min of water and is due by 22:30 on Friday 17 July. "
            "It is due before the next allowed night.",
            ("allow watering from 21:30, if local rules allow it",),
            id="due too soon",
        ),
        pytest.param(
            [want("Front", 60, earliest=local(5))],
            {},
            "Front needs 60 min of water and may not begin before 05:00 on Saturday 18 July.",
            ("let runs go on after sunrise (finish_by: window), if local rules allow it",),
            id="may not begin before",
        ),
        pytest.param(
            [want("Hose", 60, by_hand=True)],
            {},
            "Hose is moved by hand, and 60 min of water do not fit into the allowed hours in which somebody "
            "is awake (06:00–22:30).",
            ("allow hours by day or in the evening, if local rules allow it", "fit a valve or a tap timer"),
            id="nobody awake",
        ),
        pytest.param(
            [want("Front", 30, flow_l_min=40.0)],
            {"flow": 30.0},
            "Front draws 40.0 L/min; the supply carries 30.0 L/min.",
            (
                "measure both flows and correct the site file",
                "divide the zone into two that the supply carries",
            ),
            id="more than the supply",
        ),
        pytest.param(
            [want("Front", 90)],
            {"rules": replace(NIGHT_HOURS, minutes_a_night=60)},
            "Front needs 90 min; the rules allow 60 min of run time a night.",
            ("allow 90 min a night, if local rules allow it", "split the depth over two nights"),
            id="more minutes than a night has",
        ),
        pytest.param(
            [want("Front", 40, urgency=2.0), want("Back", 30)],
            {"rules": replace(NIGHT_HOURS, minutes_a_night=60)},
            "Front comes first with 40 min; with the 30 min of Back that is more than the 60 min of run time "
            "allowed a night.",
            ("allow 70 min a night, if local rules allow it", "split the runs over two nights"),
            id="minutes already used",
        ),
        pytest.param(
            [want("Front", 300, urgency=2.0, flow_l_min=20.0), want("Back", 200, flow_l_min=20.0)],
            {"flow": 30.0},
            "Front comes first; 200 min of water for Back do not fit beside that in the allowed hours.",
            (
                "allow watering from 21:15, if local rules allow it",
                "raise the supply's flow to 40.0 L/min, so that two zones run at once",
                "split the runs over two nights",
            ),
            id="no room beside what comes first",
        ),
        pytest.param(
            [want("Front", 30)],
            {
                "rules": Rules(
                    hours=((time(0), time(6)),), blackouts=(DateSpan(date(2026, 7, 18), date(2026, 7, 18)),)
                )
            },
            "No allowed hours are left tonight.",
            ("allow more hours, weekdays or dates in the watering rules, if local rules allow it",),
            id="no hours",
        ),
        pytest.param(
            [want("Front", 60, earliest=local(4), dry=(Window(local(4, 20), local(4, 50)),))],
            {"rules": replace(NIGHT_HOURS, hours=((time(4), time(5, 10)),))},
            "Front has to stay dry until 04:50 on Saturday 18 July.",
            (),
            id="one limit among several",
        ),
        pytest.param(
            [want("Front", 60, latest=local(5), dry=(Window(local(22, 0, 17), local(4, 50)),))],
            {"air": COLD},
            "Front needs 60 min of water; what the rules, dry periods, frost and times due leave is too short. "
            "It is due before the next allowed night.",
            ("split the depth over two nights",),
            id="several limits at once",
        ),
    ],
)
def test_what_does_not_fit_is_told_with_why_and_what_would_help(
    requests: list[Request], more: dict[str, Any], why: str, changes: tuple[str, ...]
) -> None:
    plan = plan_of(*requests, **more)
    assert [run.zone for run in plan.runs] == [w.zone for w in requests[:-1]]
    (left,) = plan.not_planned
    assert (left.why.removesuffix(" No coming night has room for it either."), left.could_change) == (
        why,
        changes,
    )


def test_a_closed_night_says_which_rule_closes_it() -> None:
    rules = Rules(
        hours=((time(0), time(6)),), blackouts=(DateSpan(date(2026, 7, 18), date(2026, 7, 18), "fair"),)
    )
    plan = plan_of(want("Front", 30), rules=rules, closed=closed_dates(rules, NIGHT))
    assert plan.runs == ()
    assert plan.not_planned[0].why == WINDOWS_CLOSE_AT_MIDNIGHT


def test_what_does_not_fit_waits_for_the_first_night_with_room_for_it() -> None:
    short = (
        NightWindows(date(2026, 7, 18), (window_of(date(2026, 7, 18), 22, 0),)),
        *NEXT_NIGHTS[1:],
    )
    requests = [want("First", 400, urgency=9.0), want("Long", 300, urgency=2.0), want("Small", 100)]
    plan = plan_of(*requests, next_nights=short)
    assert [(n.zone, n.waits_for) for n in plan.not_planned] == [
        ("Long", date(2026, 7, 20)),
        ("Small", date(2026, 7, 18)),
    ]


def test_what_waits_for_one_night_does_not_fill_it_twice() -> None:
    requests = [want("First", 400, urgency=9.0), want("Long", 300, urgency=2.0), want("Third", 290)]
    waits = {n.zone: n.waits_for for n in plan_of(*requests).not_planned}
    assert waits == {"Long": date(2026, 7, 19), "Third": date(2026, 7, 20)}


def test_no_coming_night_with_room_is_said() -> None:
    plan = plan_of(want("First", 400, urgency=9.0), want("Endless", 470, urgency=1.0))
    assert plan.not_planned[0].waits_for == date(2026, 7, 18)
    plan = plan_of(want("Endless", 600))
    assert plan.not_planned[0].waits_for is None
    assert plan.not_planned[0].why.endswith("No coming night has room for it either.")


def test_what_is_due_before_the_next_night_waits_for_none() -> None:
    due = SUNRISE + timedelta(hours=3)
    plan = plan_of(want("Fed", 600, priority=DUE, latest=due))
    assert plan.not_planned[0].waits_for is None
    assert plan.not_planned[0].why.endswith("It is due before the next allowed night.")


@pytest.mark.parametrize("minutes", [200, 300])
def test_more_minutes_a_night_as_advised_do_help(minutes: int) -> None:
    rules = replace(NIGHT_HOURS, minutes_a_night=150.0)
    requests = [want("First", 120, urgency=9.0), want("Second", float(minutes), urgency=1.0)]
    left = plan_of(*requests, rules=rules).not_planned[0]
    allowed = next(change.minutes for change in left.changes if change.minutes is not None)
    more = plan_of(*requests, rules=replace(rules, minutes_a_night=float(allowed)))
    assert [r.zone for r in more.runs if r.zone == left.zone] == [left.zone]


def test_the_earlier_hour_that_is_advised_does_help() -> None:
    requests = [want("First", 300, urgency=9.0), want("Second", 250, urgency=1.0)]
    left = plan_of(*requests).not_planned[0]
    since = next(change.since for change in left.changes if change.since is not None)
    earlier = plan_of(*requests, rules=replace(NIGHT_HOURS, hours=((since, time(6)),)))
    assert earlier.not_planned == ()


@pytest.mark.parametrize(
    ("supply", "flows", "told"),
    [
        pytest.param(None, (None, None), "enter the supply's flow and each zone's", id="nothing known"),
        pytest.param(30.0, (10.0, None), "enter the flow of Second, so", id="its own not known"),
        pytest.param(30.0, (None, None), "enter the flows of First and Second, so", id="neither known"),
        pytest.param(30.0, (None, 10.0), "enter the flow of First, so", id="that of the other not known"),
    ],
)
def test_only_the_flows_that_are_not_known_are_asked_for(
    supply: float | None, flows: tuple[float | None, float | None], told: str
) -> None:
    requests = [
        want(name, minutes, urgency=urgency, flow_l_min=flow)
        for name, minutes, urgency, flow in zip(
            ("First", "Second"), (300, 250), (9.0, 1.0), flows, strict=True
        )
    ]
    left = plan_of(*requests, flow=supply).not_planned[0]
    assert any(words.startswith(told) for words in left.could_change)


# --- a part of a run ------------------------------------------------------------------------------


def test_turf_that_does_not_fit_whole_runs_as_long_as_it_can_and_the_rest_is_told() -> None:
    rules = replace(NIGHT_HOURS, minutes_a_night=120)
    plan = plan_of(
        want("Fed", 90, priority=DUE), want("Dry", 38, least_minutes=20.0, urgency=2.0), rules=rules
    )
    assert {r.zone: r.minutes for r in plan.runs} == {"Fed": 90, "Dry": 30}
    dry = next(r for r in plan.runs if r.zone == "Dry")
    assert (dry.depth_mm, dry.litres) == pytest.approx((30 / 6, 100 * 30 / 6))
    (rest,) = plan.not_planned
    assert (rest.zone, rest.minutes, rest.depth_mm) == ("Dry", 8, pytest.approx(8 / 6))
    assert rest.waits_for == date(2026, 7, 19)
    assert rest.why == (
        "30 of its 38 min run tonight. Fed comes first with 90 min; with the 38 min of Dry that is more than "
        "the 120 min of run time allowed a night."
    )
    assert rest.could_change == ("allow 128 min a night, if local rules allow it",)


def test_too_little_to_be_worth_it_is_not_run() -> None:
    rules = replace(NIGHT_HOURS, minutes_a_night=120)
    plan = plan_of(want("Fed", 90, priority=DUE), want("Dry", 60, least_minutes=31.0), rules=rules)
    assert [r.zone for r in plan.runs] == ["Fed"]
    assert [(n.zone, n.minutes) for n in plan.not_planned] == [("Dry", 60)]


def test_water_that_is_due_is_never_cut() -> None:
    plan = plan_of(want("Fed", 500, priority=DUE))
    assert plan.runs == ()
    assert [(n.zone, n.minutes) for n in plan.not_planned] == [("Fed", 500)]


def test_a_sprinkler_moved_by_hand_runs_a_part_while_somebody_is_awake() -> None:
    plan = plan_of(
        want("Hose", 317, by_hand=True, least_minutes=40.0),
        rules=replace(NIGHT_HOURS, hours=((time(20), time(6)),)),
    )
    assert times(plan) == {"Hose": ["20:15-22:30"]}
    assert [(n.zone, n.minutes) for n in plan.not_planned] == [("Hose", 182)]


def test_a_lesser_run_gives_way_to_the_least_of_a_greater_one_and_to_no_more() -> None:
    rules = replace(NIGHT_HOURS, minutes_a_night=100)
    requests = [want("Dry", 200, urgency=9.0, least_minutes=40.0), want("Damp", 50, urgency=1.0)]
    plan = plan_of(*requests, rules=rules)
    assert {r.zone: r.minutes for r in plan.runs} == {"Dry": 50, "Damp": 50}
    tight = plan_of(*requests, rules=replace(rules, minutes_a_night=80))
    assert {r.zone: r.minutes for r in tight.runs} == {"Dry": 80}
