"""The plan's laws: an independent checker over thousands of made nights, and spoiled plans."""

from __future__ import annotations

import importlib.util
import sys
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from random import Random
from types import ModuleType
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sizes import rounds

from advisor.advice.advice import Check
from advisor.advice.schedule import ChangeKind
from advisor.hours.window import Window
from advisor.hours.windows import windows_for
from advisor.lawn.site_values import DateSpan, Rules, Supply
from advisor.schedule.checks import check_plan
from advisor.schedule.limits import Air, PlanInputs
from advisor.schedule.planner import Plan, make_plan
from advisor.schedule.request import DUE, SEED, TURF, Request


def _load_checker() -> ModuleType:
    path = Path(__file__).with_name("plan_checker.py")
    spec = importlib.util.spec_from_file_location("plan_checker", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["plan_checker"] = module
    spec.loader.exec_module(module)
    return module


checker = _load_checker()
CHICAGO = ZoneInfo("America/Chicago")
HOUR = timedelta(hours=1)
ZONES = (
    "America/Chicago",
    "Europe/Oslo",
    "Australia/Lord_Howe",
    "America/St_Johns",
    "Asia/Kathmandu",
    "Pacific/Auckland",
    "UTC",
)
CLOCK_CHANGES = (
    date(2026, 3, 7),
    date(2026, 10, 31),
    date(2026, 3, 28),
    date(2026, 10, 24),
    date(2026, 4, 4),
    date(2026, 10, 3),
)
HOURS = (
    ((time(22), time(6)),),
    ((time(0), time(10)),),
    ((time(16), time(10)),),
    ((time(20), time(22)), (time(3), time(7))),
    ((time(4), time(6)),),
    ((time(18), time(0)),),
    ((time(9), time(15)),),
    ((time(0), time(0)),),
    ((time(1, 30), time(2, 30)), (time(23), time(23, 45))),
)


def made_night(rng: Random) -> tuple[Any, Air, tuple[Window, ...]]:
    """A random site, night and set of wants; about half of the nights are too short for all."""
    zone = ZoneInfo(rng.choice(ZONES))
    night = (
        rng.choice(CLOCK_CHANGES) if rng.random() < 0.3 else date(2026, 1, 1) + timedelta(rng.randrange(365))
    )
    sunrise = None
    if rng.random() < 0.9:
        clock = time(rng.randrange(3, 9), rng.randrange(60), rng.randrange(60))
        sunrise = datetime.combine(night + timedelta(1), clock, zone).astimezone(UTC)
    blackouts = (DateSpan(night + timedelta(1), night + timedelta(3)),) if rng.random() < 0.1 else ()
    rules = Rules(
        hours=rng.choice(HOURS),
        weekdays=frozenset(range(7)) if rng.random() < 0.7 else frozenset(rng.sample(range(7), 4)),
        parity=rng.choice(("any", "any", "any", "odd", "even")),
        blackouts=blackouts,
        finish=rng.choice(("sunrise", "sunrise", "window")),
        minutes_a_night=rng.choice((None, None, None, 60.0, 120.0)),
    )
    start = time(rng.randrange(15, 24), rng.randrange(60), rng.randrange(60))
    now = datetime.combine(night, start, zone).astimezone(UTC)
    base = datetime.combine(night, time(0), UTC)
    temp = [
        rng.choice((1.0, 3.9, 4.0, float("nan"), 9.0)) if rng.random() < 0.04 else 12.0 for _ in range(72)
    ]
    wind = [rng.uniform(0, 6) if rng.random() < 0.9 else float("nan") for _ in range(72)]
    requests = tuple(_made_want(rng, f"Z{i}", now) for i in range(rng.randrange(1, 8)))
    case = checker.Case(
        zone=zone,
        night=night,
        now=now,
        sunrise_at=sunrise,
        rules=rules,
        supply_l_min=rng.choice((None, None, 30.0, 45.0, 70.0)),
        requests=requests,
        temp_c={base + i * HOUR: t for i, t in enumerate(temp)},
    )
    windows = windows_for(rules=rules, night=night, local=zone, sunrise_at=sunrise, now=now)
    return case, Air(base, wind, temp), windows


def _made_want(rng: Random, name: str, now: datetime) -> Request:
    minutes = rng.choice((0.0, rng.uniform(0.3, 60.0), float(rng.randrange(5, 90)), rng.uniform(5, 30)))
    moments = sorted(now + timedelta(seconds=rng.randrange(-3600, 50000)) for _ in range(4))
    least = minutes * rng.uniform(0.1, 0.9) if minutes > 2.0 and rng.random() < 0.4 else None
    return Request(
        zone=name,
        depth_mm=minutes * rng.uniform(0.1, 0.7),
        effective_mm=0.0,
        minutes=minutes,
        cycle_min=rng.choice((None, rng.uniform(0.5, 20.0), 7.0, 12.5)),
        soak_min=rng.choice((0.0, 20.0, rng.uniform(1, 60))),
        priority=rng.choice((DUE, SEED, TURF, TURF)),
        urgency=rng.choice((0.0, 1.0, rng.random())),
        area_m2=rng.uniform(20, 500),
        flow_l_min=rng.choice((None, 12.0, 20.0, rng.uniform(5, 50))),
        earliest=moments[0] if rng.random() < 0.15 else None,
        latest=moments[3] if rng.random() < 0.2 else None,
        dry=(Window(moments[1], moments[2]),) if rng.random() < 0.15 else (),
        by_hand=rng.random() < 0.12,
        least_minutes=least,
    )


def planned(case: Any, air: Air, windows: tuple[Window, ...], **more: Any) -> Plan:
    """The plan of a made night."""
    return make_plan(case.requests, inputs_of(case, air, windows, **more))


def inputs_of(case: Any, air: Air, windows: tuple[Window, ...], **more: Any) -> PlanInputs:
    """What a made night is planned in."""
    return PlanInputs(
        windows=windows,
        supply=Supply(case.supply_l_min),
        air=air,
        rules=case.rules,
        local=case.zone,
        now=case.now,
        **more,
    )


def checks_of(case: Any, air: Air, windows: tuple[Window, ...], plan: Plan) -> tuple[Check, ...]:
    """The checks that the advice itself carries."""
    return check_plan(
        plan,
        requests=case.requests,
        inputs=inputs_of(case, air, windows),
        sunrise_at=case.sunrise_at,
    )


@pytest.mark.parametrize("seed", range(rounds(4, 10)))
def test_every_plan_of_hundreds_of_made_nights_passes_the_independent_checker(seed: int) -> None:
    rng = Random(seed)
    runs = left = 0
    for number in range(200):
        case, air, windows = made_night(rng)
        plan = planned(case, air, windows)
        assert checker.faults(case, plan) == [], (seed, number, case, plan)
        failed = [check for check in checks_of(case, air, windows, plan) if not check.passed]
        assert failed == [], (seed, number)
        runs, left = runs + len(plan.runs), left + len(plan.not_planned)
    assert runs > 100, "the made nights must have something to plan"
    assert left > 100, "and something that does not fit"


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.randoms(use_true_random=False))
def test_a_planned_run_never_breaks_a_dry_period(rng: Random) -> None:
    case, air, windows = made_night(rng)
    moments = sorted(rng.randrange(0, 800) for _ in range(2))
    dry = tuple(Window(*(case.now + timedelta(minutes=m) for m in moments)) for _ in range(1))
    plan = planned(replace_wants(case, [replace(w, dry=dry) for w in case.requests]), air, windows)
    for run in plan.runs:
        assert run.cycles[-1].ends_at <= dry[0].starts_at or run.cycles[0].starts_at >= dry[0].ends_at


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.randoms(use_true_random=False))
def test_a_lesser_want_never_takes_the_place_of_a_greater_one(rng: Random) -> None:
    case, air, windows = made_night(rng)
    ranked = sorted((w for w in case.requests if w.minutes > 0), key=lambda w: (w.priority, -w.urgency))
    without_last = {r.zone for r in planned(replace_wants(case, ranked[:-1]), air, windows).runs}
    with_last = {r.zone for r in planned(replace_wants(case, ranked), air, windows).runs}
    differs = [w.zone for w in ranked if (w.zone in without_last) != (w.zone in with_last)]
    assert not differs or differs[0] in with_last


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.randoms(use_true_random=False))
def test_the_same_inputs_give_the_same_plan_in_whatever_order_the_wants_come(rng: Random) -> None:
    case, air, windows = made_night(rng)
    requests = [replace(w, urgency=float(i)) for i, w in enumerate(case.requests)]
    one = planned(replace_wants(case, requests), air, windows)
    assert planned(replace_wants(case, requests[::-1]), air, windows) == one


def replace_wants(case: Any, requests: list[Request]) -> Any:
    """The same night with other wants."""
    return replace(case, requests=tuple(requests))


# One night by hand, on Larkmoor Lane (invented), to spoil.
NIGHT = date(2026, 7, 17)
NOW = datetime(2026, 7, 17, 20, 15, tzinfo=CHICAGO).astimezone(UTC)
SUNRISE = datetime(2026, 7, 18, 5, 40, tzinfo=CHICAGO).astimezone(UTC)
MIDNIGHT = datetime(2026, 7, 17, tzinfo=UTC)


def local(hour: int, minute: int = 0) -> datetime:
    """A clock time of that morning as UTC."""
    return datetime(2026, 7, 18, hour, minute, tzinfo=CHICAGO).astimezone(UTC)


SPOILED = {
    "every want answered": lambda run: replace_run(run, zone="Elsewhere"),
    "inside the allowed hours": lambda run: moved(run, timedelta(hours=-8)),
    "ends by sunrise": lambda run: moved(run, timedelta(minutes=30)),
    "in time": lambda run: moved(run, timedelta(minutes=-100)),
    "dry periods kept": lambda run: moved(run, timedelta(minutes=-100)),
    "no run in frost": lambda run: moved(run, timedelta(hours=-5)),
    "soaks kept": lambda run: replace_run(
        run, cycles=(run.cycles[0], moved(run, -timedelta(minutes=20)).cycles[1])
    ),
    "depth delivered": lambda run: replace_run(run, cycles=run.cycles[:1]),
    "litres add up": lambda run: replace_run(run, litres=run.litres + 1),
    "flow carried": lambda run: moved(run, timedelta(minutes=10)),
    "minutes a night kept": lambda run: replace_run(run, minutes=90.0),
    "by hand while awake": lambda run: run,
}


def replace_run(run: Any, **changes: Any) -> Any:
    """The run with something else printed."""
    return run.model_copy(update=changes)


def moved(run: Any, by: timedelta) -> Any:
    """The run at another time."""
    cycles = tuple(
        c.model_copy(update={"starts_at": c.starts_at + by, "ends_at": c.ends_at + by}) for c in run.cycles
    )
    return replace_run(run, cycles=cycles)


@pytest.mark.parametrize("name", list(SPOILED))
def test_a_spoiled_plan_fails_the_check_by_name_and_the_independent_checker(name: str) -> None:
    """Back runs before Front, in two cycles; spoil it and both must see it."""
    rules = Rules(hours=((time(22), time(6)),), minutes_a_night=80)
    temp = [15.0] * 29 + [3.0] + [15.0] * 18  # frost at 00:00 local
    air = Air(MIDNIGHT, [2.0] * 48, temp)
    requests = [
        Request("Front", 4.0, 3.0, 20, None, 0.0, TURF, 9.0, 100.0, earliest=local(4, 20)),
        Request(
            *("Back", 5.0, 4.0, 30, 15, 20, TURF, 1.0, 100.0),
            earliest=local(3),
            dry=(Window(local(2, 50), local(3, 20)),),
        ),
    ]
    windows = windows_for(rules=rules, night=NIGHT, local=CHICAGO, sunrise_at=SUNRISE, now=NOW)
    case = checker.Case(
        zone=CHICAGO,
        night=NIGHT,
        now=NOW,
        sunrise_at=SUNRISE,
        rules=rules,
        supply_l_min=None,
        requests=requests,
        temp_c={MIDNIGHT + i * HOUR: t for i, t in enumerate(temp)},
    )
    good = planned(case, air, windows)
    assert checker.faults(case, good) == []
    assert all(check.passed for check in checks_of(case, air, windows, good))
    if name == "by hand while awake":
        case = replace_wants(case, [replace(w, by_hand=True) for w in requests])
    spoiled = replace(good, runs=tuple(SPOILED[name](r) if r.zone == "Back" else r for r in good.runs))
    assert [c.why for c in checks_of(case, air, windows, spoiled) if c.name == name and not c.passed]
    if name != "every want answered":
        assert checker.faults(case, spoiled)


def test_each_change_that_is_told_would_be_enough() -> None:
    """Earlier hours, hours after sunrise and more minutes are tried out before they are told."""
    tried = 0
    for seed in range(rounds(300, 800)):
        case, air, windows = made_night(Random(seed))
        if windows and case.sunrise_at is not None and windows[0].starts_at >= case.sunrise_at:
            continue  # hours that all come after sunrise turn into another night when they begin before it
        for left in planned(case, air, windows).not_planned:
            for change in left.changes:
                rules, now = case.rules, case.now
                if change.minutes is not None:
                    rules = replace(rules, minutes_a_night=float(change.minutes))
                if change.since is not None:
                    since, begins = change.since, windows[0].starts_at.astimezone(case.zone)
                    first = begins.time()
                    hours = tuple((since if a == first else a, b) for a, b in rules.hours)
                    rules = replace(rules, hours=hours)
                    sooner = (first.hour * 60 + first.minute - since.hour * 60 - since.minute) % 1440
                    now = min(now, begins.astimezone(UTC) - timedelta(minutes=sooner))
                if change.kind == ChangeKind.PAST_SUNRISE:
                    rules = replace(rules, finish="window")
                if (rules, now) == (case.rules, case.now):
                    continue
                anew = replace(case, rules=rules, now=now)
                wider = windows_for(
                    rules=rules, night=case.night, local=case.zone, sunrise_at=case.sunrise_at, now=anew.now
                )
                tried += 1
                assert left.zone not in {n.zone for n in planned(anew, air, wider).not_planned}, (
                    seed,
                    change,
                )
    assert tried > 60
