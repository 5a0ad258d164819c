from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from made import JUDGED, note_texts

from advisor.weather.quality import disagreement, eto_difference, expected_rain, screen
from advisor.weather.weather import SourceUse, Weather, blank, hours_between

START = datetime(2026, 6, 17, tzinfo=UTC)


def _weather(hours: int = 96, **series: Any) -> Weather:
    """A fair day after another, every series known."""
    clock = np.arange(hours)
    base = blank(47.0, 8.0, 400.0, hours_between(START, START + timedelta(hours=hours)), 3)
    sun = np.clip(np.sin((clock % 24 - 6) / 12 * np.pi), 0.0, None)
    fair = {
        "temp_c": 16.0 + 6.0 * sun + 0.01 * clock,
        "dew_c": 9.0 + 0.01 * clock,
        "wind10_m_s": 2.0 + sun,
        "rs_mj_m2_h": 2.8 * sun,
        "rain_mm": np.zeros(hours),
        "snow_mm": np.zeros(hours),
        "cloud": 0.3 + 0.2 * sun,
        "chance": np.full(hours, 0.1),
        "eto_source_mm": 0.4 * sun,
        "members_mm": np.zeros((3, hours)),
        "rain_basis": np.full(hours, "model", dtype="<U8"),
    }
    return replace(base, **(fair | series))


def _with(name: str, values: dict[int, float], hours: int = 96) -> Weather:
    weather = _weather(hours)
    series = getattr(weather, name).copy()
    for index, value in values.items():
        series[..., index] = value
    return replace(weather, **{name: series})


def test_sound_weather_passes_untouched() -> None:
    weather = _weather()
    assert screen(weather) is weather


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("temp_c", 130.0),
        ("temp_c", -273.0),
        ("wind10_m_s", 467.0),
        ("wind10_m_s", -3.0),
        ("rs_mj_m2_h", 300.0),
        ("rs_mj_m2_h", -1.0),
        ("cloud", 35.0),
        ("temp_c", float("inf")),
    ],
    ids=["hot", "absolute zero", "gale", "negative wind", "W/m²", "negative sun", "percent", "infinite"],
)
def test_a_value_out_of_range_is_dropped_told_and_the_short_gap_filled(name: str, value: float) -> None:
    clean = _weather()
    screened = screen(_with(name, {30: value}))
    assert getattr(screened, name)[30] == pytest.approx(getattr(clean, name)[[29, 31]].mean())
    assert [note.level for note in screened.notes] == ["dropped", "repaired"]
    assert "Thu 18 Jun 2026 06:00" in note_texts(screened.notes)[0]


@pytest.mark.parametrize("value", [-0.5, 400.0], ids=["negative", "a year's rain in an hour"])
def test_impossible_rain_becomes_unknown_and_is_never_filled_in(value: float) -> None:
    screened = screen(_with("rain_mm", {40: value}))
    assert np.isnan(screened.rain_mm[40])
    assert screened.rain_basis[40] == ""
    assert np.isfinite(np.delete(screened.rain_mm, 40)).all()
    assert [note.level for note in screened.notes] == ["dropped"]


def test_impossible_members_become_unknown() -> None:
    screened = screen(_with("members_mm", {50: -1.0}))
    assert np.isnan(screened.members_mm[:, 50]).all()
    assert "Rain members: 1 hour" in note_texts(screened.notes)[0]


def test_a_rain_gap_stays_unknown_and_is_not_dry() -> None:
    screened = screen(_with("rain_mm", {20: np.nan}))
    assert np.isnan(screened.rain_mm[20])


def test_one_hour_that_leaps_away_from_both_neighbours_is_taken_out() -> None:
    screened = screen(_with("temp_c", {33: 45.0}))
    assert screened.temp_c[33] == pytest.approx(screened.temp_c[[32, 34]].mean())
    assert "leap" in note_texts(screened.notes)[0]


def test_a_step_that_lasts_is_kept_with_a_warning() -> None:
    weather = _weather()
    temp = np.where(np.arange(96) < 50, weather.temp_c + 20.0, weather.temp_c)
    screened = screen(replace(weather, temp_c=temp))
    assert np.array_equal(screened.temp_c, temp)
    assert [note.level for note in screened.notes] == ["warning"]
    assert screen(screened) is screened  # and is told once only


@pytest.mark.parametrize(
    ("name", "value"), [("temp_c", 18.3), ("dew_c", 12.1), ("rain_mm", 1.2)], ids=["temp", "dew", "rain"]
)
def test_a_line_that_stands_still_for_a_day_is_left_out(name: str, value: float) -> None:
    screened = screen(_with(name, dict.fromkeys(range(24, 50), value)))
    assert np.isnan(getattr(screened, name)[24:50]).all()
    assert "26 hours" in note_texts(screened.notes)[0]
    assert "the same value" in note_texts(screened.notes)[0]


def test_a_dry_day_is_not_a_line_that_stands_still() -> None:
    assert (screen(_weather()).rain_mm == 0.0).all()


@pytest.mark.parametrize("gap", [1, 3], ids=["one hour", "three hours"])
def test_a_short_gap_is_filled_by_a_straight_line_and_told(gap: int) -> None:
    screened = screen(_with("temp_c", dict.fromkeys(range(48, 48 + gap), np.nan)))
    assert screened.temp_c[48 : 48 + gap] == pytest.approx(
        np.interp(np.arange(48, 48 + gap), [47, 48 + gap], screened.temp_c[[47, 48 + gap]])
    )
    assert screened.notes[0].level == "repaired"
    assert "filled by a straight line" in note_texts(screened.notes)[0]


def test_a_long_gap_and_an_open_end_stay_unknown() -> None:
    long = dict.fromkeys(range(48, 52), np.nan) | {95: np.nan}
    screened = screen(_with("temp_c", long))
    assert np.isnan(screened.temp_c[[48, 49, 50, 51, 95]]).all()
    assert screened.notes == ()


def test_a_dew_point_just_above_the_temperature_is_set_to_it_and_one_far_above_dropped() -> None:
    weather = _weather()
    dew = weather.dew_c.copy()
    dew[2], dew[5] = weather.temp_c[2] + 0.4, weather.temp_c[5] + 5.0
    screened = screen(replace(weather, dew_c=dew))
    assert screened.dew_c[2] == weather.temp_c[2]
    assert screened.dew_c[5] == pytest.approx(dew[[4, 6]].mean())


def test_each_kind_of_repair_is_one_line_however_many_hours() -> None:
    screened = screen(_with("wind10_m_s", dict.fromkeys(range(0, 60, 5), 99.0)))
    assert len([note for note in screened.notes if note.level == "dropped"]) == 1
    assert "12 hours (first Wed 17 Jun 2026 00:00)" in note_texts(screened.notes)[0]


def _said(name: str, total: float, known: int = 12) -> Weather:
    members = np.full((3, 96), np.nan)
    members[:, :known] = total / 12
    use = SourceUse(name, "forecast", START, START)
    return _weather(members_mm=members, sources=(use,))


@pytest.mark.parametrize(
    ("one", "other", "wild"),
    [(0.0, 6.0, True), (2.0, 8.0, True), (6.0, 12.0, False), (0.2, 1.5, False)],
    ids=["none against six", "two against eight", "six against twelve", "trifles"],
)
def test_only_a_wild_disagreement_about_the_rain_is_told(one: float, other: float, wild: bool) -> None:
    note = disagreement(
        [_said("first", one), _said("second", other)], START, START + timedelta(hours=12), JUDGED.rain
    )
    assert (note is not None) is wild
    if note is not None:
        assert f"first expects {one:.1f} mm, second {other:.1f} mm" in note_texts([note])[0]


def test_a_source_that_does_not_know_the_night_has_no_say_in_it() -> None:
    weathers = [_said("first", 0.0), _said("second", 30.0, known=8)]
    assert disagreement(weathers, START, START + timedelta(hours=12), JUDGED.rain) is None


def test_expected_rain_is_the_mean_of_members_else_the_amount() -> None:
    members = np.zeros((3, 96))
    members[0, :4] = 3.0
    until = START + timedelta(hours=4)
    assert expected_rain(_weather(members_mm=members), START, until) == (4.0, 1.0)
    alone = _weather(members_mm=np.full((0, 96), np.nan), rain_mm=np.full(96, 0.5))
    assert expected_rain(alone, START, until) == (2.0, 1.0)


def test_a_difference_of_eto_above_15_percent_is_told_with_its_numbers() -> None:
    source = np.full(48, 0.2)
    assert eto_difference(source * 1.14, source) is None
    note = eto_difference(source * 1.3, source)
    assert note is not None
    assert "12.5 mm" in note_texts([note])[0]
    assert "30 %" in note_texts([note])[0]


def test_eto_is_compared_only_where_both_are_known() -> None:
    source = np.full(48, 0.2)
    source[:30] = np.nan
    assert eto_difference(np.full(48, 9.0), source) is None
