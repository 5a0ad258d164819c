"""The owner's own season on made records whose numbers can be checked by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time, timedelta
from functools import cache

import numpy as np
import pytest
from made import CHICAGO, made_site, made_weather, made_zone

from advisor.advice import OwnSeason, OwnWay, WaterBeside
from advisor.errors import CannotAdvise
from advisor.faces.text import own_season_text
from advisor.lawn.records import ArchivedHour, Audit, GaugeReading, Records, Run
from advisor.lawn.site_values import Rules, Site, Supply
from advisor.replay.own_season import own_season, recorded_weather
from advisor.weather import new_hours
from advisor.wording import Say

FIRST, LAST = date(2026, 6, 1), date(2026, 6, 20)
SAY = Say("metric", CHICAGO, datetime(2026, 6, 30, 12, 0, tzinfo=CHICAGO))
NOW = datetime(2026, 6, 30, 12, 0, tzinfo=CHICAGO)
BIG, SMALL = made_zone("Big", area_m2=300.0), made_zone("Small", area_m2=100.0)
SITE = made_site(BIG, SMALL, supply=Supply(water_cost_per_m3=2.0))


def at(day: int, hour: int = 5, minute: int = 0) -> datetime:
    return datetime(2026, 6, day, hour, minute, tzinfo=CHICAGO)


@cache
def archive(rain_mm: float = 0.0) -> tuple[ArchivedHour, ...]:
    """All hours of June, the same sunny day again and again, with so much rain in the first hour of 10 June."""
    weather = made_weather(now=datetime(2026, 7, 1, tzinfo=CHICAGO), past_days=31, ahead_days=1)
    rain = weather.rain_mm.copy()
    rain[weather.index_at(at(10, 0))] = rain_mm
    return new_hours(replace(weather, rain_mm=rain), (), datetime(2026, 7, 1, tzinfo=CHICAGO))


def run(zone: str, day: int, minutes: float, depth_mm: float | None = None) -> Run:
    return Run(zone, at(day), at(day) + timedelta(minutes=minutes), minutes, depth_mm)


RUNS = (run("Big", 8, 60.0), run("Big", 14, 30.0), run("Small", 12, 45.0, 10.0))


def told(records: Records, site: Site = SITE, **asked: object) -> OwnSeason:
    return own_season(site=site, records=records, now=NOW, first=FIRST, last=LAST, **asked)  # type: ignore[arg-type]


@cache
def plain() -> OwnSeason:
    return told(Records(runs=RUNS, archive=archive()))


def row(own: OwnSeason, way: str) -> OwnWay:
    return next(each for each in own.ways if each.way == way)


def test_the_water_put_on_is_minutes_by_rate_by_area() -> None:
    """12 mm/h: 60 and 30 minutes are 12 and 6 mm on 300 m²; 10 mm on 100 m². 1 mm on 1 m² is 1 L."""
    mine = row(plain(), "as it was")
    assert mine.litres == pytest.approx((12 + 6) * 300 + 10 * 100)
    assert mine.water_mm == pytest.approx(6400 / 400)
    assert mine.cost == pytest.approx(6400 / 1000 * 2.0)
    assert mine.runs == 1.5
    assert (plain().runs_recorded, plain().nights, plain().known, plain().by_gauge) == (3, 20, 1.0, 0.0)


def test_grass_watered_every_morning_is_never_short_and_is_owed_the_last_day() -> None:
    """30 mm a morning fill the soil; in the evening about one day's demand is owed, for the drier part too."""
    daily = tuple(run(zone, day, 90.0, 30.0) for zone in ("Big", "Small") for day in range(2, 22))
    own = told(Records(runs=daily, archive=archive()))
    mine = row(own, "as it was")
    best = row(own, "perfect foresight")
    assert best.litres + best.owed_litres < 0.4 * mine.litres
    multiplier = 1.0 / (0.4 + 0.6 * 0.7)  # of a uniformity of 70 %
    assert mine.unmet_mm == pytest.approx(0.0, abs=0.1)
    assert mine.water_mm == pytest.approx(20 * 30.0)
    assert mine.owed_mm == pytest.approx(multiplier * plain().demand_mm / 20, rel=0.15)


def test_one_who_waters_nothing_is_not_outdone() -> None:
    own = told(Records(archive=archive()))
    mine, best = row(own, "as it was"), row(own, "perfect foresight")
    assert (mine.litres, own.runs_recorded) == (0.0, 0)
    assert best.litres + best.owed_litres == pytest.approx(mine.owed_litres, rel=0.02)
    assert best.beside is WaterBeside.AS_MUCH
    assert "as much as yours" in next(each for each in own.sentences if each.startswith("One who"))


def test_rain_known_by_the_gauge_stands_before_the_archive() -> None:
    own = told(
        Records(
            runs=RUNS,
            archive=archive(30.0),
            gauge=(GaugeReading(at(11, 7), 18.0, since=at(9, 7)),),
        )
    )
    assert own.rain_mm == pytest.approx(18.0)
    assert own.by_gauge == pytest.approx(48 / (20 * 24), abs=0.002)
    assert row(own, "as it was").owed_mm < row(plain(), "as it was").owed_mm


def test_an_audit_among_the_records_is_the_rate() -> None:
    audit = Audit("Big", at(1, 0), rate_mm_h=24.0, uniformity=0.7)
    mine = row(told(Records(runs=RUNS, archive=archive(), audits=(audit,))), "as it was")
    assert mine.litres == pytest.approx((24 + 12) * 300 + 10 * 100)


def test_foresight_needs_no_more_and_leaves_no_more_unmet() -> None:
    mine, best = row(plain(), "as it was"), row(plain(), "perfect foresight")
    assert best.unmet_mm <= mine.unmet_mm + 1e-6
    assert best.litres + best.owed_litres <= 1.001 * (
        mine.litres + mine.owed_litres
    )  # nothing drains, so nothing can be spared


def test_every_way_is_compared_by_its_water_with_what_is_owed() -> None:
    """Water put on, with what fills the soil again, is what rain did not bring of the demand met and of what drained:
    the same sum holds of every way, and of its money."""
    own = plain()
    for way in own.ways:
        whole = way.litres + way.owed_litres
        assert way.owed_litres > 0.0
        assert way.cost_with_owed == pytest.approx(whole / 1000 * 2.0, abs=0.01)
        multiplier = 1.0 / (0.4 + 0.6 * 0.7)
        assert whole / 400 >= multiplier * (own.demand_mm - own.rain_mm - way.unmet_mm) - 0.1
    text = " ".join(own_season_text(SAY, own, width=92).split())
    best, mine = row(own, "perfect foresight"), row(own, "as it was")
    for way in (best, mine):
        assert f"{way.litres + way.owed_litres:,.0f} L = " in text
    assert "With what is owed Cost of that" in text
    assert "Water and money are compared with what it takes to fill the soil again at the end" in text
    assert "counted in" not in text


def test_foresight_is_not_put_beside_grass_that_no_course_keeps_as_well() -> None:
    """On Tuesdays alone a run may be made; an owner who ran at noon every day was never short."""
    site = made_site(SMALL, BIG, rules=Rules(hours=SITE.rules.hours, weekdays=frozenset({1})))
    daily = tuple(
        Run("Small", at(day, 12), at(day, 12) + timedelta(minutes=90), 90.0, 10.0) for day in range(1, 22)
    )
    own = told(Records(runs=daily, archive=archive()), site=site)
    best = row(own, "perfect foresight")
    assert best.beside is WaterBeside.NOT_COMPARABLE
    assert best.shorter_zones == ("Small",)
    (words,) = (each for each in own.sentences if each.startswith("One who had known"))
    assert "cannot be put beside yours: on Small even the course" in words
    assert "as well with" not in words


def test_running_whenever_the_soil_asks_leaves_the_grass_well_watered() -> None:
    always = row(plain(), "always running")
    assert always.unmet_mm < 0.25 * row(plain(), "as it was").unmet_mm
    assert always.litres > row(plain(), "as it was").litres


def test_the_clock_is_there_where_a_usual_year_is() -> None:
    from advisor.usual_year import usual_year

    climate = usual_year(SITE, NOW, demo=True)
    own = told(Records(runs=RUNS, archive=archive()), climate=climate)
    assert [way.way.value for way in own.ways] == [
        "as it was",
        "always running",
        "the clock",
        "perfect foresight",
    ]
    assert row(own, "the clock").litres > 0
    assert any("clock set by the usual year" in each for each in own.sentences)


def test_without_a_price_no_money_is_told() -> None:
    own = told(Records(runs=RUNS, archive=archive()), site=replace(SITE, supply=Supply()))
    assert {way.cost for way in own.ways} == {None}
    assert not any("currency" in each for each in own.sentences)
    whole = row(plain(), "as it was").cost_with_owed
    assert f"{whole:.2f} of your currency" in plain().sentences[0]
    assert not any("money" in each for each in own.sentences)


def test_all_that_is_archived_is_told_if_no_dates_are_given() -> None:
    own = own_season(site=SITE, records=Records(archive=archive()), now=NOW)
    begins = min(hour.starts_at for hour in archive()).astimezone(CHICAGO).date()
    assert own.first == begins + timedelta(days=1)
    assert own.last == NOW.date() - timedelta(days=2)
    assert any("No run is recorded" in each for each in own.sentences)


@pytest.mark.parametrize(
    ("records", "why"),
    [
        (Records(runs=RUNS), "no weather has been kept in the records"),
        (Records(archive=tuple(h for h in archive() if h.starts_at.day % 3)), "at least 80% are needed"),
    ],
    ids=["nothing kept", "too many gaps"],
)
def test_what_is_known_too_little_is_refused(records: Records, why: str) -> None:
    with pytest.raises(CannotAdvise, match=why):
        told(records)


def test_a_short_time_is_refused() -> None:
    with pytest.raises(CannotAdvise, match=r"of 5 nights.*at least 14 nights"):
        own_season(site=SITE, records=Records(archive=archive()), now=NOW, first=FIRST, last=date(2026, 6, 5))


def test_a_season_longer_than_the_advice_looks_back_is_known_whole() -> None:
    begin = datetime.combine(date(2026, 6, 1), time(0), CHICAGO) - timedelta(days=60)
    old = ArchivedHour(begin, 3.0, temp_c=12.0)
    weather = recorded_weather(SITE, Records(archive=(old, *archive())), begin, NOW)
    assert weather.rain_mm[0] == 3.0
    assert np.isnan(weather.rain_mm[1])
    assert weather.hours == (NOW - begin) // timedelta(hours=1)
