"""What stood in for a missing quantity when a day's ETo was made (FAO-56 chapter 3)."""

from __future__ import annotations

from enum import StrEnum


class StandIn(StrEnum):
    """One thing that was not known and what was taken instead."""

    DEW_FROM_TMIN = "dew=Tmin"
    """Humidity unknown: the dew point is the day's minimum temperature (eq. 48)."""
    WIND_2_M_S = "u2=2"
    """Wind unknown: 2 m/s at 2 m."""
    RS_FROM_CLOUD = "Rs from cloud"
    """Radiation unknown: from cloud cover."""
    RS_FROM_TEMPERATURE = "Rs from temperature"
    """Radiation and cloud cover unknown: from the temperature range (eq. 50)."""
