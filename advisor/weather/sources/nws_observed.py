"""US National Weather Service: the rain and weather that a station near the lawn observed.

Only routine reports count (those with their raw text, once an hour near minute 52), because a special
report in between repeats the running total of its hour: the highest of an hour is taken, reports are
never added. (What a special report repeats, and the quality letters, are from memory of US practice.)
A report without an amount says nothing about rain: unknown, not none.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

import numpy as np

from advisor.errors import SourceError
from advisor.foreign_words import fit
from advisor.lawn import ArchivedHour, Place, WeatherSettings
from advisor.weather.reading import distance_km, instant, number, part, to_si
from advisor.weather.sources.nws import BASE_URL, DOMAIN, GRID_KEEP_S, HEADERS, NAME, SAID, find_grid

if TYPE_CHECKING:
    from advisor.weather.client import Client

NEAR_KM = 25.0
LONGEST_NAME = 40
USUAL_MINUTE = 52
SLACK_MIN = 3
BACK = timedelta(days=7)
REJECTED = ("X", "B")  # from memory of the quality letters: failed a check, or set bad by a person

VARIABLE_MAP = {
    "rain_mm": ("precipitationLastHour", "mm"),
    "temp_c": ("temperature", "°C"),
    "dew_c": ("dewpoint", "°C"),
    "wind10_m_s": ("windSpeed", "m/s"),
}


def get_observations(
    client: Client, place: Place, settings: WeatherSettings, now: datetime
) -> tuple[ArchivedHour, ...]:
    """The last week's hours from the nearest station within 25 km, in the order of time.

    SourceError where there is no such station or it sent nothing usable.
    """
    from advisor.weather.client import Keep

    base = settings.base_urls.get(NAME, BASE_URL).rstrip("/")
    grid = find_grid(client, base, place, now, GRID_KEEP_S)
    stations, _ = client.get_json(
        f"{base}/gridpoints/{grid}/stations",
        source=SAID,
        now=now,
        headers=HEADERS,
        check=lambda payload: nearest_station(payload, place.latitude_deg, place.longitude_deg),
        keep=Keep(GRID_KEEP_S, GRID_KEEP_S),
        moves_within=DOMAIN,
    )
    station, away = nearest_station(stations, place.latitude_deg, place.longitude_deg)
    if away > NEAR_KM:
        raise SourceError(SAID, f"has no station within {NEAR_KM:g} km (the nearest is {away:.0f} km away)")
    since = (now - BACK).replace(minute=0, second=0, microsecond=0)
    payload, _ = client.get_json(
        f"{base}/stations/{station}/observations",
        {"start": f"{since:%Y-%m-%dT%H:%M:%S+00:00}", "limit": "500"},
        source=SAID,
        now=now,
        headers=HEADERS,
        check=read_observations,
        moves_within=DOMAIN,
    )
    return read_observations(payload)


def nearest_station(payload: Any, latitude_deg: float, longitude_deg: float) -> tuple[str, float]:
    """The nearest station's name and its distance in km. SourceError where none is listed."""
    found: list[tuple[float, str]] = []
    features = part(payload).get("features")
    for feature in features if isinstance(features, list) else []:
        name = part(feature, "properties").get("stationIdentifier")
        at = part(feature, "geometry").get("coordinates")
        if isinstance(name, str) and name.isalnum() and isinstance(at, list) and len(at) >= 2:
            away = distance_km(latitude_deg, longitude_deg, number(at[1]), number(at[0]))
            if math.isfinite(away):
                found.append((away, name))
    if not found:
        raise SourceError(SAID, "listed no station near the place")
    away, name = min(found)
    return name, away


def read_observations(payload: Any) -> tuple[ArchivedHour, ...]:
    """Observed hours in the order of time; an amount that was not reported is None.

    The hour reported at 17:52 is that from 16:52 and is kept as the hour of 17:00, with which it shares
    52 minutes. An hour without a routine report has no rain. SourceError where nothing is usable.
    """
    features = part(payload).get("features")
    reports: list[tuple[datetime, Mapping[str, Any]]] = []
    for feature in features if isinstance(features, list) else []:
        report = part(feature, "properties")
        at = instant(report.get("timestamp"))
        if at is not None and isinstance(report.get("rawMessage"), str) and report["rawMessage"].strip():
            reports.append((at, report))
    if not reports:
        raise SourceError(SAID, "sent no routine observations")
    minutes = Counter(at.minute for at, _ in reports if at.minute >= 45)
    routine = minutes.most_common(1)[0][0] if minutes else USUAL_MINUTE
    by_hour: dict[datetime, list[tuple[bool, Mapping[str, Any]]]] = {}
    for at, told in sorted(reports, key=lambda row: row[0]):
        closes = at.replace(minute=0, second=0, microsecond=0)
        if at.minute > routine + SLACK_MIN:
            closes += timedelta(hours=1)
        by_hour.setdefault(closes, []).append((abs(at.minute - routine) <= SLACK_MIN, told))
    station = fit(str(reports[0][1].get("stationId") or "station"), most=LONGEST_NAME)
    return tuple(_hour(starts_at, rows, station) for starts_at, rows in sorted(by_hour.items()))


def _hour(starts_at: datetime, rows: list[tuple[bool, Mapping[str, Any]]], station: str) -> ArchivedHour:
    values = {
        name: np.array([_value(report, theirs, wanted) for _, report in rows])
        for name, (theirs, wanted) in VARIABLE_MAP.items()
    }
    complete = any(routine for routine, _ in rows)
    rain = values["rain_mm"] if complete else np.full(1, np.nan)
    last = {name: _last(column) for name, column in values.items()}
    return ArchivedHour(
        starts_at=starts_at,
        rain_mm=float(np.nanmax(rain)) if np.isfinite(rain).any() else None,
        temp_c=last["temp_c"],
        dew_c=last["dew_c"],
        wind10_m_s=last["wind10_m_s"],
        source=f"{SAID}, {station}",
    )


def _value(report: Mapping[str, Any], theirs: str, wanted: str) -> float:
    """One value in SI by its own unitCode; NaN when absent, null, rejected or negative rain."""
    found = part(report, theirs)
    value = number(found.get("value"))
    if not math.isfinite(value) or found.get("qualityControl") in REJECTED:
        return math.nan
    si = float(to_si([value], found.get("unitCode"), wanted, source=SAID, what=theirs)[0])
    return math.nan if wanted == "mm" and si < 0 else si


def _last(column: Any) -> float | None:
    known = column[np.isfinite(column)]
    return float(known[-1]) if len(known) else None
