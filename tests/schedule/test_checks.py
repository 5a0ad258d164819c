"""Each check of a plan, on a plan that breaks its rule and on one that just keeps it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from advisor.advice import CheckName, Cycle, PlannedRun, RunPurpose
from advisor.hours import Window
from advisor.lawn import Rules
from advisor.lawn.site_values import Supply
from advisor.schedule import TURF, Air, Plan, PlanInputs, Request, Running, check_plan

CHICAGO = ZoneInfo("America/Chicago")
# A night on Larkmoor Lane (invented): hours from 22:00 to 6:00, sunrise at 5:40.
NOW = datetime(2026, 7, 17, 20, 15, tzinfo=CHICAGO).astimezone(UTC)
SUNRISE = datetime(2026, 7, 18, 5, 40, tzinfo=CHICAGO).astimezone(UTC)
MIDNIGHT = datetime(2026, 7, 18, tzinfo=CHICAGO).astimezone(UTC)
HOUR, MINUTE = timedelta(hours=1), timedelta(minutes=1)


def at(hours: float) -> datetime:
    """So many hours after midnight, to the minute."""
    return MIDNIGHT + round(hours * 60) * MINUTE


def asks(zone: str, minutes: float = 60.0, **more: Any) -> Request:
    """6 min a millimetre on 100 m²."""
    given = {"cycle_min": None, "soak_min": 0.0, "priority": TURF, "urgency": 1.0} | more
    return Request(
        zone=zone, depth_mm=minutes / 6, effective_mm=minutes / 8, minutes=minutes, area_m2=100.0, **given
    )


def runs(zone: str, *spans: tuple[float, float], **more: Any) -> PlannedRun:
    """What is printed of a run in these hours after midnight."""
    minutes = sum(round((b - a) * 60) for a, b in spans)
    given = {
        "zone": zone,
        "depth_mm": minutes / 6,
        "effective_mm": minutes / 8,
        "minutes": minutes,
        "cycles": tuple(Cycle(starts_at=at(a), ends_at=at(b)) for a, b in spans),
        "litres": 100.0 * minutes / 6,
        "by_hand": False,
        "why": RunPurpose.TURF,
    } | more
    return PlannedRun(**given)


def failing(
    printed: Sequence[PlannedRun],
    requests: Sequence[Request],
    *,
    supply: float | None = None,
    running: tuple[Running, ...] = (),
    temp_c: float = 15.0,
    cold_hour: int | None = None,
    sunrise_at: datetime | None = SUNRISE,
    **rules: Any,
) -> set[CheckName]:
    temps = [temp_c] * 24
    if cold_hour is not None:
        temps[cold_hour + 4] = 1.0  # the series begins at 20:00
    inputs = PlanInputs(
        windows=(Window(at(-2), at(6)),),
        supply=Supply(supply),
        air=Air(at(-4), [2.0] * 24, temps),
        rules=Rules(hours=((time(22), time(6)),), **{"finish": "sunrise", **rules}),
        local=CHICAGO,
        now=NOW,
        running=running,
    )
    checks = check_plan(Plan(runs=tuple(printed)), requests=requests, inputs=inputs, sunrise_at=sunrise_at)
    assert [check.name for check in checks] == list(CheckName)
    assert all(check.passed == (check.failure is None) == (not check.why) for check in checks)
    return {check.name for check in checks if not check.passed}


FRONT, BACK = asks("Front"), asks("Back")


def test_a_sound_plan_passes_every_check() -> None:
    assert failing([runs("Front", (3, 4)), runs("Back", (4, 5))], [FRONT, BACK]) == set()


def test_whoever_asks_is_answered() -> None:
    assert failing([runs("Front", (3, 4))], [FRONT, BACK]) == {CheckName.ANSWERED}
    assert failing([runs("Front", (3, 4)), runs("Shed", (4, 5))], [FRONT]) == {CheckName.ANSWERED}


@pytest.mark.parametrize(
    ("span", "fails"),
    [((-2, -1), False), ((-2.1, -1.1), True), ((5, 6), False), ((5.1, 6.1), True)],
    ids=["first hour", "too soon", "last hour", "too late"],
)
def test_water_runs_in_allowed_hours(span: tuple[float, float], fails: bool) -> None:
    found = failing([runs("Front", span)], [FRONT], finish="window")
    assert found == ({CheckName.ALLOWED_HOURS} if fails else set())


def test_water_is_over_by_sunrise_where_the_rules_end_there() -> None:
    late, just = [runs("Front", (4.7, 5.7))], [runs("Front", (4 + 40 / 60, 5 + 40 / 60))]
    assert failing(late, [FRONT]) == {CheckName.SUNRISE}
    assert failing(just, [FRONT]) == set()
    assert failing(late, [FRONT], finish="window") == set()
    assert failing(late, [FRONT], sunrise_at=None) == set()
    assert failing(late, [FRONT], sunrise_at=at(-2)) == set()  # all hours come after it


@pytest.mark.parametrize(
    ("earliest", "latest", "fails"),
    [(3, 4, False), (3.1, None, True), (None, 3.9, True), (3.1, 3.9, True), (None, None, False)],
)
def test_water_runs_between_the_first_and_the_last_minute_asked(
    earliest: float | None, latest: float | None, fails: bool
) -> None:
    asked = asks(
        "Front",
        earliest=None if earliest is None else at(earliest),
        latest=None if latest is None else at(latest),
    )
    assert failing([runs("Front", (3, 4))], [asked]) == ({CheckName.IN_TIME} if fails else set())


@pytest.mark.parametrize(
    ("dry", "fails"),
    [
        ((2, 3), False),
        ((4, 5), False),
        ((2, 3.1), True),
        ((3.9, 5), True),
        ((3.2, 3.4), True),
        ((2, 5), True),
    ],
)
def test_a_dry_span_stays_dry_even_between_two_cycles(dry: tuple[float, float], fails: bool) -> None:
    asked = asks("Front", minutes=30, dry=(Window(at(dry[0]), at(dry[1])),))
    printed = [runs("Front", (3, 3.2), (3.7, 4))]
    assert failing(printed, [asked]) == ({CheckName.DRY} if fails else set())


@pytest.mark.parametrize(("cold_hour", "fails"), [(2, False), (3, True), (4, True), (5, False)])
def test_no_water_runs_in_a_freezing_hour(cold_hour: int, fails: bool) -> None:
    found = failing([runs("Front", (3.5, 4.5))], [FRONT], cold_hour=cold_hour, least_temp_c=2.0)
    assert found == ({CheckName.FROST} if fails else set())
    assert failing([runs("Front", (3.5, 4.5))], [FRONT], temp_c=2.0, least_temp_c=2.0) == set()


@pytest.mark.parametrize(("soak_min", "fails"), [(0.0, False), (30.0, False), (31.0, True)])
def test_a_soak_is_as_long_as_asked(soak_min: float, fails: bool) -> None:
    asked = asks("Front", minutes=90, soak_min=soak_min)
    printed = [runs("Front", (1, 1.5), (2, 2.5), (3, 3.5))]
    assert failing(printed, [asked]) == ({CheckName.SOAKS} if fails else set())


@pytest.mark.parametrize(
    ("supply", "flows", "fails"),
    [
        (None, (None, None), True),
        (None, (10.0, 10.0), True),
        (40.0, (None, 10.0), True),
        (40.0, (20.0, 20.0), False),
        (40.0, (20.0, 20.1), True),
    ],
    ids=["nothing known", "supply unknown", "one flow unknown", "carried", "too much"],
)
def test_zones_run_at_once_only_on_known_flows_that_the_supply_carries(
    supply: float | None, flows: tuple[float | None, float | None], fails: bool
) -> None:
    asked = [asks("Front", flow_l_min=flows[0]), asks("Back", flow_l_min=flows[1])]
    beside = [runs("Front", (3, 4)), runs("Back", (3.5, 4.5))]
    assert failing(beside, asked, supply=supply) == ({CheckName.FLOW} if fails else set())
    after = [runs("Front", (3, 4)), runs("Back", (4, 5))]
    assert failing(after, asked, supply=supply) == set()


def test_a_zone_alone_may_not_draw_more_than_the_supply_either() -> None:
    assert failing([runs("Front", (3, 4))], [asks("Front", flow_l_min=41.0)], supply=40.0) == {CheckName.FLOW}


def test_what_runs_anyway_counts_too() -> None:
    going = Running("Shed", at(3), at(4), 30.0)
    asked = [asks("Front", flow_l_min=20.0)]
    assert failing([runs("Front", (3.5, 4.5))], asked, supply=40.0, running=(going,)) == {CheckName.FLOW}
    assert failing([runs("Front", (3.5, 4.5))], asked, supply=50.0, running=(going,)) == set()
    assert failing([runs("Front", (4, 5))], asked, supply=40.0, running=(going,)) == set()


def test_one_person_moves_one_sprinkler_at_a_time_while_awake() -> None:
    by_hand = [asks(zone, flow_l_min=10.0, by_hand=True) for zone in ("Front", "Back")]
    beside = [runs("Front", (-2, -1)), runs("Back", (-1.5, -0.5))]
    late = {"awake": (time(6), time(23, 59))}
    assert failing(beside, by_hand, supply=40.0, **late) == {CheckName.FLOW}
    assert failing([runs("Front", (-2, -1)), runs("Back", (-1, -0.1))], by_hand, supply=40.0, **late) == {
        CheckName.DEPTH
    }
    asleep = failing([runs("Front", (-1.5, -0.5))], by_hand[:1], awake=(time(6), time(23)))
    assert asleep == {CheckName.AWAKE}
    assert failing([runs("Front", (-2, -1))], by_hand[:1], awake=(time(6), time(23))) == set()
    assert failing([runs("Front", (-2, -1))], by_hand[:1], awake=(time(21), time(1))) == set()
    assert failing([runs("Front", (0.5, 1.5))], by_hand[:1], awake=(time(21), time(1))) == {CheckName.AWAKE}
    assert failing([runs("Front", (0.5, 1.5))], by_hand[:1], awake=(time(6), time(6))) == set()


@pytest.mark.parametrize(("most", "fails"), [(None, False), (120.0, False), (119.0, True)])
def test_the_minutes_of_a_night_are_kept(most: float | None, fails: bool) -> None:
    printed = [runs("Front", (3, 4)), runs("Back", (4, 5))]
    found = failing(printed, [FRONT, BACK], minutes_a_night=most)
    assert found == ({CheckName.MINUTES} if fails else set())


@pytest.mark.parametrize(
    "wrong",
    [{"minutes": 59.0}, {"depth_mm": 9.0, "litres": 900.0}],
    ids=["minutes that are not its cycles'", "depth that is not its minutes'"],
)
def test_minutes_and_depth_are_those_that_were_asked(wrong: dict[str, float]) -> None:
    assert failing([runs("Front", (3, 4), **wrong)], [FRONT]) == {CheckName.DEPTH}


def test_a_part_counts_only_where_the_rest_is_told_and_the_least_is_kept() -> None:
    half = [runs("Front", (3, 3.5))]
    assert failing(half, [FRONT]) == {CheckName.DEPTH}
    assert failing(half, [replace(FRONT, least_minutes=20.0)]) == {CheckName.DEPTH}


def test_litres_are_depth_times_area() -> None:
    assert failing([runs("Front", (3, 4), litres=999.0)], [FRONT]) == {CheckName.LITRES}
