"""When the next round is due and which hours of the forecast suit it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made import CHICAGO, made_site, made_weather, made_zone

from advisor.advice.next_round import (
    BarKind,
    Mind,
    NextRound,
    NextRounds,
    NotThenReason,
    RoundNoteKind,
    RoundState,
)
from advisor.lawn.products import Product
from advisor.lawn.records import Application, ProbeReading, Records
from advisor.lawn.site_values import DateSpan, Round, Rules, Site, Sprayer
from advisor.lawn.tables import kind_table
from advisor.rounds.next_round import next_rounds
from advisor.rounds.spray_window import MAY_RAIN, RAIN_DOES_IT
from advisor.sentences.rounds import BARS, MINDS, wind_limit
from advisor.weather.weather import Weather
from advisor.wording import Say

NOW = datetime(2026, 6, 17, 5, 0, tzinfo=CHICAGO)
HOURS = 24 * 8


def site_for(kind: str = "soil-liquid", *, rules: Rules | None = None, **over: object) -> Site:
    name, blackouts = "Invented", over.pop("blackouts", ())
    it = Product(name, replace(kind_table()[kind], **over))  # type: ignore[arg-type]
    return made_site(
        made_zone(),
        products={name: it},
        rounds=(Round("Programme", (name,), 30, (), "Backpack", blackouts),),  # type: ignore[arg-type]
        sprayers=(Sprayer("Backpack", "backpack", 15.0, 0.04),),
        rules=rules or Rules(hours=((time(21), time(8)),)),
    )


def air(
    *, rain: np.ndarray | None = None, wind: float = 2.0, temp: float = 20.0, dew: float = 5.0
) -> Weather:
    weather = made_weather(
        np.zeros((10, HOURS)) if rain is None else rain, now=NOW, past_days=5, ahead_days=8
    )
    steady = {
        "wind10_m_s": np.full(weather.hours, wind),
        "temp_c": np.full(weather.hours, temp),
        "dew_c": np.full(weather.hours, dew),
    }
    return replace(weather, **steady)  # type: ignore[arg-type]


def done(*ended: datetime, zones: tuple[str, ...] = ("Front",)) -> tuple[Application, ...]:
    return tuple(
        Application("Invented", zones, at - timedelta(minutes=30), at, "backpack", id=i)
        for i, at in enumerate(ended, 1)
    )


def rounds(site: Site, weather: Weather, *applications: Application) -> NextRounds:
    moist = ProbeReading("Front", NOW - timedelta(hours=1), 10.0)
    records = Records(applications=applications, probes=(moist,))
    return next_rounds(site=site, records=records, weather=weather, now=NOW)


def only(site: Site, weather: Weather, *applications: Application) -> NextRound:
    (one,) = rounds(site, weather, *applications).rounds
    return one


def why(one: NextRound) -> str:
    return " | ".join(day.why for day in one.not_then)


def test_a_calm_mild_dry_week_offers_daylight_hours_every_day() -> None:
    one = only(site_for(), air())
    assert len(one.slots) == 4
    assert one.due_on is None
    assert one.headline.startswith("Never recorded on these zones, so due now. Best: Wed 17 Jun")
    for slot in one.slots:
        starts, ends = (t.astimezone(CHICAGO) for t in (slot.starts_at, slot.ends_at))
        assert time(6) <= starts.time() < ends.time() <= time(21)
        assert slot.watering == "sprinklers"
        assert slot.starts_at > NOW
    assert [s.rank for s in one.slots] == [1, 2, 3, 4]


@pytest.mark.parametrize(
    ("weather", "kind", "words"),
    [
        (air(wind=5.0), "soil-liquid", "wind 5.0 m/s, over 3.5 m/s"),
        (air(temp=33.0), "soil-liquid", "33 °C, over 32 °C"),
        (air(temp=3.0, dew=-5.0), "soil-liquid", "3 °C, under 4 °C"),
        (air(temp=-1.0, dew=-9.0), "soil-liquid", "the ground may be frozen (-1 °C in the hours before)"),
        (air(wind=3.0), "post-emergent-liquid", "wind 3.0 m/s, over 2.2 m/s"),
        (air(rain=np.full((10, HOURS), 0.5)), "soil-liquid", "rain wets the leaves (chance 100 %)"),
        (air(rain=np.full((10, HOURS), 2.5)), "granular-slow", "the ground is full"),
    ],
    ids=["wind", "heat", "cold", "frost", "the stricter kind's wind", "wet leaves", "soaked"],
)
def test_a_week_that_will_not_do_says_what_stands_in_the_way(weather: Weather, kind: str, words: str) -> None:
    one = only(site_for(kind), weather)
    assert one.slots == ()
    assert "None of the days to" in one.headline
    assert words in why(one)


def test_no_round_before_rain_that_would_spoil_the_dry_time() -> None:
    rain = np.zeros((10, HOURS))
    rain[:4, 48] = 6.0  # Friday 05:00 in four of ten members
    one = only(site_for("foliar-fungicide"), air(rain=rain))
    assert not {s.starts_at.astimezone(CHICAGO).date() for s in one.slots} & {date(2026, 6, 18)}
    assert all((s.chance_rain_while_dry or 0.0) <= MAY_RAIN for s in one.slots)
    told = {d.day: d.why for d in one.not_then}
    assert "chance of rain in the 24 h after" in told[date(2026, 6, 18)]


def test_no_round_before_heavy_rain() -> None:
    rain = np.zeros((10, HOURS))
    rain[:5, 18:22] = 8.0
    one = only(site_for(), air(rain=rain))
    wednesday = next(d for d in one.not_then if d.day == date(2026, 6, 17))
    assert "which would wash it away" in wednesday.why
    assert one.slots[0].starts_at.astimezone(CHICAGO).date() > date(2026, 6, 17)


def test_the_day_before_a_useful_rain_comes_first() -> None:
    rain = np.zeros((10, HOURS))
    rain[:, 72 + 15 : 72 + 22] = 1.0  # Saturday 20:00 to Sunday 03:00: 7 mm in every member
    best = only(site_for("granular-slow"), air(rain=rain)).slots[0]
    assert best.starts_at.astimezone(CHICAGO).date() == date(2026, 6, 20)
    assert best.watering == "rain"
    assert best.chance_waters_in is not None
    assert best.chance_waters_in >= RAIN_DOES_IT
    assert "Rain waters it in: chance" in best.words


def test_without_an_allowed_hour_and_without_rain_there_is_no_way_to_water_in() -> None:
    closed = Rules(
        hours=((time(21), time(8)),), blackouts=(DateSpan(date(2026, 6, 1), date(2026, 7, 31), "drought"),)
    )
    one = only(site_for(rules=closed), air())
    assert one.slots == ()
    assert "no allowed hour to water it in" in why(one)
    assert len(only(site_for("foliar-fungicide", rules=closed), air()).slots) == 4


def test_a_blackout_of_the_round_is_kept_and_told() -> None:
    away = (DateSpan(date(2026, 6, 17), date(2026, 6, 20), "away"),)
    one = only(site_for(blackouts=away), air())
    assert all(s.starts_at.astimezone(CHICAGO).date() > date(2026, 6, 20) for s in one.slots)
    assert "no round from 17 Jun to 20 Jun (away)" in why(one)


def test_an_interval_is_counted_from_the_last_time_on_the_zone() -> None:
    soon = only(site_for(), air(), *done(datetime(2026, 5, 22, 10, tzinfo=CHICAGO)))
    assert soon.due_on == date(2026, 6, 21)
    assert all(s.starts_at.astimezone(CHICAGO).date() >= date(2026, 6, 21) for s in soon.slots)
    assert soon.headline.startswith("Due Sun 21 Jun.")
    late = only(site_for(), air(), *done(datetime(2026, 5, 1, 10, tzinfo=CHICAGO)))
    assert (late.due_on, late.overdue_days) == (date(2026, 5, 31), 17)
    assert late.headline.startswith("Overdue by 17 days (due Sun 31 May).")
    far = only(site_for(), air(), *done(datetime(2026, 6, 15, 10, tzinfo=CHICAGO)))
    assert (far.slots, far.not_then) == ((), ())
    assert (
        far.headline == "Due Wed 15 Jul. The forecast reaches to Thu 25 Jun only: ask again from Sun 12 Jul."
    )


def test_the_product_s_own_interval_and_its_label_s_date_win() -> None:
    site = site_for()
    own = replace(site.products["Invented"], interval_days=10, no_apply_before=date(2026, 6, 22))
    one = only(
        replace(site, products={"Invented": own}), air(), *done(datetime(2026, 6, 8, 10, tzinfo=CHICAGO))
    )
    assert one.due_on == date(2026, 6, 18)
    assert one.slots[0].starts_at.astimezone(CHICAGO).date() == date(2026, 6, 22)
    assert "Invented not before 22 Jun 2026, by its label" in why(one)


def test_zones_with_different_dates_are_told_apart() -> None:
    site = replace(site_for(), zones=(made_zone("Front"), made_zone("Back")))
    told = rounds(site, air(), *done(datetime(2026, 6, 10, 10, tzinfo=CHICAGO), zones=("Back",)))
    assert [(r.zones, r.due_on) for r in told.rounds] == [(("Front",), None), (("Back",), date(2026, 7, 10))]


def test_nothing_goes_down_where_another_product_must_stay_dry() -> None:
    site = site_for()
    spray = Product("Spray", kind_table()["post-emergent-liquid"])
    site = replace(site, products={**site.products, "Spray": spray})
    ended = NOW - timedelta(hours=3)
    one = only(site, air(), replace(done(ended)[0], product="Spray"))
    assert min(s.starts_at for s in one.slots) >= ended + timedelta(hours=24)


def test_too_little_wind_and_dew_are_minded_not_barred() -> None:
    one = only(site_for(), air(wind=0.5, dew=19.5))
    assert one.slots
    assert "look for an inversion" in one.slots[0].words
    assert "wait until the leaves are dry" in one.slots[0].words


def test_what_may_not_share_a_pass_is_told() -> None:
    site = site_for("granular-quick")
    spray = Product("Spray", kind_table()["post-emergent-liquid"])
    both = Round("Programme", ("Invented", "Spray"), 30)
    grubs = Product("Invented", kind_table()["soil-insecticide"])
    one = only(replace(site, products={"Invented": grubs, "Spray": spray}, rounds=(both,)), air())
    assert any("must stay dry for 24 h" in note for note in one.notes)
    assert any(note.startswith("Do not mow 3 d before and 4 d after") for note in one.notes)


def test_every_day_of_the_forecast_is_offered_or_refused_with_its_reason() -> None:
    for weather in (air(), air(wind=5.0), air(rain=np.full((10, HOURS), 0.5))):
        one = only(site_for(), weather)
        offered = [s.starts_at.astimezone(CHICAGO).date() for s in one.slots]
        told = sorted([*offered, *one.also_possible, *(d.day for d in one.not_then)])
        assert told == [date(2026, 6, 17) + timedelta(days=d) for d in range(len(told))]
        assert told[-1] == date(2026, 6, 25)


def seeded(kind: str, *applications: Application) -> tuple[NextRound, NextRound]:
    """A programme of this kind on Front and on Back, which is a seedbed until 21 June."""
    bed = made_zone("Back", mode="seed", mode_until=date(2026, 6, 21))
    site = replace(site_for(kind), zones=(made_zone("Front"), bed))
    plain, young = rounds(site, air(), *applications).rounds
    assert (plain.zones, young.zones) == (("Front",), ("Back",))
    assert plain.slots
    return plain, young


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        ("pre-emergent", "Invented can stop or kill the seedlings on Back, until Sun 21 Jun"),
        ("post-emergent-liquid", "Invented can stop or kill the seedlings on Back, until Sun 21 Jun"),
        ("foliar-liquid", "the seed on Back is kept moist until Sun 21 Jun, and Invented must stay dry"),
    ],
)
def test_seedlings_get_no_weed_killer_and_seed_no_dry_time(kind: str, words: str) -> None:
    _, young = seeded(kind)
    assert {
        words in day.why for day in young.not_then if date(2026, 6, 17) < day.day <= date(2026, 6, 21)
    } == {True}
    assert all(s.starts_at.astimezone(CHICAGO).date() > date(2026, 6, 21) for s in young.slots)
    assert young.slots


def test_a_round_that_seedlings_bear_names_the_seedbed_all_the_same() -> None:
    plain, young = seeded("soil-liquid")
    assert young.slots
    assert young.notes[0].startswith(
        "Back is a seedbed (it is in seed mode until Sun 21 Jun 2026): keep off it"
    )
    assert plain.notes == ()


def test_every_bar_and_everything_to_mind_has_its_words() -> None:
    assert set(BARS) == set(BarKind)
    assert set(MINDS) == set(Mind)


def test_what_bars_an_hour_keeps_its_numbers_beside_its_words() -> None:
    one = only(site_for("post-emergent-liquid"), air(wind=3.0))
    assert one.state == RoundState.NO_DAY
    tomorrow = next(day for day in one.not_then if day.day == date(2026, 6, 18))
    (wind,) = (bar for bar in tomorrow.bars if bar.kind == BarKind.WIND)
    assert (wind.wind_m_s, wind.wind_limit_m_s) == (3.0, kind_table()["post-emergent-liquid"].wind_most_m_s)
    assert tomorrow.reason == NotThenReason.BARRED
    assert tomorrow.closest_at is not None
    assert tomorrow.why.endswith(f"(at its best, {tomorrow.closest_at.astimezone(CHICAGO):%H:%M})")


def test_a_due_date_beyond_the_forecast_is_a_state_with_the_day_to_ask_again() -> None:
    far = only(site_for(), air(), *done(datetime(2026, 6, 15, 10, tzinfo=CHICAGO)))
    assert (far.state, far.ask_from) == (RoundState.BEYOND, date(2026, 7, 12))
    near = only(site_for(), air())
    assert (near.state, near.ask_from) == (RoundState.SLOTS, None)


def test_two_labels_that_forbid_a_day_are_both_told() -> None:
    site = site_for()
    early = {
        name: Product(name, kind_table()["soil-liquid"], no_apply_before=day)
        for name, day in (("Late", date(2026, 6, 21)), ("Soon", date(2026, 6, 19)))
    }
    site = replace(site, products=early, rounds=(replace(site.rounds[0], products=("Late", "Soon")),))
    told = {day.day: day.why for day in only(site, air()).not_then}
    assert told[date(2026, 6, 18)] == (
        "Late not before 21 Jun 2026, by its label; Soon not before 19 Jun 2026, by its label"
    )
    assert told[date(2026, 6, 20)] == "Late not before 21 Jun 2026, by its label"


def test_notes_are_data_and_what_may_not_meet_keeps_its_pair() -> None:
    site = site_for()
    spray = Product("Spray", kind_table()["post-emergent-liquid"])
    grubs = Product("Invented", kind_table()["soil-insecticide"])
    both = Round("Programme", ("Invented", "Spray"), 30)
    one = only(replace(site, products={"Invented": grubs, "Spray": spray}, rounds=(both,)), air())
    kinds = [note.kind for note in one.note_facts]
    assert kinds == [RoundNoteKind.INCOMPATIBLE, RoundNoteKind.MOWING, RoundNoteKind.EQUIPMENT]
    clash, mowing, equipment = one.note_facts
    assert clash.clash is not None
    assert clash.clash.products == ("Invented", "Spray")
    assert (mowing.mow_before_d, mowing.mow_after_d) == (3.0, 4.0)
    assert equipment.equipment is not None
    assert (equipment.equipment.name, one.equipment.name) == ("Backpack", "Backpack")
    assert one.notes[-1].startswith("Taken as put down with Backpack, your only sprayer")


@pytest.mark.parametrize(
    ("units", "m_s", "told"),
    [
        ("metric", 3.576, "3.5 m/s"),
        ("metric", 2.235, "2.2 m/s"),
        ("us", 3.576, "8 mph"),
        ("us", 2.235, "5 mph"),
    ],
)
def test_a_limit_of_wind_is_never_told_higher_than_it_is(units: str, m_s: float, told: str) -> None:
    assert wind_limit(Say(units, CHICAGO, NOW), m_s) == told


@settings(max_examples=20, deadline=None)
@given(
    kind=st.sampled_from(["soil-liquid", "post-emergent-liquid", "granular-quick", "foliar-liquid"]),
    winds=st.lists(st.floats(0, 8), min_size=24, max_size=24),
    temps=st.lists(st.floats(-3, 36), min_size=24, max_size=24),
    showers=st.lists(st.tuples(st.integers(0, 9), st.integers(0, 180), st.floats(0, 20)), max_size=6),
)
def test_no_slot_ever_breaks_a_limit(
    kind: str, winds: list[float], temps: list[float], showers: list[tuple[int, int, float]]
) -> None:
    rain = np.zeros((10, HOURS))
    for member, hour, mm in showers:
        rain[member, hour : hour + 3] += mm
    weather = air(rain=rain)
    days = -(-weather.hours // 24)
    weather = replace(
        weather,
        wind10_m_s=np.tile(winds, days)[: weather.hours],
        temp_c=np.tile(temps, days)[: weather.hours],
        dew_c=np.tile(temps, days)[: weather.hours] - 5.0,
    )
    limits = kind_table()[kind]
    for slot in only(site_for(kind), weather).slots:
        assert slot.wind_high_m_s <= limits.wind_most_m_s
        assert limits.temp_least_c <= slot.temp_low_c <= slot.temp_high_c <= limits.temp_most_c
        assert slot.ends_at - slot.starts_at <= timedelta(hours=4)
        first, last = (weather.index_at(t) for t in (slot.starts_at, slot.ends_at))
        assert (weather.wind10_m_s[first:last] <= limits.wind_most_m_s).all()
