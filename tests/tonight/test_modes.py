"""Modes with an end date: seed, new turf, and cooling at midday."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time, timedelta
from itertools import pairwise

import pytest
from made import CHICAGO, EVENING, made_site, made_weather, made_zone

from advisor.advice.advice import Advice
from advisor.faces.text.advice_text import advice_text
from advisor.lawn.products import Product
from advisor.lawn.records import Application, ProbeReading, Records
from advisor.lawn.site_values import DateSpan, Rules
from advisor.lawn.tables import kind_table
from advisor.tonight.advise import advise

TOMORROW = date(2026, 6, 18)
BY_DAY = ((time(21), time(8)), (time(11), time(16)))


def moist(depletion_mm: float = 2.0) -> Records:
    return Records(probes=(ProbeReading("Front", EVENING - timedelta(hours=2), depletion_mm),))


def hot(
    *, until: date = TOMORROW, warmer_c: float = 4.0, records: Records | None = None, **rules: object
) -> Advice:
    """The evening's advice for one zone to be cooled, before a day of about 31 °C and `warmer_c` more."""
    weather = made_weather()
    zone = made_zone(mode="syringe", mode_until=until)
    site = made_site(zone, rules=replace(Rules(hours=BY_DAY), **rules))  # type: ignore[arg-type]
    return advise(
        site=site,
        records=records or moist(),
        weather=replace(weather, temp_c=weather.temp_c + warmer_c),
        now=EVENING,
    )


def test_a_hot_day_brings_one_light_run_at_midday_and_nothing_at_night() -> None:
    advice = hot()
    assert [(r.zone, r.why) for r in advice.runs] == [("Front", "cool the grass")]
    run = advice.runs[0]
    begin = run.cycles[0].starts_at.astimezone(CHICAGO)
    assert begin.date() == TOMORROW
    assert time(11) <= begin.time() < time(15)
    assert 1.0 <= run.depth_mm < 2.54
    assert run.litres == pytest.approx(200.0 * run.depth_mm)
    assert advice.zones[0].verdict == "run"
    assert "for minutes only" in advice.zones[0].reason
    assert [c for c in advice.checks if not c.passed] == []
    assert any(c.for_midday for c in advice.checks)
    assert "Front: run 8 min" in advice_text(advice)


@pytest.mark.parametrize(
    ("words", "rules"),
    [
        pytest.param({"warmer_c": 0.0}, {}, id="not hot"),
        pytest.param({"until": EVENING.date()}, {}, id="past its last day"),
        pytest.param({}, {"hours": ((time(21), time(8)),)}, id="no hours by day"),
        pytest.param({}, {"parity": "odd"}, id="not that date"),
        pytest.param({}, {"blackouts": (DateSpan(TOMORROW, TOMORROW),)}, id="blackout"),
    ],
)
def test_there_is_no_cooling_run_where_it_is_not_called_for(
    words: dict[str, object], rules: dict[str, object]
) -> None:
    assert hot(**words, **rules).runs == ()  # type: ignore[arg-type]


def test_a_dry_zone_gets_its_own_run_at_night_as_well() -> None:
    advice = hot(records=moist(25.0))
    assert [r.why for r in advice.runs] == ["turf", "cool the grass"]
    night, noon = advice.runs
    assert advice.zones[0].minutes_firm == night.minutes > 2 * noon.minutes
    text = advice_text(advice)
    assert f"Front: run {len(night.cycles)} × {night.minutes / len(night.cycles):.0f} min" in text
    assert f"Front: run {noon.minutes:.0f} min" in text


def test_a_night_that_used_up_its_minutes_leaves_none_for_cooling() -> None:
    advice = hot(records=moist(25.0), minutes_a_night=190.0)
    used = sum(r.minutes for r in advice.runs)
    tight = hot(records=moist(25.0), minutes_a_night=used - 5.0)
    assert [r.why for r in tight.runs] == ["turf"]
    assert "No cooling of Front at midday" in tight.window_words


def test_a_zone_that_has_to_stay_dry_is_not_cooled() -> None:
    kind = kind_table()["post-emergent-liquid"]
    spray = Product(name="Spray", kind=kind)
    zone = made_zone(mode="syringe", mode_until=TOMORROW)
    site = made_site(zone, rules=Rules(hours=BY_DAY), products={"Spray": spray})
    weather = made_weather()
    done = EVENING - timedelta(hours=1)
    put_down = Application("Spray", ("Front",), done, done, "backpack")
    advice = advise(
        site=site,
        records=replace(moist(), applications=(put_down,)),
        weather=replace(weather, temp_c=weather.temp_c + 4.0),
        now=EVENING,
    )
    assert advice.runs == ()
    assert "has to stay dry" in advice.window_words


def test_cooling_by_hand_is_a_move_in_waking_hours() -> None:
    zone = made_zone(mode="syringe", mode_until=TOMORROW, by_hand=True)
    weather = made_weather()
    site = made_site(zone, rules=Rules(hours=BY_DAY))
    advice = advise(
        site=site, records=moist(), weather=replace(weather, temp_c=weather.temp_c + 4.0), now=EVENING
    )
    text = advice_text(advice)
    assert "By hand" in text
    assert "Start the sprinkler on Front; it runs until" in text


def test_new_turf_is_watered_sooner_until_its_last_day() -> None:
    def verdict(**mode: object) -> tuple[str, float]:
        site = made_site(made_zone(**mode))
        zone = advise(site=site, records=moist(8.0), weather=made_weather(), now=EVENING).zones[0]
        return zone.verdict, zone.allowed_mm

    old, new = verdict(), verdict(mode="new", mode_until=EVENING.date() + timedelta(days=20))
    over = verdict(mode="new", mode_until=EVENING.date() - timedelta(days=1))
    assert old == over
    assert (old[0], new[0]) == ("not needed", "run")
    assert new[1] == pytest.approx(old[1] / 2)


def test_seed_on_a_night_without_hours_is_told_and_not_passed_over() -> None:
    seeded = made_zone(mode="seed", mode_until=EVENING.date() + timedelta(days=14))
    closed = Rules(hours=((time(21), time(8)),), blackouts=(DateSpan(EVENING.date(), TOMORROW),))
    advice = advise(
        site=made_site(seeded, rules=closed), records=moist(), weather=made_weather(), now=EVENING
    )
    assert advice.runs == ()
    assert [n.zone for n in advice.not_planned] == ["Front"]
    assert "blackout" in advice.not_planned[0].why


def test_when_minutes_are_short_due_water_comes_first_then_seed_then_the_driest() -> None:
    names = {"Damp": 14.0, "Dry": 24.0, "Seed": 2.0, "Fed": 2.0}
    zones = [
        made_zone(
            name,
            mode="seed" if name == "Seed" else "established",
            mode_until=TOMORROW if name == "Seed" else None,
        )
        for name in names
    ]
    grubs = Product(name="Grubs", kind=kind_table()["soil-insecticide"])
    done = EVENING - timedelta(hours=1)
    records = Records(
        applications=(Application("Grubs", ("Fed",), done, done, "spreader"),),
        probes=tuple(ProbeReading(name, done, mm) for name, mm in names.items()),
    )

    def planned(minutes: float) -> tuple[set[str], set[str]]:
        site = made_site(
            *zones,
            rules=Rules(hours=((time(21), time(8)),), minutes_a_night=minutes),
            products={"Grubs": grubs},
        )
        advice = advise(site=site, records=records, weather=made_weather(), now=EVENING)
        return {r.zone for r in advice.runs}, {n.zone for n in advice.not_planned}

    everything, nothing = planned(2000.0)
    assert (everything, nothing) == (set(names), set())
    first = ["Fed", "Seed", "Dry", "Damp"]
    site = made_site(*zones, products={"Grubs": grubs})
    advice = advise(site=site, records=records, weather=made_weather(), now=EVENING)
    needs = {r.zone: r.minutes for r in advice.runs}
    for count in range(1, 4):
        fits = planned(sum(needs[name] for name in first[:count]))
        assert fits == (set(first[:count]), set(first[count:]))


def test_cooling_keeps_clear_of_runs_that_the_night_puts_at_midday() -> None:
    advice = hot(records=moist(25.0), hours=((time(11), time(15)),), finish="window")
    assert {r.why for r in advice.runs} == {"turf", "cool the grass"}
    spans = sorted((c.starts_at, c.ends_at) for r in advice.runs for c in r.cycles)
    assert all(a[1] <= b[0] for a, b in pairwise(spans))


@pytest.mark.parametrize("minutes", [60.0, 90.0])
def test_a_refill_that_no_night_could_hold_is_cut_to_what_one_holds_and_says_so(minutes: float) -> None:
    rules = Rules(hours=((time(21), time(8)),), minutes_a_night=minutes)
    advice = advise(site=made_site(rules=rules), records=moist(28.0), weather=made_weather(), now=EVENING)
    assert advice.runs[0].minutes == minutes
    reason = advice.zones[0].reason
    assert f"The run puts back {advice.runs[0].effective_mm:.1f} mm of the 28.1 mm" in reason
    assert "the rest waits for Friday 19 June" in reason
    (rest,) = advice.not_planned
    assert rest.depth_mm + advice.runs[0].depth_mm == pytest.approx(28.1 * 12.0 / 9.84, rel=0.02)


def test_water_that_is_due_is_never_cut() -> None:
    grubs = Product(name="Grubs", kind=kind_table()["soil-insecticide"])
    done = EVENING - timedelta(hours=1)
    records = replace(moist(), applications=(Application("Grubs", ("Front",), done, done, "spreader"),))
    rules = Rules(hours=((time(21), time(8)),), minutes_a_night=40.0)
    site = made_site(rules=rules, products={"Grubs": grubs})
    advice = advise(site=site, records=records, weather=made_weather(), now=EVENING)
    assert advice.runs == ()
    assert "the rules allow 40 min" in advice.not_planned[0].why
