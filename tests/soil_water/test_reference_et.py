"""Weather becomes daily demand and its hourly share."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from made import CHICAGO, EVENING, made_weather, note_texts

from advisor.soil_water.reference_et import daily_reference_et, filled_past


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
