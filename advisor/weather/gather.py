"""Tonight's weather from the best source that answers, and what was lost on the way.

The sources are asked in the owner's order, else in the country's. The first whose answer is fresh and
covers the coming day is the base; every failure before it is told. Where none is fresh the youngest
serves with a warning; where all are too old, past days stand in (climatology) or we refuse.

A second source is asked for a cross-check only where the owner lists more than one: it costs a further
request each night, and the place is told to a further service.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np

from advisor.errors import SourceError, StaleWeather, WeatherError
from advisor.lawn.records import ArchivedHour
from advisor.lawn.site_values import Place, WeatherSettings
from advisor.weather.climatology import LEAST_DAYS, known_days, usual_weather
from advisor.weather.hours import seconds
from advisor.weather.members import pool, pool_members, with_built_members
from advisor.weather.past import RECORDS, reaching, settle_past, with_hours
from advisor.weather.quality import disagreement, expected_rain, screen
from advisor.weather.weather import SERIES, Note, Weather, blank, hours_between

if TYPE_CHECKING:
    from advisor.weather.client import Client
    from advisor.weather.sources.open_meteo import Ensemble

Fetch = Callable[["Client", Place, WeatherSettings, datetime], Weather]

NIGHT_H = 12
NEEDED_H = 24
NEEDED_SHARE = 0.75
PAST_DAYS = 31
YEARS_BACK = 3
SAME_SEASON_DAYS = 15


def default_order(country: str) -> tuple[str, ...]:
    """The sources that suit a country (ISO code, or "" where it is not said)."""
    if country.upper() == "US":
        return ("open_meteo", "nws", "met_norway")
    if country == "":
        return ("open_meteo", "met_norway", "nws")
    return ("open_meteo", "met_norway")


def gather_weather(
    place: Place,
    settings: WeatherSettings,
    client: Client,
    now: datetime,
    *,
    archive: Sequence[ArchivedHour] = (),
    sources: Mapping[str, Fetch] | None = None,
) -> Weather:
    """Hourly weather to advise on, screened, with members and every trouble as a note.

    `archive`: recorded past hours, used where no forecast can be had. Raises WeatherError (StaleWeather
    where there is only an old forecast) in one sentence that says what is missing.
    """
    fetchers = sources if sources is not None else SERVICES
    troubles: list[Note] = []
    usable: list[Weather] = []
    fresh: list[Weather] = []
    for name in settings.sources or default_order(place.country):
        weather = _asked(fetchers[name], client, place, settings, now, troubles)
        if weather is not None:
            usable.append(weather)
            if age_h(weather, now) <= settings.warn_after_h:
                fresh.append(weather)
        if len(fresh) > 1 or (fresh and (len(settings.sources) < 2 or weather is not fresh[0])):
            break
    base = fresh[0] if fresh else min(usable, key=lambda w: age_h(w, now), default=None)
    if base is None or age_h(base, now) > settings.refuse_after_h:
        return _as_usual(base, client, place, settings, now, archive, troubles)
    if (age := age_h(base, now)) > settings.warn_after_h:
        troubles.append(Note("warning", f"{base.sources[0].name}: its answer is {age:.1f} h old"))
    base = with_built_members(base, now)
    if len(fresh) > 1:
        base = _cross_checked(base, with_built_members(fresh[1], now), now, troubles)
    if base.index_at(now - timedelta(days=2)) < 0:
        base = _with_a_past(base, client, place, settings, now, archive, troubles)
    return replace(base, notes=(*troubles, *base.notes))


def age_h(weather: Weather, now: datetime) -> float:
    """How old the forecast is in hours, by its first source."""
    return (now - weather.sources[0].fetched_at).total_seconds() / 3600.0


def _asked(
    fetch: Fetch,
    client: Client,
    place: Place,
    settings: WeatherSettings,
    now: datetime,
    troubles: list[Note],
) -> Weather | None:
    """The screened answer of one source, or None with the reason told."""
    try:
        weather = screen(fetch(client, place, settings, now))
    except SourceError as failure:
        troubles.append(Note("warning", str(failure)))
        return None
    first = weather.index_at(now)
    for words, values in (("rain", weather.rain_mm), ("temperature", weather.temp_c)):
        ahead = values[max(0, first) : max(0, first + NEEDED_H)]
        share = float(np.isfinite(ahead).sum()) / NEEDED_H
        if share < NEEDED_SHARE:
            name = weather.sources[0].name
            text = (
                f"{name}: knows the {words} of only {100 * share:.0f} % of the coming day and is passed over"
            )
            troubles.append(Note("warning", text))
            return None
    return weather


def _open_meteo(client: Client, place: Place, settings: WeatherSettings, now: datetime) -> Weather:
    """Open-Meteo's forecast with its ensemble; where that fails the members are built from the forecast."""
    from advisor.weather.sources import open_meteo

    weather = open_meteo.get_forecast(client, place, settings, now)
    try:
        ensemble = open_meteo.get_ensemble(client, place, settings, now)
    except SourceError as failure:
        return with_ensemble(weather, failure, place, settings, now)
    return with_ensemble(weather, ensemble, place, settings, now)


def with_ensemble(
    weather: Weather, found: Ensemble | SourceError, place: Place, settings: WeatherSettings, now: datetime
) -> Weather:
    """Open-Meteo's forecast at the place itself, with the ensemble's members or a note why there are none."""
    from advisor.weather.sources import open_meteo

    weather = replace(
        weather,
        latitude_deg=place.latitude_deg,
        longitude_deg=place.longitude_deg,
        elevation_m=place.elevation_m,
    )
    if isinstance(found, SourceError):
        return replace(weather, notes=(Note("warning", str(found)), *weather.notes))
    if (old := (now - found.fetched_at).total_seconds() / 3600.0) > settings.refuse_after_h:
        note = Note("warning", f"the rain members are {old:.0f} h old and are left out")
        return replace(weather, notes=(note, *weather.notes))
    models = np.array(found.models)
    names = list(dict.fromkeys(found.models))
    if len(names) > 1:
        pooled = pool_members([found.members_mm[models == name] for name in names])
        each = tuple(name for name in names for _ in range(len(pooled) // len(names)))
        found = found._replace(members_mm=pooled, models=each)
    return open_meteo.with_members(weather, found)


def _met_norway(client: Client, place: Place, settings: WeatherSettings, now: datetime) -> Weather:
    from advisor.weather.sources import met_norway

    return met_norway.get_forecast(client, place, settings, now)


def _nws(client: Client, place: Place, settings: WeatherSettings, now: datetime) -> Weather:
    from advisor.weather.sources import nws

    return nws.get_forecast(client, place, settings, now)


SERVICES: Mapping[str, Fetch] = {"open_meteo": _open_meteo, "met_norway": _met_norway, "nws": _nws}


def _cross_checked(base: Weather, other: Weather, now: datetime, troubles: list[Note]) -> Weather:
    """The base alone where the two agree about the night's rain, else with the members of both pooled."""
    until = now + timedelta(hours=NIGHT_H)
    wild = disagreement([base, other], now, until)
    if wild is not None:
        troubles.append(wild)
        return pool([base, other])
    own, theirs = expected_rain(base, now, until)[0], expected_rain(other, now, until)[0]
    names = base.sources[0].name, other.sources[0].name
    text = f"rain of the next {NIGHT_H} h: {names[0]} {own:.1f} mm, {names[1]} {theirs:.1f} mm"
    troubles.append(Note("told", text))
    return base


def _with_a_past(
    base: Weather,
    client: Client,
    place: Place,
    settings: WeatherSettings,
    now: datetime,
    archive: Sequence[ArchivedHour],
    troubles: list[Note],
) -> Weather:
    """The base with past hours from the station near by or the archive service, where the records lack them."""
    from advisor.weather.sources import nws, nws_observed, open_meteo

    recorded = {hour.starts_at for hour in archive if hour.rain_mm is not None and hour.temp_c is not None}
    if len(recorded) >= 24 * (PAST_DAYS - 5):
        return base
    first, last = (now - timedelta(days=PAST_DAYS)).date(), now.date()
    try:
        past = screen(open_meteo.get_archive(client, place, settings, now, first=first, last=last))
        base = _before(base, past)
    except SourceError as failure:
        troubles.append(Note("warning", str(failure)))
    if base.sources and base.sources[0].name == nws.SAID:
        try:
            hours = nws_observed.get_observations(client, place, settings, now)
        except SourceError as failure:
            troubles.append(Note("warning", str(failure)))
        else:
            hours = tuple(hour for hour in hours if hour.starts_at <= now - timedelta(hours=1))
            if hours:
                longer = reaching(base, hours[0].starts_at, now)
                base = with_hours(longer, hours, f"as observed by {hours[0].source}", troubles)
    return base


def _before(base: Weather, past: Weather) -> Weather:
    """The base with the hours before it from `past`."""
    longer = reaching(base, past.starts_at(0), base.starts_at(0))
    shift = longer.index_at(past.starts_at(0))
    count = min(past.hours, longer.index_at(base.starts_at(0)) - shift)
    if count <= 0:
        return base
    for name in (*SERIES, "rain_basis", "air_from"):
        getattr(longer, name)[shift : shift + count] = getattr(past, name)[:count]
    source = past.sources[0].name if past.sources else RECORDS
    own = longer.air_from[shift : shift + count]
    own[own == ""] = source
    note = Note("told", f"past hours up to {base.starts_at(0):%Y-%m-%d %H:%M} UTC are from {source}")
    return replace(longer, sources=(*base.sources, *past.sources), notes=(*base.notes, note))


def _as_usual(
    base: Weather | None,
    client: Client,
    place: Place,
    settings: WeatherSettings,
    now: datetime,
    archive: Sequence[ArchivedHour],
    troubles: list[Note],
) -> Weather:
    """Past days in place of a forecast, from the records, else from the archive service; or a refusal."""
    stale = base is not None
    if base is None:
        starts = hours_between(now, now + timedelta(hours=1))
        base = blank(place.latitude_deg, place.longitude_deg, place.elevation_m, starts, 0)
    past = settle_past(base, gauge=(), archive=archive, now=now)
    until = min(now, base.sources[0].fetched_at) if base.sources else now
    usual = usual_weather(past, until, now)
    if usual is None:
        base = _with_a_past(base, client, place, settings, now, archive, troubles)
        past = settle_past(base, gauge=(), archive=archive, now=now)
        years = [
            _same_weeks(client, place, settings, now, back, troubles) for back in range(1, YEARS_BACK + 1)
        ]
        found = [year for year in years if year is not None]
        long = _end_to_end(found) if found else past
        usual = usual_weather(long, long.starts_at(long.hours) if found else now, now)
    if usual is None:
        days = len(known_days(past, until))
        said = _in_short([note.text for note in troubles if note.level == "warning"])
        text = (
            f"there is no forecast younger than {settings.refuse_after_h:g} h and only {days} archived days of "
            f"the {LEAST_DAYS} that could stand in for one ({said}); try again later or give hourly weather "
            "with --weather FILE.csv"
        )
        raise StaleWeather(text) if stale else WeatherError(text)
    kept = _before(usual, past) if past.starts_at(0) < usual.starts_at(0) else usual
    return replace(kept, notes=(*troubles, *usual.notes))


def _in_short(troubles: Sequence[str]) -> str:
    """Troubles "source: reason" with the sources of one reason put together."""
    by_reason: dict[str, list[str]] = {}
    for text in dict.fromkeys(troubles):
        source, colon, reason = text.partition(": ")
        by_reason.setdefault(reason if colon else "", []).append(source)
    return "; ".join(", ".join(who) + (f": {reason}" if reason else "") for reason, who in by_reason.items())


def _same_weeks(
    client: Client, place: Place, settings: WeatherSettings, now: datetime, back: int, troubles: list[Note]
) -> Weather | None:
    """The month around this date, `back` years ago, from the archive service."""
    from advisor.weather.sources import open_meteo

    if any(note.text.startswith(open_meteo.ARCHIVE) for note in troubles):
        return None  # it failed a moment ago
    middle = (now - timedelta(days=365.25 * back)).date()
    span: tuple[date, date] = (
        middle - timedelta(days=SAME_SEASON_DAYS),
        middle + timedelta(days=SAME_SEASON_DAYS),
    )
    try:
        return screen(open_meteo.get_archive(client, place, settings, now, first=span[0], last=span[1]))
    except SourceError as failure:
        troubles.append(Note("warning", str(failure)))
        return None


def _end_to_end(years: Sequence[Weather]) -> Weather:
    """Whole UTC days of several pasts put one behind the other, as if they had followed each other."""
    first = years[0]
    parts = []
    for weather in years:
        skip = int(-(seconds(weather.starts[:1])[0] // 3600) % 24)
        parts.append((weather, skip, skip + (weather.hours - skip) // 24 * 24))
    begin = first.starts_at(parts[0][1])
    count = sum(b - a for _, a, b in parts)
    joined = blank(
        first.latitude_deg,
        first.longitude_deg,
        first.elevation_m,
        hours_between(begin, begin + timedelta(hours=count)),
        0,
    )
    for name in SERIES:
        values = np.concatenate([getattr(weather, name)[a:b] for weather, a, b in parts])
        getattr(joined, name)[:] = values
    return replace(joined, sources=first.sources)
