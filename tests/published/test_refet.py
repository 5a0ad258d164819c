"""A year of days through independent code. No printed values here: agreement of two programs."""

from __future__ import annotations

import numpy as np
import pytest
import refet

from advisor.science import evapotranspiration as et

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
    ra = et.extraterrestrial_radiation(latitude_deg=latitude_deg, day_of_year=np.arange(1, 367))
    mean = ra - 14.0 - elevation_m / 160.0 + rng.normal(0, 3, DAYS.size)
    span = rng.uniform(5, 16, DAYS.size)
    tmin = mean - span / 2
    return {
        "tmax_c": mean + span / 2,
        "tmin_c": tmin,
        "ea_kpa": et.actual_vapour_pressure(tmin - rng.uniform(0, 6, DAYS.size)),
        "u2_m_s": rng.uniform(0.6, 7, DAYS.size),
        "rs_mj_m2_d": et.clear_sky_radiation(ra=ra, elevation_m=elevation_m)
        * rng.uniform(0.25, 1, DAYS.size),
    }


@pytest.mark.parametrize(("latitude_deg", "elevation_m"), PLACES.values(), ids=PLACES.keys())
def test_a_year_of_days_agrees_with_independent_code(latitude_deg: float, elevation_m: float) -> None:
    year = invented_year(latitude_deg, elevation_m)
    ours = et.eto_penman_monteith(days=DAYS, latitude_deg=latitude_deg, elevation_m=elevation_m, **year)
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
