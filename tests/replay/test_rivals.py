"""Rivals do what their rules say, within the same hours, and nothing beats perfect foresight."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from functools import cache

import numpy as np
import pytest
from made_seasons import HONEST, made_season, made_sky, made_truth, two_zones, with_products

from advisor.advice import ClimateBasis, ClimateKind, CountedRain
from advisor.lawn.site_values import Rules
from advisor.replay.duty_rivals import live_by_rules
from advisor.replay.equal_unmet import water_at
from advisor.replay.foresight import foresight
from advisor.replay.job import RESULT, Job, Part, work
from advisor.replay.made_forecast import RECIPES
from advisor.replay.nights import season_nights, within_the_night
from advisor.replay.past_nights import ALWAYS, HALF, NEVER
from advisor.replay.rivals import Clock, Deficit, frontier
from advisor.replay.scores import scores
from advisor.replay.season import Season, live
from advisor.soil_water.usual_year import Climate, Month

PERFECT = replace(RECIPES["perfect"], members=3, days=5)


@cache
def season(seed: int = 1, bursts: int = 18) -> Season:
    """A made month."""
    return made_season(truth=made_truth(seed=seed, bursts=bursts))


def pairs(points) -> list[tuple[float, float]]:  # type: ignore[no-untyped-def]
    return [(point.grass.unmet_mm, point.spent_mm) for point in points]


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_no_rule_uses_less_than_perfect_foresight_at_the_same_unmet_demand(seed: int) -> None:
    one = season(seed)
    bound = foresight(one)
    families = [Deficit(), Deficit("median"), Deficit("half")]
    for family in families:
        for point in frontier(one, family, made_sky(one, PERFECT)):
            least = water_at(bound, point.grass.unmet_mm)
            assert least is None or point.spent_mm >= least - 1.0, point


def test_nor_does_our_season() -> None:
    one = season(2)
    ours = scores(one, live(one, made_sky(one, PERFECT)))
    bound = water_at(foresight(one), ours.grass.unmet_mm)
    assert bound is not None
    assert ours.spent_mm >= bound - 1.0


def test_foresight_leaves_less_unmet_the_dearer_it_is() -> None:
    unmet = [point.grass.unmet_mm for point in foresight(season(1), (1.25, 3.0, 15.0, 60.0))]
    assert unmet == sorted(unmet, reverse=True)
    assert unmet[0] > unmet[-1] + 5.0


def test_foresight_goes_from_no_water_at_all_to_all_that_can_be_met() -> None:
    first, *_, last = foresight(season(1))
    assert (first.water_mm, first.runs) == (0.0, 0.0)
    deaf = frontier(season(1), Deficit(), made_sky(season(1)))
    assert last.grass.unmet_mm <= min(point.grass.unmet_mm for point in deaf) + 0.01


def test_foresight_stays_a_bound_in_a_night_too_short_for_its_depth() -> None:
    """A rule is cut to ten minutes a night, foresight to none."""
    short = made_season(
        two_zones(rules=Rules(hours=two_zones().rules.hours, minutes_a_night=10.0)),
        truth=made_truth(bursts=0),
    )
    rule = min(point.grass.unmet_mm for point in frontier(short, Deficit(), made_sky(short)))
    assert foresight(short)[-1].grass.unmet_mm < 0.1 * rule


def test_a_rule_without_forecast_runs_when_its_trigger_is_reached_and_not_before() -> None:
    one = season(1, bursts=0)
    lawn = one.lawn
    (point,) = frontier(one, Deficit("", (1.0,), (1.0,)), made_sky(one))
    nights = season_nights(one)
    state = np.zeros((2, 1))
    water = runs = 0.0
    for night in nights:
        assert night.run is not None
        used = lawn.etc_mm[:, night.asked - 24 : night.asked].sum(axis=1)
        hours = slice(night.asked, night.until)
        given = np.zeros((2, 1, night.until - night.asked))
        for zone in range(2):
            expected = state[zone, 0] + used[zone] * (night.next - night.asked) / 24.0
            if expected >= lawn.allowed_mm[zone, night.asked + 12]:
                depth = state[zone, 0] + used[zone] * (night.run - night.asked) / 24.0
                given[zone, 0, night.run - night.asked] = depth
                water += depth * lawn.ground.figures[zone].multiplier / 2
                runs += 0.5
        state = lawn.course(given, start_mm=state, hours=hours).depletion_mm[:, :, -1]
    owed = sum(f.multiplier * state[z, 0] for z, f in enumerate(lawn.ground.figures)) / 2
    assert point.runs == runs
    assert point.water_mm == pytest.approx(water)
    assert point.owed_mm == pytest.approx(owed)


def test_a_rule_that_hears_of_sure_rain_uses_less_for_the_same() -> None:
    one = season(1, bursts=40)
    deaf, hears = (
        water_at(frontier(one, Deficit(name), made_sky(one, PERFECT)), 1.0) for name in ("", "median")
    )
    assert deaf is not None
    assert hears is not None
    assert hears < deaf - 5.0


def test_a_rule_that_hears_a_forecast_without_members_is_the_deaf_one() -> None:
    one = season(1)
    none = replace(HONEST, name="none", members=0)
    deaf, hears = (frontier(one, Deficit(name), made_sky(one, none)) for name in ("", "half"))
    assert pairs(deaf)[0] == pytest.approx(pairs(hears)[0], rel=0.2)


def test_a_rival_keeps_the_dates_and_the_minutes_of_the_night() -> None:
    rules = Rules(hours=two_zones().rules.hours, weekdays=frozenset({1, 5}), minutes_a_night=60.0)
    one = made_season(two_zones(rules=rules), truth=made_truth(bursts=0))
    nights = season_nights(one)
    local = one.site.place.zone
    open_days = [
        one.lawn.weather.starts_at(night.run).astimezone(local).weekday()
        for night in nights
        if night.run is not None
    ]
    assert len(open_days) < len(nights)
    assert set(open_days) == {1, 5}
    depth = within_the_night(one.lawn, np.full((2, 1), 30.0), 60.0)
    minutes = sum(
        60.0 * depth[z, 0] * f.multiplier / f.rate_mm_h for z, f in enumerate(one.lawn.ground.figures)
    )
    assert minutes == pytest.approx(60.0)


def climate(eto_mm_d: float) -> Climate:
    months = tuple(Month(month=m, eto_mm_d=eto_mm_d, rain_mm=0.0, counted_mm=0.0) for m in range(1, 13))
    basis = ClimateBasis(kind=ClimateKind.HOURS, counted_rain=CountedRain.BY_DAY)
    return Climate(months=months, source="made", basis=basis)


def test_a_clock_gives_what_its_usual_year_says_whatever_falls() -> None:
    wet, dry = season(1, bursts=40), season(1, bursts=0)
    water = []
    for one in (wet, dry):
        (point,) = frontier(one, Clock(one.lawn, climate(6.0), rain_stop=False, scales=(1.0,)), made_sky(one))
        water.append(point.water_mm)
    assert water[0] == pytest.approx(water[1])
    (stopped,) = frontier(wet, Clock(wet.lawn, climate(6.0), rain_stop=True, scales=(1.0,)), made_sky(wet))
    assert stopped.water_mm < water[0]


@pytest.mark.parametrize(("rule", "on_time"), [(ALWAYS, 1.0), (NEVER, 0.0)])
def test_in_a_dry_month_products_are_in_time_where_they_are_run_for(rule: str, on_time: float) -> None:
    one = made_season(with_products(two_zones(), "soil-liquid"), truth=made_truth(bursts=0))
    lived = live_by_rules(one, made_sky(one), turf=Deficit("", (99.0,), (1.0,)), duty=rule)
    found = scores(one, lived).duties
    assert found.count > 0
    assert found.on_time / found.count == on_time
    assert found.false_waits == (0 if on_time else found.count)
    assert found.by_rain == found.needless == 0


def test_a_rule_of_chance_leaves_sure_rain_its_work() -> None:
    site = with_products(two_zones(), "soil-liquid")
    truth = made_truth(bursts=0)
    dry = made_season(site, truth=truth)
    rain = truth.rain_mm.copy()
    for application in dry.applications:
        begin = truth.index_at(application.ended_at + timedelta(hours=9))
        rain[begin : begin + 3] = 4.0
    one = made_season(site, truth=replace(truth, rain_mm=rain))
    ways = {
        duty: scores(
            one, live_by_rules(one, made_sky(one, PERFECT), turf=Deficit("", (99.0,), (1.0,)), duty=duty)
        )
        for duty in (ALWAYS, HALF)
    }
    half, always = ways[HALF].duties, ways[ALWAYS].duties
    assert half.on_time == half.by_rain == half.count > 0
    assert half.needless == 0
    assert always.needless == always.count


def test_a_job_gives_the_same_result_twice_and_is_kept_whole() -> None:
    one = made_season(with_products(two_zones(), "soil-liquid"))
    job = Job(
        key="made",
        site=one.site,
        truth=one.lawn.weather,
        first=date(2026, 6, 15),
        last=date(2026, 6, 28),
        recipe=HONEST,
        seed=3,
        parts=tuple(Part),
        with_rounds=True,
        climate=climate(5.0),
    )
    once, again = work(job), work(job)
    assert once == again
    assert RESULT.validate_json(RESULT.dump_json(once)) == once
    assert once.ours is not None
    assert once.ours.duties.count > 0
    assert set(once.duty_rules) == {ALWAYS, HALF, NEVER}
    assert len(once.families) == 6
    assert once.nights["usual prices"]
