"""The usual year from past hours: means by local month, and the part of the rain that counts."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime

import numpy as np
import pytest
from made import CHICAGO, made_weather

from advisor.advice.clock_sheet import ClimateKind, CountedRain
from advisor.errors import CannotAdvise
from advisor.sentences.clock import climate_words
from advisor.soil_water.usual_year import LENGTHS, climate_of, counted_by_day, counted_by_month
from advisor.weather.weather import Weather

END = datetime(2026, 1, 1, tzinfo=CHICAGO)


def years(days: int = 366, rain_mm_d: float = 0.0) -> Weather:
    """Alike summer days, ending with 2025, each with so much rain in its first two hours (UTC)."""
    weather = made_weather(now=END, past_days=days, ahead_days=1)
    rain = np.zeros(weather.hours)
    rain[::24] = rain[1::24] = rain_mm_d / 2.0
    return replace(weather, rain_mm=rain)


@pytest.mark.parametrize(
    ("fell", "counts"),
    [
        pytest.param(2.54, 0.0, id="the first tenth of an inch is lost"),
        pytest.param(25.4, 22.86, id="up to an inch in full"),
        pytest.param(50.8, 22.86 + 16.93, id="two thirds of the second inch"),
        pytest.param(76.2, 22.86 + 16.93, id="nothing above two inches"),
    ],
)
def test_a_days_rain_counts_as_the_texas_extension_credits_it(fell: float, counts: float) -> None:
    assert float(counted_by_day(np.array([fell]))[0]) == pytest.approx(counts, abs=0.01)


def test_a_months_rain_counts_at_most_as_much_as_fell_and_more_counts_more() -> None:
    counted = [counted_by_month(float(mm)) for mm in range(0, 400)]
    assert all(c <= mm for mm, c in enumerate(counted))
    assert counted == sorted(counted)
    assert counted_by_month(70.0) == pytest.approx(0.8 * 70.0 - 24.0)  # the two lines meet


def test_a_usual_year_is_the_mean_of_its_months() -> None:
    climate = climate_of(years(rain_mm_d=10.0), CHICAGO, source="made")
    assert [m.month for m in climate.months] == list(range(1, 13))
    for month, length in zip(climate.months, LENGTHS, strict=True):
        assert month.rain_mm == pytest.approx(10.0 * length)
        assert month.counted_mm == pytest.approx((10.0 - 2.54) * length)
        assert month.tmin_c is not None
        assert 16.5 < month.tmin_c < 18.0
    assert climate.months[6].eto_mm_d > climate.months[0].eto_mm_d > 0.0
    assert climate.eto_month_mm()[0] == pytest.approx(31.0 * climate.months[0].eto_mm_d)
    basis = climate.basis
    assert (basis.kind, basis.counted_rain, basis.days) == (ClimateKind.HOURS, CountedRain.BY_DAY, 367)
    assert (basis.first, basis.last) == (date(2024, 12, 31), date(2026, 1, 1))
    assert "Means of 367 days from 2024-12-31 to 2026-01-01" in climate_words(basis)


def test_a_month_that_is_hardly_known_is_refused_by_name() -> None:
    weather = years(days=200)
    with pytest.raises(CannotAdvise, match="May and June have fewer in made"):
        climate_of(weather, CHICAGO, source="made")


def test_an_unknown_hour_of_rain_leaves_its_day_out_and_is_not_dry() -> None:
    weather = years(rain_mm_d=10.0)
    rain = weather.rain_mm.copy()
    rain[2400:2640] = np.nan
    climate = climate_of(replace(weather, rain_mm=rain), CHICAGO, source="made")
    assert [m.rain_mm for m in climate.months] == pytest.approx([10.0 * n for n in LENGTHS])
