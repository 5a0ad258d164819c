"""From when on a thing is an alarm, and from when on a change is worth telling: on both sides of each edge."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from functools import cache

import pytest
from made import EVENING, JUDGED, made_site, made_weather, made_zone
from made_products import DOWN, KIND, chosen, put_down

from advisor.advice import Action, Advice, Alarm, ReasonKind, Status, ZoneVerdict
from advisor.lawn import Application, ProbeReading, Product, Records
from advisor.tonight import advise
from advisor.tonight.alarms import alarm_reasons, alarms_of
from advisor.tonight.changes import TELL_MIN, TELL_MM, changes_since, earlier_answers

JUDGE = JUDGED.alarms
FEED = Product("Feed", KIND)


def alarms(
    chance_wet: float | None = None,
    *,
    too_much: float | None = None,
    meets_seed: bool = False,
    **changes: object,
) -> list[Alarm]:
    choice = None if too_much is None else chosen(put_down(), chance_too_much=too_much)
    return list(alarms_of(put_down(**changes), choice, chance_wet, meets_seed, JUDGE))


def test_nothing_is_wrong_with_what_waits_for_its_water() -> None:
    assert alarms() == alarms(0.0, too_much=0.0) == []


@pytest.mark.parametrize(("off", "told"), [(-0.01, False), (0.0, True), (0.01, True)])
def test_rain_on_it_and_too_much_rain_are_told_from_when_they_are_likely(off: float, told: bool) -> None:
    assert alarms(JUDGE.likely + off) == [Alarm.RAIN_ON_IT] * told
    assert alarms(too_much=JUDGE.likely + off) == [Alarm.TOO_MUCH_RAIN] * told
    assert alarms(JUDGE.likely + off, status=Status.WASHED) == [Alarm.WASHED]


@pytest.mark.parametrize(("off", "told"), [(-0.01, False), (0.0, True), (0.01, True)])
def test_water_in_the_dry_period_is_told_from_where_it_counts_and_not_beside_what_is_washed(
    off: float, told: bool
) -> None:
    wetted = JUDGE.wetted_mm + off
    assert alarms(in_dry_period_mm=wetted) == [Alarm.WETTED] * told
    assert alarms(in_dry_period_mm=wetted, status=Status.WASHED) == [Alarm.WASHED]


@pytest.mark.parametrize(("off", "told"), [(-0.01, False), (0.0, False), (0.01, True)])
def test_water_lost_is_told_above_its_share_of_what_the_product_bears(off: float, told: bool) -> None:
    lost = JUDGE.lost_share * put_down().most_mm + off
    assert alarms(lost_mm=lost) == [Alarm.TOO_MUCH_WATER] * told
    assert alarms(lost_mm=lost, status=Status.WASHED) == [Alarm.WASHED]
    assert alarms(lost_mm=lost, most_mm=0.0) == []  # what asks for no water loses none
    both = alarms(lost_mm=lost, too_much=1.0)  # what came already is told before what may come
    assert both == [Alarm.TOO_MUCH_WATER if told else Alarm.TOO_MUCH_RAIN]


@pytest.mark.parametrize(("form", "alarm"), [("seed", Alarm.MAY_NOT_GROW), ("granular", Alarm.HARMS_SEED)])
def test_where_seed_and_what_stops_it_meet_each_is_told_of_its_own_harm(form: str, alarm: Alarm) -> None:
    product = Product("It", replace(KIND, form=form))
    assert alarms(product=product, meets_seed=True) == [alarm]
    assert alarms(product=product) == []
    told = alarms(1.0, product=product, meets_seed=True, in_dry_period_mm=9.0, too_much=1.0)
    assert told == [alarm, Alarm.WETTED, Alarm.TOO_MUCH_RAIN, Alarm.RAIN_ON_IT]


@cache
def evening() -> Advice:
    """A dry zone that is run, a moist one, and granules that are run in on it."""
    site = made_site(
        made_zone("Front", uniformity=1.0), made_zone("Back", uniformity=1.0), products={"Feed": FEED}
    )
    records = Records(
        applications=(Application("Feed", ("Back",), DOWN, DOWN, "spreader", id=1),),
        probes=(
            ProbeReading("Front", EVENING - timedelta(hours=2), 20.0),
            ProbeReading("Back", EVENING - timedelta(hours=2), 2.0),
        ),
    )
    return advise(site=site, records=records, weather=made_weather(), now=EVENING)


def test_one_alarm_of_several_products_is_one_reason_with_the_greatest_chance() -> None:
    (one,) = evening().obligations
    rows = [
        one.model_copy(
            update={"product": name, "zone": zone, "chance_wet": wet, "chance_too_much": much} | more
        )
        for name, zone, wet, much, more in (
            ("A", "Front", 0.6, 0.1, {"alarms": (Alarm.RAIN_ON_IT,)}),
            ("B", "Back", 0.8, 0.2, {"alarms": (Alarm.TOO_MUCH_RAIN, Alarm.RAIN_ON_IT)}),
            ("C", "Back", None, 0.9, {"alarms": (Alarm.TOO_MUCH_RAIN,)}),
            ("D", "Back", None, None, {"alarms": (Alarm.WASHED,)}),
            ("E", "Back", 1.0, 1.0, {"alarms": ()}),
        )
    ]
    told = [(each.kind, each.products, each.zones, each.chance) for each in alarm_reasons(rows)]
    assert told == [
        (ReasonKind.ALARM_WASHED, ("D",), ("Back",), None),
        (ReasonKind.ALARM_TOO_MUCH_RAIN, ("B", "C"), ("Back", "Back"), 0.9),
        (ReasonKind.ALARM_RAIN_ON_IT, ("A", "B"), ("Front", "Back"), 0.8),
    ]


def with_zone(number: int = 0, **changes: object) -> Advice:
    zones = list(evening().zones)
    zones[number] = zones[number].model_copy(update=changes)
    return evening().model_copy(update={"zones": tuple(zones)})


def kinds(previous: Advice, advice: Advice) -> list[ReasonKind]:
    return [reason.kind for reason in changes_since(previous, advice)]


@pytest.mark.parametrize("sign", [-1.0, 1.0])
@pytest.mark.parametrize("part", ["minutes_firm", "minutes_conditional"])
@pytest.mark.parametrize(("off", "told"), [(-0.5, False), (0.0, True), (0.5, True)])
def test_a_change_of_minutes_is_told_from_three_on_either_way(
    sign: float, part: str, off: float, told: bool
) -> None:
    minutes = getattr(evening().zones[0], part) + sign * (TELL_MIN + off)
    now = with_zone(**{part: minutes})
    assert kinds(evening(), now) == [ReasonKind.MINUTES_CHANGED] * told
    for reason in changes_since(evening(), now):
        before = evening().zones[0].minutes_firm + evening().zones[0].minutes_conditional
        assert (reason.zones, reason.before_minutes) == (("Front",), before)
        assert reason.minutes == pytest.approx(before + sign * (TELL_MIN + off))


def test_minutes_that_only_wait_for_the_gauge_now_are_the_same_minutes() -> None:
    firm = evening().zones[0].minutes_firm
    assert kinds(evening(), with_zone(minutes_firm=0.0, minutes_conditional=firm)) == []


def test_another_verdict_is_told_once_and_its_minutes_not_beside_it() -> None:
    now = with_zone(verdict=ZoneVerdict.NOT_NEEDED, minutes_firm=0.0)
    (reason,) = changes_since(evening(), now)
    assert (reason.kind, reason.zones, reason.at) == (
        ReasonKind.VERDICT_CHANGED,
        ("Front",),
        evening().now,
    )
    assert (reason.now_word, reason.before_word) == (ZoneVerdict.NOT_NEEDED, ZoneVerdict.RUN)


def test_a_zone_that_is_under_way_or_new_has_not_changed() -> None:
    (run,) = [run for run in evening().runs if run.zone == "Front"]
    now = with_zone(verdict=ZoneVerdict.NOT_NEEDED, minutes_firm=0.0)
    tonight, before = run.night or evening().night, evening().night - timedelta(days=1)
    assert kinds(evening(), now.model_copy(update={"under_way": (run,)})) == []
    for night, told in ((tonight, []), (before, [ReasonKind.VERDICT_CHANGED])):
        made = now.model_copy(update={"taken_as_made": (run.model_copy(update={"night": night}),)})
        assert kinds(evening(), made) == told
    assert kinds(evening().model_copy(update={"zones": evening().zones[1:]}), now) == []


@pytest.mark.parametrize("sign", [-1.0, 1.0])
@pytest.mark.parametrize(("off", "told"), [(-0.01, False), (0.001, True), (2.0, True)])
def test_the_rain_is_told_beside_a_change_and_never_alone(sign: float, off: float, told: bool) -> None:
    first = evening().rain[0].model_copy(update={"mean_mm": 5.0})
    before = evening().model_copy(update={"rain": (first, *evening().rain[1:])})
    other = first.model_copy(update={"mean_mm": 5.0 + sign * (TELL_MM + off)})
    rained = {"rain": (other, *evening().rain[1:])}
    assert kinds(before, evening().model_copy(update=rained)) == []
    changed = with_zone(verdict=ZoneVerdict.NOT_NEEDED).model_copy(update=rained)
    assert kinds(before, changed) == [
        ReasonKind.VERDICT_CHANGED,
        *([ReasonKind.EXPECTED_RAIN_CHANGED] * told),
    ]
    assert kinds(before, changed.model_copy(update={"rain": ()})) == [ReasonKind.VERDICT_CHANGED]


def test_an_answer_is_told_where_it_is_another_for_the_same_product_on_the_same_zone() -> None:
    (one,) = evening().obligations
    assert one.action == Action.RUN

    def now(**changes: object) -> Advice:
        return evening().model_copy(update={"obligations": (one.model_copy(update=changes),)})

    (reason,) = changes_since(evening(), now(action=Action.RAIN))
    assert (reason.kind, reason.products, reason.zones) == (
        ReasonKind.ACTION_CHANGED,
        ("Feed",),
        ("Back",),
    )
    assert (reason.now_word, reason.before_word) == (Action.RAIN, Action.RUN)
    assert kinds(evening(), now()) == []
    assert kinds(evening(), now(action=Action.RAIN, application_id=2)) == []
    assert kinds(evening(), now(action=Action.RAIN, zone="Front")) == []


def test_answers_of_the_same_night_stand_with_their_looks_and_of_another_night_none() -> None:
    (one,) = evening().obligations
    look = EVENING + timedelta(hours=3)
    ways = tuple(
        way.model_copy(update={"look_at": look if way.action == Action.RUN else None}) for way in one.options
    )
    told = evening().model_copy(update={"obligations": (one.model_copy(update={"options": ways}),)})
    night = evening().night
    assert earlier_answers(told, night) == {(1, "Back"): (Action.RUN, look)}
    assert earlier_answers(told, night + timedelta(days=1)) == {}
    assert earlier_answers(None, night) == {}
