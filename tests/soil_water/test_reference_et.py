"""Weather becomes daily demand and its hourly share."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from made import CHICAGO, EVENING, made_weather, note_texts

from advisor.advice import Variable
from advisor.advice.notes import NoteKind
from advisor.science.radiation import extraterrestrial_radiation
from advisor.soil_water.reference_et import ReferenceET, _skies, daily_reference_et, filled_past


def test_the_hours_of_a_day_add_up_to_the_day() -> None:
    demand = daily_reference_et(made_weather(), CHICAGO)
    inner = range(2, len(demand.days) - 2)
    for day in inner:
        assert demand.eto_mm[demand.day_index == day].sum() == pytest.approx(demand.eto_day_mm[day], abs=1e-9)
        assert 3.0 < demand.eto_day_mm[day] < 9.0


def test_a_day_cut_off_by_the_end_of_the_series_is_unknown() -> None:
    demand = daily_reference_et(made_weather(now=EVENING - timedelta(hours=8)), CHICAGO)
    assert np.isnan(demand.eto_day_mm[-1])
    assert np.isnan(demand.eto_day_mm[0])


def test_night_hours_carry_no_demand_where_there_is_light_by_day() -> None:
    weather = made_weather()
    demand = daily_reference_et(weather, CHICAGO)
    dark = (weather.rs_mj_m2_h == 0) & np.isfinite(demand.eto_mm)
    assert dark.any()
    assert demand.eto_mm[dark].max() == 0.0


@pytest.mark.parametrize("known", ["cloud", "nothing"])
def test_hours_of_unknown_light_carry_the_demand_by_day_and_none_by_night(known: str) -> None:
    weather = made_weather()
    unknown = np.full(weather.hours, np.nan)
    poorer = replace(weather, rs_mj_m2_h=unknown, cloud=weather.cloud if known == "cloud" else unknown)
    demand = daily_reference_et(poorer, CHICAGO)
    dark = (weather.rs_mj_m2_h == 0) & np.isfinite(demand.eto_mm)
    assert (
        demand.eto_mm[dark].max() < 0.1
    )  # some minutes of sun at the ends of the day; spread evenly it is 0.2
    assert demand.eto_mm[~dark & np.isfinite(demand.eto_mm)].max() > 0.4


def test_cloud_by_night_dims_nothing() -> None:
    weather = made_weather()
    unknown = np.full(weather.hours, np.nan)
    night = weather.rs_mj_m2_h == 0
    clear = replace(weather, rs_mj_m2_h=unknown, cloud=np.zeros(weather.hours))
    clouded = replace(clear, cloud=np.where(night, 1.0, 0.0))
    ours, same = (daily_reference_et(each, CHICAGO).eto_day_mm[2:-2] for each in (clear, clouded))
    assert same == pytest.approx(ours, rel=0.02)


@pytest.mark.parametrize(
    ("series", "words"),
    [
        ("dew_c", "dew point taken as the night's minimum"),
        ("wind10_m_s", "Wind unknown"),
        ("rs_mj_m2_h", "from cloud cover"),
    ],
)
def test_a_missing_series_is_replaced_by_a_named_rule(series: str, words: str) -> None:
    weather = made_weather()
    poorer = replace(weather, **{series: np.full(weather.hours, np.nan)})
    demand = daily_reference_et(poorer, CHICAGO)
    assert any(words in text for text in note_texts(demand.notes))
    assert np.isfinite(demand.eto_day_mm[2:-2]).all()


def test_unknown_past_days_are_filled_with_the_mean_and_told() -> None:
    weather = made_weather()
    temp = weather.temp_c.copy()
    temp[100:200] = np.nan
    demand = daily_reference_et(replace(weather, temp_c=temp), CHICAGO)
    filled = filled_past(demand, weather.index_at(EVENING))
    assert np.isnan(demand.eto_mm[120])
    assert np.isfinite(filled.eto_mm[: weather.index_at(EVENING)]).all()
    assert any("mean of the known days" in text for text in note_texts(filled.notes))


@pytest.mark.parametrize(
    ("series", "value", "words"),
    [
        ("dew_c", 60.0, "More vapour than the air can hold"),
        ("rs_mj_m2_h", 20.0, "More radiation than the sun gives"),
        ("wind10_m_s", 70.0, "No daily mean wind"),
    ],
)
def test_what_cannot_be_is_dropped_and_told(series: str, value: float, words: str) -> None:
    weather = made_weather()
    demand = daily_reference_et(replace(weather, **{series: np.full(weather.hours, value)}), CHICAGO)
    assert any(words in text for text in note_texts(demand.notes))
    assert np.isfinite(demand.eto_day_mm[2:-2]).all()


def unknown_on(series: np.ndarray, demand: ReferenceET, days: list[int]) -> np.ndarray:
    """The series without a value on these days."""
    return np.where(np.isin(demand.day_index, days), np.nan, series)


@pytest.mark.parametrize("days", [[5], [5, 6, 20], [0, 5]], ids=["one", "three", "a day cut off is none"])
def test_the_days_on_which_a_rule_stood_in_are_counted(days: list[int]) -> None:
    weather = made_weather()
    demand = daily_reference_et(weather, CHICAGO)
    whole = len([day for day in days if day > 0])
    for series, kind in (
        ("dew_c", NoteKind.ETO_DEW_FROM_MINIMUM),
        ("wind10_m_s", NoteKind.ETO_WIND_ASSUMED),
        ("rs_mj_m2_h", NoteKind.ETO_RADIATION_FROM_CLOUD),
        ("temp_c", NoteKind.ETO_UNKNOWN),
    ):
        poorer = replace(weather, **{series: unknown_on(getattr(weather, series), demand, days)})
        notes = daily_reference_et(poorer, CHICAGO).notes
        assert [(note.kind, note.days) for note in notes] == [(kind, whole)], series
    dark = replace(
        weather,
        rs_mj_m2_h=unknown_on(weather.rs_mj_m2_h, demand, days),
        cloud=unknown_on(weather.cloud, demand, days),
    )
    (note,) = daily_reference_et(dark, CHICAGO).notes
    assert (note.kind, note.days) == (NoteKind.ETO_RADIATION_FROM_RANGE, whole)


def test_unknown_hours_are_filled_to_the_end_of_today_and_no_further() -> None:
    weather = made_weather()
    now_hour = weather.index_at(EVENING)
    demand = daily_reference_et(weather, CHICAGO)
    today = int(demand.day_index[now_hour])
    days = [8, 9, today, today + 1]
    temp = unknown_on(weather.temp_c, demand, days)
    poorer = daily_reference_et(replace(weather, temp_c=temp), CHICAGO)
    filled = filled_past(poorer, now_hour)
    mean = np.nanmean(poorer.eto_day_mm) / 24.0
    for day in days[:-1]:
        assert filled.eto_mm[demand.day_index == day] == pytest.approx(mean)
    assert np.isnan(filled.eto_mm[demand.day_index == today + 1]).all()
    known = np.isfinite(poorer.eto_mm)
    assert np.array_equal(filled.eto_mm[known], poorer.eto_mm[known])
    (note,) = [note for note in filled.notes if note.kind == NoteKind.ETO_FILLED]
    assert note.days == len({*days[:-1], *poorer.day_index[:now_hour][~known[:now_hour]]})
    assert filled_past(filled, now_hour) is filled


@pytest.mark.parametrize(("wind", "dropped"), [(-0.1, True), (0.0, False), (30.0, False), (30.1, True)])
def test_a_daily_mean_wind_up_to_thirty_metres_a_second_is_believed(wind: float, dropped: bool) -> None:
    weather = made_weather()
    blown = replace(weather, wind10_m_s=np.full(weather.hours, wind))
    notes = daily_reference_et(blown, CHICAGO).notes
    assert [n.variable for n in notes if n.kind == NoteKind.DAYS_IMPOSSIBLE] == [Variable.WIND] * dropped


@pytest.mark.parametrize(("more", "dropped"), [(-0.1, False), (0.9, False), (1.1, True)])
def test_a_days_light_may_be_as_much_as_the_sun_gives_and_a_megajoule_for_rounding(
    more: float, dropped: bool
) -> None:
    """FAO-56 eq. 21 gives what reaches the top of the air on the day; the day has 24 equal hours here."""
    weather = made_weather()
    demand = daily_reference_et(weather, CHICAGO)
    day_of_year = (demand.days - demand.days.astype("datetime64[Y]")).astype(int) + 1
    sun = extraterrestrial_radiation(latitude_deg=weather.latitude_deg, day_of_year=day_of_year)
    light = (sun[demand.day_index] + more) / 24.0
    notes = daily_reference_et(replace(weather, rs_mj_m2_h=light), CHICAGO).notes
    told = [(n.variable, n.days) for n in notes if n.kind == NoteKind.DAYS_IMPOSSIBLE]
    assert [variable for variable, _ in told] == [Variable.RADIATION] * dropped
    assert all(days >= len(demand.days) - 2 for _, days in told)


def test_clouds_dim_every_hour_of_sun_and_the_lowest_sun_too() -> None:
    """Under a full cover a quarter of the clear sky's light comes (Kasten and Czeplak), at noon and at dawn."""
    weather = made_weather()
    covered = replace(weather, cloud=np.ones(weather.hours))
    clear, clouded = _skies(covered)
    assert clouded == pytest.approx(0.25 * clear)
    assert 0.0 < clear[clear > 0.0].min() < 0.5 < 2.0 < clear.max()
    by_night = replace(weather, cloud=np.where(clear > 0.0, 0.0, np.nan))
    assert _skies(by_night)[1] == pytest.approx(clear)


@pytest.mark.parametrize(("missing", "known"), [(1, True), (4, True), (5, False)])
def test_a_day_needs_four_fifths_of_its_hours(missing: int, known: bool) -> None:
    """Of 24 hours 20 are enough, 19 are not; the night's and the noon's hours are left as they are."""
    weather = made_weather()
    whole = daily_reference_et(weather, CHICAGO)
    hours = np.flatnonzero(whole.day_index == 7)[8 : 8 + missing]
    temp = weather.temp_c.copy()
    temp[hours] = np.nan
    found = daily_reference_et(replace(weather, temp_c=temp), CHICAGO)
    assert (found.tmin_c[7], found.tmax_c[7]) == (
        pytest.approx((whole.tmin_c[7], whole.tmax_c[7]))
        if known
        else (pytest.approx(np.nan, nan_ok=True),) * 2
    )
    light = weather.rs_mj_m2_h.copy()
    light[hours] = np.nan
    lit = daily_reference_et(replace(weather, rs_mj_m2_h=light), CHICAGO)
    assert bool(lit.stand_ins[7]) == (not known)
