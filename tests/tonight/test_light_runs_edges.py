"""Light runs at their edges: the last day and minute of seed and of cooling, and what is hot enough."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, time, timedelta

import numpy as np
import pytest
from made import CHICAGO, EVENING, JUDGED, made_site, made_weather, made_zone

from advisor.advice import Advice, RunPurpose
from advisor.hours import Window
from advisor.lawn import Application, ProbeReading, Product, Records, Rules, Zone
from advisor.lawn.site_values import Supply
from advisor.lawn.tables import kind_table
from advisor.soil_water import survey
from advisor.soil_water.reference_et import daily_reference_et
from advisor.tonight import advise
from advisor.tonight.seed import SEED_RUN_MM, SEED_RUNS, _by_day
from advisor.tonight.zone_request import _seed_runs
from advisor.watering_in import ZoneApplication, zone_applications

DAY = timedelta(days=1)
MINUTE = timedelta(minutes=1)
MOIST = Records(probes=(ProbeReading("Front", EVENING - timedelta(hours=2), 2.0),))
BY_DAY = ((time(21), time(8)), (time(11), time(16)))


def cooled(
    *, now: datetime = EVENING, until_days: int = 1, over_hot_c: float = 1.0, **more: object
) -> list[datetime]:
    """When cooling runs begin, on days that are all so much over what counts as hot."""
    weather = made_weather(now=EVENING)
    warmest = np.nanmax(daily_reference_et(weather, CHICAGO).tmax_c)
    temp = weather.temp_c + JUDGED.light.hot_c - warmest + over_hot_c
    zone = made_zone(mode="syringe", mode_until=EVENING.date() + until_days * DAY, **more)
    site = made_site(zone, rules=Rules(hours=BY_DAY), supply=Supply(30.0))
    advice = advise(site=site, records=MOIST, weather=replace(weather, temp_c=temp), now=now)
    return [run.cycles[0].starts_at.astimezone(CHICAGO) for run in advice.runs if run.why == RunPurpose.COOL]


@pytest.mark.parametrize(("over_c", "runs"), [(-0.01, 0), (0.01, 1)])
def test_grass_is_cooled_from_the_warmth_on_that_counts_as_hot(over_c: float, runs: int) -> None:
    assert len(cooled(over_hot_c=over_c)) == runs


@pytest.mark.parametrize(("days", "runs"), [(0, 0), (1, 1), (2, 1)])
def test_grass_is_cooled_to_the_last_day_of_its_mode(days: int, runs: int) -> None:
    assert len(cooled(until_days=days)) == runs


@pytest.mark.parametrize(("hour", "minute", "day"), [(9, 0, 17), (13, 30, 17), (14, 0, 18), (20, 15, 18)])
def test_until_midday_is_over_it_is_todays_and_then_tomorrows(hour: int, minute: int, day: int) -> None:
    """From 11:00 to 14:00; the owner needs 15 minutes to act."""
    now = EVENING.replace(hour=hour, minute=minute)
    (begins,) = cooled(now=now)
    assert begins.day == day
    assert time(11) <= begins.time() < time(14)
    assert begins >= now + timedelta(minutes=15)


@pytest.mark.parametrize("flow_l_min", [29.0, 30.0, 31.0, 60.0])
def test_a_zone_that_draws_more_than_the_supply_is_cooled_all_the_same(flow_l_min: float) -> None:
    """What one zone draws is what the supply gives: it is never more."""
    assert len(cooled(flow_l_min=flow_l_min)) == 1


def seeded(ended: datetime, **more: object) -> Advice:
    rye = Product("Rye", kind_table()["seed"])
    put = Application("Rye", ("Front",), ended - timedelta(hours=1), ended, method="spreader")
    site = made_site(made_zone(**more), products={"Rye": rye}, rules=Rules(hours=((time(20), time(9)),)))
    records = replace(MOIST, applications=(put,))
    return advise(site=site, records=records, weather=made_weather(), now=EVENING)


@pytest.mark.parametrize(("minutes", "moist"), [(-1, True), (0, True), (1, False)])
def test_seed_is_kept_moist_to_the_last_minute_of_its_days(minutes: int, moist: bool) -> None:
    days = timedelta(days=kind_table()["seed"].for_days)
    runs = seeded(EVENING - days - minutes * MINUTE).runs
    assert [run.why for run in runs] == [RunPurpose.SEED] * moist


@pytest.mark.parametrize(("days", "moist"), [(0, True), (1, True), (-1, False)])
def test_a_declared_seedbed_is_kept_moist_to_the_night_of_its_last_day(days: int, moist: bool) -> None:
    zone = made_zone(mode="seed", mode_until=EVENING.date() + days * DAY)
    assert light_runs(zone) == ((SEED_RUN_MM, SEED_RUNS) if moist else (0.0, 0))
    assert light_runs(replace(zone, mode_until=None)) == (SEED_RUN_MM, SEED_RUNS)


def light_runs(zone: Zone, *sown: tuple[float, int]) -> tuple[float, int]:
    """How deep and how many, on a zone on which seed of such light runs was put down yesterday."""
    decided = [(lying(mm, runs), None) for mm, runs in sown]
    return _seed_runs(zone, decided, EVENING.date(), EVENING)


def lying(light_run_mm: float, runs: int) -> ZoneApplication:
    """Seed that was put down yesterday; what else it is made of has no say."""
    kind = replace(kind_table()["seed"], light_run_mm=light_run_mm, light_runs_per_day=runs)
    site = made_site(products={"Rye": Product("Rye", kind)})
    ended = EVENING - DAY
    records = replace(MOIST, applications=(Application("Rye", ("Front",), ended, ended, "spreader"),))

    weather = made_weather()
    water = survey(site=site, records=records, weather=weather, now=EVENING).water
    (one,), _ = zone_applications(site=site, records=records, weather=weather, water=water, now=EVENING)
    return one


def test_of_several_seeds_the_deepest_and_the_most_often_count() -> None:
    plain, seedbed = made_zone(), made_zone(mode="seed", mode_until=EVENING.date())
    assert light_runs(plain) == (0.0, 0)
    assert light_runs(plain, (2.0, 3)) == (2.0, 3)
    assert light_runs(plain, (2.0, 3), (4.0, 1)) == light_runs(plain, (4.0, 1), (2.0, 3)) == (4.0, 3)
    assert light_runs(plain, (0.0, 2)) == (SEED_RUN_MM, 2)
    assert light_runs(seedbed, (4.0, 1)) == (4.0, 1)  # what was put down says more than the mode
    assert light_runs(plain, (4.0, 0)) == (0.0, 0)
    assert light_runs(seedbed, (4.0, 0)) == (SEED_RUN_MM, SEED_RUNS)


def at(hour: float) -> datetime:
    return EVENING.replace(hour=0, minute=0) + DAY + timedelta(hours=hour)


@pytest.mark.parametrize(
    ("windows", "begins"),
    [
        ([(11, 16)], 13.0),
        ([(14, 16)], 14.0),  # the first minute after the middle
        ([(9, 12)], 11.5),  # the last that holds the run before it
        ([(9, 12), (13.5, 16)], 13.5),
        ([(9, 12.25), (15, 16)], 11.75),
        ([(6, 9.5)], 9.0),  # just by day
        ([(6, 9.4)], None),
        ([(16.5, 20)], 16.5),
        ([(16.6, 20)], None),
        ([(0, 8), (20, 24)], None),
        ([], None),
    ],
)
def test_a_run_by_day_begins_as_near_to_the_middle_of_the_day_as_the_hours_hold_it(
    windows: list[tuple[float, float]], begins: float | None
) -> None:
    """The day's part is from 9:00 to 17:00, the run takes half an hour."""
    found = _by_day([Window(at(a), at(b)) for a, b in windows], Window(at(9), at(17)), timedelta(minutes=30))
    assert found == (None if begins is None else at(begins))
    assert _by_day([Window(at(9), at(17))], None, timedelta(minutes=30)) is None
