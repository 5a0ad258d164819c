"""Small rules of the night, each by its numbers: the deepest run that fits, whose time a look leaves, the steps."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, time, timedelta

import numpy as np
import pytest
from made import EVENING, JUDGED, made_site, made_weather, made_zone

from advisor.advice import Action, Advice, CautionKind, LookKind, ReasonKind, ZoneVerdict
from advisor.hours import Window
from advisor.lawn import Application, ProbeReading, Product, RainPair, Records, Rules, Run
from advisor.lawn.site_values import Rate
from advisor.lawn.tables import kind_table
from advisor.sentences import EVENING_H
from advisor.soil_water import zone_figures
from advisor.tonight import advise
from advisor.tonight.decide_night import _deepest_in
from advisor.tonight.seed import BY_DAY, LightRuns, seed_request

KINDS = kind_table()
PRODUCTS = {
    "Potash": Product("Potash", KINDS["soil-liquid"]),
    "Feed": Product("Feed", KINDS["granular-slow"]),
    "Leaf": Product("Leaf", KINDS["foliar-fungicide"]),
}
MOIST = tuple(ProbeReading(name, EVENING - timedelta(hours=1), 0.0) for name in ("Front", "Back"))


def doubtful(mm: float = 8.0, members: int = 15) -> np.ndarray:
    """So much rain in two hours of the evening in the first `members` of 31."""
    rain = np.zeros((31, 240))
    rain[:members, 1:3] = mm / 2.0
    return rain


@pytest.mark.parametrize(
    ("room_min", "deepest"),
    [(200.0, 10.0), (100.0, 10.0), (99.0, 9.3), (60.0, 5.8), (37.0, 3.7), (31.0, 3.0)],
)
def test_the_deepest_run_that_fits_is_found_in_tenths_from_the_whole_down(
    room_min: float, deepest: float
) -> None:
    """Ten minutes a millimetre, from 10 mm down to the 3 that are missing."""
    found = _deepest_in(
        timedelta(minutes=room_min), 3.0, 10.0, lambda mm: timedelta(minutes=round(10.0 * mm, 6))
    )
    assert found == pytest.approx(deepest)


def test_what_asks_nothing_any_more_takes_no_time_from_the_look_of_another_zone() -> None:
    down = EVENING - timedelta(hours=4)
    slow = Rate(4.0, "measured", 4.0, 4.0)
    site = made_site(
        *(made_zone(name, uniformity=1.0, rate=slow) for name in ("Front", "Back")),
        products=PRODUCTS,
        rules=Rules(hours=((time(21), time(1, 30)),), awake=(time(0), time(23, 59))),
    )
    waits = Application("Potash", ("Front",), down, down, "tank", id=1)
    done = Application("Feed", ("Back",), down, down, "spreader", id=2)
    watered = Run("Back", down + timedelta(hours=1), down + timedelta(hours=3), 120.0)

    def look(*applications: Application) -> object:
        records = Records(applications=applications, probes=MOIST, runs=(watered,))
        advice = advise(site=site, records=records, weather=made_weather(doubtful()), now=EVENING)
        assert advice.obligations[0].action == Action.WAIT
        return next(each.at for each in advice.next_looks if each.kind == LookKind.GAUGE)

    assert look(waits) == look(waits, done)
    asks = replace(done, started_at=EVENING - timedelta(minutes=5), ended_at=EVENING - timedelta(minutes=5))
    assert look(waits, asks) < look(waits)


def steps(advice: Advice, kind: ReasonKind) -> list[tuple[str, ...]]:
    return [one.zones for one in advice.step_reasons if one.kind == kind]


def test_a_run_that_does_not_fit_is_a_step_of_its_own_and_only_then() -> None:
    slow = Rate(4.0, "measured", 4.0, 4.0)
    zones = [made_zone(name, uniformity=1.0, rate=slow) for name in ("Front", "Back")]
    dry = tuple(
        ProbeReading(name, EVENING - timedelta(hours=1), mm) for name, mm in (("Front", 26.0), ("Back", 20.0))
    )

    def asked(until: time) -> Advice:
        site = made_site(*zones, rules=Rules(hours=((time(22), until),), finish="window"))
        return advise(site=site, records=Records(probes=dry), weather=made_weather(), now=EVENING)

    short, long = asked(time(23, 30)), asked(time(12))
    assert [zone.verdict for zone in short.zones] == [ZoneVerdict.RUN, ZoneVerdict.CANNOT]
    assert steps(short, ReasonKind.DOES_NOT_FIT) == [("Back",)]
    assert steps(short, ReasonKind.RUN_TONIGHT) == [("Front",)]
    assert steps(long, ReasonKind.DOES_NOT_FIT) == []
    assert sorted(steps(long, ReasonKind.RUN_TONIGHT)[0]) == ["Back", "Front"]


@pytest.mark.parametrize("count", [0, 1, 2])
def test_one_pair_of_forecast_and_gauge_calibrates_already(count: int) -> None:
    down = EVENING - timedelta(hours=4)
    pairs = tuple(RainPair(EVENING - timedelta(days=9 - i), 24, 12.0, 2.0, 1.0, 3.0) for i in range(count))
    records = Records(
        applications=(Application("Potash", ("Front",), down, down, "tank", id=1),), probes=MOIST, pairs=pairs
    )
    site = made_site(made_zone(uniformity=1.0), made_zone("Back"), products=PRODUCTS)
    advice = advise(site=site, records=records, weather=made_weather(doubtful()), now=EVENING)
    assert advice.obligations[0].calibrated == (count > 0)
    assert {each.calibrated for each in advice.rain} == {count > 0}


@pytest.mark.parametrize(("rain_mm", "told"), [(0.4, False), (0.7, True), (1.4, True)])
def test_rain_in_a_dry_period_is_told_from_where_it_disturbs(rain_mm: float, told: bool) -> None:
    down = EVENING - timedelta(hours=6)
    weather = made_weather()
    rain = weather.rain_mm.copy()
    rain[weather.index_at(EVENING) - 3] = rain_mm
    records = Records(applications=(Application("Leaf", ("Front",), down, down, "tank", id=1),), probes=MOIST)
    site = made_site(made_zone(), made_zone("Back"), products=PRODUCTS)
    advice = advise(site=site, records=records, weather=replace(weather, rain_mm=rain), now=EVENING)
    wetted = [r.depth_mm for r in advice.obligations[0].reasons if r.kind == ReasonKind.WETTED_WHILE_DRY]
    assert wetted == ([pytest.approx(rain_mm)] if told else [])


@pytest.mark.parametrize(
    ("hour", "days"), [(7, 0), (EVENING_H - 1, 0), (EVENING_H, 1), (EVENING_H + 1, 1), (23, 1)]
)
def test_the_evening_look_is_this_evenings_before_it_is_evening_and_tomorrows_from_then_on(
    hour: int, days: int
) -> None:
    now = EVENING.replace(hour=hour)
    advice = advise(site=made_site(), records=Records(), weather=made_weather(now=now), now=now)
    (at,) = (each.at for each in advice.next_looks if each.kind == LookKind.EVENING)
    expected = now.replace(hour=20, minute=0) if days == 0 else now + timedelta(days=1)
    assert at == expected


def test_one_unknown_hour_does_not_hide_the_frost_of_the_others() -> None:
    weather = made_weather()
    first = weather.index_at(EVENING)
    temp = weather.temp_c.copy()
    temp[first + 1] = np.nan
    records = Records(probes=(ProbeReading("Front", EVENING - timedelta(hours=1), 26.0),))

    def freezing(temp_c: np.ndarray) -> bool:
        cold = replace(weather, temp_c=temp_c)
        site = made_site(rules=Rules(hours=((time(21), time(8)),), least_temp_c=-20.0))
        advice = advise(site=site, records=records, weather=cold, now=EVENING)
        assert advice.runs
        return CautionKind.FREEZING in [caution.kind for caution in advice.cautions]

    assert not freezing(temp)
    temp[first + 3] = -1.0
    assert freezing(temp)


@pytest.mark.parametrize("runs", [2, 3])
def test_light_runs_are_spread_evenly_from_dawn_to_the_middle_of_the_day(runs: int) -> None:
    """Hours from 21:00 to 8:00 and from 11:00 to 16:00; the day's part is 9:00 to 17:00, so its middle 13:00."""
    zone, day = made_zone(uniformity=1.0), EVENING.replace(hour=0, minute=0) + timedelta(days=1)
    windows = (
        Window(EVENING.replace(hour=21, minute=0), day + timedelta(hours=8)),
        Window(day + timedelta(hours=11), day + timedelta(hours=16)),
    )
    midday = Window(day + timedelta(hours=9), day + timedelta(hours=17))
    figures = zone_figures(zone, (), Rules(hours=()))
    request, dries = seed_request(
        zone, figures, windows, (), None, midday, LightRuns(2.0, runs, JUDGED.light.spare_share)
    )
    assert not dries
    assert request.cycle_min == 10.0
    assert request.minutes == runs * 10.0
    dawn, by_day = midday.starts_at - BY_DAY, midday.starts_at + timedelta(hours=4)
    between = (by_day - dawn).total_seconds() / 60.0
    pause = between if runs == 2 else between / 2 - 10.0
    assert request.soak_min == pytest.approx(pause)
    assert request.latest == by_day + timedelta(minutes=10) + timedelta(hours=1)


@pytest.mark.parametrize(("minutes_before", "closed"), [(16, False), (15, True), (14, True), (0, True)])
def test_a_question_is_closed_a_quarter_of_an_hour_before_its_look(minutes_before: int, closed: bool) -> None:
    down = EVENING - timedelta(hours=4)
    site = made_site(
        made_zone(uniformity=1.0),
        made_zone("Back"),
        products=PRODUCTS,
        rules=Rules(hours=((time(21), time(8)),), awake=(time(4), time(22, 30))),
    )
    records = Records(
        applications=(Application("Potash", ("Front",), down, down, "tank", id=1),), probes=MOIST
    )

    def asked(now: datetime, previous: Advice | None = None) -> Advice:
        weather = made_weather(doubtful(), now=EVENING)
        return advise(site=site, records=records, weather=weather, now=now, previous=previous)

    first = asked(EVENING)
    assert first.obligations[0].action == Action.WAIT
    look_at = next(each.at for each in first.next_looks if each.kind == LookKind.GAUGE)
    again = asked(look_at - timedelta(minutes=minutes_before), first)
    assert (again.obligations[0].action != Action.WAIT) == closed


def test_a_run_that_is_three_minutes_longer_is_worth_telling_and_two_are_not() -> None:
    """At 12 mm/h a minute brings 0.2 mm."""
    site = made_site(made_zone(uniformity=1.0))

    def asked(used_mm: float, previous: Advice | None = None) -> Advice:
        records = Records(probes=(ProbeReading("Front", EVENING - timedelta(hours=1), used_mm),))
        return advise(site=site, records=records, weather=made_weather(), now=EVENING, previous=previous)

    first = asked(20.0)
    told: dict[float, bool] = {}
    for minutes in (2, 3):
        again = asked(20.0 + 0.2 * minutes, first)
        told[again.zones[0].minutes_firm - first.zones[0].minutes_firm] = bool(again.change_reasons)
    assert told == {2.0: False, 3.0: True}
