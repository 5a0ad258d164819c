"""What is told of an application, fact by fact: each where it holds and nowhere else."""

from __future__ import annotations

from dataclasses import replace
from datetime import time, timedelta

import numpy as np
import pytest
from made import EVENING, made_site, made_weather, made_zone

from advisor.advice import Action, Advice, Alarm, ApplicationAdvice, ReasonKind, Status
from advisor.lawn import Application, ProbeReading, Product, Records, Rules, Run
from advisor.lawn.site_values import Rate
from advisor.lawn.tables import kind_table
from advisor.tonight import advise
from advisor.weather import Weather

KINDS = kind_table()
DOWN = EVENING - timedelta(hours=4)


def wet(mm: float, members: int, first_h: int = 4, of: int = 20) -> np.ndarray:
    """So much rain in three hours of the night in the first `members`."""
    rain = np.zeros((of, 240))
    rain[:members, first_h : first_h + 3] = mm / 3.0
    return rain


def on_front(
    kind: str,
    *,
    ran_min: float = 0.0,
    rain: np.ndarray | None = None,
    used_mm: float = 1.0,
    hours_ago: float = 4.0,
    method: str = "tank",
    weather: Weather | None = None,
    rules: Rules | None = None,
) -> tuple[ApplicationAdvice, Advice]:
    it = Product("It", KINDS[kind])
    more = {} if rules is None else {"rules": rules}
    site = made_site(made_zone(uniformity=1.0), products={"It": it}, **more)
    down = EVENING - timedelta(hours=hours_ago)
    began = EVENING - timedelta(hours=3)
    runs = (Run("Front", began, began + timedelta(minutes=ran_min), ran_min),) if ran_min else ()
    records = Records(
        applications=(Application("It", ("Front",), down, down, method, id=7),),
        probes=(ProbeReading("Front", EVENING - timedelta(hours=1), used_mm),),
        runs=runs,
    )
    weather = weather or made_weather(wet(0.0, 0) if rain is None else rain)
    advice = advise(site=site, records=records, weather=weather, now=EVENING)
    (one,) = advice.obligations
    return one, advice


def kinds(one: ApplicationAdvice) -> list[ReasonKind]:
    return [reason.kind for reason in one.reasons]


def notes(one: ApplicationAdvice) -> list[ReasonKind]:
    return [reason.kind for reason in one.note_reasons]


def test_how_the_need_follows_from_minutes_is_told_while_it_is_open_and_only_then() -> None:
    """A run of 15 min brings 3 mm, which waters in what asks for 3."""
    assert ReasonKind.NEED_EXPLAINED in notes(on_front("soil-liquid")[0])
    done, _ = on_front("soil-liquid", ran_min=60.0)
    assert done.status == Status.WATERED_IN
    assert ReasonKind.NEED_EXPLAINED not in notes(done)
    granules, _ = on_front("granular-quick", method="spreader")
    assert granules.status == Status.WAITING
    assert ReasonKind.NEED_EXPLAINED not in notes(granules)


def test_one_go_is_told_only_of_what_asks_for_it_while_it_is_open() -> None:
    for key, kind in KINDS.items():
        if kind.target_mm > 0 and kind.dry_h == 0:
            assert (ReasonKind.ONE_GO in notes(on_front(key)[0])) == kind.single_event


def test_what_is_watered_in_says_what_it_had_and_what_was_too_much() -> None:
    enough, _ = on_front("granular-slow", ran_min=40.0, method="spreader")
    assert (enough.status, enough.action) == (Status.WATERED_IN, Action.NONE)
    assert kinds(enough) == [ReasonKind.WATERED_IN, ReasonKind.NOTHING_MORE]
    assert enough.received_mm == pytest.approx(8.0)
    much, _ = on_front("granular-slow", ran_min=125.0, method="spreader")
    assert kinds(much) == [ReasonKind.WATERED_IN, ReasonKind.MORE_THAN_IT_BEARS]
    assert much.lost_mm == pytest.approx(25.0 - KINDS["granular-slow"].most_mm)
    assert (much.options, much.chance, much.chance_too_much) == ((), None, None)
    assert (much.rain_mean_mm, much.rain_low_mm, much.rain_high_mm) == (0.0, 0.0, 0.0)


def test_what_must_stay_dry_says_until_when_and_how_likely_rain_on_it_is() -> None:
    one, advice = on_front("post-emergent-liquid", rain=wet(6.0, 12))
    assert (one.status, one.action) == (Status.KEEP_DRY, Action.KEEP_DRY)
    assert kinds(one) == [ReasonKind.NO_RUN_BEFORE_THEN]
    assert one.dry_until == DOWN + timedelta(hours=KINDS["post-emergent-liquid"].dry_h)
    assert one.chance_wet is not None
    assert 0.5 <= one.chance_wet < 1.0
    assert ReasonKind.CHANCE_OF_RAIN_ON_IT in notes(one)
    assert one.alarms == (Alarm.RAIN_ON_IT,)
    (alarm,) = (r for r in advice.step_reasons if r.kind == ReasonKind.ALARM_RAIN_ON_IT)
    assert (alarm.products, alarm.zones, alarm.chance) == (("It",), ("Front",), one.chance_wet)
    assert ReasonKind.KEEP_DRY in [r.kind for r in advice.step_reasons]
    unlikely, _ = on_front("post-emergent-liquid", rain=wet(6.0, 3))
    assert unlikely.chance_wet is not None
    assert 0.0 < unlikely.chance_wet < 0.5
    assert unlikely.alarms == ()
    asks, _ = on_front("soil-liquid", rain=wet(6.0, 12))
    assert asks.chance_wet is None
    assert ReasonKind.CHANCE_OF_RAIN_ON_IT not in notes(asks)


def test_seed_is_kept_moist_and_what_asks_nothing_says_why() -> None:
    seed, _ = on_front("seed", method="spreader")
    assert (seed.status, seed.action, kinds(seed)) == (
        Status.NOTHING_ASKED,
        Action.KEEP_MOIST,
        [ReasonKind.KEEP_MOIST],
    )
    leaf, _ = on_front("foliar-fungicide", hours_ago=26.0)
    assert (leaf.status, leaf.action, kinds(leaf)) == (
        Status.NOTHING_ASKED,
        Action.NONE,
        [ReasonKind.NOTHING_TO_WATER_IN],
    )


@pytest.mark.parametrize(
    ("kind", "minutes", "told", "had_mm", "of_mm"),
    [
        ("granular-slow", 10.0, ReasonKind.HAD_SO_FAR, 2.0, 1.0),
        ("granular-quick", 20.0, ReasonKind.HAD_IN_ONE_GO, 4.0, 6.0),
    ],
)
def test_what_had_a_part_says_how_much_and_what_is_short_or_asked_in_one_go(
    kind: str, minutes: float, told: ReasonKind, had_mm: float, of_mm: float
) -> None:
    one, _ = on_front(kind, ran_min=minutes, method="spreader")
    assert one.status == Status.SHORT
    (had,) = (r for r in one.reasons if r.kind in (ReasonKind.HAD_SO_FAR, ReasonKind.HAD_IN_ONE_GO))
    assert had.kind == told
    assert (had.depth_mm, had.of_mm) == pytest.approx((had_mm, of_mm))
    none, _ = on_front(kind, method="spreader")
    assert told not in kinds(none)


def test_the_chance_and_the_rain_are_those_of_the_members() -> None:
    one, _ = on_front("granular-quick", rain=wet(9.0, 5), method="spreader")
    more, _ = on_front("granular-quick", rain=wet(9.0, 15), method="spreader")
    assert (one.members, one.calibrated) == (20, False)
    assert one.chance is not None
    assert more.chance is not None
    assert 0.0 < one.chance < more.chance < 1.0
    assert 0.0 == one.rain_low_mm < one.rain_mean_mm < one.rain_high_mm
    assert one.rain_mean_mm < more.rain_mean_mm
    (told,) = (r for r in one.reasons if r.kind == ReasonKind.CHANCE_OF_RAIN)
    assert (told.chance, told.of_mm) == (one.chance, one.least_mm)


def test_the_chance_of_too_much_is_told_where_it_is_worth_it() -> None:
    none, _ = on_front("granular-quick", rain=wet(60.0, 0), method="spreader")
    assert none.chance_too_much == 0.0
    assert ReasonKind.CHANCE_OF_TOO_MUCH not in notes(none)
    just, _ = on_front("granular-quick", rain=wet(26.0, 1), method="spreader")
    assert just.chance_too_much == 0.05
    assert ReasonKind.CHANCE_OF_TOO_MUCH in notes(just)
    some, _ = on_front("granular-quick", rain=wet(60.0, 4), method="spreader")
    (told,) = (r for r in some.note_reasons if r.kind == ReasonKind.CHANCE_OF_TOO_MUCH)
    assert (told.chance, told.depth_mm) == (some.chance_too_much, some.most_mm)


def test_the_run_that_is_made_is_the_chosen_option_with_its_minutes_and_start() -> None:
    one, advice = on_front("granular-quick", method="spreader")
    (run,) = advice.runs
    assert one.action == Action.RUN
    chosen = [option for option in one.options if option.chosen]
    assert [(o.action, o.minutes, o.starts_at) for o in chosen] == [
        (Action.RUN, run.minutes, run.cycles[0].starts_at)
    ]
    assert [o.starts_at for o in one.options if o.action != Action.RUN] == [None] * (len(one.options) - 1)
    (does,) = (r for r in one.reasons if r.kind == ReasonKind.RUN_WATERS_IT_IN)
    assert (does.at, does.minutes, does.zones) == (run.cycles[0].starts_at, run.minutes, ("Front",))


def test_a_forecast_that_ends_before_it_is_due_says_how_much_it_covers() -> None:
    weather = made_weather(wet(0.0, 0))
    short = replace(
        weather,
        members_mm=np.where(
            np.arange(weather.hours) < weather.index_at(EVENING) + 72, weather.members_mm, np.nan
        ),
    )
    long, _ = on_front("pre-emergent", method="spreader", weather=weather)
    cut, _ = on_front("pre-emergent", method="spreader", weather=short)
    assert ReasonKind.FORECAST_COVERS not in notes(long)
    (covers,) = (r for r in cut.note_reasons if r.kind == ReasonKind.FORECAST_COVERS)
    assert covers.chance is not None
    assert 0.3 < covers.chance < 0.6


def test_the_same_rain_is_no_change_though_the_answer_is_another() -> None:
    site = made_site(made_zone(uniformity=1.0))
    weather = made_weather(wet(3.0, 20))

    def asked(used_mm: float, previous: Advice | None = None) -> Advice:
        records = Records(probes=(ProbeReading("Front", EVENING - timedelta(hours=1), used_mm),))
        return advise(site=site, records=records, weather=weather, now=EVENING, previous=previous)

    first = asked(1.0)
    assert first.rain[0].mean_mm > 1.0
    told = [reason.kind for reason in asked(26.0, first).change_reasons]
    assert told == [ReasonKind.VERDICT_CHANGED]


def test_a_run_that_is_a_little_deeper_for_the_turf_is_told_with_its_own_minutes() -> None:
    """The turf of shallow roots asks for 5.2 mm, the product for 5: one run of whole minutes at 4 mm/h."""
    slow = Rate(4.0, "measured", 4.0, 4.0)
    it = Product("It", replace(KINDS["root-zone-fungicide"], least_mm=5.0, target_mm=5.0))
    zone = made_zone(uniformity=1.0, rate=slow, root_depth_m=0.06)
    down = EVENING - timedelta(hours=2)
    records = Records(
        applications=(Application("It", ("Front",), down, down, "spreader", id=1),),
        probes=(ProbeReading("Front", EVENING - timedelta(hours=1), 5.0),),
    )
    site = made_site(zone, products={"It": it})
    advice = advise(site=site, records=records, weather=made_weather(), now=EVENING)
    (run,) = advice.runs
    assert 5.1 < run.effective_mm < 5.3
    assert run.minutes == pytest.approx(run.effective_mm * 15.0)
    (chosen,) = (option for option in advice.obligations[0].options if option.chosen)
    assert (chosen.action, chosen.top_up_mm, chosen.minutes) == (Action.RUN, pytest.approx(5.0), run.minutes)


@pytest.mark.parametrize(("minutes", "serves"), [(75, True), (90, True), (74, False)])
def test_a_refill_cut_to_just_what_is_due_still_waters_it_in(minutes: int, serves: bool) -> None:
    """The turf wants far more than the 5 mm that are due; 75 minutes at 4 mm/h bring just these."""
    it = Product("It", replace(KINDS["soil-insecticide"], least_mm=5.0, target_mm=5.0))
    zone = made_zone(uniformity=1.0, rate=Rate(4.0, "measured", 4.0, 4.0))
    down = EVENING - timedelta(hours=2)
    records = Records(
        applications=(Application("It", ("Front",), down, down, "spreader", id=1),),
        probes=(ProbeReading("Front", EVENING - timedelta(hours=1), 24.0),),
    )
    ends = EVENING.replace(hour=22, minute=0) + timedelta(minutes=minutes)
    rules = Rules(hours=((time(22), ends.time()),), finish="window")
    site = made_site(zone, products={"It": it}, rules=rules)
    advice = advise(site=site, records=records, weather=made_weather(), now=EVENING)
    served = [r.products for r in advice.zones[0].reasons if r.kind == ReasonKind.WATERS_IN_TOO]
    assert served == ([("It",)] if serves else [])
    assert (ReasonKind.RUN_WATERS_IT_IN in kinds(advice.obligations[0])) == serves


def test_what_ran_off_is_told_of_what_was_not_washed_away() -> None:
    weather = made_weather()
    rain = weather.rain_mm.copy()
    rain[weather.index_at(EVENING) - 3] = 24.0
    one, _ = on_front("pre-emergent", method="spreader", weather=replace(weather, rain_mm=rain))
    assert one.status != Status.WASHED
    (told,) = (r for r in one.note_reasons if r.kind == ReasonKind.RAN_OFF)
    assert told.depth_mm is not None
    assert told.depth_mm > 1.0
    assert ReasonKind.RAN_OFF not in notes(on_front("pre-emergent", method="spreader")[0])
