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

from advisor.advice.climate import LENGTHS, Climate, Month
from advisor.advice.clock_days import LONGEST, days_for
from advisor.advice.clock_sheet import ClockSheet, SheetLine, SheetMonth, clock_sheet
from advisor.advice.zone_facts import ZoneFacts, zone_facts
from advisor.lawn.site import Place, Rate, Rules, Site, Supply
from advisor.lawn.tables import soil_table
from advisor.science.sun import sunrise

DAY = date(2026, 3, 2)


def climate(eto_mm_d: float = 5.0, counted_mm: float = 0.0, tmin_c: float | None = 12.0) -> Climate:
    """Every month alike."""
    months = tuple(
        Month(month=i, eto_mm_d=eto_mm_d, rain_mm=counted_mm, counted_mm=counted_mm, tmin_c=tmin_c)
        for i in range(1, 13)
    )
    return Climate(months=months, source="made", basis="Made.")


def facts_of(site: Site) -> list[ZoneFacts]:
    return [zone_facts(zone, (), site.rules) for zone in site.zones]


def sheet_of(site: Site, usual: Climate | None = None) -> ClockSheet:
    return clock_sheet(site, facts_of(site), usual or climate(), day=DAY)


def minutes_of(line: SheetLine) -> list[tuple[int, int]]:
    """Each cycle as minutes from noon before (start, end)."""
    found = []
    for start in line.starts:
        hour, minute = (int(part) for part in start.split(":"))
        begin = (hour * 60 + minute - 720) % 1440
        found.append((begin, begin + line.cycle_minutes))
    return found


# --- days ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("between", "rules", "words", "every"),
    [
        pytest.param(0.6, {}, "every day", 1.0, id="less than a day"),
        pytest.param(1.9, {}, "every day", 1.0, id="every day"),
        pytest.param(2.1, {}, "Mon, Tue, Thu, Sat", 7 / 4, id="at most two days apart"),
        pytest.param(3.5, {}, "Mon, Tue, Fri", 7 / 3, id="at most three"),
        pytest.param(4.0, {}, "Mon, Thu", 3.5, id="at most four"),
        pytest.param(7.0, {}, "Mon", 7.0, id="once a week"),
        pytest.param(9.7, {}, "every 9 days", 9.0, id="seldom"),
        pytest.param(99.0, {}, f"every {LONGEST} days", LONGEST, id="no longer than a clock is set"),
        pytest.param(9.0, {"weekdays": frozenset({1, 4})}, "Tue", 7.0, id="weekdays allowed"),
        pytest.param(1.0, {"weekdays": frozenset({1, 4})}, "Tue, Fri", 3.5, id="too few allowed"),
        pytest.param(2.0, {"parity": "odd"}, "odd dates", 2.0, id="odd dates"),
        pytest.param(5.0, {"parity": "even"}, "every 2nd even date", 4.0, id="every second"),
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
    assert (days.words, days.every) == (words, every)


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
    (line,) = july.lines
    assert line.need_mm_d == pytest.approx(3.7)
    assert line.effective_mm * line.days_a_week / 7.0 == pytest.approx(3.7, rel=0.05)
    assert line.depth_mm == pytest.approx(line.minutes / 60.0 * 12.0)
    assert line.litres == pytest.approx(200.0 * line.depth_mm)
    assert line.minutes == line.cycles * line.cycle_minutes
    assert july.litres == pytest.approx(line.litres * line.days_a_week / 7.0 * LENGTHS[6])


def test_a_run_is_no_deeper_than_the_allowance_where_the_days_allow_it() -> None:
    site = made_site()
    for month in sheet_of(site).months:
        for line in month.lines:
            assert line.short_mm == 0.0
            assert line.need_mm_d * 7.0 / line.days_a_week <= 0.6 * facts_of(site)[0].taw_mm


def test_days_that_are_too_few_say_how_far_the_root_zone_runs_short() -> None:
    site = made_site(rules=Rules(hours=((time(21), time(8)),), weekdays=frozenset({2})))
    (line,) = sheet_of(site, climate(eto_mm_d=7.0)).months[6].lines
    assert line.days == "Wed"
    assert line.short_mm > 5.0
    assert line.effective_mm <= facts_of(site)[0].taw_mm * 1.05


def test_frost_and_enough_rain_turn_the_clock_off() -> None:
    site = made_site()
    frost = sheet_of(site, climate(tmin_c=-1.0)).months[0]
    rain = sheet_of(site, climate(counted_mm=160.0)).months[0]
    assert (frost.lines, frost.off, frost.why_off) == ((), ("Front",), "frost")
    assert (rain.lines, rain.off, rain.why_off) == ((), ("Front",), "rain and dew are enough")
    assert sheet_of(site, climate(tmin_c=None)).months[0].lines


def test_zones_that_do_not_fit_into_one_night_get_days_of_their_own() -> None:
    rules = Rules(hours=((time(4), time(6)),), finish="window")
    zones = [made_zone(f"Z{i}", rate=Rate(10.0, "measured", 10.0, 10.0)) for i in range(3)]
    july = sheet_of(made_site(*zones, rules=rules), climate(eto_mm_d=3.0)).months[6]
    assert july.not_fitting == ()
    days = [set(line.days.split(", ")) for line in july.lines]
    assert len(days) == 3
    starts = [line.starts[0] for line in july.lines]
    assert len(set.union(*days)) == sum(len(d) for d in days) or len(set(starts)) == 3
    assert _overlaps(july) == []


def test_what_fits_on_no_day_is_told() -> None:
    rules = Rules(hours=((time(4), time(4, 20)),), finish="window")
    sheet = sheet_of(made_site(made_zone(rate=Rate(8.0, "measured", 8.0, 8.0)), rules=rules))
    assert all(month.not_fitting == ("Front",) for month in sheet.months)


def test_the_first_start_is_a_round_minute() -> None:
    for month in sheet_of(made_site(made_zone(), made_zone("Back", area_m2=90.0))).months:
        firsts = min(minutes_of(line)[0][0] for line in month.lines)
        assert firsts % 5 == 0


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
        for line in month.lines:
            end = minutes_of(line)[-1][1]
            for day in (date(2026, month.month, 1) + timedelta(i) for i in range(28)):
                noon = datetime.combine(day - timedelta(1), time(12), local)
                if noon.utcoffset() != (noon + timedelta(1)).utcoffset():
                    continue
                rises = sunrise(day=day, latitude_deg=latitude, longitude_deg=longitude, zone=local).at
                clock = rises.astimezone(local)
                assert end <= (clock.hour * 60 + clock.minute - 720) % 1440


def _overlaps(month: SheetMonth) -> list[tuple[str, str]]:
    """Pairs of zones that run in the same minute on a day that both have."""
    names = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
    wrong = []
    for i, a in enumerate(month.lines):
        for b in month.lines[i + 1 :]:
            days = [{d for d in names if d in x.days} or set(names) for x in (a, b)]
            if days[0] & days[1] and any(s < v and u < e for s, e in minutes_of(a) for u, v in minutes_of(b)):
                wrong.append((a.zone, b.zone))
    return wrong


def test_no_sheet_runs_two_zones_at_once_breaks_a_soak_or_leaves_the_hours() -> None:
    rng = Random(4)
    soils = soil_table()
    runs = 0
    for _ in range(40):
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
            for i in range(rng.randrange(1, 5))
        ]
        site = made_site(*zones, rules=rules, supply=Supply())
        by_name = dict(zip((z.name for z in zones), facts_of(site), strict=True))
        begin, end = ((t.hour * 60 - 720) % 1440 for t in hours[0])
        for month in sheet_of(site, climate(eto_mm_d=rng.uniform(1.0, 6.0))).months:
            assert _overlaps(month) == []
            assert sorted([x.zone for x in month.lines] + [*month.off, *month.not_fitting]) == sorted(by_name)
            for line in month.lines:
                runs += 1
                spans, facts = minutes_of(line), by_name[line.zone]
                assert begin <= spans[0][0]
                assert spans[-1][1] <= end
                assert all(b[0] - a[1] >= facts.soak_min for a, b in pairwise(spans))
                assert facts.cycle_min is None or line.cycle_minutes <= max(1.0, facts.cycle_min)
                if rules.minutes_a_night is not None:
                    assert line.minutes <= rules.minutes_a_night
                if len(rules.weekdays) < 7 and hours[0][0].hour > 12:
                    assert spans[0][0] >= 720  # one date only: after midnight
    assert runs > 300


def test_what_is_guessed_or_left_out_is_among_the_assumptions() -> None:
    zone = made_zone(rate=Rate(12.0, "guess", 8.0, 18.0), mode="new", mode_until=date(2026, 9, 1))
    site = made_site(zone, made_zone("Back"))
    told = " ".join(sheet_of(site).assumptions)
    assert "cannot see the weather" in told
    assert "The rate of Front is a guess" in told
    assert "Modes with an end date" in told
    assert "is a guess" not in " ".join(sheet_of(made_site()).assumptions)
    assert sheet_of(replace(site, place=replace(site.place, zone=CHICAGO))).cautions
