"""Rain, run or look again: hand-reckoned costs, and the laws that hold whatever the rain."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, time, timedelta
from itertools import product as every

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from made import CHICAGO, EVENING, JUDGED, made_site, made_weather, made_zone

from advisor.advice.water_need import NeedBasis, NeedReason
from advisor.hours.window import Window
from advisor.lawn.products import Product
from advisor.lawn.records import Application, ProbeReading, Records
from advisor.lawn.site_values import Decision, Rules
from advisor.lawn.tables import kind_table
from advisor.tonight.advise import advise
from advisor.watering_in.applications import ZoneApplication
from advisor.watering_in.decision import (
    UNDER_MM,
    Choice,
    Question,
    Way,
    costs_of,
    decide,
    look_times,
)
from advisor.watering_in.expected_loss import ExpectedLoss, Rain
from advisor.watering_in.openings import look_trouble

FIRST = EVENING.replace(minute=0)
SOONEST = EVENING + timedelta(minutes=JUDGED.looks.soonest_min)
HOURS = 60
TONIGHT = Window(EVENING.replace(hour=21, minute=0), EVENING.replace(day=18, hour=5, minute=30))
NEXT = Window(EVENING.replace(day=18, hour=21, minute=0), EVENING.replace(day=19, hour=5, minute=30))
RUN_TIME = timedelta(minutes=30)
COSTS = costs_of(Decision("balanced", {"shortfall": 0.3, "loss": 0.5}), JUDGED, kind_table()["soil-liquid"])


def clock(hour: int, minute: int = 0, day: int = 17) -> datetime:
    return datetime(2026, 6, day, hour, minute, tzinfo=CHICAGO)


def waiting(kind: str = "soil-liquid", **changes: object) -> ZoneApplication:
    """Put down at 17:10, due a day later; asks least, target and most of its kind; no hurry."""
    it = Product("Invented", kind_table()[kind])
    down = clock(17, 10)
    one = ZoneApplication(
        application=Application("Invented", ("Front",), down - timedelta(minutes=20), down),
        product=it,
        zone_index=0,
        zone="Front",
        least_mm=it.kind.least_mm,
        target_mm=it.kind.target_mm,
        most_mm=it.kind.most_mm,
        need_reason=NeedReason(basis=NeedBasis.KIND),
        need_source="",
        dry_until=None,
        counts_from=down,
        hurry_at=None,
        due_at=down + timedelta(hours=24),
        received_mm=0.0,
        rain_received_mm=0.0,
        irrigation_received_mm=0.0,
        total_received_mm=0.0,
        event_mm=0.0,
        event_dry_h=6,
        lost_mm=0.0,
        runoff_mm=0.0,
        in_dry_period_mm=0.0,
        settled_at=None,
        status="waiting",
    )
    return replace(one, **changes)  # type: ignore[arg-type]


def falls(*totals: float, hour: int = 23, hours: int = HOURS) -> Rain:
    """Each member's rain in the one hour that begins at `hour` tonight; all of it enters the soil."""
    members = np.zeros((len(totals), hours))
    members[:, hour - 20] = totals
    return Rain(FIRST, members, members)


def choose(one: ZoneApplication, rain: Rain, **more: object) -> Choice:
    given: dict[str, object] = {
        "openings": [TONIGHT, NEXT],
        "costs": COSTS,
        "judgement": JUDGED,
        "run_time": RUN_TIME,
        "now": EVENING,
    }
    return decide(Question(application=one, rain=rain, **(given | more)))  # type: ignore[arg-type]


def way(choice: Choice, action: str) -> Way:
    return next(w for w in choice.ways if w.action == action)


def test_without_rain_it_is_run_to_the_target() -> None:
    """Rain: 0.3 short and 0.15 · 0.3 for the aim. Run 6 mm: 0.06 of water and 0.01 of trouble."""
    choice = choose(waiting(), falls(0.0, 0.0, 0.0))
    assert way(choice, "rain").cost == pytest.approx(0.345)
    assert way(choice, "run").cost == pytest.approx(0.07)
    assert [w.action for w in choice.ways] == ["rain", "run"]  # there is nothing to look for
    assert (choice.action, choice.top_up_mm) == ("run", 6.0)
    assert (choice.chance, choice.mean_mm) == (0.0, 0.0)


def test_rain_that_every_member_brings_is_left_to_it_but_for_the_doubt_of_one_dry_member() -> None:
    choice = choose(waiting(), falls(*[6.0] * 30))
    assert way(choice, "rain").cost == pytest.approx(0.345 / 31)
    assert (choice.action, choice.chance) == ("rain", 1.0)


def test_where_members_disagree_a_look_after_the_rain_is_worth_most() -> None:
    """20 of 40 bring 8 mm before midnight. Looking costs 0.015 and runs the dry ones: 0.07 each."""
    choice = choose(waiting(), falls(*[8.0] * 20, *[0.0] * 20))
    dry = 21 / 41
    assert way(choice, "rain").cost == pytest.approx(dry * 0.345)
    assert way(choice, "wait").cost == pytest.approx(0.015 + dry * 0.07)
    assert choice.action == "wait"
    assert choice.look_at == TONIGHT.ends_at - RUN_TIME
    assert choice.look_top_up_mm == pytest.approx(6.0)
    assert (choice.chance, choice.mean_mm) == (0.5, pytest.approx(4.0))
    assert (choice.low_mm, choice.high_mm) == (0.0, 8.0)


def test_what_was_had_already_shortens_the_top_up() -> None:
    choice = choose(waiting(received_mm=2.0, total_received_mm=2.0), falls(0.0, 0.0))
    assert choice.top_up_mm == pytest.approx(4.0)


def test_one_event_asks_for_the_whole_depth_again() -> None:
    urea = waiting("granular-quick", received_mm=4.0, total_received_mm=4.0)
    choice = choose(urea, falls(0.0, 0.0))
    assert choice.top_up_mm == pytest.approx(13.0)
    showers = np.zeros((1, HOURS))
    showers[0, [2, 10, 18]] = 4.0
    assert choose(urea, Rain(FIRST, showers, showers)).chance == 0.0
    going_on = replace(urea, event_mm=4.0, event_dry_h=1)
    assert choose(going_on, Rain(FIRST, showers, showers)).chance == 1.0


def test_too_much_rain_counts_what_it_carries_away() -> None:
    """30 mm where 12 is borne: 0.5 · 18 / 12 lost, and the dry member's share of the shortfall."""
    choice = choose(waiting(), falls(*[30.0] * 9))
    assert way(choice, "rain").cost == pytest.approx(0.9 * 0.75 + 0.1 * 0.345)
    assert choice.chance_too_much == 1.0


def test_water_after_the_due_time_still_saves_a_part() -> None:
    """Due at 20:40, before any allowed hour: what is lost is lost, and a run of 3 mm saves its part."""
    choice = choose(waiting(due_at=clock(20, 40)), falls(0.0))
    assert not choice.in_time
    assert choice.by == TONIGHT.ends_at
    assert way(choice, "run").cost == pytest.approx(
        0.01 + 0.03 + COSTS.still_saves * 0.045 + (1.0 - COSTS.still_saves) * 0.345
    )
    assert choice.action == "run"


def test_without_an_allowed_hour_rain_is_the_only_way() -> None:
    choice = choose(waiting(), falls(2.0, 4.0), openings=[])
    assert [w.action for w in choice.ways] == ["rain"]
    assert choice.by == clock(17, 10, day=18)
    assert choice.chance == 0.5


def test_where_sooner_is_better_a_late_run_bears_a_part_of_the_delay() -> None:
    """Best within 1 h (by 18:10), due 17:10: a run at 21:00 is 2 h 50 min of 23 h late."""
    choice = choose(waiting(hurry_at=clock(18, 10)), falls(0.0))
    late = (2 + 50 / 60) / 23
    assert way(choice, "run").cost == pytest.approx(0.07 + 0.05 * late)
    assert way(choice, "rain").cost == pytest.approx(0.345 + 0.05)


def test_a_known_part_of_the_time_is_told() -> None:
    choice = choose(waiting(), falls(0.0, hours=10))
    assert choice.share_known == pytest.approx((6 * 60 + 4 * 60) / (20 * 60 + 55 + 15), abs=0.001)


def test_an_earlier_answer_stands_over_a_trifle_and_no_more() -> None:
    rain = falls(*[6.0] * 30)
    plain = choose(waiting(), rain)
    assert plain.action == "rain"
    costs = {w.action: w.cost for w in plain.ways}
    assert costs["wait"] - costs["rain"] < JUDGED.looks.keep_within < costs["run"] - costs["rain"]
    assert choose(waiting(), rain, before="wait").action == "wait"
    assert choose(waiting(), rain, before="run").action == "rain"
    assert choose(waiting(), rain, before="keep dry").action == "rain"


def test_of_ways_that_cost_hardly_more_the_one_that_asks_least_is_taken() -> None:
    """18 of 20 bring 6 mm: a look costs 0.015 and saves little over leaving it to the rain."""
    choice = choose(waiting(), falls(*[6.0] * 38, *[0.0] * 2))
    rain, look = way(choice, "rain").cost, way(choice, "wait").cost
    assert look < rain <= look + JUDGED.looks.nearly
    assert choice.action == "rain"


def test_a_question_that_was_put_before_is_closed_by_rain_or_run() -> None:
    rain = falls(*[8.0] * 20, *[0.0] * 20)
    assert choose(waiting(), rain).action == "wait"
    closed = choose(waiting(), rain, no_look_before=TONIGHT.ends_at)
    assert closed.action in ("rain", "run")
    assert all(w.look_at is None or w.look_at >= TONIGHT.ends_at for w in closed.ways)


def test_no_run_is_shallower_than_what_is_missing_nor_deeper_than_the_hours_hold() -> None:
    grubs = waiting("soil-insecticide", received_mm=2.0, total_received_mm=2.0)
    choice = choose(grubs, falls(*[9.0] * 5, *[0.0] * 5))
    assert all(w.top_up_mm >= 11.0 - 1e-9 for w in choice.ways if w.action != "rain")
    assert choose(waiting(), falls(0.0), deepest_mm=4.0).top_up_mm == pytest.approx(3.75)
    assert choose(waiting(), falls(0.0), deepest_mm=3.0).top_up_mm == pytest.approx(3.0)


@pytest.mark.parametrize(
    ("hour", "minute", "cost"),
    [(5, 0, 0.0), (22, 30, 0.001), (22, 0, 0.0), (4, 0, 0.038), (2, 0, 0.054), (23, 30, 0.039)],
    ids=["on waking", "on going to bed", "before it", "an hour early", "deep in the night", "an hour late"],
)
def test_a_look_while_asleep_has_to_save_clearly(hour: int, minute: int, cost: float) -> None:
    """0.03 for getting up and 0.008 for each hour away from waking time; 0.001 off the full hour."""
    site = made_site(rules=Rules(hours=((time(21), time(8)),), awake=(time(5, 0), time(22, 30))))
    assert look_trouble(clock(hour, minute), site) == pytest.approx(cost)


def test_looks_lie_in_allowed_hours_and_leave_time_for_the_run() -> None:
    looks = look_times((TONIGHT, NEXT), RUN_TIME, SOONEST, clock(17, 10, day=18))
    assert looks[0] == TONIGHT.starts_at
    assert looks[-1] == clock(5, 0, day=18)
    assert all(look.minute % 15 == 0 for look in looks)
    hour_later = look_times((TONIGHT,), RUN_TIME, clock(0, 35, day=18), clock(17, 10, day=18))
    assert hour_later[0] == clock(1, 0, day=18)


def test_the_owner_can_set_the_dial_and_the_costs() -> None:
    kind = kind_table()["soil-liquid"]
    thrifty, cautious = (costs_of(Decision(dial), JUDGED, kind) for dial in ("thrifty", "cautious"))
    assert thrifty.shortfall < kind.shortfall_cost < cautious.shortfall
    assert thrifty.water > cautious.water
    own = costs_of(Decision("balanced", {"shortfall": 0.9, "water": 0.2}), JUDGED, kind)
    assert (own.shortfall, own.water, own.loss) == (0.9, 0.2, kind.loss_cost)


def test_products_that_ask_the_same_share_the_water() -> None:
    kind = kind_table()["soil-liquid"]
    alone, three = (costs_of(Decision(), JUDGED, kind, sharing=n) for n in (1, 3))
    assert three.water == pytest.approx(alone.water / 3)
    assert three.shortfall == alone.shortfall


KINDS = st.sampled_from(["soil-liquid", "granular-quick", "pre-emergent", "soil-insecticide"])
TOTALS = st.lists(st.floats(0, 30), min_size=5, max_size=5)


@st.composite
def rains(draw: st.DrawFn) -> np.ndarray:
    """Five members over 60 hours, each with two showers."""
    members = np.zeros((5, HOURS))
    for member in members:
        for _ in range(2):
            member[draw(st.integers(1, 40))] += draw(st.floats(0, 15))
    return members


@settings(max_examples=60, deadline=None)
@given(kind=KINDS, members=rains(), extra=TOTALS, hour=st.integers(1, 20))
def test_more_rain_in_every_member_never_lengthens_the_top_up(
    kind: str, members: np.ndarray, extra: list[float], hour: int
) -> None:
    more = members.copy()
    more[:, hour] += extra
    before = choose(waiting(kind), Rain(FIRST, members, members)).top_up_mm
    assert choose(waiting(kind), Rain(FIRST, more, more)).top_up_mm <= before + 1e-9


@settings(max_examples=60, deadline=None)
@given(
    kind=KINDS,
    members=rains(),
    due_h=st.floats(-30, 50),
    later_h=st.floats(0, 20),
    hurry_h=st.none() | st.floats(-3, 30),
)
def test_a_later_due_time_never_costs_more(
    kind: str, members: np.ndarray, due_h: float, later_h: float, hurry_h: float | None
) -> None:
    rain = Rain(FIRST, members, members)
    hurry = None if hurry_h is None else EVENING + timedelta(hours=hurry_h)
    sooner = waiting(kind, due_at=EVENING + timedelta(hours=due_h), hurry_at=hurry)
    later = replace(sooner, due_at=EVENING + timedelta(hours=due_h + later_h))
    a = {w.action: w.cost for w in choose(sooner, rain).ways}
    b = {w.action: w.cost for w in choose(later, rain).ways}
    assert b["rain"] <= a["rain"] + 1e-9
    assert b["run"] <= a["run"] + 1e-9
    assert min(b.values()) <= min(a.values()) + 1e-9


A_TIE = np.zeros((5, 60))
A_TIE[3:, 1] = 2.0
"""Two depths cost the same but for the last digit, which hangs on the order of the sum."""


@settings(max_examples=30, deadline=None)
@given(kind=KINDS, members=rains(), order=st.permutations(range(5)))
@example(kind="soil-liquid", members=A_TIE, order=[0, 1, 3, 2, 4])
def test_the_order_of_members_has_no_say(kind: str, members: np.ndarray, order: list[int]) -> None:
    a = choose(waiting(kind), Rain(FIRST, members, members))
    b = choose(waiting(kind), Rain(FIRST, members[order], members[order]))
    assert [w.cost for w in a.ways] == pytest.approx([w.cost for w in b.ways])
    assert (a.chance, a.top_up_mm) == (b.chance, b.top_up_mm)


@settings(max_examples=40, deadline=None)
@given(middle=st.floats(1.0, 12.0), spread=st.floats(0.0, 1.0), wider=st.floats(0.0, 4.0))
def test_a_wider_ensemble_never_raises_confidence(middle: float, spread: float, wider: float) -> None:
    """Members even about their middle: widening takes the chance no further from one half."""
    even = np.array([-1.0, -0.7, -0.4, -0.1, 0.1, 0.4, 0.7, 1.0])
    narrow, wide = (
        choose(waiting(), falls(*np.maximum(0.0, middle + s * even))).chance for s in (spread, spread + wider)
    )
    assert abs(wide - 0.5) <= abs(narrow - 0.5) + 1e-9


@settings(max_examples=40, deadline=None)
@given(kind=KINDS, members=rains())
def test_who_is_cautious_runs_wherever_who_is_thrifty_does(kind: str, members: np.ndarray) -> None:
    def gain(dial: str) -> float:
        costs = costs_of(Decision(dial), JUDGED, kind_table()[kind])
        choice = choose(waiting(kind), Rain(FIRST, members, members), costs=costs)
        return way(choice, "rain").cost - way(choice, "run").cost

    gains = [gain(dial) for dial in ("thrifty", "balanced", "cautious")]
    assert gains == sorted(gains)


@settings(max_examples=15, deadline=None)
@given(kind=KINDS, members=rains())
def test_waiting_is_worth_the_best_rule_that_can_be_named(kind: str, members: np.ndarray) -> None:
    """Every look, mark and depth tried one by one; and never better than knowing the rain beforehand."""
    one = waiting(kind)
    doubted = np.vstack([members, np.zeros((1, HOURS))])
    expected_loss = ExpectedLoss(
        obligation=one,
        rain=Rain(FIRST, doubted, doubted),
        openings=[TONIGHT, NEXT],
        costs=COSTS,
        judgement=JUDGED,
        run_time=RUN_TIME,
        now=EVENING,
    )
    looks = look_times((TONIGHT, NEXT), RUN_TIME, SOONEST, expected_loss.horizon)
    rules = every(looks[::4] + looks[-1:], UNDER_MM["metric"][::3], expected_loss.depths())
    named = min(float(expected_loss.after_look(look, under, deep).mean()) for look, under, deep in rules)
    choice = choose(one, Rain(FIRST, members, members))
    assert expected_loss.may_rain == any(w.action == "wait" for w in choice.ways)
    if not expected_loss.may_rain:
        return
    found = way(choice, "wait")
    assert found.look_at is not None
    assert found.under_mm is not None
    rule = expected_loss.after_look(found.look_at, found.under_mm, found.top_up_mm)
    assert found.cost == pytest.approx(float(rule.mean()))
    assert found.cost <= named + 1e-9
    known = np.minimum(
        expected_loss.left(), expected_loss.run(expected_loss.depths(), found.look_at).min(axis=0)
    )
    assert found.cost >= float(known.mean()) + COSTS.look - 1e-9


@settings(max_examples=25, deadline=None)
@given(
    kinds=st.lists(
        st.sampled_from(["soil-liquid", "foliar-liquid", "post-emergent-liquid", "granular-quick", "seed"]),
        min_size=1,
        max_size=3,
    ),
    hours_ago=st.lists(st.floats(0.1, 30), min_size=3, max_size=3),
    members=rains(),
    dry_turf=st.booleans(),
)
def test_no_planned_run_and_no_look_ever_breaks_a_dry_period(
    kinds: list[str], hours_ago: list[float], members: np.ndarray, dry_turf: bool
) -> None:
    products = {f"P{i}": Product(f"P{i}", kind_table()[kind]) for i, kind in enumerate(kinds)}
    applications = tuple(
        Application(
            f"P{i}", ("Front",), EVENING - timedelta(hours=h, minutes=6), EVENING - timedelta(hours=h), id=i
        )
        for i, h in enumerate(hours_ago[: len(kinds)])
    )
    probe = ProbeReading("Front", EVENING - timedelta(hours=1), 30.0 if dry_turf else 2.0)
    site = made_site(made_zone(), products=products)
    records = Records(applications=applications, probes=(probe,))
    advice = advise(site=site, records=records, weather=made_weather(members), now=EVENING)
    dry_until = max((o.dry_until for o in advice.obligations if o.dry_until), default=EVENING)
    assert all(cycle.starts_at >= dry_until for run in advice.runs for cycle in run.cycles)
    assert all(look.at >= dry_until for look in advice.next_looks if look.minutes)
    assert [c for c in advice.checks if not c.passed] == []
