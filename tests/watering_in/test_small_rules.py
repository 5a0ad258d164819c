"""Rules of a line or two, each at its edge: what is shared, what washes off, what is still shown."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, time, timedelta
from itertools import pairwise

import numpy as np
import pytest
from made import EVENING, JUDGED, made_site, made_weather, made_zone

from advisor.advice import Action, Asking, CautionKind, Status
from advisor.hours import Window
from advisor.lawn import Application, Decision, Product, Records, Rules
from advisor.lawn.tables import kind_table
from advisor.soil_water import survey
from advisor.watering_in import ZoneApplication, costs_of, decide, zone_applications
from advisor.watering_in.cautions import ICE_C, NightRisks, cautions_for
from advisor.watering_in.decision import UNDER_MM, Question, look_times
from advisor.watering_in.expected_loss import Costs, Rain
from advisor.watering_in.openings import look_trouble

KINDS = kind_table()
CAUGHT_SHORT_MM = JUDGED.applications.caught_short_mm


@pytest.mark.parametrize("own", [{}, {"water": 0.2, "run": 0.3, "look": 0.4}], ids=["usual", "the owner's"])
def test_products_that_ask_the_same_share_water_run_and_look_and_nothing_else(own: dict[str, float]) -> None:
    alone, three = (
        costs_of(Decision("balanced", own), JUDGED, KINDS["soil-liquid"], sharing=n) for n in (1, 3)
    )
    assert alone.run > 0
    assert (three.water, three.run, three.look) == pytest.approx(
        (alone.water / 3, alone.run / 3, alone.look / 3)
    )
    assert (three.shortfall, three.loss) == (alone.shortfall, alone.loss)
    assert {name: getattr(alone, name) for name in own} == own


def on_front(product: Product, rain_mm: float, *, ended_h_ago: float, rained_h_ago: int) -> ZoneApplication:
    """What it is of a product after rain in one hour of the past."""
    ended = EVENING - timedelta(hours=ended_h_ago)
    weather = made_weather()
    rain = weather.rain_mm.copy()
    rain[weather.index_at(EVENING) - rained_h_ago] = rain_mm
    weather = replace(weather, rain_mm=rain)
    site = made_site(made_zone(uniformity=1.0), products={product.name: product})
    records = Records(applications=(Application(product.name, ("Front",), ended, ended, "tank", id=1),))
    water = survey(site=site, records=records, weather=weather, now=EVENING).water
    (one,), _ = zone_applications(site=site, records=records, weather=weather, water=water, now=EVENING)
    return one


@pytest.mark.parametrize(
    ("rain_mm", "washed"),
    [(0.0, False), (CAUGHT_SHORT_MM - 0.1, False), (CAUGHT_SHORT_MM, True)],
    ids="{} mm".format,
)
def test_where_the_kind_names_no_depth_the_usual_one_washes_off_in_the_dry_period(
    rain_mm: float, washed: bool
) -> None:
    leaf = Product("Leaf", replace(KINDS["foliar-fungicide"], washoff_mm=0.0))
    one = on_front(leaf, rain_mm, ended_h_ago=6.0, rained_h_ago=3)
    assert one.status == (Status.WASHED if washed else Status.KEEP_DRY)
    assert one.in_dry_period_mm == pytest.approx(rain_mm)


def test_rain_too_light_to_disturb_a_dry_period_is_not_told() -> None:
    leaf = Product("Leaf", KINDS["foliar-fungicide"])
    light, more = (on_front(leaf, mm, ended_h_ago=6.0, rained_h_ago=3) for mm in (0.4, 0.6))
    assert (light.in_dry_period_mm, more.in_dry_period_mm) == (0.0, pytest.approx(0.6))


def test_a_small_target_is_one_too_so_slow_rain_that_enters_does_not_wash_off() -> None:
    kind = replace(KINDS["granular-slow"], least_mm=0.5, target_mm=0.8, washoff_mm=3.0)
    one = on_front(Product("Little", kind), 4.0, ended_h_ago=6.0, rained_h_ago=3)
    assert (one.target_mm, one.runoff_mm) == (0.8, 0.0)
    assert one.status == Status.WATERED_IN


@pytest.mark.parametrize(
    ("coldest_c", "told"), [(ICE_C - 0.1, True), (ICE_C, False), (ICE_C + 0.1, False), (float("nan"), False)]
)
def test_ice_is_told_below_its_limit_and_only_where_water_runs(coldest_c: float, told: bool) -> None:
    for runs in (True, False):
        night = NightRisks(water_runs=runs, coldest_c=coldest_c)
        kinds = [c.kind for c in cautions_for(Asking.TONIGHT, [], night)]
        assert (CautionKind.FREEZING in kinds) == (told and runs)


def clock(hour: int, minute: int = 0) -> datetime:
    return EVENING.replace(hour=hour, minute=minute)


@pytest.mark.parametrize(
    ("begins", "ends", "looks"),
    [
        (clock(22), clock(23, 40), [clock(22), clock(22, 30), clock(23), clock(23, 15)]),
        (clock(22), clock(22, 25), [clock(22)]),
        (clock(22, 15), clock(22, 40), [clock(22, 15)]),  # the quarter at which it begins
        (clock(22, 16), clock(22, 54), []),  # a quarter lies neither in it nor late enough
        (clock(22, 16), clock(22, 55), [clock(22, 30)]),
        (clock(22, 5), clock(22, 35), []),  # the last quarter lies before it
        (clock(22, 10), clock(22, 20), []),  # too short for the run
        (clock(20), clock(22), [clock(21), clock(21, 30)]),  # none sooner than in three quarters of an hour
    ],
    ids=[
        "last quarter",
        "one",
        "just a quarter",
        "no quarter",
        "one quarter",
        "quarter too soon",
        "too short",
        "soonest",
    ],
)
def test_looks_are_every_half_hour_and_the_last_quarter_that_leaves_time(
    begins: datetime, ends: datetime, looks: list[datetime]
) -> None:
    run_time, until = timedelta(minutes=25), EVENING + timedelta(days=1)
    soonest = EVENING + timedelta(minutes=JUDGED.looks.soonest_min)
    assert list(look_times((Window(begins, ends),), run_time, soonest, until)) == looks


@pytest.mark.parametrize(("hour", "share"), [(3, 0.0), (12, 3.75 / 12.0), (20, 11.75 / 12.0)])
def test_rain_that_brings_the_least_later_than_is_best_costs_a_part_of_the_delay(
    hour: int, share: float
) -> None:
    """6 mm in one hour after 20:00, in the best time until 05:15, due at 17:15; one dry member is added."""
    down = EVENING - timedelta(hours=3)
    it = Product("Invented", KINDS["soil-liquid"])
    one = replace(
        on_front(it, 0.0, ended_h_ago=3.0, rained_h_ago=30),
        least_mm=3.0,
        target_mm=6.0,
        hurry_at=down + timedelta(hours=12),
        due_at=down + timedelta(hours=24),
    )
    members = np.zeros((4, 60))
    members[:, hour] = 6.0
    question = Question(
        application=one,
        rain=Rain(EVENING.replace(minute=0), members, members),
        openings=(Window(clock(21), clock(21) + timedelta(hours=8)),),
        costs=Costs(
            shortfall=0.3, loss=0.5, water=0.06, run=0.01, look=0.015, delay=0.05, aim=0.15, still_saves=0.6
        ),
        judgement=JUDGED,
        run_time=timedelta(minutes=30),
        now=EVENING,
    )
    rain = next(way for way in decide(question).ways if way.action == Action.RAIN)
    assert rain.cost == pytest.approx((4 * 0.05 * share + 0.345 + 0.05) / 5)


@pytest.mark.parametrize(
    ("hour", "cost"),
    [(22, 0.0), (23, 0.034), (0, 0.042), (1, 0.05), (2, 0.054), (4, 0.038), (5, 0.0), (12, 0.0)],
)
def test_a_look_at_night_costs_by_the_hours_to_the_nearer_end_of_sleep(hour: int, cost: float) -> None:
    """Awake from 5:00 to 22:30: at 23:00 half an hour after falling asleep, at 4:00 one before waking."""
    site = made_site(rules=Rules(hours=((time(21), time(8)),), awake=(time(5), time(22, 30))))
    assert look_trouble(EVENING.replace(hour=hour, minute=0), site) == pytest.approx(cost)


@pytest.mark.parametrize("units", sorted(UNDER_MM))
def test_the_marks_that_a_gauge_is_read_against_are_never_far_apart(units: str) -> None:
    """In order, from half a millimetre to an inch, and from 4 mm on the next is at most a third more."""
    marks = UNDER_MM[units]
    assert marks == tuple(sorted(set(marks)))
    assert (marks[0], marks[-1]) == (pytest.approx(0.5, abs=0.01), pytest.approx(25.0, abs=0.5))
    assert all(after <= before * 4 / 3 + 0.01 for before, after in pairwise(marks) if before > 3.9)


@pytest.mark.parametrize(("rain_mm", "missing_mm"), [(0.0, 3.0), (2.0, 2.0), (4.0, 0.0), (9.0, 0.0)])
def test_what_is_missing_is_never_less_than_nothing(rain_mm: float, missing_mm: float) -> None:
    """Slow granules ask for 3 mm; the leaves keep 1 mm of the rain."""
    one = on_front(Product("Feed", KINDS["granular-slow"]), rain_mm, ended_h_ago=6.0, rained_h_ago=3)
    assert one.missing_mm == pytest.approx(missing_mm)
