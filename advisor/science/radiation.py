"""Solar radiation on the lawn, by the formulas of FAO-56 chapter 3.

Source of every equation number: FAO Irrigation and Drainage Paper 56 (Allen, Pereira, Raes and
Smith, 1998). Latitudes and longitudes are in degrees, north and east positive; radiation is in
MJ/m²/d, or MJ/m²/h where the name says hourly. Every function takes numbers or arrays and
broadcasts; NaN in, NaN out.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Numbers = npt.ArrayLike

SOLAR_CONSTANT = 0.0820  # MJ/m²/min, FAO-56 eq. 21
KRS = 0.16  # °C^−½, inland, FAO-56 eq. 50; about 0.19 on the coast, where this runs a little low


def radians_of_latitude(latitude_deg: Numbers) -> Array:
    """A latitude in degrees as radians; ValueError outside ±90 or when unknown."""
    latitude = np.asarray(latitude_deg, dtype=np.float64)
    if not np.all(np.abs(latitude) <= 90.0):
        raise ValueError(f"latitude_deg must lie in -90 to 90 degrees, found {latitude}")
    return np.asarray(np.radians(latitude))


def day_of_year(days: npt.NDArray[np.datetime64]) -> npt.NDArray[np.int64]:
    """Number of the day in its year, 1 January is 1."""
    whole = np.asarray(days).astype("datetime64[D]")
    since = whole - whole.astype("datetime64[Y]").astype("datetime64[D]")
    return np.asarray(since.astype(np.int64) + 1)


def inverse_distance(*, day_of_year: Numbers) -> Array:
    """Inverse relative distance from the Earth to the Sun, dr (FAO-56 eq. 23)."""
    return np.asarray(1.0 + 0.033 * np.cos(2.0 * np.pi / 365.0 * np.asarray(day_of_year)))


def declination(*, day_of_year: Numbers) -> Array:
    """Solar declination [rad] (FAO-56 eq. 24)."""
    return np.asarray(0.409 * np.sin(2.0 * np.pi / 365.0 * np.asarray(day_of_year) - 1.39))


def sunset_angle(*, latitude_deg: Numbers, day_of_year: Numbers) -> Array:
    """Sunset hour angle [rad] (FAO-56 eq. 25): 0 in the polar night, pi in the midnight sun.

    The limits are ours: the source leaves places where the sun does not set to the reader.
    """
    cosine = -np.tan(radians_of_latitude(latitude_deg)) * np.tan(declination(day_of_year=day_of_year))
    return np.asarray(np.arccos(np.clip(cosine, -1.0, 1.0)))


def extraterrestrial_radiation(*, latitude_deg: Numbers, day_of_year: Numbers) -> Array:
    """Radiation at the top of the atmosphere over a day, Ra [MJ/m²/d] (FAO-56 eq. 21)."""
    phi = radians_of_latitude(latitude_deg)
    delta = declination(day_of_year=day_of_year)
    omega = sunset_angle(latitude_deg=latitude_deg, day_of_year=day_of_year)
    shape = omega * np.sin(phi) * np.sin(delta) + np.cos(phi) * np.cos(delta) * np.sin(omega)
    dr = inverse_distance(day_of_year=day_of_year)
    return np.asarray(24.0 * 60.0 / np.pi * SOLAR_CONSTANT * dr * shape)


def extraterrestrial_radiation_hourly(
    *, latitude_deg: float, longitude_deg: float, starts: npt.NDArray[np.datetime64]
) -> Array:
    """Radiation at the top of the atmosphere over each hour, Ra [MJ/m²/h] (FAO-56 eq. 28–33).

    `starts` (h,) are the starts of the hours in UTC; the hour angle is that of the midpoint.
    Departs from the source in one thing: an hour in which the sun rises or sets counts its lit
    part, so that the hours of a day add up to eq. 21.
    """
    hours = np.asarray(starts).astype("datetime64[s]")
    if not abs(longitude_deg) <= 360.0:
        raise ValueError(f"longitude_deg must be in degrees east of Greenwich, found {longitude_deg}")
    phi = radians_of_latitude(latitude_deg)
    midnight = hours.astype("datetime64[D]")
    clock = (hours - midnight.astype("datetime64[s]")).astype(np.float64) / 3600.0 + 0.5
    j = day_of_year(midnight)
    b = 2.0 * np.pi * (j - 81) / 364.0
    season = 0.1645 * np.sin(2.0 * b) - 0.1255 * np.cos(b) - 0.025 * np.sin(b)
    omega = np.pi / 12.0 * (clock + longitude_deg / 15.0 + season - 12.0)
    omega = (omega + np.pi) % (2.0 * np.pi) - np.pi
    delta, limit = declination(day_of_year=j), sunset_angle(latitude_deg=latitude_deg, day_of_year=j)
    shape = np.zeros(hours.shape)
    for turn in (-2.0 * np.pi, 0.0, 2.0 * np.pi):  # an hour across solar midnight lies on both ends
        first = np.clip(omega + turn - np.pi / 24.0, -limit, limit)
        last = np.clip(omega + turn + np.pi / 24.0, -limit, limit)
        shape += (last - first) * np.sin(phi) * np.sin(delta)
        shape += np.cos(phi) * np.cos(delta) * (np.sin(last) - np.sin(first))
    return np.asarray(12.0 * 60.0 / np.pi * SOLAR_CONSTANT * inverse_distance(day_of_year=j) * shape)


def clear_sky_radiation(*, ra: Numbers, elevation_m: Numbers) -> Array:
    """Radiation under a cloudless sky, Rso, in the unit of `ra` (FAO-56 eq. 37)."""
    return np.asarray((0.75 + 2e-5 * np.asarray(elevation_m, dtype=np.float64)) * np.asarray(ra))


def radiation_from_temperature(
    *, tmax_c: Numbers, tmin_c: Numbers, ra: Numbers, elevation_m: Numbers
) -> Array:
    """Solar radiation from the day's temperature range, by Hargreaves, Rs [MJ/m²/d] (FAO-56 eq. 50).

    Never more than the clear sky gives.
    """
    span = np.asarray(tmax_c, dtype=np.float64) - np.asarray(tmin_c, dtype=np.float64)
    rs = KRS * np.sqrt(np.maximum(span, 0.0)) * np.asarray(ra)
    return np.asarray(np.minimum(rs, clear_sky_radiation(ra=ra, elevation_m=elevation_m)))


def radiation_from_cloud(*, cloud: Numbers, rso: Numbers) -> Array:
    """Solar radiation from cloud cover 0–1, in the unit of `rso`.

    Rs = Rso (1 − 0.75 N^3.4): F. Kasten and G. Czeplak, Solar Energy 24 (1980), 177–189, from memory
    of that paper. ValueError for a cover outside 0–1 (percent, say).
    """
    cover = np.asarray(cloud, dtype=np.float64)
    if np.any((cover < 0.0) | (cover > 1.0)):
        raise ValueError("cloud must be a fraction from 0 to 1; percent or eighths were given")
    return np.asarray(np.asarray(rso) * (1.0 - 0.75 * cover**3.4))
