"""Tonight's weather from the best source that answers, and what was lost on the way.

The sources are asked in the owner's order, else in the country's. The first whose answer is fresh and
covers the coming day is the base; every failure before it is told. Where none is fresh the youngest
serves with a warning; where all are too old, past days stand in (climatology) or we refuse.

A second source is asked for a cross-check only where the owner lists more than one: it costs a further
request each night, and the place is told to a further service.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from advisor.advice import Note, NoteKind, NoteLevel, Variable
from advisor.errors import SourceError, StaleWeather, WeatherError
from advisor.lawn import ArchivedHour, Judgement, Place, WeatherSettings, shipped_judgement
from advisor.weather.climatology import LEAST_DAYS, known_days, usual_weather
from advisor.weather.ensemble import Ensemble, with_ensemble
from advisor.weather.hour_grid import seconds
from advisor.weather.members import pool, with_built_members
from advisor.weather.past import RECORDS, reaching, settle_past, with_hours
from advisor.weather.quality import disagreement, expected_rain, screen
from advisor.weather.registry import Archive, Source, Sources, default_order, registered
from advisor.weather.weather import BY_HOUR, Weather, blank, failed, hours_between

if TYPE_CHECKING:
    from advisor.weather.client import Client

NIGHT_H = 12
NEEDED_H = 24
NEEDED_SHARE = 0.75
PAST_DAYS = 31
PAST_NEEDED = timedelta(days=2)
YEARS_BACK = 3
SAME_SEASON_DAYS = 15


class _Found(NamedTuple):
    """The screened weather of one source."""

    source: Source
    weather: Weather


@dataclass(slots=True)
class _Search:
    """One site's question, the sources it may be put to, and what was lost on the way so far.

    `archives` are those that have not failed in this search; one that has is not asked again.
    """

    place: Place
    settings: WeatherSettings
    client: Client
    now: datetime
    archive: Sequence[ArchivedHour]
    sources: Sources
    judgement: Judgement
    troubles: list[Note] = field(default_factory=list)
    archives: list[Archive] = field(default_factory=list)

    def age_h(self, weather: Weather) -> float:
        """How old the forecast is in hours, by its first source."""
        return (self.now - weather.sources[0].fetched_at) / timedelta(hours=1)


def gather_weather(
    place: Place,
    settings: WeatherSettings,
    client: Client,
    now: datetime,
    *,
    archive: Sequence[ArchivedHour] = (),
    sources: Sources | None = None,
    judgement: Judgement | None = None,
) -> Weather:
    """Hourly weather to advise on, screened, with members and every trouble as a note.

    `archive`: recorded past hours, used where no forecast can be had. `sources`: those to ask, else the
    registered ones; `judgement`: the site's, else the shipped one. Raises WeatherError (StaleWeather where there is only an old forecast) in one sentence
    that says what is missing.
    """
    search = _Search(
        place,
        settings,
        client,
        now,
        archive,
        sources if sources is not None else registered(),
        judgement or shipped_judgement(),
    )
    search.archives = [s.archive for s in search.sources.values() if s.archive is not None]
    usable, fresh = _answers(search)
    base = fresh[0] if fresh else min(usable, key=lambda found: search.age_h(found.weather), default=None)
    if base is None or search.age_h(base.weather) > settings.refuse_after_h:
        return _as_usual(search, base)
    name = base.weather.sources[0].name
    if (age := search.age_h(base.weather)) > settings.warn_after_h:
        search.troubles.append(
            Note(level=NoteLevel.WARNING, kind=NoteKind.ANSWER_OLD, source=name, age_h=age)
        )
    weather = with_built_members(base.weather, now)
    if len(fresh) > 1:
        weather = _cross_checked(search, weather, with_built_members(fresh[1].weather, now))
    if not base.source.past or weather.index_at(now - PAST_NEEDED) < 0:
        weather = _with_a_past(search, weather, base.source)
    return replace(weather, notes=(*search.troubles, *weather.notes))


def _answers(search: _Search) -> tuple[list[_Found], list[_Found]]:
    """What the sources answered, and which of it is fresh.

    The first fresh answer ends the search; where the owner lists several sources, a second one does.
    """
    settings = search.settings
    usable: list[_Found] = []
    fresh: list[_Found] = []
    for name in settings.sources or default_order(search.place.country, search.sources):
        found = _asked(search, search.sources[name])
        if found is not None:
            usable.append(found)
            if search.age_h(found.weather) <= settings.warn_after_h:
                fresh.append(found)
        checked = len(settings.sources) < 2 or (bool(fresh) and found is not fresh[0])
        if len(fresh) > 1 or (fresh and checked):
            break
    return usable, fresh


def _asked(search: _Search, source: Source) -> _Found | None:
    """The screened answer of one source, or None with the reason told."""
    try:
        weather = screen(_fetched(search, source))
    except SourceError as failure:
        search.troubles.append(failed(failure))
        return None
    first = weather.index_at(search.now)
    for variable, values in ((Variable.RAIN, weather.rain_mm), (Variable.TEMPERATURE, weather.temp_c)):
        ahead = values[max(0, first) : max(0, first + NEEDED_H)]
        share = float(np.isfinite(ahead).sum()) / NEEDED_H
        if share < NEEDED_SHARE:
            search.troubles.append(
                Note(
                    level=NoteLevel.WARNING,
                    kind=NoteKind.PASSED_OVER,
                    source=weather.sources[0].name,
                    variable=variable,
                    share=share,
                )
            )
            return None
    return _Found(source, weather)


def _fetched(search: _Search, source: Source) -> Weather:
    """The source's forecast at the place itself, with its ensemble's members or a note why there are none."""
    place, now = search.place, search.now
    weather = source.forecast(search.client, place, search.settings, now)
    weather = replace(
        weather,
        latitude_deg=place.latitude_deg,
        longitude_deg=place.longitude_deg,
        elevation_m=place.elevation_m,
    )
    if source.ensemble is None:
        return weather
    found: Ensemble | SourceError
    try:
        found = source.ensemble(search.client, place, search.settings, now)
    except SourceError as failure:
        found = failure
    return with_ensemble(weather, found, now, refuse_after_h=search.settings.refuse_after_h)


def _cross_checked(search: _Search, base: Weather, other: Weather) -> Weather:
    """The base alone where the two agree about the night's rain, else with the members of both pooled."""
    now, until = search.now, search.now + timedelta(hours=NIGHT_H)
    wild = disagreement([base, other], now, until, search.judgement.rain)
    if wild is not None:
        search.troubles.append(wild)
        return pool([base, other])
    search.troubles.append(
        Note(
            level=NoteLevel.TOLD,
            kind=NoteKind.SOURCES_COMPARED,
            hours=NIGHT_H,
            names=(base.sources[0].name, other.sources[0].name),
            depths_mm=(expected_rain(base, now, until)[0], expected_rain(other, now, until)[0]),
        )
    )
    return base


def _archived(search: _Search, first: date, last: date) -> Weather | None:
    """Past weather of these UTC days from the first archive that answers; None with the reasons told."""
    for archive in tuple(search.archives):
        try:
            found = archive(search.client, search.place, search.settings, search.now, first=first, last=last)
            return screen(found)
        except SourceError as failure:
            search.troubles.append(failed(failure))
            search.archives.remove(archive)
    return None


def archived_weather(
    place: Place, settings: WeatherSettings, client: Client, now: datetime, *, first: date, last: date
) -> Weather:
    """Past weather of the UTC days `first` to `last` as the first archive that answers gives it, unscreened.

    Raises SourceError, the last one's, where none answers.
    """
    why = SourceError("the archives", "no source has an archive of past weather")
    for source in registered().values():
        if source.archive is not None:
            try:
                return source.archive(client, place, settings, now, first=first, last=last)
            except SourceError as failure:
                why = failure
    raise why


def _with_a_past(search: _Search, base: Weather, source: Source | None) -> Weather:
    """The base with past hours from an archive service or the station near by, where the records lack them.

    `source` is the one that the base is from; only its own stations are asked.
    """
    now = search.now
    recorded = {h.starts_at for h in search.archive if h.rain_mm is not None and h.temp_c is not None}
    if len(recorded) >= 24 * (PAST_DAYS - 5):
        return base
    past = _archived(search, (now - timedelta(days=PAST_DAYS)).date(), now.date())
    if past is not None:
        base = _before(base, past)
    if source is None or source.observed is None:
        return base
    try:
        hours = source.observed(search.client, search.place, search.settings, now)
    except SourceError as failure:
        search.troubles.append(failed(failure))
        return base
    hours = tuple(hour for hour in hours if hour.starts_at <= now - timedelta(hours=1))
    if not hours:
        return base
    longer = reaching(base, hours[0].starts_at, now)
    return with_hours(longer, hours, search.troubles, observed_by=hours[0].source)


def _before(base: Weather, past: Weather) -> Weather:
    """The base with the hours before it from `past`."""
    longer = reaching(base, past.starts_at(0), base.starts_at(0))
    shift = longer.index_at(past.starts_at(0))
    count = min(past.hours, longer.index_at(base.starts_at(0)) - shift)
    if count <= 0:
        return base
    for name in BY_HOUR:
        getattr(longer, name)[shift : shift + count] = getattr(past, name)[:count]
    source = past.sources[0].name if past.sources else RECORDS
    own = longer.air_from[shift : shift + count]
    own[own == ""] = source
    note = Note(level=NoteLevel.TOLD, kind=NoteKind.PAST_FROM, until=base.starts_at(0), source=source)
    return replace(longer, sources=(*base.sources, *past.sources), notes=(*base.notes, note))


def _as_usual(search: _Search, found: _Found | None) -> Weather:
    """Past days in place of a forecast, from the records, else from an archive service; or a refusal.

    `found` is a forecast too old to serve.
    """
    now, place = search.now, search.place
    if found is not None:
        base, source = found.weather, found.source
    else:
        starts = hours_between(now, now + timedelta(hours=1))
        base, source = blank(place.latitude_deg, place.longitude_deg, place.elevation_m, starts, 0), None
    past = settle_past(base, gauge=(), archive=search.archive, now=now)
    until = min(now, base.sources[0].fetched_at) if base.sources else now
    usual = usual_weather(past, until, now)
    if usual is None:
        base = _with_a_past(search, base, source)
        past = settle_past(base, gauge=(), archive=search.archive, now=now)
        years = [year for back in range(1, YEARS_BACK + 1) if (year := _same_weeks(search, back)) is not None]
        long = _end_to_end(years) if years else past
        usual = usual_weather(long, long.starts_at(long.hours) if years else now, now)
    if usual is None:
        days = len(known_days(past, until))
        text = (
            f"there is no forecast younger than {search.settings.refuse_after_h:g} h and only {days} archived "
            f"days of the {LEAST_DAYS} that could stand in for one ({_in_short(search.troubles)}); try again "
            "later or give hourly weather with --weather FILE.csv"
        )
        raise StaleWeather(text) if found is not None else WeatherError(text)
    kept = _before(usual, past) if past.starts_at(0) < usual.starts_at(0) else usual
    return replace(kept, notes=(*search.troubles, *usual.notes))


def _in_short(troubles: Sequence[Note]) -> str:
    """Why the sources do not serve, those of one reason put together, for the refusal's sentence."""
    by_reason: dict[str, list[str]] = {}
    for note in troubles:
        reason = "knows too little of the coming day" if note.kind == NoteKind.PASSED_OVER else note.reason
        sources = by_reason.setdefault(reason, []) if reason else []
        if note.source not in sources:
            sources.append(note.source)
    return "; ".join(f"{', '.join(sources)}: {reason}" for reason, sources in by_reason.items())


def _same_weeks(search: _Search, back: int) -> Weather | None:
    """The month around this date, `back` years ago, from an archive service."""
    middle = (search.now - timedelta(days=365.25 * back)).date()
    around = timedelta(days=SAME_SEASON_DAYS)
    return _archived(search, middle - around, middle + around)


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
    for name in BY_HOUR:
        values = np.concatenate([getattr(weather, name)[a:b] for weather, a, b in parts])
        getattr(joined, name)[:] = values
    return replace(joined, sources=first.sources)
