"""A season is lived as its owner would: gauge read, runs recorded, looks followed, pairs learnt."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime, timedelta
from functools import cache

import numpy as np
import pytest
from made_seasons import FIRST, LAST, made_season, made_sky, made_truth, two_zones, with_products

from advisor.advice import LookKind
from advisor.errors import CannotAdvise
from advisor.lawn import Records, Run
from advisor.lawn.site_values import DateSpan, Rules
from advisor.replay import season as room
from advisor.replay.duty_rivals import live_by_rules
from advisor.replay.foresight import foresight
from advisor.replay.past_nights import ALWAYS
from advisor.replay.rivals import Deficit, frontier
from advisor.replay.scores import scores
from advisor.replay.season import Lived, Season, live
from advisor.replay.true_lawn import true_lawn
from advisor.soil_water import survey
from advisor.tonight import advise
from advisor.weather import Weather


@cache
def lived() -> tuple[Season, Lived]:
    """One made month, lived once."""
    season = made_season(with_products(two_zones(), "soil-liquid"))
    return season, live(season, made_sky(season))


def test_the_same_season_is_lived_the_same_twice() -> None:
    season, once = lived()
    again = live(season, made_sky(season))
    assert again.runs == once.runs
    assert again.looks == once.looks


def test_it_is_asked_every_evening_and_at_every_look() -> None:
    season, once = lived()
    assert once.asked == len(list(season.evenings())) + len(once.looks)
    assert once.refused == []
    assert once.checks_failed == 0


def test_the_state_that_advise_works_out_is_that_of_the_true_lawn() -> None:
    """What fell is known by the gauge and what ran by the records, so only the marks of the gauge and where its water
    lay within the day lie between the two."""
    season, once = lived()
    now = season.ends_at
    water = season.lawn.water(once.runs)
    course = season.course(water.irrigation_mm[:, None])
    told = made_sky(season).told_at(now)
    runs = tuple(r for r in once.runs if r.ended_at > now - timedelta(days=45))
    records = Records(runs=runs, probes=season.probed)
    ground = survey(site=season.site, records=records, weather=told, now=now)
    assert ground.depletion_mm[:, 1, -1] == pytest.approx(course.depletion_mm[:, 0, -1], abs=0.3)


def test_runs_are_recorded_as_they_were_advised_and_lie_in_the_allowed_hours() -> None:
    season, once = lived()
    assert once.runs
    local = season.site.place.zone
    for run in once.runs:
        assert run.source == "as advised"
        assert run.depth_mm == pytest.approx(run.minutes / 60.0 * 12.0, abs=0.01)
        begins, ends = run.started_at.astimezone(local), run.ended_at.astimezone(local)
        assert begins.hour >= 21 or begins.hour < 8
        assert ends.hour >= 21 or ends.hour < 8


def test_restricted_dates_are_kept() -> None:
    rules = Rules(hours=two_zones().rules.hours, weekdays=frozenset({1, 5}))
    season = made_season(two_zones(rules=rules))
    once = live(season, made_sky(season))
    days = {run.started_at.astimezone(season.site.place.zone).weekday() for run in once.runs}
    assert once.runs
    assert days <= {1, 5}


class Answers:
    """Listens to what advise answers."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.given: list[tuple[Mapping[str, object], object]] = []
        monkeypatch.setattr(room, "advise", self)

    def __call__(self, **asked: object) -> object:
        answer = advise(**asked)  # type: ignore[arg-type]
        self.given.append((asked, answer))
        return answer


@pytest.fixture
def looked(monkeypatch: pytest.MonkeyPatch) -> tuple[Season, Lived, Answers]:
    """A season of an owner who is awake all night, with products that may wait for rain."""
    rules = replace(
        two_zones().rules,
        awake=(two_zones().rules.awake[0].replace(0), two_zones().rules.awake[1].replace(23)),
    )
    season = made_season(
        with_products(two_zones(rules=rules), "soil-liquid", "pre-emergent", every_days=5),
        truth=made_truth(seed=3, bursts=45),
    )
    answers = Answers(monkeypatch)
    return season, live(season, made_sky(season)), answers


def test_a_look_reads_the_gauge_asks_again_and_is_followed(looked: tuple[Season, Lived, Answers]) -> None:
    season, once, answers = looked
    assert once.looks
    for at in once.looks:
        asked = next(asked for asked, _ in answers.given if asked["now"] == at)
        records = asked["records"]
        assert isinstance(records, Records)
        assert records.gauge[-1].read_at == at
        assert records.gauge[-1].depth_mm == pytest.approx(
            season.fell_mm(records.gauge[-2].read_at, at), abs=0.051
        )
        assert asked["previous"] is not None
    kinds = {look.kind for _, answer in answers.given for look in answer.next_looks}  # type: ignore[attr-defined]
    assert LookKind.GAUGE in kinds


def test_a_run_that_waits_for_the_gauge_is_made_only_by_the_answer_at_the_look(
    looked: tuple[Season, Lived, Answers],
) -> None:
    _, once, answers = looked
    waiting = [
        (run, answer)
        for _, answer in answers.given
        for run in answer.runs  # type: ignore[attr-defined]
        if run.condition is not None
    ]
    assert waiting
    firm = {
        (run.zone, run.cycles[0].starts_at)
        for _, answer in answers.given
        for run in answer.runs  # type: ignore[attr-defined]
        if run.condition is None
    }
    assert {(run.zone, run.started_at) for run in once.runs} <= firm


def test_forecast_and_gauge_become_pairs_that_later_evenings_know(monkeypatch: pytest.MonkeyPatch) -> None:
    season = made_season(first=LAST - timedelta(days=9), last=LAST)
    answers = Answers(monkeypatch)
    live(season, made_sky(season))
    counts = [len(asked["records"].pairs) for asked, _ in answers.given]  # type: ignore[attr-defined]
    assert counts[0] == 0
    assert counts[-1] >= 7
    assert counts == sorted(counts)


def test_no_evening_knows_what_is_recorded_later(monkeypatch: pytest.MonkeyPatch) -> None:
    season = made_season(with_products(two_zones(), "soil-liquid"))
    answers = Answers(monkeypatch)
    live(season, made_sky(season))
    for asked, _ in answers.given:
        now, records = asked["now"], asked["records"]
        assert isinstance(records, Records)
        assert all(run.started_at <= now for run in records.runs)  # type: ignore[operator]
        assert all(application.ended_at <= now for application in records.applications)  # type: ignore[operator]
        assert all(reading.read_at <= now for reading in records.gauge)  # type: ignore[operator]


def test_a_round_is_put_off_while_the_day_is_wet_and_in_a_blackout() -> None:
    site = with_products(two_zones(), "soil-liquid")
    truth = made_truth(bursts=0)
    first_round = FIRST + timedelta(days=7)
    wet = truth.rain_mm.copy()
    noon = truth.index_at(room.at_local(site, first_round, room.APPLIED[0])) - 3
    wet[noon] = 4.0
    (dry_one, *_), (wet_one, *_) = (
        made_season(site, truth=replace(truth, rain_mm=rain)).applications for rain in (truth.rain_mm, wet)
    )
    local = site.place.zone
    assert dry_one.started_at.astimezone(local).date() == first_round
    assert wet_one.started_at.astimezone(local).date() == first_round + timedelta(days=1)
    closed = replace(site.rounds[0], blackouts=(DateSpan(first_round, first_round + timedelta(days=4)),))
    (later, *_) = made_season(replace(site, rounds=(closed,)), truth=truth).applications
    assert later.started_at.astimezone(local).date() == first_round + timedelta(days=5)


def test_a_lawn_that_is_not_as_its_file_says_gets_what_its_true_rate_gives() -> None:
    season, once = lived()
    zone = season.site.zones[0]
    weaker = replace(zone, rate=replace(zone.rate, rate_mm_h=6.0, low_mm_h=6.0, high_mm_h=6.0))
    lawn = true_lawn(replace(season.site, zones=(weaker, *season.site.zones[1:])), season.lawn.weather)
    there = replace(season, lawn=lawn)
    run = next(run for run in once.runs if run.zone == zone.name)
    (given,) = room.truly_given(season.site, lawn, [run])
    assert given.depth_mm == pytest.approx(run.minutes / 60.0 * 6.0)
    assert scores(there, once).water_mm < scores(season, once).water_mm


def test_water_in_is_water_out_on_the_true_lawn() -> None:
    season, once = lived()
    judged, lawn = season.judged, season.lawn
    water = lawn.water(once.runs)
    course = season.course(water.irrigation_mm[:, None])
    came = (lawn.net_mm + water.irrigation_mm)[:, judged].sum(axis=1)
    left = course.etc_actual_mm[:, 0].sum(axis=1) + course.percolation_mm[:, 0].sum(axis=1)
    assert came - left == pytest.approx(-course.depletion_mm[:, 0, -1], abs=1e-6)  # it began full
    found = scores(season, once)
    assert found.grass.drained_mm == pytest.approx(course.percolation_mm[:, 0].sum(axis=1).mean())
    assert found.grass.unmet_mm == pytest.approx(
        (lawn.etc_mm[:, judged] - course.etc_actual_mm[:, 0]).sum(axis=1).mean()
    )
    assert found.water_mm == pytest.approx(sum(run.depth_mm or 0.0 for run in once.runs) / 2)
    assert sum(found.looks) == len(once.looks)


def test_a_season_without_rain_or_water_is_short_by_what_the_hand_finds() -> None:
    """Demand of one zone without water: the balance of FAO-56 eq. 84 and 85, hour by hour in plain Python."""
    season = made_season(truth=made_truth(bursts=0), last=date(2026, 6, 24))
    found = scores(season, Lived())
    lawn, judged = season.lawn, season.judged
    unmet = past = 0.0
    depletion, taw = 0.0, float(lawn.taw_mm[0])
    highest: list[float] = []
    for hour in range(judged.start, judged.stop):
        allowed = float(lawn.p[0, hour]) * taw
        ks = min(1.0, (taw - depletion) / (taw - allowed))
        used = min(ks * lawn.etc_mm[0, hour], taw - depletion)
        depletion += used
        unmet += lawn.etc_mm[0, hour] - used
        highest.append(depletion - allowed)
    days = np.array(highest[: len(highest) // 24 * 24]).reshape(-1, 24).max(axis=1)
    past = float(np.maximum(days, 0.0).mean())
    alone = scores(replace(season, lawn=_only_front(season)), Lived())
    assert alone.grass.unmet_mm == pytest.approx(unmet, rel=1e-6)
    assert alone.grass.past_mm == pytest.approx(past, rel=1e-6)
    assert 0.0 < alone.grass.days_past < 1.0
    assert alone.grass.days_past == pytest.approx(float((days > 0.05).mean()))
    assert found.water_mm == 0.0


def _only_front(season: Season):  # type: ignore[no-untyped-def]
    return true_lawn(replace(season.site, zones=season.site.zones[:1]), season.lawn.weather)


def test_a_season_begins_full_for_all_and_the_owner_knows_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """After dry weeks: no day of the first is past the allowance by any way, and nobody waters on the first evening."""
    season = made_season(truth=made_truth(bursts=0), last=FIRST + timedelta(days=1))
    answers = Answers(monkeypatch)
    once = live(season, made_sky(season))
    (asked, answer), *_ = answers.given
    assert [probe.depletion_mm for probe in asked["records"].probes] == [0.0, 0.0]  # type: ignore[attr-defined]
    assert [zone.depletion_mm for zone in answer.zones] == pytest.approx([0.0, 0.0], abs=0.01)  # type: ignore[attr-defined]
    tomorrow = season.begins_at + timedelta(days=1)
    rule = live_by_rules(season, made_sky(season), turf=Deficit("", (1.0,), (1.0,)), duty=ALWAYS)
    for lived in (once, rule):
        assert all(run.started_at > tomorrow for run in lived.runs)
        assert scores(season, lived).grass.days_past == 0.0
    deaf = frontier(season, Deficit("", (1.0,), (1.0,)), made_sky(season))[0]
    best = foresight(season, (60.0,))[0]
    assert deaf.grass.unmet_mm == best.grass.unmet_mm == 0.0


def test_moves_by_hand_are_counted_one_by_one() -> None:
    """One zone under a hose-end sprinkler: every stretch of water is begun and turned off by a person."""
    front, side = two_zones().zones
    season = made_season(
        replace(two_zones(), zones=(front, replace(side, by_hand=True))), last=FIRST + timedelta(days=13)
    )
    once = live(season, made_sky(season))
    stretches = [cycle for run in once.planned if run.zone == side.name for cycle in run.cycles]
    assert stretches
    assert scores(season, once).hand_moves == 2 * len(stretches)
    assert scores(season, Lived()).hand_moves == 0


class Outage:
    """A sky that tells nothing on some evenings."""

    def __init__(self, season: Season, silent: set[int]) -> None:
        self.sky, self.season, self.silent = made_sky(season), season, silent

    def told_at(self, now: datetime) -> Weather:
        if (now - self.season.begins_at).days in self.silent:
            raise CannotAdvise("no forecast came")
        return self.sky.told_at(now)


def test_an_evening_without_a_forecast_is_one_refused_and_the_season_goes_on() -> None:
    season = made_season(with_products(two_zones(), "soil-liquid"), last=FIRST + timedelta(days=11))
    once = live(season, Outage(season, {0, 4}))
    evenings = list(season.evenings())
    assert once.refused == [evenings[0], evenings[4]]
    assert any(run.started_at > evenings[5] for run in once.runs)
    rules = live_by_rules(season, Outage(season, {0, 4}), turf=Deficit("median", (1.0,), (1.0,)), duty=ALWAYS)
    assert rules.runs


def test_water_after_a_product_had_enough_is_the_turfs() -> None:
    """Rain in the night waters it in; a run the next noon, before it is due, is not one for it."""
    site = with_products(two_zones(), "soil-liquid")
    truth = made_truth(bursts=0)
    first = made_season(site, truth=truth).applications[0]
    rain = truth.rain_mm.copy()
    begin = truth.index_at(first.ended_at + timedelta(hours=6))
    rain[begin : begin + 3] = 4.0
    season = made_season(site, truth=replace(truth, rain_mm=rain))

    def duties(hours_after: float) -> tuple[int, int]:
        at = first.ended_at + timedelta(hours=hours_after)
        run = Run("Front", at, at + timedelta(minutes=30), 30.0, 6.0)
        found = scores(replace(season, applications=(first,)), Lived(runs=[run])).duties
        assert (found.count, found.on_time) == (2, 2)
        return found.by_rain, found.needless

    assert duties(18.0) == (2, 0)
    assert duties(2.0) == (1, 1)
