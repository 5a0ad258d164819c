"""The turf's need out of a made course of the root zone: every figure reckoned by hand, each hour at its edge."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from functools import cache

import numpy as np
import pytest
from made import EVENING, JUDGED, made_site, made_weather, made_zone

from advisor.lawn import Decision, Records
from advisor.soil_water import Requirement, RootZone, survey, turf_requirement

RUN_AT = EVENING + timedelta(hours=9)  # in hour 9 from that of now on
NEXT_AT = RUN_AT + timedelta(days=1)  # in hour 33
HOURS = 240
BASES = np.array([0.0, 10.0, 20.0])
RUN_H, NEXT_H = 9, 33


@cache
def ground() -> RootZone:
    return survey(site=made_site(made_zone()), records=Records(), weather=made_weather(), now=EVENING)


def course(
    depletion: np.ndarray | None = None, short: dict[int, float] | None = None, members: int = 3
) -> RootZone:
    """Three members 10 mm apart that dry by 0.1 mm an hour; turf that gets all it asks but for `short` hours.

    Of 30 mm of water half is allowed.
    """
    if depletion is None:
        depletion = BASES[:, None] + 0.1 * np.arange(HOURS)
    one = ground()
    etc = np.full_like(one.etc_mm, 0.5)
    actual = np.full((1, members, HOURS), 0.5)
    for hour, mm in (short or {}).items():
        actual[0, :, hour] -= mm
    return replace(
        one,
        ahead_depletion_mm=depletion[None],
        ahead_actual_mm=actual,
        etc_mm=etc,
        rain_ahead_mm=np.zeros((members, HOURS)),
        p=np.full_like(one.p, 0.5),
        taw_mm=np.array([30.0]),
    )


def need(
    root_zone: RootZone,
    *,
    run_at: datetime = RUN_AT,
    next_at: datetime | None = NEXT_AT,
    stress: float | None = None,
) -> Requirement:
    return turf_requirement(
        root_zone=root_zone,
        zone=0,
        run_at=run_at,
        next_at=next_at,
        decision=Decision("balanced", {} if stress is None else {"stress": stress}),
        judgement=JUDGED,
    )


def test_the_figures_of_a_made_course() -> None:
    """In hour 9 on average 10.9 mm, in hour 33 13.3; one of three is then past the 15 mm allowed."""
    found = need(course(short={20: 0.25, 25: 0.25}))
    assert found.at_run_mm == pytest.approx(10.9)
    assert found.next_mm == pytest.approx(13.3)
    assert found.allowed_mm == pytest.approx(15.0)
    assert found.chance_past == pytest.approx(1 / 3)
    assert found.unmet_mm == pytest.approx(0.5)
    assert found.spare_mm == pytest.approx(23.3 - 15.0 + 1.0)  # and what stays on the leaves
    # of 0.9, 10.9 and 20.9 mm of room the one that 35 % have less than
    assert found.room_mm == pytest.approx(0.9 + 0.7 * 10.0)
    assert found.wanted_mm == found.room_mm  # 3 × 0.5 mm short is more than a run's 1 mm
    assert not found.left_to_rain


@pytest.mark.parametrize(
    ("hour", "counts"), [(8, False), (9, True), (10, True), (32, True), (33, True), (34, False)]
)
def test_what_the_turf_goes_short_of_is_counted_from_the_run_to_the_next_chance(
    hour: int, counts: bool
) -> None:
    assert need(course(short={hour: 0.4})).unmet_mm == pytest.approx(0.4 if counts else 0.0)


@pytest.mark.parametrize(("short_mm", "runs"), [(0.0, False), (0.25, False), (0.26, True), (0.5, True)])
def test_turf_is_run_where_its_stress_is_worth_more_than_the_trouble(short_mm: float, runs: bool) -> None:
    """At four times its depth 0.25 mm short is just the 1 mm that a run's trouble counts for."""
    found = need(course(short={20: short_mm}), stress=4.0)
    assert (found.wanted_mm > 0.0) == runs


@pytest.mark.parametrize(
    ("room_mm", "wanted_mm"), [(3.99, 0.0), (4.0, 4.0), (4.01, 4.01), (0.0, 0.0), (12.0, 12.0)]
)
def test_a_run_for_the_turf_alone_is_not_shallower_than_the_least(room_mm: float, wanted_mm: float) -> None:
    found = need(course(np.full((3, HOURS), room_mm), short={20: 0.5}))
    assert found.wanted_mm == pytest.approx(wanted_mm)
    assert found.left_to_rain == (wanted_mm == 0.0)
    calm = need(course(np.full((3, HOURS), room_mm)))
    assert (calm.wanted_mm, calm.left_to_rain) == (0.0, False)


@pytest.mark.parametrize(
    ("hour", "counts"), [(8, False), (9, True), (30, True), (56, True), (57, False), (239, False)]
)
def test_room_is_what_is_left_at_the_fullest_hour_of_two_days(hour: int, counts: bool) -> None:
    depletion = np.full((3, HOURS), 12.0)
    depletion[:, hour] = 5.0
    assert need(course(depletion)).room_mm == (5.0 if counts else 12.0)


@pytest.mark.parametrize(
    ("next_mm", "past", "spare_mm"),
    [(14.99, 0.0, 1.0), (15.0, 0.0, 1.0), (15.01, 1.0, 1.01), (18.0, 1.0, 4.0)],
)
def test_the_allowance_is_passed_above_it_and_what_is_spare_is_no_less_than_the_leaves_hold(
    next_mm: float, past: float, spare_mm: float
) -> None:
    depletion = np.full((3, HOURS), 12.0)
    depletion[:, NEXT_H] = next_mm
    found = need(course(depletion))
    assert found.chance_past == past
    assert found.spare_mm == pytest.approx(spare_mm)


@pytest.mark.parametrize(
    ("run_h", "next_h", "at_run", "at_next"),
    [
        (9, None, 9, 239),
        (9, 5, 9, 10),  # a next chance before the run is the hour after it
        (9, 9, 9, 10),
        (9, 10, 9, 10),
        (9, 11, 9, 11),
        (-5, 24, 0, 24),
        (9, 500, 9, 239),
        (238, 300, 238, 239),
        (400, 500, 239, 239),
        (400, None, 239, 239),
    ],
)
def test_the_run_and_the_next_chance_lie_in_the_hours_that_are_known(
    run_h: int, next_h: int | None, at_run: int, at_next: int
) -> None:
    at = EVENING.replace(minute=0)
    found = need(
        course(),
        run_at=at + timedelta(hours=run_h),
        next_at=None if next_h is None else at + timedelta(hours=next_h),
    )
    assert found.at_run_mm == pytest.approx(10.0 + 0.1 * at_run)
    assert found.next_mm == pytest.approx(10.0 + 0.1 * at_next)


def test_what_is_not_known_of_now_is_told_from_the_wet_to_the_dry_reading() -> None:
    one = course()
    traces = np.array(one.depletion_mm)
    traces[0, :, -1] = [7.0, 3.0, 11.0]
    found = need(replace(one, depletion_mm=traces))
    assert (found.low_mm, found.depletion_mm, found.high_mm) == (3.0, 3.0, 11.0)
