"""What is said of an application, case by case out of made facts: the one act, the verdict and the notes."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from functools import cache

import pytest
from made import EVENING, JUDGED, made_site, made_weather, made_zone
from made_products import HOURS, KIND, chosen, put_down

from advisor.advice import (
    Action,
    GaugeCondition,
    NotPlanned,
    PlannedRun,
    Reason,
    ReasonKind,
    Status,
)
from advisor.advice.water_need import NeedBasis, NeedReason
from advisor.lawn import ProbeReading, Product, Records
from advisor.tonight import advise
from advisor.tonight.application_report import (
    ALL_KNOWN,
    LOST_MM,
    WORTH_TELLING,
    _asks_nothing,
    _notes,
    _reasons,
    _Told,
)
from advisor.watering_in import Choice, ZoneApplication

K = ReasonKind
LEFT = NotPlanned(zone="Front", depth_mm=3.0, minutes=15.0, why="No room.", waits_for=None, could_change=())


@cache
def planned() -> PlannedRun:
    records = Records(probes=(ProbeReading("Front", EVENING - timedelta(hours=2), 20.0),))
    site = made_site(made_zone(uniformity=1.0))
    return advise(site=site, records=records, weather=made_weather(), now=EVENING).runs[0]


def run_of(effective_mm: float, *, waits: bool = False) -> PlannedRun:
    look = GaugeCondition(look_at=EVENING + timedelta(hours=2), under_mm=2.0) if waits else None
    return planned().model_copy(update={"effective_mm": effective_mm, "condition": look})


def told(
    one: ZoneApplication,
    choice: Choice | None = None,
    *,
    run: PlannedRun | None = None,
    left: NotPlanned | None = None,
    chance_wet: float | None = None,
) -> _Told:
    return _Told(one, choice, run, left, 3.0, 15.0, chance_wet, JUDGED)


def said(told: _Told) -> list[ReasonKind]:
    return [reason.kind for reason in _reasons(told)]


def noted(told: _Told) -> list[ReasonKind]:
    return [reason.kind for reason in _notes(told)]


A = put_down()
CHOICE = chosen(A)


@pytest.mark.parametrize(
    ("wet_mm", "kind"), [(0.0, K.WASHED_AWAY), (0.6, K.WASHED_OFF_WHILE_DRY), (5.0, K.WASHED_OFF_WHILE_DRY)]
)
def test_what_is_washed_off_says_whether_it_was_in_its_dry_period_and_nothing_else(
    wet_mm: float, kind: ReasonKind
) -> None:
    (reason,) = _reasons(told(put_down(status=Status.WASHED, in_dry_period_mm=wet_mm)))
    assert (reason.kind, reason.depth_mm) == (kind, wet_mm if wet_mm else None)


@pytest.mark.parametrize("wet_mm", [0.0, 0.6])
@pytest.mark.parametrize("asks", [True, False])
def test_what_stays_dry_says_until_when_and_what_wetted_it(wet_mm: float, asks: bool) -> None:
    until = EVENING + timedelta(hours=5)
    one = put_down(status=Status.KEEP_DRY, dry_until=until, in_dry_period_mm=wet_mm)
    found = list(_reasons(told(one, chosen(one) if asks else None)))
    wetted = [K.WETTED_WHILE_DRY] * (wet_mm > 0)
    first = K.KEEP_DRY_UNTIL if asks else K.NO_RUN_BEFORE_THEN
    assert [r.kind for r in found][: len(wetted) + 1] == [*wetted, first]
    assert found[len(wetted)].until == until
    assert (found[-1].kind == K.CHANCE_OF_RAIN) == asks
    assert told(one).action == Action.KEEP_DRY


def test_what_is_overdue_says_so_first_while_it_asks() -> None:
    one = put_down(status=Status.OVERDUE)
    assert said(told(one, chosen(one)))[0] == K.OVERDUE
    assert K.OVERDUE not in said(told(one))
    assert K.OVERDUE not in said(told(A, CHOICE))


def act(choice: Choice, **more: object) -> Reason:
    """The first thing that is said of granules that wait."""
    return next(iter(_reasons(told(A, choice, **more))))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("effective_mm", "waits", "served"),
    [(3.0, False, True), (2.9999995, False, True), (2.99, False, False), (9.0, True, False)],
)
def test_a_run_waters_it_in_where_it_is_made_in_any_case_and_brings_what_is_missing(
    effective_mm: float, waits: bool, served: bool
) -> None:
    run = run_of(effective_mm, waits=waits)
    one = told(A, CHOICE.with_rain(), run=run)
    assert one.is_served == served
    assert one.action == (Action.RUN if served else Action.RAIN)
    reason = next(iter(_reasons(one)))
    assert (reason.kind == K.RUN_WATERS_IT_IN) == served
    if served:
        assert (reason.at, reason.minutes, reason.zones) == (
            run.cycles[0].starts_at,
            run.minutes,
            ("Front",),
        )
    assert not told(A, CHOICE).is_served
    assert not told(A, None, run=run_of(9.0)).is_served


@pytest.mark.parametrize("runs", [True, False])
def test_what_waits_for_a_look_says_when_and_how_long_it_is_then_run(runs: bool) -> None:
    look = EVENING + timedelta(hours=2)
    waits = replace(CHOICE, action=Action.WAIT, look_at=look, under_mm=2.0)
    reason = act(waits, run=run_of(3.0, waits=True) if runs else None)
    assert (reason.kind, reason.at, reason.depth_mm) == (K.LOOK_AND_RUN, look, 2.0)
    assert reason.minutes == (planned().minutes if runs else 15.0)


@pytest.mark.parametrize("rain", [True, False])
def test_a_run_that_brings_a_part_says_how_much_and_whether_the_rest_is_left_to_rain(rain: bool) -> None:
    found = list(_reasons(told(A, CHOICE.with_rain() if rain else CHOICE, run=run_of(1.5))))
    assert (found[0].kind, found[0].depth_mm, found[0].of_mm) == (K.RUN_BRINGS_A_PART, 1.5, 3.0)
    assert (found[1].kind == K.REST_TO_RAIN) == rain


def test_a_run_that_is_not_made_tonight_says_why_or_when() -> None:
    assert CHOICE.action == Action.RUN
    later = act(CHOICE)
    assert (later.kind, later.at, later.minutes) == (K.NEEDS_LATER, HOURS.starts_at, 15.0)
    no_room = act(CHOICE, left=LEFT)
    assert (no_room.kind, no_room.other, no_room.zones) == (K.NEEDS_NOT_TONIGHT, "No room.", ("Front",))


@pytest.mark.parametrize(
    ("off", "kind"), [(-0.01, K.NOT_WORTH_A_RUN), (0.0, K.TOO_MUCH_RAIN_COMES), (0.01, K.TOO_MUCH_RAIN_COMES)]
)
def test_what_is_left_to_the_rain_says_why(off: float, kind: ReasonKind) -> None:
    rain = CHOICE.with_rain()
    assert act(replace(rain, chance_too_much=JUDGED.alarms.likely + off)).kind == kind
    closed = replace(rain, ways=tuple(way for way in rain.ways if way.action == Action.RAIN))
    assert act(closed).kind == K.ONLY_RAIN


@pytest.mark.parametrize(("off", "told_so"), [(-0.001, False), (0.0, False), (0.001, True)])
def test_what_it_had_so_far_is_told_above_a_trace(off: float, told_so: bool) -> None:
    trace = JUDGED.applications.trace_mm
    one = put_down(received_mm=trace + off)
    found = [r for r in _reasons(told(one, chosen(one))) if r.kind == K.HAD_SO_FAR]
    assert [(r.depth_mm, r.of_mm) for r in found] == [
        (trace + off, pytest.approx(3.0 - trace - off))
    ] * told_so
    urea = replace(one, product=Product("U", replace(KIND, single_event=True)))
    had = [r for r in _reasons(told(urea, chosen(one))) if r.kind == K.HAD_IN_ONE_GO]
    assert [(r.depth_mm, r.of_mm) for r in had] == [(trace + off, 3.0)] * told_so


@pytest.mark.parametrize(("off", "told_so"), [(-0.01, False), (0.0, False), (0.01, True)])
def test_what_is_watered_in_says_what_is_lost_above_half_a_millimetre(off: float, told_so: bool) -> None:
    one = put_down(status=Status.WATERED_IN, received_mm=8.0, lost_mm=LOST_MM + off)
    first, second = _asks_nothing(one)
    assert (first.kind, first.depth_mm, first.of_mm) == (K.WATERED_IN, 8.0, 3.0)
    assert second.kind == (K.MORE_THAN_IT_BEARS if told_so else K.NOTHING_MORE)
    assert second.depth_mm == (LOST_MM + off if told_so else None)


@pytest.mark.parametrize("runs", [0, 1, 3])
def test_what_asks_nothing_is_kept_moist_where_it_is_seed(runs: int) -> None:
    kind = replace(KIND, light_runs_per_day=runs, for_days=21)
    one = put_down(status=Status.NOTHING_ASKED, product=Product("S", kind))
    (reason,) = _asks_nothing(one)
    assert reason.kind == (K.KEEP_MOIST if runs else K.NOTHING_TO_WATER_IN)
    if runs:
        assert (reason.count, reason.days) == (runs, 21)
    assert told(one).action == (Action.KEEP_MOIST if runs else Action.NONE)
    assert told(replace(one, status=Status.WASHED)).action == Action.NONE


def test_notes_are_none_where_nothing_else_matters() -> None:
    assert noted(told(A, replace(CHOICE, share_known=1.0))) == []
    assert noted(told(A)) == []


@pytest.mark.parametrize(("off", "told_so"), [(-0.0001, False), (0.0, True), (0.0001, True)])
def test_each_note_is_told_from_where_it_is_worth_telling(off: float, told_so: bool) -> None:
    known = replace(CHOICE, share_known=1.0)
    much = replace(known, chance_too_much=WORTH_TELLING + off)
    assert noted(told(A, much)) == [K.CHANCE_OF_TOO_MUCH] * told_so
    partly = replace(known, share_known=ALL_KNOWN + off)
    assert noted(told(A, partly)) == [K.FORECAST_COVERS] * (off < 0.0)
    ran = put_down(runoff_mm=JUDGED.applications.ran_off_mm + off)
    assert noted(told(ran, known)) == [K.RAN_OFF] * told_so
    assert noted(told(replace(ran, status=Status.WASHED))) == []


def test_notes_on_need_and_one_go_are_told_while_it_is_open_and_rain_on_it_wherever_it_is_known() -> None:
    by_minutes = put_down(need_reason=NeedReason(basis=NeedBasis.MINUTES))
    one_go = put_down(product=Product("U", replace(KIND, single_event=True)))
    assert noted(told(by_minutes)) == [K.NEED_EXPLAINED]
    assert noted(told(one_go)) == [K.ONE_GO]
    for one in (by_minutes, one_go):
        assert noted(told(replace(one, status=Status.WATERED_IN))) == []
    (wet,) = _notes(told(A, chance_wet=0.0))
    assert (wet.kind, wet.chance, wet.depth_mm) == (K.CHANCE_OF_RAIN_ON_IT, 0.0, JUDGED.alarms.rain_mm)
