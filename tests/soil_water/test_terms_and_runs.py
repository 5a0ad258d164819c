"""The balance day by day, term by term, and what recorded runs come to."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise

import numpy as np
import pytest
from made import CHICAGO, EVENING, made_site, made_weather, made_zone

from advisor.advice import Term
from advisor.lawn import Records, Rules, Run
from advisor.lawn.site_values import Rate
from advisor.soil_water import RootZone, survey, zone_figures
from advisor.soil_water.daily_balance import DAYS_AHEAD, DAYS_BACK, balance_terms
from advisor.soil_water.water_received import given_by, irrigation_by_hour

TODAY = EVENING.astimezone(CHICAGO).date()
ZONES = (
    made_zone("Front", uniformity=1.0),
    made_zone("Back", uniformity=0.7),
    made_zone("Guess", rate=Rate(12.0, "guess", 8.0, 18.0)),
)


def surveyed(*runs: Run, past_rain_mm: float = 0.0) -> RootZone:
    """Zones without a probe; 4 mm fell three days ago, besides a little all the time."""
    weather = made_weather(np.zeros((5, 240)), past_rain_mm=past_rain_mm)
    rain = weather.rain_mm.copy()
    at = weather.index_at(EVENING - timedelta(days=3))
    rain[at : at + 2] = 2.0
    return survey(
        site=made_site(*ZONES),
        records=Records(runs=runs),
        weather=replace(weather, rain_mm=rain),
        now=EVENING,
    )


def ran(zone: str, minutes: float, *, days_ago: int = 2, depth_mm: float | None = None) -> Run:
    began = EVENING - timedelta(days=days_ago)
    return Run(zone, began, began + timedelta(minutes=minutes), minutes, depth_mm)


def test_the_days_shown_are_the_last_ten_and_the_next_five_and_only_those_after_today_are_forecast() -> None:
    for terms in balance_terms(surveyed()):
        assert [term.day for term in terms] == [
            TODAY + timedelta(days=step) for step in range(-DAYS_BACK, DAYS_AHEAD + 1)
        ]
        assert [term.forecast for term in terms] == [False] * (DAYS_BACK + 1) + [True] * DAYS_AHEAD


def test_each_day_follows_from_the_one_before_by_its_terms() -> None:
    """FAO Irrigation and Drainage Paper 56, equation 85: what went out less what came in."""
    ground = surveyed(ran("Front", 25.0), ran("Guess", 60.0, days_ago=4), past_rain_mm=60.0)
    assert np.ptp(ground.depletion_mm[2, :, -1]) > 1.0  # the readings of a guessed rate differ
    for terms in balance_terms(ground):
        for before, term in pairwise(terms):
            out = term.etc_mm + term.deep_percolation_mm
            came = term.effective_rain_mm + term.irrigation_mm
            assert term.depletion_mm == pytest.approx(before.depletion_mm + out - came, abs=1e-6)
            assert term.etc_mm == pytest.approx(term.eto_mm * term.kc * term.ks, rel=0.02)


def test_the_last_day_of_the_past_is_the_middle_reading() -> None:
    ground = surveyed()
    hours_today = EVENING.astimezone(CHICAGO).hour
    yesterday = next(t for t in balance_terms(ground)[0] if t.day == TODAY - timedelta(days=1))
    assert yesterday.depletion_mm == pytest.approx(ground.depletion_mm[0, 1, -1 - hours_today])


def of(terms: tuple[Term, ...], day: date) -> Term:
    return next(term for term in terms if term.day == day)


def test_rain_and_irrigation_stand_on_their_day_and_zone() -> None:
    front, back, _ = balance_terms(surveyed(ran("Front", 25.0)))
    rained, watered = TODAY - timedelta(days=3), TODAY - timedelta(days=2)
    assert of(front, rained).rain_mm == pytest.approx(4.0)
    assert sum(term.rain_mm for term in front if not term.forecast) == pytest.approx(4.0, abs=0.1)
    assert 0.0 < of(front, rained).effective_rain_mm < 4.0
    assert of(front, watered).irrigation_mm == pytest.approx(5.0)  # 25 min at 12 mm/h, evenly
    assert sum(term.irrigation_mm for term in back) == 0.0


FIGURES = [zone_figures(zone, (), Rules(hours=())) for zone in ZONES]
NAMES = [zone.name for zone in ZONES]


@pytest.mark.parametrize(
    ("minutes", "depth_mm", "gross_mm"),
    [
        (30.0, None, 6.0),
        (30.0, 4.0, 4.0),
        (0.0, 4.0, 4.0),
        (30.0, 0.0, 0.0),
        (0.0, None, None),
        (0.0, 0.0, None),
    ],
)
def test_a_run_gives_what_was_recorded_else_its_minutes_at_the_zones_rate(
    minutes: float, depth_mm: float | None, gross_mm: float | None
) -> None:
    given = given_by([ran("Back", minutes, depth_mm=depth_mm)], NAMES, FIGURES)
    if gross_mm is None:
        assert given == ()
        return
    (one,) = given
    assert one.zone_index == 1
    assert one.gross_mm == pytest.approx(gross_mm)
    assert one.effective_mm == pytest.approx(gross_mm / FIGURES[1].multiplier)
    assert FIGURES[1].multiplier > 1.0
    assert one.ended_at - one.started_at == timedelta(minutes=max(minutes, 1.0))


def test_a_run_on_a_zone_that_is_not_there_gives_nothing() -> None:
    assert given_by([ran("Shed", 30.0)], NAMES, FIGURES) == ()


def test_a_run_counts_between_two_times_by_the_minute_and_not_at_their_edges() -> None:
    weather = made_weather()
    given = given_by([ran("Front", 60.0, days_ago=1)], NAMES, FIGURES)
    began = EVENING - timedelta(days=1)

    def gross(first_min: int, last_min: int) -> float:
        spans = (began + timedelta(minutes=m) for m in (first_min, last_min))
        return float(irrigation_by_hour(weather, given, 0, *spans)[1].sum())

    assert gross(-60, 120) == pytest.approx(12.0)
    assert gross(0, 60) == pytest.approx(12.0)
    assert gross(15, 30) == pytest.approx(3.0)
    assert gross(60, 120) == 0.0
    assert gross(-60, 0) == 0.0
    assert irrigation_by_hour(weather, given, 1, began, EVENING)[1].sum() == 0.0


def test_without_a_past_the_state_is_anything_between_full_and_the_allowance() -> None:
    weather = made_weather(np.zeros((5, 240)), past_days=0)
    ground = survey(site=made_site(ZONES[0]), records=Records(), weather=weather, now=EVENING)
    assert ground.first <= ground.begin
    wet, middle, dry = ground.depletion_mm[0, :, -1]
    allowed = ground.allowed_mm(0, 0)
    assert (wet, middle, dry) == pytest.approx((0.0, allowed / 2, allowed), rel=0.02)
    assert dry > 5.0


@pytest.mark.parametrize("lying_mm", [0.0, 20.0])
def test_snow_that_lies_now_is_among_the_water_that_comes_when_it_melts(lying_mm: float) -> None:
    weather = made_weather(np.zeros((5, 240)))
    now = weather.index_at(EVENING)
    ahead = np.arange(weather.hours) > now
    snow = np.zeros(weather.hours)
    snow[now - 30 : now - 28] = lying_mm / 2
    cold = replace(weather, temp_c=np.where(ahead, 9.0, -5.0), rain_mm=snow, snow_mm=snow)
    ground = survey(site=made_site(ZONES[0]), records=Records(), weather=cold, now=EVENING)
    assert np.median(ground.rain_ahead_mm.sum(axis=1)) == pytest.approx(lying_mm, abs=0.5)
