"""Open-Meteo: past days and forecast, rain members of its ensembles, and its archive.

Labels: temperature, dew point, wind and cloud are valid AT the stamp; rain, snow, radiation, chance and
ET0 belong to the hour that ENDS at the stamp. Here every hour is labelled by its start: amounts move
one hour back, instants become the mean of the hour's two ends. We ask in GMT and unix seconds, so that
no local time is ever read. `past` days are the service's own model, not what was measured.

Base addresses (site file, `base_urls`): open_meteo, open_meteo_ensemble, open_meteo_archive.
Free for non-commercial use; CC BY 4.0, so the credit in `ATTRIBUTION` is shown beside the data.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

import numpy as np

from advisor.advice import Note, NoteKind, NoteLevel, Variable
from advisor.errors import SourceError
from advisor.foreign_words import fit
from advisor.lawn import Place, WeatherSettings
from advisor.weather.ensemble import Ensemble
from advisor.weather.hour_grid import HOUR_S
from advisor.weather.humidity import dew_point_c
from advisor.weather.registry import Source, Together
from advisor.weather.sources.open_meteo_payload import (
    Block,
    Column,
    block_in,
    number_in,
    places_in,
    wait_in_words,
)
from advisor.weather.weather import Array, SourceUse, Weather, blank

if TYPE_CHECKING:
    from advisor.weather.client import Client, Reply

FORECAST, ENSEMBLE, ARCHIVE = "Open-Meteo forecast", "Open-Meteo ensemble", "Open-Meteo archive"
BASE_URLS = {
    "open_meteo": "https://api.open-meteo.com/v1/forecast",
    "open_meteo_ensemble": "https://ensemble-api.open-meteo.com/v1/ensemble",
    "open_meteo_archive": "https://archive-api.open-meteo.com/v1/archive",
}
DOMAIN = "open-meteo.com"
"""Where the service may send a question on to, besides its own address."""
ATTRIBUTION = (
    "Weather data by Open-Meteo.com (https://open-meteo.com/), licence CC BY 4.0 "
    "(https://creativecommons.org/licenses/by/4.0/); modified: moved to hour starts, aggregated"
)
ERA5 = "; archive generated using Copernicus Climate Change Service information {year}"

TEMPERATURE = {"°C": (1.0, 0.0), "°F": (5 / 9, -160 / 9)}
SPEED = {"m/s": (1.0, 0.0), "km/h": (1 / 3.6, 0.0), "mp/h": (0.44704, 0.0), "kn": (1852 / 3600, 0.0)}
DEPTH = {"mm": (1.0, 0.0), "inch": (25.4, 0.0)}
SNOW = {"cm": (1 / 0.7, 0.0), "inch": (2.54 / 0.7, 0.0)}  # 7 cm of fresh snow hold 10 mm of water
FRACTION = {"%": (0.01, 0.0)}
RAIN = Column("rain_mm", Variable.RAIN, "preceding hour", DEPTH, 0.0, 150.0)
VARIABLE_MAP: dict[str, Column] = {
    "temperature_2m": Column("temp_c", Variable.TEMPERATURE, "instant", TEMPERATURE, -60.0, 60.0),
    "dew_point_2m": Column("dew_c", Variable.DEW_POINT, "instant", TEMPERATURE, -80.0, 45.0),
    "wind_speed_10m": Column("wind10_m_s", Variable.WIND, "instant", SPEED, 0.0, 60.0),
    "shortwave_radiation": Column(
        "rs_mj_m2_h", Variable.RADIATION, "preceding hour", {"W/m²": (0.0036, 0.0)}, -0.0036, 5.04
    ),
    "precipitation": RAIN,
    "snowfall": Column("snow_mm", Variable.SNOW, "preceding hour", SNOW, 0.0, 150.0),
    "cloud_cover": Column("cloud", Variable.CLOUD, "instant", FRACTION, 0.0, 1.0),
    "precipitation_probability": Column("chance", Variable.CHANCE, "preceding hour", FRACTION, 0.0, 1.0),
    "et0_fao_evapotranspiration": Column(
        "eto_source_mm", Variable.SERVICE_ETO, "preceding hour", DEPTH, -0.5, 2.5
    ),
}
HUMIDITY = Column("", Variable.HUMIDITY, "instant", {"%": (1.0, 0.0)}, 0.0, 105.0)
FULL = (*VARIABLE_MAP, "relative_humidity_2m")
CORE = ("temperature_2m", "dew_point_2m", "wind_speed_10m", "shortwave_radiation", "precipitation")
CORE_MODEL = "gfs_seamless"
PLACES_AT_ONCE = 50  # so that the address stays well under what servers take
FAR_KM = 100.0  # no model cell is that far from its place

MEMBER = re.compile(r"^precipitation(?:_member(\d{2,3}))?(?:_(.+))?$")
SIBLINGS = ("probability", "hours", "sum", "type", "previous_day", "spread")


def read_forecast(payload: Any, *, fetched_at: datetime, source: str = FORECAST) -> Weather:
    """The one place of a body as Weather, without members. Raises SourceError."""
    found = read_forecasts(payload, fetched_at=fetched_at, source=source)
    if len(found) != 1:
        raise SourceError(source, f"sent {len(found)} places where one was asked for")
    return found[0]


def read_forecasts(payload: Any, *, fetched_at: datetime, source: str = FORECAST) -> list[Weather]:
    """Every place of a body as Weather, in the order asked, without members. Raises SourceError."""
    return [_weather(place, fetched_at, source) for place in places_in(payload, source)]


def read_archive(payload: Any, *, fetched_at: datetime) -> Weather:
    """Past weather from the archive (reanalysis), whose last days may be unknown. Raises SourceError."""
    return read_forecast(payload, fetched_at=fetched_at, source=ARCHIVE)


def _weather(place: Mapping[str, Any], fetched_at: datetime, source: str) -> Weather:
    latitude, longitude = number_in(place, "latitude", -90, 90), number_in(place, "longitude", -180, 180)
    if math.isnan(latitude) or math.isnan(longitude):
        raise SourceError(source, "does not say for which place its values are")
    block = block_in(place, source)
    notes = [*block.notes, Note(level=NoteLevel.TOLD, kind=NoteKind.HOUR_STARTS, source=source)]
    series: dict[str, Array] = {}
    for name, column in VARIABLE_MAP.items():
        values, told = block.series(name, column)
        notes += told
        if values is not None:
            series[column.field] = _by_start(values, column.at)
    _dew_from_humidity(block, series, notes)
    if not any(np.isfinite(series[key]).any() for key in ("temp_c", "rain_mm") if key in series):
        raise SourceError(source, "sent neither temperature nor rain for any hour" + _why(notes))
    for key, variable in (("temp_c", Variable.TEMPERATURE), ("rain_mm", Variable.RAIN)):
        if key not in series:
            missing = NoteKind.SERIES_MISSING
            notes.append(Note(level=NoteLevel.WARNING, kind=missing, source=source, variable=variable))
    if "rs_mj_m2_h" in series:
        series["rs_mj_m2_h"] = np.maximum(series["rs_mj_m2_h"], 0.0)
    if "snow_mm" in series and "rain_mm" in series:
        series["snow_mm"] = np.minimum(series["snow_mm"], series["rain_mm"])  # snow is part of the total
    elevation = number_in(place, "elevation", -500, 9000)
    weather = replace(blank(latitude, longitude, elevation, block.starts(), 0), **series)  # type: ignore[arg-type]
    known = np.isfinite(weather.rain_mm)
    last = int(np.flatnonzero(known)[-1]) + 1 if known.any() else 0
    credit = ATTRIBUTION + (ERA5.format(year=fetched_at.year) if source == ARCHIVE else "")
    serves = "past weather" if source == ARCHIVE else "past days and forecast"
    use = SourceUse(source, serves, fetched_at, weather.starts_at(last), credit)
    basis = np.where(known, "model", "").astype("<U8")
    return replace(weather, rain_basis=basis, sources=(use,), notes=tuple(notes))


def _by_start(column: Array, at: str) -> Array:
    """Values at stamps 0 … n as n hours labelled by their start; an unknown end leaves the hour unknown."""
    return column[1:] if at == "preceding hour" else (column[:-1] + column[1:]) / 2.0


def _why(notes: Sequence[Note]) -> str:
    """What was left out as a whole, for the error of a source that is left with nothing."""
    told = [f"{note.variable}: {note.reason}" for note in notes if note.kind == NoteKind.LEFT_OUT]
    return f" ({'; '.join(dict.fromkeys(told))})" if told else ""


def _dew_from_humidity(block: Block, series: dict[str, Array], notes: list[Note]) -> None:
    """Fill unknown dew points from relative humidity where that is given."""
    column, told = block.series("relative_humidity_2m", HUMIDITY)
    if column is None or "temp_c" not in series:
        return
    dew = series.get("dew_c", np.full(block.span, np.nan))
    made = np.where(np.isnan(dew), dew_point_c(series["temp_c"], _by_start(column, "instant")), dew)
    if count := int(np.isfinite(made).sum() - np.isfinite(dew).sum()):
        series["dew_c"] = made
        notes += [*told, _dew_made(block.source, count)]


def _dew_made(source: str, hours: int) -> Note:
    return Note(level=NoteLevel.REPAIRED, kind=NoteKind.DEW_MADE, source=source, hours=hours)


def read_ensemble(
    payload: Any, *, fetched_at: datetime, asked: Sequence[str] = (), source: str = ENSEMBLE
) -> Ensemble:
    """The rain members of the one place of a body. Raises SourceError when none is alive.

    The plain column is the control run, member 00. Dead members (all null) are dropped, and so are
    those that know less than 80 % of the hours that most members of their model know.
    """
    places = places_in(payload, source)
    if len(places) != 1:
        raise SourceError(source, f"sent {len(places)} places where one was asked for")
    block = block_in(places[0], source)
    notes = list(block.notes)
    by_model: dict[str, list[Array]] = {}
    for name in sorted(block.columns):
        match = MEMBER.match(name)
        if not match or (match[2] or "").startswith(SIBLINGS):
            continue
        column, told = block.series(name, replace(RAIN, variable=Variable.MEMBERS))
        notes += told
        model = fit(match[2] or "", most=60) or (asked[0] if len(asked) == 1 else "one model")
        by_model.setdefault(model, []).append(np.full(block.span + 1, np.nan) if column is None else column)
    alive: list[Array] = []
    models: list[str] = []
    for model, members in by_model.items():
        kept = _alive(members)
        alive += kept
        models += [model] * len(kept)
        if lost := len(members) - len(kept):
            notes.append(
                Note(
                    level=NoteLevel.WARNING if len(kept) < 0.8 * len(members) else NoteLevel.DROPPED,
                    kind=NoteKind.MEMBERS_DEAD,
                    source=source,
                    count=lost,
                    of=len(members),
                    names=(model,),
                )
            )
    if not alive:
        raise SourceError(source, "sent no rain member that is alive" + _why(notes))
    notes.append(Note(level=NoteLevel.TOLD, kind=NoteKind.SUMS_SPREAD, source=source))
    starts = np.datetime64(block.first - HOUR_S, "s") + np.arange(block.span + 1) * np.timedelta64(
        HOUR_S, "s"
    )
    return Ensemble(source, ATTRIBUTION, starts, np.stack(alive), tuple(models), tuple(notes), fetched_at)


def _alive(members: Sequence[Array]) -> list[Array]:
    known = np.isfinite(np.stack(members))
    living = known.any(axis=1)
    usual = known[living].mean(axis=0) >= 0.5 if living.any() else np.zeros(known.shape[1], dtype=bool)
    enough = living & (known[:, usual].sum(axis=1) >= 0.8 * max(1, usual.sum()))
    return [member for member, keep in zip(members, enough, strict=True) if keep]


def get_forecast(client: Client, place: Place, settings: WeatherSettings, now: datetime) -> Weather:
    """Past 31 days and 11 days ahead for one place, without members. Raises SourceError."""
    return get_forecasts(client, [place], settings, now)[0]


def get_forecasts(
    client: Client,
    places: Sequence[Place],
    settings: WeatherSettings,
    now: datetime,
    *,
    past_days: int = 31,
    forecast_days: int = 11,
) -> list[Weather]:
    """Several places in one request, in order. Raises SourceError."""
    days = {"past_days": str(past_days), "forecast_days": str(forecast_days)}
    found, reply, note = _ask_hourly(client, "open_meteo", FORECAST, places, settings, now, days)
    return _told(read_forecasts(found, fetched_at=reply.fetched_at), reply, note)


def get_archive(
    client: Client, place: Place, settings: WeatherSettings, now: datetime, *, first: date, last: date
) -> Weather:
    """Past weather of the UTC days `first` to `last`, from one reanalysis throughout. Raises SourceError."""
    days = {"start_date": first.isoformat(), "end_date": last.isoformat(), "models": "era5_seamless"}
    found, reply, note = _ask_hourly(client, "open_meteo_archive", ARCHIVE, [place], settings, now, days)
    return _told([read_archive(found, fetched_at=reply.fetched_at)], reply, note)[0]


def get_ensemble(client: Client, place: Place, settings: WeatherSettings, now: datetime) -> Ensemble:
    """The rain members for one place, 10 days ahead, of the models in the settings. Raises SourceError."""
    return get_ensembles(client, [place], settings, now)[0]


def get_ensembles(
    client: Client, places: Sequence[Place], settings: WeatherSettings, now: datetime
) -> list[Ensemble]:
    """The rain members of several places in one request, in order. Raises SourceError."""
    from advisor.weather.client import Refused

    def fits(payload: Any) -> None:
        _near(places_in(payload, ENSEMBLE), places, ENSEMBLE)
        for body in places_in(payload, ENSEMBLE):
            read_ensemble(body, fetched_at=now)

    def ask(models: Sequence[str]) -> list[Ensemble]:
        params = {"hourly": "precipitation", "forecast_days": "10", "models": ",".join(models)}
        payload, reply = client.get_json(
            _address(settings, "open_meteo_ensemble"),
            {**_where(places), **params},
            source=ENSEMBLE,
            now=now,
            check=fits,
            moves_within=DOMAIN,
        )
        bodies = places_in(payload, ENSEMBLE)
        found = [read_ensemble(body, fetched_at=reply.fetched_at, asked=models) for body in bodies]
        return [one._replace(notes=(*reply.notes, *one.notes)) for one in found]

    try:
        return ask(settings.ensemble_models)
    except Refused as refusal:
        if refusal.status != 400 or settings.ensemble_models == (CORE_MODEL,):
            raise _explained(refusal, now) from None
        note = _asked_for_less(NoteKind.ASKED_ONE_MODEL, refusal, (CORE_MODEL,))
    try:
        fallback = ask((CORE_MODEL,))
    except Refused as refusal:
        raise _explained(refusal, now) from None
    return [one._replace(notes=(note, *one.notes)) for one in fallback]


def _ask_hourly(
    client: Client,
    key: str,
    source: str,
    places: Sequence[Place],
    settings: WeatherSettings,
    now: datetime,
    days: Mapping[str, str],
) -> tuple[Any, Reply, Note | None]:
    """The body for the full list of variables or, if one of them is refused, for the least that serves."""
    from advisor.weather.client import Refused

    def fits(payload: Any) -> None:
        _near(places_in(payload, source), places, source)
        read_forecasts(payload, fetched_at=now, source=source)

    note = None
    names = [n for n in FULL if source == FORECAST or n != "precipitation_probability"]
    for variables in (names, CORE):
        params = {**_where(places), **days, "wind_speed_unit": "ms", "hourly": ",".join(variables)}
        try:
            payload, reply = client.get_json(
                _address(settings, key), params, source=source, now=now, check=fits, moves_within=DOMAIN
            )
            return payload, reply, note
        except Refused as refusal:
            if refusal.status != 400 or variables == CORE:
                raise _explained(refusal, now) from None
            note = _asked_for_less(NoteKind.ASKED_FOR_LESS, refusal, CORE)
    raise AssertionError("the last try returns or raises")


def _asked_for_less(kind: NoteKind, refusal: SourceError, names: tuple[str, ...]) -> Note:
    return Note(level=NoteLevel.WARNING, kind=kind, source=refusal.source, reason=refusal.reason, names=names)


def _address(settings: WeatherSettings, key: str) -> str:
    return settings.base_urls.get(key, BASE_URLS[key])


def _where(places: Sequence[Place]) -> dict[str, str]:
    from advisor.weather.client import coordinate

    return {
        "latitude": ",".join(coordinate(p.latitude_deg) for p in places),
        "longitude": ",".join(coordinate(p.longitude_deg) for p in places),
        "elevation": ",".join(f"{p.elevation_m:.0f}" for p in places),
        "timezone": "GMT",
        "timeformat": "unixtime",
    }


def _near(found: Sequence[Mapping[str, Any]], places: Sequence[Place], source: str) -> None:
    """Refuse an answer for another number of places, or for places far from those asked."""
    if len(found) != len(places):
        raise SourceError(source, f"sent {len(found)} places where {len(places)} were asked for")
    for body, place in zip(found, places, strict=True):
        north = number_in(body, "latitude", -90, 90) - place.latitude_deg
        east = (number_in(body, "longitude", -180, 180) - place.longitude_deg + 180) % 360 - 180
        km = 111.2 * math.hypot(north, east * math.cos(math.radians(place.latitude_deg)))
        if km > FAR_KM:
            raise SourceError(source, f"answered for a place {km:.0f} km from {place.name}")


def _explained(refusal: SourceError, now: datetime) -> SourceError:
    """A 429 with the time to ask again, any other refusal as it is."""
    if getattr(refusal, "status", 0) != 429:
        return refusal
    return SourceError(refusal.source, f"{refusal.reason}; {wait_in_words(refusal.reason, now)}")


def _told(found: list[Weather], reply: Reply, note: Note | None) -> list[Weather]:
    extra = (*reply.notes, *((note,) if note else ()))
    return [replace(weather, notes=(*extra, *weather.notes)) for weather in found]


SOURCE = Source(
    name="open_meteo",
    rank=10,
    forecast=get_forecast,
    past=True,
    ensemble=get_ensemble,
    archive=get_archive,
    together=Together(PLACES_AT_ONCE, get_forecasts, get_ensembles),
    addresses=BASE_URLS,
)
