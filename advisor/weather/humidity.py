"""Dew point from relative humidity, where a source gives no dew point."""

from __future__ import annotations

import numpy as np

from advisor.weather.weather import Array


def dew_point_c(temp_c: Array, humidity_pct: Array) -> Array:
    """Dew point (°C) from air temperature (°C) and relative humidity (%); NaN where either is unknown.

    Inverts FAO-56 equation 11, e°(T) = 0.6108 exp(17.27 T / (T + 237.3)), at ea = e°(T) RH / 100
    (equations 10 and 14). Humidity above 100 % counts as 100 %; at or below 0 it is unknown.

    >>> float(dew_point_c(np.array([25.0]), np.array([50.0]))[0].round(1))
    13.9
    """
    fraction = np.where(humidity_pct > 0, np.minimum(humidity_pct, 100.0) / 100.0, np.nan)
    x = np.log(fraction) + 17.27 * temp_c / (temp_c + 237.3)
    dew: Array = 237.3 * x / (17.27 - x)
    return dew
