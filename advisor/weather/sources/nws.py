"""US National Weather Service: the gridpoint forecast, and the hours that its stations observed.

Labels: every value carries its own half-open interval ("start/duration", UTC). Amounts are pro-rated
onto hours, states repeated. The first interval began before the forecast was made; that part is cut
off. How far rain reaches differs by office; beyond it rain is unknown, not none. No radiation: made
from sky cover. US open data, no licence duty; we credit all the same.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np

from advisor.advice import MembersFrom, Note, NoteKind, NoteLevel
from advisor.errors import SourceError
from advisor.lawn import ArchivedHour, Place, WeatherSettings
from advisor.science.radiation import (
    clear_sky_radiation,
    extraterrestrial_radiation_hourly,
    radiation_from_cloud,
)
from advisor.science.snow import split
from advisor.weather.hour_grid import place_amounts, place_states, stamps
from advisor.weather.humidity import dew_point_c
from advisor.weather.members import build_members
from advisor.weather.reading import duration, instant, number, part, to_si
from advisor.weather.registry import Source
from advisor.weather.weather import Array, SourceUse, Weather, blank, hours_between

if TYPE_CHECKING:
    from advisor.weather.client import Client, Reply

NAME = "nws"
SAID = "US National Weather Service"
BASE_URL = "https://api.weather.gov"
DOMAIN = "weather.gov"
"""Where the service may send a question on to, besides its own address."""
ATTRIBUTION = "Forecast by the US National Weather Service, modified: made hourly, radiation from sky cover"
HEADERS = {"Accept": "application/geo+json"}
REACH = timedelta(days=20)
LATE_ISSUE = timedelta(hours=24)
GRID_KEEP_S = 14 * 86400.0
LONGEST_POP_H = 12

# what we call it → (layer, what it is measured in, whether an amount over its interval)
VARIABLE_MAP = {
    "temp": ("temperature", "°C", False),
    "dew": ("dewpoint", "°C", False),
    "humidity": ("relativeHumidity", "fraction", False),
    "wind": ("windSpeed", "m/s", False),
    "cloud": ("skyCover", "fraction", False),
    "rain": ("quantitativePrecipitation", "mm", True),
    "snow_depth": ("snowfallAmount", "mm", True),
    "chance": ("probabilityOfPrecipitation", "fraction", False),
}


@dataclass(frozen=True, eq=False, slots=True)
class _Layer:
    """One layer: half-open intervals (n,) and their SI values (n,), in the order of time."""

    starts: list[datetime]
    ends: list[datetime]
    values: Array


def get_forecast(client: Client, place: Place, settings: WeatherSettings, now: datetime) -> Weather:
    """Fetch and read the forecast for a place. SourceError in one sentence when there is none.

    The grid square of the place is kept for two weeks, and looked up anew when it is gone (404).
    """
    from advisor.weather.client import Refused

    base = settings.base_urls.get(NAME, BASE_URL).rstrip("/")

    def ask(grid: str) -> tuple[Any, Reply]:
        return client.get_json(
            f"{base}/gridpoints/{grid}",
            source=SAID,
            now=now,
            headers=HEADERS,
            check=_properties,
            moves_within=DOMAIN,
        )

    grid = find_grid(client, base, place, now, GRID_KEEP_S)
    try:
        payload, reply = ask(grid)
    except Refused as refusal:
        if refusal.status != 404:
            raise
        anew = find_grid(client, base, place, now, 0.0)
        if anew == grid:
            raise
        payload, reply = ask(anew)
    weather = read_forecast(
        payload,
        latitude_deg=place.latitude_deg,
        longitude_deg=place.longitude_deg,
        elevation_m=place.elevation_m,
        fetched_at=reply.fetched_at,
    )
    return replace(weather, notes=(*reply.notes, *weather.notes))


def grid_in(payload: Any) -> str:
    """The grid square "OFFICE/x,y" in an answer of /points; gridX and gridY come as numbers or text."""
    found = part(payload, "properties")
    office, x, y = found.get("gridId"), found.get("gridX"), found.get("gridY")
    try:
        square = f"{int(str(x))},{int(str(y))}"
    except ValueError:
        square = ""
    if not isinstance(office, str) or not office.isalnum() or not square:
        raise SourceError(SAID, "did not say which grid square the place is in")
    return f"{office}/{square}"


def find_grid(client: Client, base: str, place: Place, now: datetime, keep_s: float) -> str:
    """The grid square "OFFICE/x,y" of a place, kept for `keep_s` seconds. SourceError outside the US."""
    from advisor.weather.client import Keep, Refused, coordinate

    url = f"{base}/points/{coordinate(place.latitude_deg)},{coordinate(place.longitude_deg)}"
    try:
        payload, _ = client.get_json(
            url,
            source=SAID,
            now=now,
            headers=HEADERS,
            check=grid_in,
            keep=Keep(keep_s, keep_s),
            moves_within=DOMAIN,
        )
    except Refused as refusal:
        if "InvalidPoint" in str(part(refusal.payload).get("type")):
            raise SourceError(
                SAID, f"serves the United States only and has nothing for {place.name}"
            ) from None
        raise
    return grid_in(payload)


def read_forecast(
    payload: Any, *, latitude_deg: float, longitude_deg: float, elevation_m: float, fetched_at: datetime
) -> Weather:
    """The gridpoint payload as hourly Weather from the hour of `fetched_at` on; the unsaid is NaN.

    SourceError where it is not a forecast, is in unknown units, or has no temperature or rain left.
    """
    properties = _properties(payload)
    layers = {
        name: _layer(properties.get(layer), layer, unit) for name, (layer, unit, _) in VARIABLE_MAP.items()
    }
    named = [layers[name] for name in ("temp", "rain") if layers[name].starts]
    if not named:
        raise SourceError(SAID, "sent a forecast with neither temperature nor rain")
    first = max(fetched_at, min(layer.starts[0] for layer in named))
    last = min(max(end for layer in named for end in layer.ends), first + REACH)
    starts = hours_between(first, last)
    if len(starts) == 0:
        raise SourceError(
            SAID, f"sent a forecast that ended {last:%Y-%m-%d %H:%M} UTC, before it was fetched"
        )
    on: dict[str, Array] = {}
    for name, (_, _, amount) in VARIABLE_MAP.items():
        layer = layers[name]
        place = place_amounts if amount else place_states
        on[name] = place(stamps(layer.starts), stamps(layer.ends), layer.values, starts)
    if not np.isfinite(on["temp"]).any() or not np.isfinite(on["rain"]).any():
        raise SourceError(SAID, "sent a forecast without a single coming hour of temperature and rain")
    made = dew_point_c(on["temp"], 100.0 * np.where(on["humidity"] <= 1.05, on["humidity"], np.nan))
    cloud = np.clip(on["cloud"], 0.0, 1.0)
    ra = extraterrestrial_radiation_hourly(
        latitude_deg=latitude_deg, longitude_deg=longitude_deg, starts=starts
    )
    rs = radiation_from_cloud(cloud=cloud, rso=clear_sky_radiation(ra=ra, elevation_m=elevation_m))
    _, snow = split(on["rain"], on["temp"])
    snow = np.where(on["snow_depth"] == 0.0, 0.0, snow)
    weather = blank(latitude_deg, longitude_deg, elevation_m, starts, 0)
    members, chance = _members(layers, weather, on["rain"])
    known = np.flatnonzero(np.isfinite(on["rain"]))
    reaches = weather.starts_at(int(known[-1]) + 1)
    told = partial(Note, level=NoteLevel.TOLD, source=SAID)
    has_chance = bool(np.isfinite(layers["chance"].values).any())
    basis = MembersFrom.AMOUNT_AND_CHANCE if has_chance else MembersFrom.AMOUNT
    notes = [
        told(kind=NoteKind.RADIATION_MADE),
        told(kind=NoteKind.MEMBERS_BUILT, count=len(members), members_from=basis),
        told(kind=NoteKind.RAIN_REACHES, until=reaches),
    ]
    issued = instant(properties.get("updateTime"))
    if issued is not None and fetched_at - issued > LATE_ISSUE:
        age_h = (fetched_at - issued) / timedelta(hours=1)
        notes.append(Note(level=NoteLevel.WARNING, kind=NoteKind.ISSUED_LONG_AGO, source=SAID, age_h=age_h))
        fetched_at = issued
    return replace(
        weather,
        temp_c=on["temp"],
        dew_c=np.where(np.isfinite(on["dew"]), on["dew"], made),
        wind10_m_s=on["wind"],
        rs_mj_m2_h=rs,
        rain_mm=on["rain"],
        snow_mm=snow,
        cloud=cloud,
        chance=chance,
        members_mm=members,
        rain_basis=np.where(np.isfinite(on["rain"]), "model", "").astype("<U8"),
        sources=(SourceUse(SAID, "forecast", fetched_at, reaches, ATTRIBUTION, len(members)),),
        notes=tuple(notes),
    )


def _properties(payload: Any) -> Mapping[str, Any]:
    """The layers of a gridpoint answer, or the SourceError that says what it is instead."""
    properties = part(payload, "properties")
    if not any(isinstance(properties.get(layer), dict) for layer, _, _ in VARIABLE_MAP.values()):
        told = part(payload).get("detail") or part(payload).get("title")
        said = f" ({' '.join(str(told).split())[:200]})" if told else ""
        raise SourceError(SAID, f"sent JSON that is not a gridpoint forecast{said}")
    return properties


def _layer(found: Any, name: str, wanted: str) -> _Layer:
    """A layer's intervals and values; one that is absent or empty (then without a unit) has none."""
    rows: list[tuple[datetime, datetime, float]] = []
    values = part(found).get("values")
    for row in values if isinstance(values, list) else []:
        span = interval(part(row).get("validTime"))
        if span is not None and not isinstance(part(row).get("value"), list | dict | str):
            rows.append((*span, number(part(row).get("value"))))
    rows.sort(key=lambda row: row[:2])
    amounts = np.array([row[2] for row in rows], dtype=np.float64)
    if np.isfinite(amounts).any():
        amounts = to_si(amounts, part(found).get("uom"), wanted, source=SAID, what=name)
    return _Layer([row[0] for row in rows], [row[1] for row in rows], amounts)


def interval(text: Any) -> tuple[datetime, datetime] | None:
    """An ISO 8601 "start/duration" as half-open aware UTC times; None for anything else or too long."""
    begin, _, length = text.partition("/") if isinstance(text, str) else ("", "", "")
    start, lasts = instant(begin), duration(length)
    if start is None or lasts is None or not timedelta(0) < lasts <= REACH:
        return None
    try:
        return start, start + lasts
    except OverflowError:
        return None


def _members(layers: Mapping[str, _Layer], weather: Weather, rain: Array) -> tuple[Array, Array]:
    """Members from amounts and chances over the periods that the chances belong to; and hourly chances.

    Equal neighbouring chances come merged (2 days at 5 % are not "5 % over 2 days"), so a chance
    belongs to periods as long as the shortest one in the layer, at most 12 h, and no shorter than the
    rain's own bins. Where several chances meet in one period the highest counts. An hourly chance is
    given only where the service's periods are hourly.
    """
    h, chances = weather.hours, layers["chance"]
    hourly = np.full(h, np.nan)
    shortest = _shortest_h(chances)
    begin = np.array([weather.index_at(t) for t in chances.starts], dtype=np.int64)
    end = np.array([weather.index_at(t + timedelta(minutes=59)) for t in chances.ends], dtype=np.int64)
    if shortest == 1:
        hourly = place_states(stamps(chances.starts), stamps(chances.ends), chances.values, weather.starts)
    spans, said = [], []
    for a, b in _periods(layers, weather, rain, shortest):
        touching = (begin < b) & (end > a) & np.isfinite(chances.values)
        spans.append((a, b))
        said.append(float(chances.values[touching].max()) if touching.any() else math.nan)
    members = build_members(
        amount_mm=rain,
        chance=np.array(said),
        spans=np.array(spans, dtype=np.int64).reshape(-1, 2),
        lead_h=np.arange(h, dtype=np.float64),
    )
    return members, hourly


def _shortest_h(chances: _Layer) -> int:
    """The length in hours of the service's own chance periods, which merging only makes longer.

    The first and the last interval may be cut off, so they do not count where there are others.
    """
    lengths = [(b - a) // timedelta(hours=1) for a, b in zip(chances.starts, chances.ends, strict=True)]
    inner = lengths[1:-1] or lengths
    return min(max(1, min(inner, default=1)), LONGEST_POP_H)


def _periods(
    layers: Mapping[str, _Layer], weather: Weather, rain: Array, shortest: int
) -> list[tuple[int, int]]:
    """The hour ranges for which members are made: the rain's bins, joined up to the chances' length."""
    edges = {weather.index_at(t) for t in (*layers["rain"].starts, *layers["rain"].ends)}
    known = np.isfinite(rain)
    bins: list[tuple[int, int]] = []
    for i in range(weather.hours):
        if not known[i]:
            continue
        if bins and bins[-1][1] == i and i not in edges:
            bins[-1] = (bins[-1][0], i + 1)
        else:
            bins.append((i, i + 1))
    cuts = {weather.index_at(t) for t in layers["chance"].starts}
    joined: list[tuple[int, int]] = []
    for a, b in bins:
        if joined and joined[-1][1] == a and b - joined[-1][0] <= shortest and a not in cuts:
            joined[-1] = (joined[-1][0], b)
        else:
            joined.append((a, b))
    return joined


def _observed(
    client: Client, place: Place, settings: WeatherSettings, now: datetime
) -> tuple[ArchivedHour, ...]:
    """What the nearest station observed; that room builds on this one and is loaded when it is asked."""
    from advisor.weather.sources.nws_observed import get_observations

    return get_observations(client, place, settings, now)


SOURCE = Source(
    name=NAME,
    rank=20,
    countries=frozenset({"US"}),
    forecast=get_forecast,
    observed=_observed,
    addresses={NAME: BASE_URL},
)
