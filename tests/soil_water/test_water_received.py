"""The water that came, by the minute: which run gave what to which hour, and what has fallen of the hour of now."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np
import pytest
from made import EVENING, made_weather, made_zone

from advisor.lawn import Rules, Run
from advisor.soil_water import zone_figures
from advisor.soil_water.water_received import (
    Given,
    before_now,
    fallen_weights,
    given_by,
    hour_weights,
    irrigation_by_hour,
)

WEATHER = made_weather()
FIRST = EVENING.replace(hour=12, minute=0)
NOON = WEATHER.index_at(FIRST)
ZONES = ("Front", "Back")
FIGURES = [zone_figures(made_zone(name, uniformity=0.5), (), Rules(hours=())) for name in ZONES]


def at(hours: float) -> datetime:
    """So many hours after noon."""
    return FIRST + timedelta(hours=hours)


def gave(begin: float, end: float, mm: float = 6.0, zone: int = 0) -> Given:
    return Given(zone, at(begin), at(end), mm, mm / 2.0)


def hours(*given: Given, first: float = 0.0, last: float = 6.0, zone: int = 0) -> tuple[list[float], ...]:
    """Gross and effective depth of the six hours from noon on."""
    effective, gross = irrigation_by_hour(WEATHER, given, zone, at(first), at(last))
    assert gross.sum() == pytest.approx(gross[NOON : NOON + 6].sum())
    return tuple([round(float(mm), 6) for mm in each[NOON : NOON + 6]] for each in (gross, effective))


@pytest.mark.parametrize(
    ("begin", "end", "first", "last", "gross"),
    [
        (1.0, 2.0, 0.0, 6.0, [0, 6, 0, 0, 0, 0]),
        (1.5, 3.0, 0.0, 6.0, [0, 2, 4, 0, 0, 0]),
        (0.5, 3.5, 0.0, 6.0, [1, 2, 2, 1, 0, 0]),
        (0.5, 3.5, 1.0, 2.5, [0, 2, 1, 0, 0, 0]),
        (0.5, 3.5, 1.25, 1.75, [0, 1, 0, 0, 0, 0]),
        (1.0, 2.0, 2.0, 6.0, [0, 0, 0, 0, 0, 0]),
        (1.0, 2.0, 0.0, 1.0, [0, 0, 0, 0, 0, 0]),
        (1.0, 2.0, 1.0, 2.0, [0, 6, 0, 0, 0, 0]),
        (-3.0, 3.0, 0.0, 6.0, [1, 1, 1, 0, 0, 0]),
        (5.0, 8.0, 0.0, 6.0, [0, 0, 0, 0, 0, 2]),
    ],
)
def test_a_run_is_spread_evenly_over_the_time_it_took(
    begin: float, end: float, first: float, last: float, gross: list[float]
) -> None:
    found = hours(gave(begin, end), first=first, last=last)
    assert found == (gross, [mm / 2.0 for mm in gross])


def test_a_run_that_does_not_count_hides_none_that_comes_after_it() -> None:
    good = gave(1.0, 2.0)
    alone = hours(good)
    for other in (gave(1.0, 2.0, zone=1), gave(-4.0, -3.0), gave(-1.0, 0.0), gave(6.0, 7.0), gave(9.0, 10.0)):
        assert hours(other, good) == hours(good, other) == alone
    both = hours(good, gave(1.5, 2.5, 4.0))
    assert both[0] == [0, 8, 2, 0, 0, 0]
    assert hours(good, zone=1)[0] == [0] * 6


def test_the_depth_of_a_run_is_what_was_recorded_else_its_minutes_at_the_zones_rate() -> None:
    """At 12 mm/h; an evenness of a half stretches a run by 1 / (0.4 + 0.6 · 0.5)."""
    runs = (
        Run("Shed", at(0), at(1), 60.0),  # no such zone
        Run("Back", at(0), at(1), 0.0),  # skipped
        Run("Back", at(0), at(1), 0.0, 0.0),
        Run("Back", at(0), at(1), 30.0),
        Run("Front", at(1), at(2), 30.0, 4.0),
        Run("Front", at(2), at(2), 0.0, 3.0),  # a depth without minutes
        Run("Front", at(3), at(3.5), 30.0, 0.0),  # nothing came
    )
    found = given_by(runs, ZONES, FIGURES)
    assert [(g.zone_index, g.gross_mm) for g in found] == [(1, 6.0), (0, 4.0), (0, 3.0), (0, 0.0)]
    assert [g.effective_mm for g in found] == pytest.approx([6.0 * 0.7, 4.0 * 0.7, 3.0 * 0.7, 0.0])
    assert [(g.ended_at - g.started_at) / timedelta(minutes=1) for g in found] == [60.0, 60.0, 1.0, 30.0]


@pytest.mark.parametrize(
    ("first", "last", "shares"),
    [
        (0.0, 6.0, [1, 1, 1, 0, 0, 0]),
        (0.5, 6.0, [0.5, 1, 1, 0, 0, 0]),
        (1.0, 2.0, [0, 1, 0, 0, 0, 0]),
        (2.0, 6.0, [0, 0, 1, 0, 0, 0]),
        (2.125, 6.0, [0, 0, 0.5, 0, 0, 0]),  # the half of the quarter of an hour that is over
        (2.25, 6.0, [0, 0, 0, 0, 0, 0]),
        (3.0, 6.0, [0, 0, 0, 0, 0, 0]),
        (0.0, 2.125, [1, 1, 0.5, 0, 0, 0]),
    ],
)
def test_what_has_fallen_in_the_hour_of_now_fell_in_the_part_that_is_over(
    first: float, last: float, shares: list[float]
) -> None:
    """Now is a quarter past two."""
    found = fallen_weights(WEATHER, at(first), at(last), at(2.25))
    assert found[NOON : NOON + 6] == pytest.approx(shares)
    whole = hour_weights(WEATHER, at(first), at(last))[NOON : NOON + 6]
    assert whole.sum() == pytest.approx(last - first)


@pytest.mark.parametrize("now_h", [0.0, 2.0, 2.5])
def test_at_the_full_hour_nothing_of_it_has_fallen(now_h: float) -> None:
    found = fallen_weights(WEATHER, at(-5), at(6), at(now_h))
    assert found[: NOON + int(now_h)].sum() == 5.0 + int(now_h)
    assert found[NOON + int(now_h)] == (1.0 if now_h % 1 else 0.0)
    assert found[NOON + int(now_h) + 1 :].sum() == 0.0


def test_what_came_in_the_hour_of_now_is_had_with_the_hour_before_it() -> None:
    mm = np.array([[1.0, 2.0, np.nan, 4.0, 9.0], [0.0, 0.0, 3.0, 5.0, 9.0]])
    assert before_now(mm, 0, 3).tolist()[1] == [0.0, 0.0, 8.0]
    assert before_now(mm, 0, 3)[0] == pytest.approx([1.0, 2.0, 4.0])  # what is unknown before it is none
    assert before_now(mm, 1, 2) == pytest.approx(np.array([[np.nan], [3.0]]), nan_ok=True)
    assert before_now(mm, 2, 2).shape == (2, 0)
    assert mm[1].tolist() == [0.0, 0.0, 3.0, 5.0, 9.0]
