"""Reference evapotranspiration ETo of grass by day, and its spread over the hours.

The only room that calls `pyet`. That library takes radiation in W/m², wind in km/h or missing humidity
without a word, so everything is checked here before it is called.

Source of every equation number: FAO Irrigation and Drainage Paper 56 (Allen, Pereira, Raes and
Smith, 1998).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from advisor.science.radiation import (
    Array,
    Numbers,
    clear_sky_radiation,
    day_of_year,
    extraterrestrial_radiation,
    radiation_from_temperature,
)
from advisor.science.stand_in import StandIn

Days = npt.NDArray[np.datetime64]

LEAST_WIND_M_S = 0.5  # FAO-56 ch. 3: light air still exchanges vapour
WIND_WHEN_UNKNOWN_M_S = 2.0  # FAO-56 ch. 3: the mean of 2000 stations


def wind_at_2m(*, wind_m_s: Numbers, height_m: float) -> Array:
    """Wind speed at 2 m from that measured at `height_m` above ground, u2 [m/s] (FAO-56 eq. 47)."""
    if not height_m >= 0.5:
        raise ValueError(f"height_m must be the height of the wind sensor, 0.5 m or more, found {height_m}")
    return np.asarray(np.asarray(wind_m_s, dtype=np.float64) * 4.87 / np.log(67.8 * height_m - 5.42))


def saturation_vapour_pressure(t_c: Numbers) -> Array:
    """Saturation vapour pressure at a temperature, e° [kPa] (FAO-56 eq. 11).

    Of a day: the mean of e°(Tmax) and e°(Tmin) (eq. 12), never e° of the mean temperature.
    """
    t = np.asarray(t_c, dtype=np.float64)
    return np.asarray(0.6108 * np.exp(17.27 * t / (t + 237.3)))


def actual_vapour_pressure(dew_c: Numbers) -> Array:
    """Actual vapour pressure from the dew point, ea [kPa] (FAO-56 eq. 14)."""
    return saturation_vapour_pressure(dew_c)


def eto_penman_monteith(
    *,
    days: Days,
    latitude_deg: float,
    elevation_m: float,
    tmax_c: Numbers,
    tmin_c: Numbers,
    ea_kpa: Numbers,
    u2_m_s: Numbers,
    rs_mj_m2_d: Numbers,
) -> Array:
    """Reference evapotranspiration by FAO Penman–Monteith (FAO-56 eq. 6), shape (d,) [mm/d].

    `days` (d,) are the local dates, in any order but each once; the inputs are (d,) or numbers.
    Wind below 0.5 m/s counts as 0.5, radiation above the clear sky's as the clear sky's, vapour
    pressure above saturation as saturated. The soil's heat of one day is left out (eq. 42). A day with an
    unknown input is NaN, and only that day.
    ValueError, naming the day, for what cannot be: radiation beyond the sun's own (W/m² taken for
    MJ/m²/d), vapour pressure above e°(Tmax) (hPa for kPa), wind outside 0–30 m/s, Tmax below Tmin.
    """
    import pandas as pd
    import pyet

    when = _dates(days)
    inputs = {
        "tmax": tmax_c,
        "tmin": tmin_c,
        "ea": ea_kpa,
        "u2": u2_m_s,
        "rs": rs_mj_m2_d,
    }
    for name, values in inputs.items():
        if values is None:
            raise ValueError(f"{name} is missing altogether: give NaN for the days on which it is unknown")
    columns = {name: _per_day(values, when) for name, values in inputs.items()}
    ra = extraterrestrial_radiation(latitude_deg=latitude_deg, day_of_year=day_of_year(when))
    _refuse_the_impossible(when, columns, ra)
    clear = clear_sky_radiation(ra=ra, elevation_m=elevation_m)
    columns["u2"] = np.maximum(columns["u2"], LEAST_WIND_M_S)
    columns["rs"] = np.minimum(columns["rs"], clear)
    columns["ea"] = np.minimum(columns["ea"], _saturation_of_day(columns["tmax"], columns["tmin"]))
    columns |= {"tmean": (columns["tmax"] + columns["tmin"]) / 2.0, "rso": clear}

    eto = np.full(when.shape, np.nan)
    known = np.flatnonzero(np.isfinite(np.array(list(columns.values()))).all(axis=0))
    if len(known) == 0:
        return eto
    known = known[np.argsort(when[known])]
    index = pd.DatetimeIndex(when[known])
    of = {name: pd.Series(values[known], index=index) for name, values in columns.items()}
    eto[known] = pyet.pm_fao56(
        tmean=of["tmean"],
        wind=of["u2"],
        rs=of["rs"],
        rso=of["rso"],  # the library would make the same of the sun's own radiation (eq. 37), more slowly
        tmax=of["tmax"],
        tmin=of["tmin"],
        ea=of["ea"],
        elevation=float(elevation_m),
    ).to_numpy(dtype=np.float64)
    return eto


@dataclass(frozen=True, eq=False, slots=True)
class DailyEto:
    """ETo per day, shape (d,) [mm/d], NaN unknown, and for each day what stood in for what was missing."""

    eto_mm: Array
    stand_ins: tuple[tuple[StandIn, ...], ...]


def daily_eto(  # noqa: PLR0913 - the quantities of the equation
    *,
    days: Days,
    latitude_deg: float,
    elevation_m: float,
    tmax_c: Numbers,
    tmin_c: Numbers,
    ea_kpa: Numbers,
    u2_m_s: Numbers,
    rs_mj_m2_d: Numbers,
    rs_by_cloud_mj_m2_d: Numbers | None = None,
) -> DailyEto:
    """Penman–Monteith ETo with what is missing estimated, day by day, as FAO-56 chapter 3 advises.

    Missing (NaN) humidity: the dew point is the day's Tmin (eq. 48). Missing wind: 2 m/s. Missing
    radiation: by cloud, summed from its hours, where known, else from the temperature range (eq. 50). FAO-56
    prefers this to a formula of temperature alone (eq. 52). A day without Tmax or Tmin is NaN and has
    no stand-ins. ValueErrors as in `eto_penman_monteith`.
    """
    when = _dates(days)
    hot, cold = _per_day(tmax_c, when), _per_day(tmin_c, when)
    ea, u2, rs = _per_day(ea_kpa, when), _per_day(u2_m_s, when), _per_day(rs_mj_m2_d, when)
    by_cloud = _per_day(np.nan if rs_by_cloud_mj_m2_d is None else rs_by_cloud_mj_m2_d, when)
    ra = extraterrestrial_radiation(latitude_deg=latitude_deg, day_of_year=day_of_year(when))

    no_ea, no_u2, no_rs = np.isnan(ea), np.isnan(u2), np.isnan(rs)
    ea = np.where(no_ea, saturation_vapour_pressure(cold), ea)
    u2 = np.where(no_u2, WIND_WHEN_UNKNOWN_M_S, u2)
    from_cloud = no_rs & ~np.isnan(by_cloud)
    by_range = radiation_from_temperature(tmax_c=hot, tmin_c=cold, ra=ra, elevation_m=elevation_m)
    rs = np.where(from_cloud, by_cloud, np.where(no_rs, by_range, rs))

    eto = eto_penman_monteith(
        days=when,
        latitude_deg=latitude_deg,
        elevation_m=elevation_m,
        tmax_c=hot,
        tmin_c=cold,
        ea_kpa=ea,
        u2_m_s=u2,
        rs_mj_m2_d=rs,
    )
    missing = {
        StandIn.DEW_FROM_TMIN: no_ea,
        StandIn.WIND_2_M_S: no_u2,
        StandIn.RS_FROM_CLOUD: from_cloud,
        StandIn.RS_FROM_TEMPERATURE: no_rs & ~from_cloud,
    }
    known = np.isfinite(eto)
    return DailyEto(
        eto_mm=eto,
        stand_ins=tuple(
            tuple(what for what, days in missing.items() if known[d] and days[d]) for d in range(len(eto))
        ),
    )


def spread_over_hours(*, eto_mm: Numbers, day_index: npt.NDArray[np.integer], weight: Numbers) -> Array:
    """Daily ETo (d,) over the hours of each day in proportion to `weight` (h,), shape (h,) [mm/h].

    `day_index` (h,) says to which day an hour belongs, -1 to none (NaN). The hours of a day add up
    to the day's value, so give whole days: where only some hours of a day are given they carry it
    all. Unknown weights count as zero; a day without any weight is spread evenly. A NaN day is NaN.
    """
    daily = np.asarray(eto_mm, dtype=np.float64)
    index = np.asarray(day_index)
    share = np.nan_to_num(np.broadcast_to(np.asarray(weight, dtype=np.float64), index.shape), nan=0.0)
    if np.any(share < 0.0):
        raise ValueError("weight must not be negative")
    if index.size and not (index.min() >= -1 and index.max() < daily.size):
        raise ValueError(f"day_index must lie in -1 to {daily.size - 1}, the days of eto_mm")
    known = index >= 0
    day = index[known]
    total = np.bincount(day, weights=share[known], minlength=daily.size)
    count = np.bincount(day, minlength=daily.size)
    flat = total[day] <= 0.0
    part = np.where(flat, 1.0 / count[day], share[known] / np.where(flat, 1.0, total[day]))
    hourly = np.full(index.shape, np.nan)
    hourly[known] = daily[day] * part
    return hourly


def _dates(days: Days) -> Days:
    """`days` as dates; ValueError when one comes twice or is no date."""
    when = np.atleast_1d(np.asarray(days)).astype("datetime64[D]")
    if np.any(np.isnat(when)):
        raise ValueError("days must all be dates")
    unique, count = np.unique(when, return_counts=True)
    if np.any(count > 1):
        raise ValueError(f"days must come once each; {unique[count > 1][0]} comes {count.max()} times")
    return when


def _per_day(values: Numbers, when: Days) -> Array:
    """A number or a (d,) array as a fresh (d,) float array."""
    return np.array(np.broadcast_to(np.asarray(values, dtype=np.float64), when.shape))


def _saturation_of_day(tmax_c: Array, tmin_c: Array) -> Array:
    """es of a day [kPa] (FAO-56 eq. 12)."""
    return np.asarray((saturation_vapour_pressure(tmax_c) + saturation_vapour_pressure(tmin_c)) / 2.0)


def _refuse_the_impossible(when: Days, columns: dict[str, Array], ra: Array) -> None:
    """ValueError for the first input that cannot be, naming its day. NaN passes."""
    tmax, tmin, ea, u2, rs = (columns[name] for name in ("tmax", "tmin", "ea", "u2", "rs"))
    # More than 1 MJ/m²/d above the sun's own is no measuring error; twilight may give that much.
    beyond_sun = (rs > ra + 1.0) | (rs > 45.0)
    checks = (
        (tmax < tmin, tmax, "Tmax {value:g} °C is below Tmin"),
        ((tmax > 60.0) | (tmin < -90.0), tmax, "Tmax {value:g} and its Tmin are not °C of a place on Earth"),
        (rs < 0.0, rs, "radiation {value:g} MJ/m²/d is negative"),
        (beyond_sun, rs, "radiation {value:g} is more than the sun gives; W/m² times 0.0864 is MJ/m²/d"),
        (u2 < 0.0, u2, "wind {value:g} m/s is negative"),
        (u2 > 30.0, u2, "wind {value:g} is no daily mean in m/s; km/h divided by 3.6 is m/s"),
        (ea < 0.0, ea, "vapour pressure {value:g} kPa is negative"),
        (
            ea > 1.05 * saturation_vapour_pressure(tmax),
            ea,
            "vapour pressure {value:g} is more than the day's air can hold; hPa divided by 10 is kPa",
        ),
    )
    for wrong, values, text in checks:
        if np.any(wrong):
            at = int(np.argmax(wrong))
            raise ValueError(f"{when[at]}: {text.format(value=values[at])}")
