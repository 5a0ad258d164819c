"""The standard test of scheduling: its judge on days worked by hand, its zones, and one period lived by our advice."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from functools import lru_cache
from itertools import pairwise

import numpy as np
import pandas as pd
import pytest
from worth import open_data
from worth.open_data import open_year, open_years
from worth.standard_judge import JudgedCycle, JudgedZone, Judgement, balance, judgement, passes, runoff
from worth.standard_test import (
    DAYS,
    HEAD,
    INCH_MM,
    ZONES,
    Period,
    Row,
    cycles_of,
    daily,
    judged_rows,
    kc_at,
    lived_by_rule,
    passed,
    periods_of,
    site_of,
    table,
)

from advisor.advice import PlannedRun, RunPurpose
from advisor.advice.advice import Cycle
from advisor.schedule.run_length import length_for
from advisor.soil_water.zone_figures import zone_figures

# The judge, on days worked by hand in inches. Zone 1: loam on 6 %, 1.6 in/h, 0.35 in/h enter, 0.25 in may stand.

ONE = JudgedZone(storage=0.85, rate_h=1.6, intake_h=0.35, accumulation=0.25, efficiency=0.55)


def cycle(begins_min: float, minutes: float, day: int = 0) -> JudgedCycle:
    return JudgedCycle(day, begins_min / 60.0, (begins_min + minutes) / 60.0)


def test_a_cycle_of_12_minutes_fills_the_surface_and_nothing_runs_off() -> None:
    """60 × 0.25 / (1.6 − 0.35) = 12 min."""
    assert runoff(ONE, [cycle(0, 12)]) == [pytest.approx((0.0, 0.0))]


def test_what_is_longer_runs_off_at_once() -> None:
    """18 min gather 18 / 60 × 1.25 = 0.375 in, of which 0.25 may stand: 0.125 run off."""
    assert runoff(ONE, [cycle(0, 18)]) == [pytest.approx((0.125, 0.0))]


def test_a_short_soak_runs_off_in_the_next_cycle() -> None:
    """After 12 min 0.25 in stand; 30 min take 0.175, so 0.075 are still there and run off of the next 0.25.

    A whole soak takes 60 × 0.25 / 0.35 = 42.9 min: with 43 nothing runs off.
    """
    assert runoff(ONE, [cycle(0, 12), cycle(42, 12)]) == [
        pytest.approx((0.0, 0.0)),
        pytest.approx((0.0, 0.075)),
    ]
    assert runoff(ONE, [cycle(0, 12), cycle(55, 12)])[1] == pytest.approx((0.0, 0.0))


def test_direct_and_soak_runoff_of_one_cycle_are_told_apart() -> None:
    """The 18 min of above after a soak of 30 min: 0.125 in directly and the 0.075 that still stood."""
    assert runoff(ONE, [cycle(0, 12), cycle(42, 18)])[1] == pytest.approx((0.125, 0.075))


def test_where_the_soil_takes_all_at_once_nothing_runs_off() -> None:
    five = JudgedZone(storage=2.25, rate_h=0.2, intake_h=0.2, accumulation=0.26, efficiency=0.8)
    assert runoff(five, [cycle(-200, 600), cycle(401, 600)]) == [(0.0, 0.0), (0.0, 0.0)]


def test_before_the_first_cycle_the_surface_is_dry_whenever_it_comes() -> None:
    assert runoff(ONE, [cycle(-300, 12), cycle(-245, 12)]) == [pytest.approx((0.0, 0.0))] * 2


def test_five_days_worked_by_hand() -> None:
    """Storage 0.85 in, half full: 0.425.

    day  left − ETc         rain                    irrigation               end of the day
    1    0.425 − 0.20       –                       –                        0.225
    2    0.225 − 0.20       0.8 × 0.10 = 0.08       –                        0.105
    3    0.105 − 0.20       –                       –                        0, deficit 0.095
    4    0 − 0.20           –                       1.6 × 45 min = 1.20,     0.46
                                                    × 0.55 = 0.66
    5    0.46 − 0.20        0.8 × 0.25 = 0.20       0.96 × 0.55 = 0.528      0.85, surplus 0.138
    6    0.85 − 0.20        0.8 × 2.00 = 1.60,      –                        0.85, the rain costs nothing
                            room for 0.20
    """
    four = [cycle(60 * (72 + k), 11.25, day=3) for k in range(4)]
    five = [cycle(60 * (96 + k), 12.0, day=4) for k in range(3)]
    days = balance(
        ONE,
        etc=[0.20] * 6,
        rain=[0.0, 0.10, 0.0, 0.0, 0.25, 2.00],
        cycles=[*four, *five],
        start=0.425,
    )
    assert [day.storage for day in days] == pytest.approx([0.225, 0.105, 0.0, 0.46, 0.85, 0.85])
    assert [day.deficit for day in days] == pytest.approx([0.0, 0.0, 0.095, 0.0, 0.0, 0.0])
    assert [day.surplus for day in days] == pytest.approx([0.0, 0.0, 0.0, 0.0, 0.138, 0.0])
    assert [day.rain for day in days] == pytest.approx([0.0, 0.08, 0.0, 0.0, 0.20, 0.20])
    assert [day.gross for day in days] == pytest.approx([0.0, 0.0, 0.0, 1.20, 0.96, 0.0])
    found = judgement(days)
    assert (found.direct, found.soak) == pytest.approx((0.0, 0.0))
    assert found.adequacy == pytest.approx(1.0 - 0.095 / 1.20)
    assert found.excess == pytest.approx(0.138 / 2.16)


def test_what_runs_off_never_enters() -> None:
    """18 min are 0.48 in, of which 0.125 run off: 0.355 × 0.55 = 0.19525 enter."""
    (day,) = balance(ONE, etc=[0.0], rain=[0.0], cycles=[cycle(0, 18)], start=0.0)
    assert (day.storage, day.direct) == pytest.approx((0.19525, 0.125))
    assert judgement([day]).excess == pytest.approx(0.125 / 0.48)


def test_water_in_is_water_out_and_change() -> None:
    rng = np.random.default_rng(7)
    etc, rain = (
        rng.uniform(0.0, 0.3, 30).tolist(),
        (rng.exponential(0.3, 30) * (rng.random(30) < 0.3)).tolist(),
    )
    cycles = [cycle(1440 * d + m, 15, day=d) for d in (1, 2, 3, 18) for m in (60, 90, 160)]
    days = balance(ONE, etc=etc, rain=rain, cycles=cycles, start=0.3)
    found = judgement(days)
    entered = (found.gross - found.direct - found.soak) * ONE.efficiency + found.rain
    assert min(found.direct, found.soak, found.surplus, found.deficit) > 0.0
    assert entered == pytest.approx(
        found.etc - found.deficit + found.surplus + days[-1].storage - 0.3, abs=1e-12
    )


def judged(adequacy: float, excess: float) -> Judgement:
    return Judgement(1.0, 0.0, 1.0, 0.0, 0.0, excess, 1.0 - adequacy)


@pytest.mark.parametrize(
    ("zones", "good"),
    [
        ([(0.80, 0.05), (1.00, 0.05)], True),
        ([(0.80, 0.10), (1.00, 0.00)], True),
        ([(0.79, 0.00), (1.00, 0.00)], False),  # one zone too dry
        ([(1.00, 0.11), (1.00, 0.00)], False),  # one zone wastes too much
        ([(1.00, 0.06), (1.00, 0.06)], False),  # on average too much
    ],
)
def test_who_passes(zones: list[tuple[float, float]], good: bool) -> None:
    assert passes([judged(*zone) for zone in zones]) == good


# The zones


PRINTED = [  # storage [in], precipitation rate [in/h], efficiency, longest run before runoff [min]
    (0.85, 1.60, 0.55, 12.0),
    (0.55, 1.60, 0.60, 6.6),
    (0.90, 1.40, 0.70, 17.3),
    (2.00, 1.40, 0.75, 14.4),
    (2.25, 0.20, 0.80, None),
    (0.55, 0.35, 0.65, 24.0),
]


@pytest.mark.parametrize("number", range(6))
def test_a_zone_of_the_site_is_the_reference_zone(number: int) -> None:
    """The figures that `advise` works with are the printed ones, and the judge has the same."""
    storage, rate, efficiency, minutes = PRINTED[number]
    site, judged = site_of(open_year("Seattle", 2014)), ZONES[number].judged
    zone = site.zones[number]
    figures = zone_figures(zone, (), site.rules)
    assert zone.allowed_depletion is not None
    assert zone.allowed_depletion * figures.taw_mm == pytest.approx(storage * INCH_MM, abs=1e-9)
    assert figures.rate_mm_h == pytest.approx(rate * INCH_MM)
    assert figures.multiplier == pytest.approx(1.0 / efficiency)
    assert (judged.storage, judged.rate_h) == pytest.approx((storage * INCH_MM, rate * INCH_MM))
    assert (judged.intake_h, judged.accumulation) == pytest.approx(
        (figures.intake_mm_h, figures.accumulation_mm)
    )
    assert judged.efficiency == efficiency
    assert zone.exposure == {"shade": 0.6, "part shade": 0.8, "full sun": 1.0}[ZONES[number].light]
    assert figures.cycle_min == (None if minutes is None else pytest.approx(minutes, abs=0.05))


@pytest.mark.parametrize("number", range(6))
def test_our_cycles_and_soaks_of_a_whole_refill_do_not_run_off_by_the_judge(number: int) -> None:
    """Two ways to the same numbers: our cycles come from the science floor, the runoff from the judge."""
    site, zone = site_of(open_year("Seattle", 2014)), ZONES[number].judged
    length = length_for(zone.storage, zone_figures(site.zones[number], (), site.rules))
    begins, cycles = 0.0, []
    for minutes in length.cycles:
        cycles.append(cycle(begins, minutes))
        begins += minutes + length.soak
    assert sum(minutes * zone.rate_h / 60.0 for minutes in length.cycles) * zone.efficiency >= zone.storage
    assert np.abs(runoff(zone, cycles)).max() < 1e-9
    if len(cycles) > 1:  # and a soak of half the time does
        hurried = [JudgedCycle(0, c.begins_h / 2.0, c.begins_h / 2.0 + c.ends_h - c.begins_h) for c in cycles]
        assert sum(soak for _, soak in runoff(zone, hurried)) > 0.0


def test_south_of_the_equator_the_months_are_moved_by_six() -> None:
    fescue = ZONES[0]
    assert kc_at(fescue, 47.0)[6] == kc_at(fescue, -43.0)[0] == 0.93
    site = site_of(open_year("New Zealand", 2007))
    assert [zone.turf.kc_month for zone in site.zones] == [kc_at(zone, -43.0) for zone in ZONES]


# The periods


@lru_cache
def seattle() -> list[Period]:
    return periods_of(open_year("Seattle", 2014))


def test_periods_are_thirty_days_apart_and_inside_the_season() -> None:
    firsts = [period.first for period in seattle()]
    assert firsts[0] == date(2014, 5, 1)
    assert {b - a for a, b in pairwise(firsts)} == {timedelta(days=DAYS)}
    assert firsts[-1] + timedelta(days=DAYS) <= date(2014, 9, 15) + timedelta(days=1)


def test_the_days_of_a_period_have_the_rain_that_the_source_tells() -> None:
    """Seattle in June 2014: the source's own table of days."""
    period = next(period for period in seattle() if period.first == date(2014, 5, 31))
    days, rain, _ = daily(period.year, period.first)
    assert (days[0], days[-1]) == (np.datetime64("2014-05-31"), np.datetime64("2014-06-29"))
    told = pd.read_csv(
        open_data._path("vega_datasets", "_data/seattle-weather.csv"), parse_dates=["date"], index_col="date"
    )["precipitation"]
    np.testing.assert_allclose(rain, told.loc[pd.DatetimeIndex(days)], atol=1e-9)
    assert period.rain_mm == pytest.approx(rain.sum())


def test_a_period_needs_rain_and_demand() -> None:
    """0.40 in and 2.5 in: 10.16 and 63.5 mm."""
    year = open_year("Seattle", 2014)
    assert Period(year, date(2014, 5, 31), 10.17, 63.6).qualifies
    assert not Period(year, date(2014, 5, 31), 10.15, 63.6).qualifies
    assert not Period(year, date(2014, 5, 31), 10.17, 63.4).qualifies


def test_a_cycle_counts_on_the_local_day_on_which_it_begins_and_within_the_thirty() -> None:
    period = next(period for period in seattle() if period.first == date(2014, 5, 31))

    def at(day: int, hour: int) -> Cycle:  # UTC, seven hours ahead of Seattle
        begins = datetime(2014, 5, 31, hour, tzinfo=UTC) + timedelta(days=day)
        return Cycle(starts_at=begins, ends_at=begins + timedelta(minutes=30))

    cycles = (at(0, 6), at(0, 8), at(1, 6), at(1, 8))  # 30 May 23:00, 31 May 01:00 and 23:00, 1 June 01:00
    run = PlannedRun(
        zone="1",
        depth_mm=1,
        effective_mm=1,
        minutes=120,
        cycles=cycles,
        litres=1,
        by_hand=False,
        why=RunPurpose.TURF,
    )
    found = cycles_of([run], period)
    assert [one.day for one in found] == [0, 0, 0, 1]
    assert [one.begins_h for one in found] == [-1.0, 1.0, 23.0, 25.0]
    late = run.model_copy(update={"cycles": (Cycle(starts_at=LATE, ends_at=LATE + timedelta(minutes=30)),)})
    assert cycles_of([late], period)[0].day == DAYS - 1


LATE = datetime(2014, 6, 30, 8, tzinfo=UTC)  # the 31st day, 01:00


def test_every_judging_season_gives_a_period_and_only_what_qualifies_is_lived() -> None:
    years = open_years("judging")
    found = [*lived_by_rule(years)]
    assert {id(period.year) for period, recipe in found if recipe == "honest"} == {id(year) for year in years}
    assert all(period.qualifies for period, _ in found)


# One period, lived


@lru_cache
def rows(recipe: str) -> list[Row]:
    """The driest qualifying period of Seattle in 2014, in which there is most to decide by watering."""
    driest = min((period for period in seattle() if period.qualifies), key=lambda period: period.rain_mm)
    assert driest.first == date(2014, 5, 31)
    return judged_rows(driest, recipe)


def test_one_period_is_watered_as_the_protocol_asks_in_what_holds_today() -> None:
    """WaterSense wants 0.80 and 0.10 (from memory). What is short of 0.95 is told in the table, not tuned away: our
    turf lives on below the allowance at a reduced rate, the judge counts all of it as deficit."""
    found = rows("honest")
    print(*table(found), "passed" if passed(found) else "not passed", sep="\n")
    for row in found:
        assert row.judged.direct == pytest.approx(0.0, abs=1e-9), row.zone
        assert row.judged.soak == pytest.approx(0.0, abs=1e-9), row.zone
        assert row.judged.adequacy > 0.78, row.zone
        assert row.judged.excess < 0.09, row.zone
    assert sum(row.judged.excess for row in found) / len(found) < 0.06


def test_the_period_is_judged_on_the_water_that_was_run() -> None:
    """Zones that asked for water got it, those of least storage most often; and the judge's water adds up."""
    found = {row.zone: row for row in rows("honest")}
    runs = {zone: sum(day.gross > 0.0 for day in row.days) for zone, row in found.items()}
    assert runs["2"] >= 3
    assert runs["2"] >= runs["1"] >= runs["5"]
    for zone, reference in zip(found, ZONES, strict=True):
        row, j = found[zone], found[zone].judged
        change = row.days[-1].storage - 0.5 * reference.judged.storage
        assert j.gross * reference.efficiency + j.rain == pytest.approx(
            j.etc - j.deficit + j.surplus + change, abs=1e-6
        )


def test_the_table_begins_with_what_is_worst() -> None:
    head, *lines = table(rows("honest"))
    assert head == HEAD
    assert len(lines) == 6
    worst = min(rows("honest"), key=lambda row: row.judged.adequacy)
    assert f"{worst.judged.adequacy:.3f}" in lines[0]
