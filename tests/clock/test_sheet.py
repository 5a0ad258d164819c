"""The clock sheet: what it prints runs as printed, brings what is needed, and says what cannot be."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time, timedelta
from itertools import pairwise
from random import Random
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made import CHICAGO, made_site, made_zone
from sizes import rounds

from advisor.advice.clock_sheet import (
    AssumptionKind,
    ClimateBasis,
    ClimateKind,
    ClockSheet,
    CountedRain,
    DaysKind,
    OffReason,
    SheetMonth,
    SheetProgram,
    SheetZone,
)
from advisor.clock.programs import MOST_PROGRAMS, MOST_STARTS
from advisor.clock.sheet import clock_sheet
from advisor.clock.watering_days import LONGEST, days_for
from advisor.lawn.site_values import Parity, Place, Rate, RateBasis, Rules, Site, Supply
from advisor.lawn.tables import soil_table
from advisor.science.sun import sunrise
from advisor.sentences.clock import days_words
from advisor.soil_water.usual_year import LENGTHS, Climate, Month
from advisor.soil_water.zone_figures import ZoneFigures, zone_figures

DAY = date(2026, 3, 2)
MADE = ClimateBasis(kind=ClimateKind.MONTHS, counted_rain=CountedRain.AS_GIVEN, file="made")


def climate(eto_mm_d: float = 5.0, counted_mm: float = 0.0, tmin_c: float | None = 12.0) -> Climate:
    """Every month alike."""
    months = tuple(
        Month(month=i, eto_mm_d=eto_mm_d, rain_mm=counted_mm, counted_mm=counted_mm, tmin_c=tmin_c)
        for i in range(1, 13)
    )
    return Climate(months=months, source="made", basis=MADE)


def facts_of(site: Site) -> list[ZoneFigures]:
    return [zone_figures(zone, (), site.rules) for zone in site.zones]


def sheet_of(site: Site, usual: Climate | None = None) -> ClockSheet:
    return clock_sheet(site, facts_of(site), usual or climate(), day=DAY)


def runs_of(program: SheetProgram) -> dict[str, list[tuple[int, int]]]:
    """Each zone's runs as minutes from noon before (start, end): at each start the zones in order."""
    found: dict[str, list[tuple[int, int]]] = {zone.zone: [] for zone in program.zones}
    for start in program.starts:
        hour, minute = (int(part) for part in start.split(":"))
        at = (hour * 60 + minute - 720) % 1440
        for zone in program.zones:
            found[zone.zone].append((at, at + zone.minutes))
            at += zone.minutes
    return found


def lines_of(month: SheetMonth) -> list[tuple[SheetProgram, SheetZone]]:
    return [(program, zone) for program in month.programs for zone in program.zones]


# --- days ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("between", "rules", "words", "every"),
    [
        pytest.param(0.6, {}, "every day", 1.0, id="less than a day"),
        pytest.param(1.9, {}, "every day", 1.0, id="every day"),
        pytest.param(2.1, {}, "every 2 days", 2.0, id="at most two days apart"),
        pytest.param(3.5, {}, "every 3 days", 3.0, id="at most three"),
        pytest.param(4.0, {}, "Mon, Thu", 3.5, id="at most four"),
        pytest.param(7.0, {}, "Mon", 7.0, id="once a week"),
        pytest.param(9.7, {}, "every 9 days", 9.0, id="seldom"),
        pytest.param(99.0, {}, f"every {LONGEST} days", LONGEST, id="no longer than a clock is set"),
        pytest.param(9.0, {"weekdays": frozenset({1, 4})}, "Tue", 7.0, id="weekdays allowed"),
        pytest.param(1.0, {"weekdays": frozenset({1, 4})}, "Tue, Fri", 3.5, id="too few allowed"),
        pytest.param(2.0, {"parity": "odd"}, "odd dates", 2.0, id="odd dates"),
        pytest.param(5.0, {"parity": "even"}, "even dates", 2.0, id="even dates, which is all a clock takes"),
        pytest.param(
            5.0,
            {"parity": "even", "weekdays": frozenset({1, 4})},
            "Tue, Fri, on even dates only",
            7.0,
            id="both",
        ),
    ],
)
def test_days_are_as_few_as_the_allowance_lets_them(
    between: float, rules: dict[str, Any], words: str, every: float
) -> None:
    days = days_for(between, Rules(hours=(), **rules))
    assert days is not None
    assert (days_words(days.set_days), days.every) == (words, every)


@settings(max_examples=60, deadline=None)
@given(st.floats(0.3, 40.0), st.sets(st.integers(0, 6), min_size=1), st.sets(st.integers(0, 6)))
def test_days_keep_to_what_is_allowed_and_free(between: float, allowed: set[int], taken: set[int]) -> None:
    days = days_for(between, Rules(hours=(), weekdays=frozenset(allowed)), taken, weekdays_only=True)
    free = allowed - taken
    if not free:
        assert days is None
        return
    assert days is not None
    assert set(days.weekdays) <= free
    gaps = [
        (b - a) % 7 or 7 for a, b in zip(days.weekdays, [*days.weekdays[1:], days.weekdays[0]], strict=True)
    ]
    assert days.gap == max(gaps)
    assert days.gap <= between or set(days.weekdays) == free


# --- the sheet -----------------------------------------------------------------------------------


def test_what_is_run_in_a_week_is_what_the_turf_needs_in_a_week() -> None:
    """By hand: 5 mm/d × 0.94 × full sun − 31 mm / 31 d = 3.7 mm/d in July."""
    site = made_site()
    july = sheet_of(site, climate(counted_mm=31.0)).months[6]
    ((program, line),) = lines_of(july)
    assert line.need_mm_d == pytest.approx(3.7)
    assert line.effective_mm * program.days_a_week / 7.0 == pytest.approx(3.7, rel=0.05)
    assert program.minutes == len(program.starts) * line.minutes
    assert line.depth_mm == pytest.approx(program.minutes / 60.0 * 12.0)
    assert line.litres == pytest.approx(200.0 * line.depth_mm)
    assert july.litres == pytest.approx(line.litres * program.days_a_week / 7.0 * LENGTHS[6])


def test_a_run_is_no_deeper_than_the_allowance_where_the_days_allow_it() -> None:
    site = made_site()
    for month in sheet_of(site).months:
        for program, line in lines_of(month):
            assert line.short_mm == 0.0
            assert line.need_mm_d * 7.0 / program.days_a_week <= 0.6 * facts_of(site)[0].taw_mm


def test_days_that_are_too_few_say_how_far_the_root_zone_runs_short() -> None:
    site = made_site(rules=Rules(hours=((time(21), time(8)),), weekdays=frozenset({2})))
    ((program, line),) = lines_of(sheet_of(site, climate(eto_mm_d=7.0)).months[6])
    assert program.days == "Wed"
    assert line.short_mm > 5.0
    assert line.effective_mm <= facts_of(site)[0].taw_mm * 1.05


def test_frost_and_enough_rain_turn_the_clock_off() -> None:
    site = made_site()
    frost = sheet_of(site, climate(tmin_c=-1.0))
    rain = sheet_of(site, climate(counted_mm=160.0)).months[0]
    assert (frost.months[0].programs, frost.months[0].off, frost.months[0].why_off) == (
        (),
        ("Front",),
        OffReason.FROST,
    )
    assert frost.needs is None
    assert frost.clock == "Nothing here is for a clock."
    assert (rain.programs, rain.off, rain.why_off) == ((), ("Front",), OffReason.RAIN)
    assert sheet_of(site, climate(tmin_c=None)).months[0].programs


def test_zones_that_want_water_as_often_share_a_program_and_others_do_not() -> None:
    deep = made_zone("Deep", root_depth_m=0.8)
    sheet = sheet_of(made_site(made_zone("Front"), deep, made_zone("Side", area_m2=50.0)))
    for month in sheet.months:
        assert [[z.zone for z in p.zones] for p in month.programs] == [["Front", "Side"], ["Deep"]]
        assert [p.name for p in month.programs] == ["A", "B"]
        assert month.programs[0].days_a_week > month.programs[1].days_a_week
    assert sheet.clock.startswith("It needs a clock with 2 programs of ")
    assert "one after another at each start" in sheet.clock
    assert sheet.needs is not None
    assert (sheet.needs.programs, DaysKind.EVERY_DAY in sheet.needs.days) == (2, False)


def test_a_soil_that_takes_little_gets_more_starts_of_its_program() -> None:
    clay = soil_table()["clay"]
    july = sheet_of(made_site(made_zone(soil=clay, rate=Rate(30.0, "measured", 30.0, 30.0)))).months[6]
    (program,) = july.programs
    assert 1 < len(program.starts) <= MOST_STARTS
    (zone,) = program.zones
    assert zone.soak_min > 0


def test_a_zone_watered_by_hand_is_not_on_the_clock_and_it_is_said() -> None:
    sheet = sheet_of(made_site(made_zone(), made_zone("Hose", by_hand=True)))
    for month in sheet.months:
        assert [zone.zone for _, zone in lines_of(month)] == ["Front"]
        assert "Hose" not in (*month.off, *month.not_fitting)
    assert any(told.startswith("Hose is watered by hand") for told in sheet.assumptions)


def test_zones_that_do_not_fit_into_one_night_get_days_of_their_own() -> None:
    rules = Rules(hours=((time(4), time(6)),), finish="window")
    zones = [made_zone(f"Z{i}", rate=Rate(10.0, "measured", 10.0, 10.0)) for i in range(3)]
    july = sheet_of(made_site(*zones, rules=rules), climate(eto_mm_d=3.0)).months[6]
    assert july.not_fitting == ()
    assert _overlaps(july) == []


def test_what_fits_on_no_day_is_told() -> None:
    rules = Rules(hours=((time(4), time(4, 5)),), finish="window")
    sheet = sheet_of(made_site(made_zone(rate=Rate(8.0, "measured", 8.0, 8.0)), rules=rules))
    assert all(month.not_fitting == ("Front",) for month in sheet.months)


def test_hours_after_sunrise_are_used_only_where_the_night_is_too_short() -> None:
    july = sheet_of(made_site(rules=Rules(hours=((time(2), time(15)),), finish="window"))).months[6]
    assert july.programs[0].ends <= "06:10"
    tight = Rules(hours=((time(5, 40), time(15)),), finish="window")
    assert sheet_of(made_site(rules=tight)).months[6].programs[0].ends > "06:10"


def test_every_start_is_a_round_minute_and_all_of_a_program_are_on_one_date() -> None:
    zones = (made_zone(), made_zone("Back", area_m2=90.0, slope_pct=9.0, soil=soil_table()["clay"]))
    for month in sheet_of(made_site(*zones)).months:
        for program in month.programs:
            assert all(int(start.split(":")[1]) % 5 == 0 for start in program.starts)
            assert list(program.starts) == sorted(program.starts)


@pytest.mark.parametrize(
    ("latitude", "longitude", "zone"),
    [
        pytest.param(40.52, -96.74, "America/Chicago", id="north"),
        pytest.param(-36.9, 174.8, "Pacific/Auckland", id="south"),
        pytest.param(69.6, 18.9, "Europe/Oslo", id="polar day"),
    ],
)
def test_all_water_is_over_by_the_months_earliest_sunrise(
    latitude: float, longitude: float, zone: str
) -> None:
    local = ZoneInfo(zone)
    site = made_site(place=Place("Larkmoor Lane", latitude, longitude, 10.0, local, "metric"))
    for month in sheet_of(site).months:
        for program in month.programs:
            end = max(b for runs in runs_of(program).values() for _, b in runs)
            for day in (date(2026, month.month, 1) + timedelta(i) for i in range(28)):
                noon = datetime.combine(day - timedelta(1), time(12), local)
                if noon.utcoffset() != (noon + timedelta(1)).utcoffset():
                    continue
                rises = sunrise(day=day, latitude_deg=latitude, longitude_deg=longitude, zone=local).at
                clock = rises.astimezone(local)
                assert end <= (clock.hour * 60 + clock.minute - 720) % 1440


def _overlaps(month: SheetMonth) -> list[tuple[str, str]]:
    """Pairs of programs that have water on in the same minute on a day that both may have."""
    wrong = []
    for i, a in enumerate(month.programs):
        for b in month.programs[i + 1 :]:
            days = [set(x.set_days.weekdays) or set(range(7)) for x in (a, b)]
            spans = [[span for runs in runs_of(x).values() for span in runs] for x in (a, b)]
            if days[0] & days[1] and any(s < v and u < e for s, e in spans[0] for u, v in spans[1]):
                wrong.append((a.name, b.name))
    return wrong


def test_no_sheet_asks_more_than_a_clock_holds_runs_two_zones_at_once_breaks_a_soak_or_leaves_the_hours() -> (
    None
):
    rng = Random(4)
    soils = soil_table()
    runs = 0
    for _ in range(rounds(15, 40)):
        hours = rng.choice((((time(22), time(6)),), ((time(4), time(7)),), ((time(1), time(9)),)))
        rules = Rules(
            hours=hours,
            finish="window",
            weekdays=frozenset(rng.sample(range(7), rng.randrange(2, 8))),
            minutes_a_night=rng.choice((None, 90.0)),
        )
        zones = [
            made_zone(
                f"Z{i}",
                soil=soils[rng.choice(("loam", "clay", "sand"))],
                rate=Rate(rate := rng.uniform(8.0, 40.0), "measured", rate, rate),
                slope_pct=rng.choice((1.0, 9.0)),
            )
            for i in range(rng.randrange(1, 7))
        ]
        site = made_site(*zones, rules=rules, supply=Supply())
        by_name = dict(zip((z.name for z in zones), facts_of(site), strict=True))
        begin, end = ((t.hour * 60 - 720) % 1440 for t in hours[0])
        for month in sheet_of(site, climate(eto_mm_d=rng.uniform(1.0, 6.0))).months:
            assert _overlaps(month) == []
            assert len(month.programs) <= MOST_PROGRAMS
            shown = [zone.zone for _, zone in lines_of(month)]
            assert sorted([*shown, *month.off, *month.not_fitting]) == sorted(by_name)
            for program in month.programs:
                assert list(program.starts) == sorted(program.starts)
                if rules.minutes_a_night is not None:
                    assert program.minutes <= rules.minutes_a_night
                ends = [spans[-1][1] for spans in runs_of(program).values()]
                hour, minute = (int(part) for part in program.ends.split(":"))
                assert max(ends) % 1440 == (hour * 60 + minute - 720) % 1440
                for name, spans in runs_of(program).items():
                    runs += 1
                    figures = by_name[name]
                    assert begin <= spans[0][0]
                    assert spans[-1][1] <= end
                    assert all(b[0] - a[1] >= figures.soak_min for a, b in pairwise(spans))
                    longest = spans[0][1] - spans[0][0]
                    assert figures.cycle_min is None or longest <= max(1.0, figures.cycle_min)
    assert runs > 300


def test_what_is_guessed_or_left_out_is_among_the_assumptions() -> None:
    zone = made_zone(rate=Rate(12.0, RateBasis.GUESS, 8.0, 18.0), mode="new", mode_until=date(2026, 9, 1))
    site = made_site(zone, made_zone("Back"))
    assumed = sheet_of(site).assumed
    assert [one.zones for one in assumed if one.kind == AssumptionKind.GUESSED_RATE] == [("Front",)]
    assert tuple(one.text for one in assumed) == sheet_of(site).assumptions
    told = " ".join(sheet_of(site).assumptions)
    assert "cannot see the weather" in told
    assert "The rate of Front is a guess" in told
    assert "Modes with an end date" in told
    assert "is a guess" not in " ".join(sheet_of(made_site()).assumptions)
    sheet = sheet_of(replace(site, place=replace(site.place, zone=CHICAGO)))
    assert [c.text for c in sheet.caution_kinds] == list(sheet.cautions)
    assert all(sheet.cautions)


@pytest.mark.parametrize(
    ("rules", "kind", "told"),
    [
        pytest.param({"weekdays": frozenset({1, 4})}, DaysKind.WEEKDAYS, ", set by weekdays,", id="weekdays"),
        pytest.param({"parity": Parity.ODD}, DaysKind.DATES, ", set by odd or even dates,", id="dates"),
        pytest.param(
            {"parity": Parity.EVEN, "weekdays": frozenset({1, 4})},
            DaysKind.WEEKDAYS_ON_DATES,
            "set the other weekdays off",
            id="both hold",
        ),
    ],
)
def test_what_the_clock_must_hold_is_data_with_its_sentence(
    rules: dict[str, Any], kind: DaysKind, told: str
) -> None:
    sheet = sheet_of(made_site(rules=Rules(hours=((time(21), time(8)),), **rules)))
    assert sheet.needs is not None
    assert sheet.needs.days == (kind,)
    assert {p.set_days.kind for month in sheet.months for p in month.programs} == {kind}
    assert told in sheet.clock
