"""Seed kept moist: one light run near dawn, the other by day or as near to it as the rules allow."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time, timedelta
from itertools import pairwise

import pytest
from made import CHICAGO, EVENING, made_site, made_weather, made_zone

from advisor.advice.advice import Advice
from advisor.lawn.products import Product
from advisor.lawn.records import Application, Records
from advisor.lawn.site_values import Rules
from advisor.lawn.tables import kind_table
from advisor.tonight.advise import advise
from advisor.tonight.seed import SEED_RUN_MM, SEED_RUNS

# Larkmoor Lane (invented), 17 June 2026: sunrise on the 18th at 05:56, sunset at 21:00, local time.
NOTE = "Front: the rules hold no daytime hours, so the seed may dry at midday; look at it then."


def at(day: int, hour: int, minute: int = 0) -> datetime:
    return datetime(2026, 6, day, hour, minute, tzinfo=CHICAGO)


def seeded(*hours: tuple[time, time], finish: str = "window", **zone: object) -> Advice:
    front = made_zone(mode="seed", mode_until=date(2026, 7, 1), **zone)
    site = made_site(front, rules=replace(Rules(hours=hours), finish=finish))  # type: ignore[arg-type]
    return advise(site=site, records=Records(), weather=made_weather(), now=EVENING)


def starts(advice: Advice) -> list[datetime]:
    (run,) = advice.runs
    return [c.starts_at.astimezone(CHICAGO) for c in run.cycles]


@pytest.mark.parametrize(
    "hours",
    [
        pytest.param(((time(21), time(8)), (time(11), time(16))), id="hours at midday"),
        pytest.param(((time(4), time(15)),), id="one stretch from night to day"),
        pytest.param(((time(5), time(10)),), id="the first hour by day"),
    ],
)
def test_one_light_run_is_near_dawn_and_one_by_day_where_the_rules_allow_it(
    hours: tuple[tuple[time, time], ...],
) -> None:
    advice = seeded(*hours)
    dawn, day = starts(advice)
    assert at(18, 3, 45) <= dawn <= at(18, 8)
    assert at(18, 8, 56) <= day <= at(18, 18)
    assert NOTE not in advice.window_words
    assert advice.not_planned == ()
    assert [c for c in advice.checks if not c.passed] == []


def test_without_hours_by_day_the_runs_are_at_both_ends_of_the_night_and_it_is_said() -> None:
    advice = seeded((time(20), time(9)), finish="sunrise")
    evening, dawn = starts(advice)
    assert evening <= at(17, 21, 30)
    assert at(18, 4, 30) <= dawn <= at(18, 5, 56)
    assert NOTE in advice.window_words


def test_each_light_run_is_whole_minutes_and_the_depth_is_theirs() -> None:
    (run,) = seeded((time(20), time(9)), finish="sunrise").runs
    assert [c.ends_at - c.starts_at for c in run.cycles] == [timedelta(minutes=13)] * 2
    assert run.depth_mm == pytest.approx(2 * 13 / 60 * 12.0)


def test_where_only_one_light_run_fits_the_other_is_told() -> None:
    advice = seeded((time(20), time(9)), finish="sunrise", by_hand=True)
    assert len(starts(advice)) == 1
    (rest,) = advice.not_planned
    assert rest.why.startswith("13 of its 26 min run tonight.")


def test_a_light_run_is_as_deep_as_the_seed_that_was_put_down_asks() -> None:
    put = Application("Rye", ("Front",), at(16, 9), at(16, 10), method="spreader")
    for label_mm, minutes in ((2.0, 10), (3.6, 18)):
        rye = Product("Rye", replace(kind_table()["seed"], light_run_mm=label_mm))
        site = made_site(made_zone(), products={"Rye": rye}, rules=Rules(hours=((time(20), time(9)),)))
        advice = advise(site=site, records=Records(applications=(put,)), weather=made_weather(), now=EVENING)
        (run,) = advice.runs
        assert [c.ends_at - c.starts_at for c in run.cycles] == [timedelta(minutes=minutes)] * 2


def test_without_a_seed_put_down_it_is_as_the_shipped_kind_has_it() -> None:
    kind = kind_table()["seed"]
    assert (kind.light_run_mm, kind.light_runs_per_day) == (SEED_RUN_MM, SEED_RUNS)


@pytest.mark.parametrize("runs", [1, 2, 3, 4])
@pytest.mark.parametrize(
    "hours",
    [((time(20), time(9)),), ((time(20), time(9)), (time(9), time(16)))],
    ids=["night only", "day as well"],
)
def test_as_many_light_runs_are_planned_as_the_seed_asks(
    runs: int, hours: tuple[tuple[time, time], ...]
) -> None:
    rye = Product("Rye", replace(kind_table()["seed"], light_runs_per_day=runs))
    put = Application("Rye", ("Front",), at(16, 9), at(16, 10), method="spreader")
    site = made_site(made_zone(), products={"Rye": rye}, rules=Rules(hours=hours, finish="window"))
    advice = advise(site=site, records=Records(applications=(put,)), weather=made_weather(), now=EVENING)
    begun = starts(advice)
    assert len(begun) == runs
    assert advice.not_planned == ()
    pauses = [b - a for a, b in pairwise(begun)]
    assert all(pause >= timedelta(hours=1) for pause in pauses)
    assert [c for c in advice.checks if not c.passed] == []
