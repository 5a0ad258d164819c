"""MET Norway Locationforecast 2.0 ("complete", compact answers are understood too).

Labels: every step is an instant in UTC, and its periods run FORWARD from it (next_1_hours,
next_6_hours). Hourly steps carry both and overlap, so one hour of rain is taken from one period only.
No radiation: it is made from cloud cover. No past. Chance and range of rain only in the north.
Credit is a duty of the licence (NLOD 2.0 / CC BY 4.0).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np

from advisor.advice import MembersFrom, Note, NoteKind, NoteLevel
from advisor.errors import SourceError
from advisor.lawn import Place, WeatherSettings
from advisor.science.radiation import (
    clear_sky_radiation,
    extraterrestrial_radiation_hourly,
    radiation_from_cloud,
)
from advisor.science.snow import split
from advisor.weather.hour_grid import instants_to_hours, stamps
from advisor.weather.humidity import dew_point_c
from advisor.weather.members import BLOCK_H, build_members
from advisor.weather.reading import distance_km, instant, number, part, to_si
from advisor.weather.registry import Source
from advisor.weather.weather import Array, Hours, SourceUse, Weather, blank, hours_between

if TYPE_CHECKING:
    from advisor.weather.client import Client

NAME = "met_norway"
SAID = "MET Norway"
BASE_URL = "https://api.met.no/weatherapi/locationforecast/2.0/complete"
DOMAIN = "met.no"
"""Where the service may send a question on to, besides its own address."""
ATTRIBUTION = "Data from MET Norway (CC BY 4.0), modified: made hourly, radiation from cloud cover"
REACH = timedelta(days=20)
LATE_ISSUE = timedelta(hours=12)
FAR_KM = 100.0  # the answer echoes the place that was asked for

# what we call it → (the service's name, what it is measured in)
VARIABLE_MAP = {
    "temp": ("air_temperature", "°C"),
    "dew": ("dew_point_temperature", "°C"),
    "humidity": ("relative_humidity", "fraction"),
    "wind": ("wind_speed", "m/s"),
    "cloud": ("cloud_area_fraction", "fraction"),
    "cloud_low": ("cloud_area_fraction_low", "fraction"),
    "cloud_medium": ("cloud_area_fraction_medium", "fraction"),
    "cloud_high": ("cloud_area_fraction_high", "fraction"),
}
PERIOD_MAP = {
    "amount": ("precipitation_amount", "mm"),
    "low": ("precipitation_amount_min", "mm"),
    "high": ("precipitation_amount_max", "mm"),
    "chance": ("probability_of_precipitation", "fraction"),
    "tmax": ("air_temperature_max", "°C"),
    "tmin": ("air_temperature_min", "°C"),
}
USUAL_UNITS = {"°C": "celsius", "fraction": "%", "m/s": "m/s", "mm": "mm"}


@dataclass(frozen=True, eq=False, slots=True)
class _Steps:
    """The service's steps: `times` (n,), and per name (n,) SI values; `one` and `six` are the periods."""

    times: list[datetime]
    now: dict[str, Array]
    one: dict[str, Array]
    six: dict[str, Array]


def get_forecast(client: Client, place: Place, settings: WeatherSettings, now: datetime) -> Weather:
    """Fetch and read the forecast for a place. SourceError in one sentence when there is none."""
    from advisor.weather.client import coordinate

    url = settings.base_urls.get(NAME, BASE_URL)
    asked = {
        "lat": coordinate(place.latitude_deg),
        "lon": coordinate(place.longitude_deg),
        "altitude": str(round(place.elevation_m)),
    }

    def fits(payload: Any) -> None:
        _near(payload, place)
        _read_steps(payload)

    payload, reply = client.get_json(url, asked, source=SAID, now=now, check=fits, moves_within=DOMAIN)
    weather = read_forecast(
        payload,
        latitude_deg=place.latitude_deg,
        longitude_deg=place.longitude_deg,
        elevation_m=place.elevation_m,
        fetched_at=reply.fetched_at,
    )
    return replace(weather, notes=(*reply.notes, *weather.notes))


def read_forecast(
    payload: Any, *, latitude_deg: float, longitude_deg: float, elevation_m: float, fetched_at: datetime
) -> Weather:
    """The payload as hourly Weather from its first step on; anything it does not say is NaN.

    SourceError where it is not a forecast, is in unknown units, or has no temperature or rain.
    """
    steps = _read_steps(payload)
    last = steps.times[-1] + timedelta(hours=6 if np.isfinite(steps.six["amount"][-1]) else 1)
    starts = hours_between(steps.times[0], last)
    at = stamps(steps.times)

    temp = _temperature(steps, starts)
    humidity = np.where(steps.now["humidity"] <= 1.05, steps.now["humidity"], np.nan)
    dew_said, dew_made = steps.now["dew"], dew_point_c(steps.now["temp"], 100.0 * humidity)
    dew = instants_to_hours(at, np.where(np.isfinite(dew_said), dew_said, dew_made), starts)
    wind = instants_to_hours(at, steps.now["wind"], starts)
    cloud = instants_to_hours(at, np.clip(steps.now["cloud"], 0.0, 1.0), starts)
    rain = _hourly_amounts(steps, starts)
    if not np.isfinite(temp).any() or not np.isfinite(rain).any():
        raise SourceError(SAID, "sent a forecast without a single hour of temperature and rain")
    rs = _radiation(steps, starts, cloud, latitude_deg, longitude_deg, elevation_m)
    _, snow = split(rain, temp)
    members, members_note = _members(steps, starts, rain)
    told = partial(Note, level=NoteLevel.TOLD, source=SAID)
    notes = [told(kind=NoteKind.RADIATION_MADE), members_note]
    gaps = np.diff(at) / np.timedelta64(3600, "s")
    if (gaps > 1).any():
        tail = steps.times[int(np.argmax(gaps > 1))]
        notes.append(told(kind=NoteKind.SIX_HOURLY_AFTER, at=tail))
    issued = instant(part(payload, "properties", "meta").get("updated_at"))
    if issued is not None and fetched_at - issued > LATE_ISSUE:
        age_h = (fetched_at - issued) / timedelta(hours=1)
        notes.append(Note(level=NoteLevel.WARNING, kind=NoteKind.ISSUED_LONG_AGO, source=SAID, age_h=age_h))
        fetched_at = issued
    weather = blank(latitude_deg, longitude_deg, elevation_m, starts, 0)
    known = np.flatnonzero(np.isfinite(rain))
    reaches = weather.starts_at(int(known[-1]) + 1)
    use = SourceUse(SAID, "forecast", fetched_at, reaches, ATTRIBUTION, len(members))
    return replace(
        weather,
        temp_c=temp,
        dew_c=dew,
        wind10_m_s=wind,
        rs_mj_m2_h=rs,
        rain_mm=rain,
        snow_mm=snow,
        cloud=cloud,
        chance=_on_hours(steps, starts, steps.one["chance"]),
        members_mm=members,
        rain_basis=np.where(np.isfinite(rain), "model", "").astype("<U8"),
        sources=(use,),
        notes=tuple(notes),
    )


def _timeseries(payload: Any) -> list[Any]:
    """The list of steps, or the SourceError that says what stands there instead."""
    series = part(payload, "properties").get("timeseries")
    if not isinstance(series, list) or not series:
        raise SourceError(SAID, "sent JSON that is not a forecast (no properties.timeseries)")
    return series


def _read_steps(payload: Any) -> _Steps:
    units = part(payload, "properties", "meta", "units")
    rows: dict[datetime, Any] = {}
    for step in _timeseries(payload):
        at = instant(step.get("time")) if isinstance(step, dict) else None
        if at is not None and at.minute == at.second == at.microsecond == 0:
            rows[at] = part(step, "data")
    if not rows:
        raise SourceError(SAID, "sent a forecast in which no step has a time on the hour")
    times = sorted(rows)
    times = [at for at in times if at - times[0] <= REACH]

    def column(mapped: dict[str, tuple[str, str]], *where: str) -> dict[str, Array]:
        out: dict[str, Array] = {}
        for name, (theirs, wanted) in mapped.items():
            values = np.array([number(part(rows[at], *where).get(theirs)) for at in times])
            if np.isfinite(values).any():
                values = to_si(
                    values, units.get(theirs, USUAL_UNITS[wanted]), wanted, source=SAID, what=theirs
                )
            out[name] = values
        return out

    return _Steps(
        times,
        now=column(VARIABLE_MAP, "instant", "details"),
        one=column(PERIOD_MAP, "next_1_hours", "details"),
        six=column(PERIOD_MAP, "next_6_hours", "details"),
    )


def _index(steps: _Steps, starts: Hours) -> list[int]:
    return [int(i) for i in (stamps(steps.times) - starts[0]) / np.timedelta64(3600, "s")]


def _on_hours(steps: _Steps, starts: Hours, values: Array) -> Array:
    out = np.full(len(starts), np.nan)
    out[_index(steps, starts)] = values
    return out


def _hourly_amounts(steps: _Steps, starts: Hours) -> Array:
    """Rain per hour: next_1_hours where it is known; of next_6_hours only what those leave unsaid.

    So hours are never counted twice: a six-hour amount is spread evenly over those of its hours that
    have no amount yet, less what its other hours have.
    """
    rain = _on_hours(steps, starts, steps.one["amount"])
    for i, six in zip(_index(steps, starts), steps.six["amount"], strict=True):
        if math.isfinite(six) and i + 6 <= len(starts) and math.isnan(rain[i]):
            hours = rain[i : i + 6]
            open_ = np.isnan(hours)
            hours[open_] = max(0.0, six - float(np.nansum(hours))) / open_.sum()
    return rain


def _temperature(steps: _Steps, starts: Hours) -> Array:
    """Hourly temperature; between six-hourly steps through the period's maximum and minimum if given.

    An extreme beyond both ends of its six hours is placed in the middle of them; where both are, the
    one nearer to the first step's temperature comes first, at two and four hours.
    """
    times, values = list(steps.times), list(steps.now["temp"])
    for k in range(len(steps.times) - 1):
        first, second = values[k], values[k + 1]
        if steps.times[k + 1] - steps.times[k] != timedelta(hours=6) or not math.isfinite(first + second):
            continue
        high, low = float(steps.six["tmax"][k]), float(steps.six["tmin"][k])
        beyond = [x for x in (high,) if x > max(first, second)] + [
            x for x in (low,) if x < min(first, second)
        ]
        beyond.sort(key=lambda x: abs(x - first))
        places = {1: (3,), 2: (2, 4)}.get(len(beyond), ())
        for hour, value in zip(places, beyond, strict=True):
            times.append(steps.times[k] + timedelta(hours=hour))
            values.append(value)
    return instants_to_hours(stamps(times), np.array(values), starts)


def _radiation(
    steps: _Steps,
    starts: Hours,
    cloud: Array,
    latitude_deg: float,
    longitude_deg: float,
    elevation_m: float,
) -> Array:
    """Rs from cloud cover, MJ/m²/h; high cloud counts half where the layers are told apart.

    A forecast's total cover counts thin high cloud in full, though it lets the sun through (rule of
    thumb, common practice, no source).
    """
    low, medium, high = (steps.now[f"cloud_{layer}"] for layer in ("low", "medium", "high"))
    veil = np.maximum(np.maximum(low, medium), 0.5 * high)
    layered = instants_to_hours(stamps(steps.times), np.clip(veil, 0.0, 1.0), starts)
    cover = np.where(np.isfinite(layered), layered, cloud)
    ra = extraterrestrial_radiation_hourly(
        latitude_deg=latitude_deg, longitude_deg=longitude_deg, starts=starts
    )
    return radiation_from_cloud(cloud=cover, rso=clear_sky_radiation(ra=ra, elevation_m=elevation_m))


def _members(steps: _Steps, starts: Hours, rain: Array) -> tuple[Array, Note]:
    """Members from amount, range and chance, and a note on what they rest on."""
    at = dict(zip(_index(steps, starts), range(len(steps.times)), strict=True))
    spans: list[tuple[int, int]] = []
    said: dict[str, list[float]] = {"chance": [], "low": [], "high": []}

    def take(first: int, last: int, period: dict[str, Array] | None, k: int) -> None:
        spans.append((first, last))
        for name, values in said.items():
            values.append(float(period[name][k]) if period is not None else math.nan)

    i = 0
    while i < len(starts):
        k = at.get(i)
        if k is not None and math.isfinite(steps.one["chance"][k]):
            take(i, i + 1, steps.one, k)
            i += 1
        elif k is not None and math.isfinite(steps.six["amount"][k]) and i + 6 <= len(starts):
            take(i, i + 6, steps.six, k)
            i += 6
        else:
            last = min(len(starts), i + BLOCK_H)
            while last > i + 1 and not np.isfinite(rain[i:last]).all():
                last -= 1
            take(i, last, None, 0)
            i = last
    lead = np.arange(len(starts), dtype=np.float64)
    members = build_members(
        amount_mm=rain,
        chance=np.array(said["chance"]),
        low_mm=np.array(said["low"]),
        high_mm=np.array(said["high"]),
        spans=np.array(spans, dtype=np.int64),
        lead_h=lead,
    )
    known = bool(np.isfinite(said["chance"]).any())
    return members, Note(
        level=NoteLevel.TOLD,
        kind=NoteKind.MEMBERS_BUILT,
        source=SAID,
        count=len(members),
        members_from=MembersFrom.AMOUNT_RANGE_AND_CHANCE if known else MembersFrom.AMOUNT,
    )


def _near(payload: Any, place: Place) -> None:
    """Refuse an answer for a place far from the one asked for."""
    found: Any = part(payload, "geometry").get("coordinates")
    if not isinstance(found, list) or len(found) < 2:
        return
    lon, lat = number(found[0]), number(found[1])
    if not math.isfinite(lon + lat):
        return
    away = distance_km(place.latitude_deg, place.longitude_deg, lat, lon)
    if away > FAR_KM:
        raise SourceError(SAID, f"answered for a place {away:.0f} km from {place.name}")


SOURCE = Source(name=NAME, rank=30, forecast=get_forecast, addresses={NAME: BASE_URL})
