"""A year of hours, and days by independent code. No printed values here: agreement of two programs.

The hours are made of days, so that any place on Earth has some; for hours of real weather see test_hours_to_days.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC

import numpy as np
import pytest
import refet

from advisor.science import evapotranspiration as et
from advisor.science import radiation
from advisor.soil_water.reference_et import daily_reference_et
from advisor.weather.weather import blank

SOURCE = "refet, independent code for the ASCE-EWRI (2005) standardized short reference, method 'asce'"

DAYS = np.arange("2024-01-01", "2025-01-01", dtype="datetime64[D]")
PLACES = {
    "39° N, 268 m": (39.0, 268.0),
    "34° S, 20 m": (-34.0, 20.0),
    "equator, 2800 m": (0.0, 2800.0),
    "60° N, 5 m": (60.0, 5.0),
}


def invented_year(latitude_deg: float, elevation_m: float) -> dict[str, np.ndarray]:
    """A coherent year for any place: seasons from its own sun, days from a fixed random stream."""
    rng = np.random.default_rng(56)
    ra = radiation.extraterrestrial_radiation(latitude_deg=latitude_deg, day_of_year=np.arange(1, 367))
    mean = ra - 14.0 - elevation_m / 160.0 + rng.normal(0, 3, DAYS.size)
    span = rng.uniform(5, 16, DAYS.size)
    tmin = mean - span / 2
    return {
        "tmax_c": mean + span / 2,
        "tmin_c": tmin,
        "ea_kpa": et.actual_vapour_pressure(tmin - rng.uniform(0, 6, DAYS.size)),
        "u2_m_s": rng.uniform(0.6, 7, DAYS.size),
        "rs_mj_m2_d": radiation.clear_sky_radiation(ra=ra, elevation_m=elevation_m)
        * rng.uniform(0.25, 1, DAYS.size),
    }


def by_the_program(year: dict[str, np.ndarray], latitude_deg: float, elevation_m: float) -> np.ndarray:
    """The year written as hours that keep each day's values, through the way that the balance takes."""
    starts = DAYS[0].astype("datetime64[s]") + np.arange(24 * DAYS.size) * np.timedelta64(3600, "s")
    warm = np.arange(starts.size) % 24 >= 12
    each = {name: np.repeat(values, 24) for name, values in year.items()}
    x = np.log(each["ea_kpa"] / 0.6108)
    weather = replace(
        blank(latitude_deg, 0.0, elevation_m, starts, 0),
        temp_c=np.where(warm, each["tmax_c"], each["tmin_c"]),
        dew_c=237.3 * x / (17.27 - x),
        wind10_m_s=each["u2_m_s"] * np.log(67.8 * 10.0 - 5.42) / 4.87,
        rs_mj_m2_h=np.where(warm, each["rs_mj_m2_d"] / 12.0, 0.0),
    )
    return daily_reference_et(weather, UTC).eto_day_mm


@pytest.mark.parametrize(("latitude_deg", "elevation_m"), PLACES.values(), ids=PLACES.keys())
def test_a_year_of_days_agrees_with_independent_code(latitude_deg: float, elevation_m: float) -> None:
    year = invented_year(latitude_deg, elevation_m)
    ours = by_the_program(year, latitude_deg, elevation_m)
    theirs = refet.Daily(
        tmin=year["tmin_c"],
        tmax=year["tmax_c"],
        ea=year["ea_kpa"],
        rs=year["rs_mj_m2_d"],
        uz=year["u2_m_s"],
        zw=2.0,
        elev=elevation_m,
        lat=latitude_deg,
        doy=np.arange(1, 367),
        method="asce",
    ).eto()
    difference = ours - np.maximum(theirs, 0.0)  # ours is never below zero
    assert np.nanmean(np.abs(difference)) < 0.005
    assert np.nanmax(np.abs(difference)) < 0.02
    assert np.nanmean(ours) > 0.8  # a year of zeros would agree too
