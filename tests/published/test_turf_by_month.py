"""The turf coefficient of a day, as the balance hands it out, against the printed months and FAO-56's straight line."""

from __future__ import annotations

from datetime import date, datetime, time
from functools import cache

import numpy as np
import pytest
from made import CHICAGO, made_site, made_weather, made_zone

from advisor.lawn.records import Records
from advisor.lawn.tables import turf_table
from advisor.soil_water.root_zone import survey
from advisor.tonight.advise import advise

SOURCE = (
    "University of California Center for Landscape and Urban Horticulture, table 1, after Meyer et al. 1985; "
    "FAO-56 eq. 66: between two dates the coefficient moves in a straight line. That a month's value holds at "
    "its middle and the line runs from middle to middle is common practice, no source: the table is printed by "
    "month and says nothing of the days in between"
)

PRINTED = {
    "tall fescue": "0.61 0.64 0.75 1.04 0.95 0.88 0.94 0.86 0.74 0.75 0.69 0.60",
    "bermudagrass": "0.61 0.54 0.76 0.72 0.79 0.68 0.71 0.71 0.62 0.54 0.58 0.55",
}


def printed(grass: str) -> list[float]:
    return [float(word) for word in PRINTED[grass].split()]


@cache
def of_the_year(grass: str) -> dict[date, float]:
    """The coefficients that the survey of a lawn in full sun has for every day of 2025."""
    now = datetime.combine(date(2025, 12, 31), time(18), CHICAGO)
    weather = made_weather(now=now, past_days=366, ahead_days=3)
    lawn = made_site(made_zone(turf=turf_table()[grass]))
    ground = survey(site=lawn, records=Records(), weather=weather, now=now)
    days = [day.astype(object) for day in ground.reference_et.days]
    return {day: float(kc) for day, kc in zip(days, ground.kc[0], strict=True) if day.year == 2025}


@pytest.mark.parametrize("grass", PRINTED)
def test_the_middle_of_a_month_has_the_printed_value(grass: str) -> None:
    # The middle of 31 days is noon of the 16th; of 30 days the midnight before the 16th; of 28 that before the 15th.
    year = of_the_year(grass)
    middles = {28: (14, 15), 30: (15, 16), 31: (16, 16)}
    for month, value in enumerate(printed(grass), start=1):
        length = (date(2025 + month // 12, month % 12 + 1, 1) - date(2025, month, 1)).days
        around = [year[date(2025, month, day)] for day in middles[length]]
        assert float(np.mean(around)) == pytest.approx(value, abs=0.005)  # half a day beside it


@pytest.mark.parametrize(
    ("day", "kc"),
    [
        pytest.param(date(2025, 4, 1), 0.902, id="1 April"),
        pytest.param(date(2025, 9, 1), 0.797, id="1 September"),
        pytest.param(date(2025, 12, 31), 0.605, id="31 December"),
    ],
)
def test_between_two_months_the_line_of_eq_66_is_as_worked_by_hand(day: date, kc: float) -> None:
    """Noon of the day, tall fescue.

    Kc = Kc prev + (i − Σ L prev) / L · (Kc next − Kc prev):
    1 April: from 16.5 March 30.5 days to 16.0 April; 0.75 + 16.0 / 30.5 · 0.29 = 0.9021.
    1 September: from 16.5 August 30.5 days to 16.0 September; 0.86 − 16.0 / 30.5 · 0.12 = 0.7970.
    31 December: from 16.5 December 31 days to 16.5 January; 0.60 + 15.0 / 31 · 0.01 = 0.6048.
    """
    assert of_the_year("tall fescue")[day] == pytest.approx(kc, abs=5e-4)


def test_the_advice_hands_the_same_coefficient_out_times_what_the_zone_sees_of_the_sky() -> None:
    now = datetime.combine(date(2025, 4, 2), time(18), CHICAGO)
    zone = made_zone(turf=turf_table()["tall fescue"], exposure=0.7)
    advice = advise(site=made_site(zone), records=Records(), weather=made_weather(now=now), now=now)
    (line,) = [term for term in advice.zones[0].terms if term.day == date(2025, 4, 1)]
    assert line.kc == pytest.approx(0.7 * 0.9021, abs=5e-4)
    assert line.etc_mm == pytest.approx(line.ks * line.kc * line.eto_mm, rel=1e-6)


@pytest.mark.parametrize("grass", PRINTED)
def test_straight_lines_keep_the_printed_year_and_nearly_each_month(grass: str) -> None:
    """Lines from middle to middle cut peaks: the greatest month loses some hundredths, the year nothing."""
    year = of_the_year(grass)
    by_month = [np.mean([kc for day, kc in year.items() if day.month == month]) for month in range(1, 13)]
    assert np.abs(np.array(by_month) - printed(grass)).max() < 0.06
    assert np.mean(list(year.values())) == pytest.approx(np.mean(printed(grass)), abs=0.003)


# The tempting mistakes.


def test_a_month_held_from_its_first_day_to_its_last_would_be_seen() -> None:
    year = of_the_year("tall fescue")
    assert abs(year[date(2025, 4, 1)] - 1.04) > 0.1
    steps = np.abs(np.diff([year[day] for day in sorted(year)]))
    assert steps.max() <= 0.29 / 30.0


def test_a_month_that_holds_on_its_first_day_would_be_seen() -> None:
    assert abs(of_the_year("tall fescue")[date(2025, 4, 16)] - 1.04) < 0.01


def test_the_shipped_rows_are_the_printed_ones() -> None:
    for grass in PRINTED:
        assert list(turf_table()[grass].kc_month) == printed(grass)
    seasons = {row.season: row.kc_month for row in turf_table().values()}
    assert all(list(row.kc_month) == list(seasons[row.season]) for row in turf_table().values())
