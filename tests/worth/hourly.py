"""Daily weather made hourly, by a documented recipe; what a day has (sums, extremes, means) is kept exactly.

Days are local civil days of 23, 24 or 25 hours. What is drawn comes from the generator handed over. An hour's place
in the sun is told from the extraterrestrial radiation of the hour, so it needs no almanac.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt
from worth.places import Place

from advisor.science.evapotranspiration import actual_vapour_pressure, saturation_vapour_pressure
from advisor.science.radiation import clear_sky_radiation, extraterrestrial_radiation_hourly
from advisor.weather.civil import civil_days, local_offsets_s

Array = npt.NDArray[np.float64]
Index = npt.NDArray[np.int64]
Dates = npt.NDArray[np.datetime64]

MAXIMUM_AFTER_NOON_H = 2  # de Wit and others (1978), from memory: the day's maximum at 14:00 solar time
WIND_SWING, WINDIEST_AT_H = 0.5, 15.0  # by day and night, of the daily mean: common practice, no source
HALF_A_YEAR = 183


@dataclass(frozen=True, slots=True, eq=False)
class Daily:
    """Daily weather, shapes (d,): consecutive local days, NaN where a source does not tell."""

    days: Dates
    rain_mm: Array
    tmax_c: Array
    tmin_c: Array
    ea_kpa: Array
    wind10_m_s: Array
    rs_mj_m2_d: Array


@dataclass(frozen=True, slots=True, eq=False)
class Hourly:
    """Hourly weather as it goes into a `Weather`, shapes (h,)."""

    starts: Dates
    temp_c: Array
    dew_c: Array
    wind10_m_s: Array
    rs_mj_m2_h: Array
    rain_mm: Array


@dataclass(frozen=True, slots=True, eq=False)
class Shapes:
    """How real rain lay within its days: year days (n,), totals (n,) [mm], shares of the 24 hours (n, 24)."""

    year_day: Index
    total_mm: Array
    shares: Array
    season_days: int
    nearest: int


def radiation_from_range(*, tmax_c: Array, tmin_c: Array, ra: Array, krs: float, elevation_m: float) -> Array:
    """A day's radiation from its temperature range (FAO-56 eq. 50), with the factor of the place: 0.16 inland, 0.19 on
    the coast."""
    rs = krs * np.sqrt(np.maximum(np.asarray(tmax_c) - np.asarray(tmin_c), 0.0)) * ra
    return np.asarray(np.minimum(rs, clear_sky_radiation(ra=ra, elevation_m=elevation_m)))


def made_hourly(
    daily: Daily, starts: Dates, place: Place, shapes: Shapes, rng: np.random.Generator
) -> Hourly:
    """The hours of these days; `starts` (h,) are theirs, from the first local midnight to the last."""
    days, index = civil_days(starts, place.zone)
    if not np.array_equal(days, daily.days):
        raise ValueError("the hours are not those of the days")
    ra = extraterrestrial_radiation_hourly(
        latitude_deg=place.latitude_deg, longitude_deg=place.longitude_deg, starts=starts
    )
    temp = hourly_temperature(daily.tmax_c, daily.tmin_c, index, ra)
    return Hourly(
        starts=starts,
        temp_c=temp,
        dew_c=hourly_dew(daily, index, temp),
        wind10_m_s=hourly_wind(daily.wind10_m_s, index, local_hour(starts, place)),
        rs_mj_m2_h=hourly_radiation(daily, index, ra, place),
        rain_mm=hourly_rain(daily, index, place, shapes, rng),
    )


def local_hour(starts: Dates, place: Place) -> Array:
    """The hour of the local clock at which each hour begins."""
    seconds = starts.astype("datetime64[s]").astype(np.int64) + local_offsets_s(starts, place.zone)
    return (seconds % 86400) / 3600.0


def hourly_temperature(tmax_c: Array, tmin_c: Array, index: Index, ra: Array) -> Array:
    """Half cosines from the minimum in the hour of sunrise to the maximum two hours after solar noon and on to the
    next day's minimum (de Wit and others 1978, from memory), held within each civil day's own extremes.

    Before the first sunrise and after the last maximum the days beside are taken to be like the days at the ends.
    """
    coldest, warmest = _knots(index, ra, len(tmax_c))
    at = np.concatenate([[warmest[0] - 24], np.stack([coldest, warmest], 1).ravel(), [coldest[-1] + 24]])
    value = np.concatenate([[tmax_c[0]], np.stack([tmin_c, tmax_c], 1).ravel(), [tmin_c[-1]]])
    hour = np.arange(len(index))
    left = np.clip(np.searchsorted(at, hour, side="right") - 1, 0, len(at) - 2)
    way = (hour - at[left]) / (at[left + 1] - at[left])
    temp = value[left] + (value[left + 1] - value[left]) * (1.0 - np.cos(np.pi * way)) / 2.0
    return np.asarray(np.clip(temp, tmin_c[index], tmax_c[index]))


def _knots(index: Index, ra: Array, days: int) -> tuple[Index, Index]:
    """For each day the hour in which the sun rises and the hour of the maximum, counted from the first hour."""
    coldest, warmest = np.zeros(days, dtype=np.int64), np.zeros(days, dtype=np.int64)
    begins = np.searchsorted(index, np.arange(days + 1))
    for day, (begin, end) in enumerate(pairwise(begins)):
        light = ra[begin:end]
        coldest[day] = begin + int(np.argmax(light > 0.0))
        warmest[day] = begin + int(np.argmax(light)) + MAXIMUM_AFTER_NOON_H
    return coldest, warmest


def hourly_dew(daily: Daily, index: Index, temp_c: Array) -> Array:
    """The dew point: Tmin where humidity is unknown (FAO-56 ch. 3, eq. 48), else from the day's vapour pressure.

    Air holds no more than saturation, so the vapour pressure is one level for the day but for the hours too cold for
    it, and the level is such that the day's mean is kept (common practice, no source).
    """
    ea = np.where(np.isnan(daily.ea_kpa), actual_vapour_pressure(daily.tmin_c), daily.ea_kpa)
    room = np.asarray(saturation_vapour_pressure(temp_c))
    low, high = np.zeros(len(ea)), np.asarray(saturation_vapour_pressure(daily.tmax_c))
    for _ in range(60):
        level = (low + high) / 2.0
        mean = _day_mean(np.minimum(level[index], room), index, len(ea))
        low, high = np.where(mean < ea, level, low), np.where(mean < ea, high, level)
    return _dew_point(np.minimum(high[index], room))


def _dew_point(ea_kpa: Array) -> Array:
    """The temperature at which this vapour pressure is saturated [°C]: FAO-56 eq. 14 turned round."""
    log = np.log(ea_kpa / 0.6108)
    return np.asarray(237.3 * log / (17.27 - log))


def hourly_wind(wind_m_s: Array, index: Index, hour: Array) -> Array:
    """Wind with a course by day and night that keeps the day's mean: common practice, no source."""
    course = 1.0 + WIND_SWING * np.cos(2.0 * np.pi * (hour - WINDIEST_AT_H) / 24.0)
    return np.asarray(wind_m_s[index] * course / _day_mean(course, index, len(wind_m_s))[index])


def hourly_radiation(daily: Daily, index: Index, ra: Array, place: Place) -> Array:
    """The day's radiation, or where it is unknown that from its temperature range (FAO-56 eq. 50), dealt out in
    proportion to the extraterrestrial radiation of its hours (common practice, no source)."""
    over_day = np.bincount(index, weights=ra, minlength=len(daily.days))
    by_range = radiation_from_range(
        tmax_c=daily.tmax_c, tmin_c=daily.tmin_c, ra=over_day, krs=place.krs, elevation_m=place.elevation_m
    )
    rs = np.where(np.isnan(daily.rs_mj_m2_d), by_range, daily.rs_mj_m2_d)
    return np.asarray(rs[index] * ra / over_day[index])


def hourly_rain(daily: Daily, index: Index, place: Place, shapes: Shapes, rng: np.random.Generator) -> Array:
    """Daily rain in hours by the method of fragments (Srikanthan and McMahon, from memory): each wet day takes the
    shape of one real day, drawn from those nearest in total among those of the same season."""
    rain = np.zeros(len(index))
    year_day = year_days(daily.days) + (0 if place.latitude_deg >= 0.0 else HALF_A_YEAR)
    begins = np.searchsorted(index, np.arange(len(daily.days) + 1))
    for day in np.flatnonzero(daily.rain_mm > 0.0):
        apart = np.abs(shapes.year_day - year_day[day]) % 365
        near = np.flatnonzero(np.minimum(apart, 365 - apart) <= shapes.season_days)
        unlike = np.abs(np.log(shapes.total_mm[near] / daily.rain_mm[day]))
        drawn = rng.choice(near[np.argsort(unlike, kind="stable")[: shapes.nearest]])
        begin, end = begins[day], begins[day + 1]
        so_far = np.concatenate([[0.0], np.cumsum(shapes.shares[drawn])])
        edges = np.interp(np.linspace(0.0, 24.0, end - begin + 1), np.arange(25), so_far)
        rain[begin:end] = daily.rain_mm[day] * np.diff(edges) / edges[-1]
    return rain


def year_days(days: Dates) -> Index:
    """The day of the year of each date, 1 to 366."""
    return np.asarray((days - days.astype("datetime64[Y]").astype("datetime64[D]")).astype(np.int64) + 1)


def _day_mean(values: Array, index: Index, days: int) -> Array:
    return np.asarray(np.bincount(index, weights=values, minlength=days) / np.bincount(index, minlength=days))
