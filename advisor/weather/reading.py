"""Careful reading of what services send: numbers, times, durations and units, or a SourceError."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np

from advisor.errors import SourceError
from advisor.weather.weather import Array

# unit as written by a service → (quantity, factor, offset) so that SI = value · factor + offset
UNITS: dict[str, tuple[str, float, float]] = {
    "celsius": ("°C", 1.0, 0.0),
    "degc": ("°C", 1.0, 0.0),
    "°c": ("°C", 1.0, 0.0),
    "fahrenheit": ("°C", 5.0 / 9.0, -160.0 / 9.0),
    "degf": ("°C", 5.0 / 9.0, -160.0 / 9.0),
    "kelvin": ("°C", 1.0, -273.15),
    "k": ("°C", 1.0, -273.15),
    "m/s": ("m/s", 1.0, 0.0),
    "m_s-1": ("m/s", 1.0, 0.0),
    "km/h": ("m/s", 1.0 / 3.6, 0.0),
    "km_h-1": ("m/s", 1.0 / 3.6, 0.0),
    "kn": ("m/s", 1852.0 / 3600.0, 0.0),
    "kt": ("m/s", 1852.0 / 3600.0, 0.0),
    "mm": ("mm", 1.0, 0.0),
    "kg/m2": ("mm", 1.0, 0.0),
    "kg_m-2": ("mm", 1.0, 0.0),
    "cm": ("mm", 10.0, 0.0),
    "m": ("mm", 1000.0, 0.0),
    "inch": ("mm", 25.4, 0.0),
    "%": ("fraction", 0.01, 0.0),
    "percent": ("fraction", 0.01, 0.0),
    "1": ("fraction", 1.0, 0.0),
}

_DURATION = re.compile(
    r"P(?:(\d{1,4})W)?(?:(\d{1,4})D)?(?:T(?=\d)(?:(\d{1,4})H)?(?:(\d{1,4})M)?(?:(\d{1,5})(?:\.\d+)?S)?)?"
)


def number(value: Any) -> float:
    """`value` as a float, NaN for anything that is not a finite number."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return math.nan
    try:
        found = float(value)
    except OverflowError:
        return math.nan
    return found if math.isfinite(found) else math.nan


def part(value: Any, *keys: str) -> dict[str, Any]:
    """The object found by following `keys`, empty where something on the way is not an object."""
    for key in keys:
        value = value.get(key) if isinstance(value, dict) else None
    return value if isinstance(value, dict) else {}


def instant(value: Any) -> datetime | None:
    """An ISO 8601 time with its offset, of the years 1940–2100, as aware UTC; None for anything else.

    >>> instant("2026-06-17T18:00:00+02:00")
    datetime.datetime(2026, 6, 17, 16, 0, tzinfo=datetime.timezone.utc)
    """
    if not isinstance(value, str):
        return None
    try:
        found = datetime.fromisoformat(value)
        sane = found.tzinfo is not None and 1940 <= found.year <= 2100
        return found.astimezone(UTC) if sane else None
    except (ValueError, OverflowError):
        return None


def duration(text: str) -> timedelta | None:
    """An ISO 8601 duration of weeks, days, hours, minutes and seconds; None for anything else.

    >>> duration("P1DT6H") == timedelta(hours=30)
    True
    """
    match = _DURATION.fullmatch(text)
    if match is None or not any(match.groups()):
        return None
    weeks, days, hours, minutes, seconds = (int(g or 0) for g in match.groups())
    return timedelta(weeks=weeks, days=days, hours=hours, minutes=minutes, seconds=seconds)


def to_si(values: Sequence[float] | Array, unit: Any, wanted: str, *, source: str, what: str) -> Array:
    """`values` in °C, m/s, mm or as a fraction (`wanted`), by the unit that the service wrote.

    A prefix such as "wmoUnit:" is passed over. A unit that is not known, or is one of another
    quantity, is a SourceError: a value must not be guessed at.
    """
    name = unit.rsplit(":", 1)[-1].strip() if isinstance(unit, str) else ""
    quantity, factor, offset = UNITS.get(name.lower(), ("", 1.0, 0.0))
    if quantity != wanted:
        raise SourceError(source, f"gives {what} in {unit!r}, which is no unit of {wanted} that we know")
    return np.asarray(values, dtype=np.float64) * factor + offset


def distance_km(latitude_deg: float, longitude_deg: float, other_lat: float, other_lon: float) -> float:
    """Great-circle distance on a sphere of 6371 km; date line and poles included."""
    a, b = math.radians(latitude_deg), math.radians(other_lat)
    half = math.radians(longitude_deg - other_lon) / 2.0
    h = math.sin((a - b) / 2.0) ** 2 + math.cos(a) * math.cos(b) * math.sin(half) ** 2
    return 12742.0 * math.asin(math.sqrt(min(1.0, h)))
