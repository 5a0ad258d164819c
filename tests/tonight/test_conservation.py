"""Water is neither made nor lost between the decision and the printed plan, over many made evenings.

Sites, records and rain are drawn at random and go through the whole of advise(). The plan is held
against the independent checker (`plan_checker`), and its litres against area × depth, worked from the
site's own figures. Runs that wait for a look at the gauge are planned, and count, like any other.
"""

from __future__ import annotations

import importlib.util
import sys
from collections import Counter
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from pathlib import Path
from random import Random
from types import ModuleType
from typing import Any

import numpy as np
import pytest
from made import CHICAGO, made_site, made_weather, made_zone
from sizes import rounds

from advisor.advice.advice import Advice
from advisor.lawn.products import Product
from advisor.lawn.records import Application, ProbeReading, Records
from advisor.lawn.site_values import DateSpan, Rate, Rules, Site, Supply
from advisor.lawn.tables import kind_table, soil_table
from advisor.schedule.planner import Plan
from advisor.schedule.request import Request
from advisor.science.sun import sunrise
from advisor.tonight import plan_night
from advisor.tonight.advise import advise
from advisor.tonight.syringe import WHY as SYRINGE

EVENINGS = rounds(150, 220)
SOAK_IN = (
    "soil-liquid",
    "granular-quick",
    "pre-emergent",
    "soil-insecticide",
    "post-emergent-liquid",
    "seed",
)


def _load_checker() -> ModuleType:
    path = Path(__file__).parents[1] / "schedule" / "plan_checker.py"
    spec = importlib.util.spec_from_file_location("plan_checker", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["plan_checker"] = module
    spec.loader.exec_module(module)
    return module


checker = _load_checker()


@dataclass
class Case:
    """One made evening: what went in, what came out, and the wants the night's plan was given."""

    site: Site
    now: datetime
    temp_c: dict[datetime, float]
    advice: Advice
    plan: Plan
    requests: tuple[Request, ...]


def made_rules(rng: Random, now: datetime) -> Rules:
    """Rules from roomy to far too narrow."""
    tonight = now.date()
    return Rules(
        hours=rng.choice(
            (
                ((time(21), time(8)),),
                ((time(22), time(6)), (time(11), time(14))),
                ((time(20), time(15)),),
                ((time(4), time(6)),),
                ((time(0), time(9)),),
                ((time(5), time(5, 40)),),
            )
        ),
        weekdays=frozenset(range(7)) if rng.random() < 0.9 else frozenset(rng.sample(range(7), 3)),
        parity=rng.choice(("any",) * 8 + ("odd", "even")),
        blackouts=(DateSpan(tonight, tonight + timedelta(1)),) if rng.random() < 0.05 else (),
        finish=rng.choice(("sunrise", "window")),
        minutes_a_night=rng.choice((None, None, 45.0, 120.0)),
        strict_uniformity=rng.random() < 0.2,
    )


def made_case(seed: int) -> tuple[Site, Records, Any, datetime]:
    """A random site with its records and an evening's weather."""
    rng = Random(seed)
    night = date(2026, 4, 1) + timedelta(rng.randrange(200))
    now = datetime.combine(night, time(rng.randrange(17, 22), rng.randrange(60)), CHICAGO)
    soils = soil_table()
    zones = []
    for i in range(rng.randrange(1, 6)):
        rate = rng.uniform(6.0, 45.0)
        zones.append(
            made_zone(
                f"Z{i}",
                area_m2=rng.uniform(20.0, 400.0),
                soil=soils[rng.choice(("loam", "clay", "sand"))],
                slope_pct=rng.choice((1.0, 8.0, 15.0)),
                rate=Rate(rate, rng.choice(("measured", "guess")), rate * 0.8, rate * 1.3),
                uniformity=rng.uniform(0.4, 0.9),
                flow_l_min=rng.choice((None, 15.0, 25.0)),
                by_hand=rng.random() < 0.1,
                mode=(mode := rng.choice(("established", "established", "new", "seed", "syringe"))),
                mode_until=None if mode == "established" else night + timedelta(rng.randrange(-1, 9)),
            )
        )
    kinds = kind_table()
    products = {key: Product(name=key, kind=kinds[key]) for key in SOAK_IN}
    put_down = []
    for key in rng.sample(SOAK_IN, rng.randrange(0, 4)):
        at = now - timedelta(hours=rng.uniform(0.5, 30.0))
        names = tuple(z.name for z in zones if rng.random() < 0.6) or (zones[0].name,)
        put_down.append(Application(key, names, at, at, "spreader"))
    site = made_site(
        *zones,
        rules=made_rules(rng, now),
        supply=Supply(rng.choice((None, 30.0, 45.0))),
        products=products,
    )
    probes = tuple(ProbeReading(z.name, now - timedelta(hours=2), rng.uniform(0.0, 18.0)) for z in zones)
    rain = np.zeros((9, 240))
    if rng.random() < 0.8:
        begin, most = rng.randrange(2, 12), rng.choice((4.0, 8.0))
        rain[:, begin : begin + 3] = [[rng.choice((0.0, rng.uniform(most / 2, most)))] for _ in range(9)]
    weather = made_weather(rain, now=now)
    shift = rng.choice((0.0, 3.0, 3.0, -14.0))
    weather = replace(weather, temp_c=weather.temp_c + shift, dew_c=weather.dew_c + min(shift, 0.0))
    return site, Records(applications=tuple(put_down), probes=probes), weather, now


@cache
def cases() -> tuple[Case, ...]:
    """All made evenings, advised."""
    found: list[Case] = []
    seen: list[tuple[Plan, tuple[Request, ...]]] = []
    real = plan_night.check_plan

    def overheard(plan: Plan, **given: Any) -> Any:
        seen.append((plan, tuple(given["requests"])))
        return real(plan, **given)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(plan_night, "check_plan", overheard)
        for seed in range(EVENINGS):
            site, records, weather, now = made_case(seed)
            advice = advise(site=site, records=records, weather=weather, now=now)
            plan, requests = seen[-1]
            temp = {
                weather.starts_at(i): float(weather.temp_c[i])
                for i in range(weather.index_at(now), weather.index_at(now) + 60)
            }
            found.append(Case(site, now, temp, advice, plan, requests))
    return tuple(found)


def test_every_night_holds_before_a_checker_that_shares_no_code_with_the_planner() -> None:
    wrong = []
    for i, case in enumerate(cases()):
        night = case.advice.night
        given = checker.Case(
            zone=CHICAGO,
            night=night,
            now=case.now.astimezone(UTC),
            sunrise_at=sunrise(
                day=night + timedelta(days=1),
                latitude_deg=case.site.place.latitude_deg,
                longitude_deg=case.site.place.longitude_deg,
                zone=CHICAGO,
            ).at,
            rules=case.site.rules,
            supply_l_min=case.site.supply.flow_l_min,
            requests=case.requests,
            temp_c=case.temp_c,
        )
        wrong += [(i, fault) for fault in checker.faults(given, case.plan)]
    assert wrong == []


def test_litres_are_area_times_depth_and_depth_is_minutes_times_rate() -> None:
    for case in cases():
        by_name = {z.name: z for z in case.site.zones}
        planned = 0.0
        for run in case.advice.runs:
            zone = by_name[run.zone]
            assert run.depth_mm == pytest.approx(run.minutes / 60.0 * zone.rate.rate_mm_h)
            assert run.minutes == sum((c.ends_at - c.starts_at).total_seconds() / 60.0 for c in run.cycles)
            du = zone.uniformity
            multiplier = 1.0 / du if case.site.rules.strict_uniformity else 1.0 / (0.4 + 0.6 * du)
            assert run.depth_mm == pytest.approx(run.effective_mm * multiplier)
            planned += zone.area_m2 * run.minutes / 60.0 * zone.rate.rate_mm_h
        assert sum(run.litres for run in case.advice.runs) == pytest.approx(planned)


def test_no_two_zones_have_water_on_that_the_supply_does_not_carry_cooling_included() -> None:
    for case in cases():
        spans = [(c.starts_at, c.ends_at, run.zone) for run in case.advice.runs for c in run.cycles]
        flows = {w.zone: w.flow_l_min for w in case.requests}
        carries = case.site.supply.flow_l_min
        for begins, _, _ in spans:
            on = [zone for a, b, zone in spans if a <= begins < b]
            assert len(set(on)) == len(on)
            if len(on) > 1:
                drawn = [flows.get(zone) for zone in on]
                assert carries is not None
                assert None not in drawn
                assert sum(f for f in drawn if f is not None) <= carries + 1e-6


def test_every_run_of_the_plan_is_printed_once_and_no_other() -> None:
    for case in cases():
        nightly = [r for r in case.advice.runs if r.why != SYRINGE]
        bare = [r.model_copy(update={"only_if": "", "condition": None}) for r in nightly]
        planned = [r.model_copy(update={"only_if": "", "condition": None}) for r in case.plan.runs]
        assert sorted(bare, key=lambda r: r.zone) == sorted(planned, key=lambda r: r.zone)
        for one in case.advice.zones:
            mine = [r for r in nightly if r.zone == one.zone]
            firm = sum(r.minutes for r in mine if r.condition is None)
            assert one.minutes_firm == firm or not mine
            assert one.minutes_conditional == sum(r.minutes for r in mine) - firm or not mine


def test_each_advice_passes_its_own_checks() -> None:
    assert [(i, c.name, c.why) for i, k in enumerate(cases()) for c in k.advice.checks if not c.passed] == []


def test_what_does_not_fit_is_told_with_its_reason_and_only_turf_is_cut() -> None:
    cut = 0
    for case in cases():
        asked = {w.zone: w for w in case.requests if w.minutes > 0}
        left = {n.zone: n for n in case.advice.not_planned}
        ran = {r.zone for r in case.plan.runs}
        assert set(asked) == set(left) | ran
        for name, one in left.items():
            assert one.why.endswith(".")
            if name in ran:
                cut += 1
                run = next(r for r in case.plan.runs if r.zone == name)
                assert asked[name].least_minutes is not None
                whole = asked[name].depth_mm * (run.minutes + one.minutes) / asked[name].minutes
                assert run.depth_mm + one.depth_mm == pytest.approx(whole, rel=0.05)
                assert run.minutes >= asked[name].least_minutes
                continue
            assert one.depth_mm == pytest.approx(asked[name].depth_mm)
            verdict = next(z.verdict for z in case.advice.zones if z.zone == name)
            assert verdict == "cannot"
            assert one.why in next(z.reason for z in case.advice.zones if z.zone == name)
    assert cut >= 5


def test_what_comes_first_is_due_then_seed_then_the_driest() -> None:
    """Whatever was left out for want of room or minutes comes after every run that took them."""
    for case in cases():
        asked = {w.zone: w for w in case.requests}
        for left in case.advice.not_planned:
            if " first" not in left.why:
                continue
            mine = asked[left.zone]
            before = [asked[r.zone] for r in case.plan.runs if f"{r.zone}" in left.why.split(" first")[0]]
            assert before
            assert all((w.priority, -w.urgency) <= (mine.priority, -mine.urgency) for w in before)


def test_the_made_evenings_cover_what_they_are_meant_to() -> None:
    seen: Counter[str] = Counter()
    for case in cases():
        seen.update({run.why for run in case.advice.runs})
        seen.update({"conditional" for run in case.advice.runs if run.only_if})
        seen.update({"left out" for _ in case.advice.not_planned})
        seen.update({"crowded" for n in case.advice.not_planned if " first" in n.why})
    for word in ("turf", "water in", "seed kept moist", SYRINGE, "conditional", "left out", "crowded"):
        assert seen[word] >= 5, (word, seen)
