"""The true weather of a season: from a file, from the records or from an archive, checked before anything is lived.

What is asked of it: the evenings of the season, some days before, and no hour unknown between them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path

import numpy as np

from advisor.errors import InputError
from advisor.lawn import Records, Site
from advisor.night import client_for
from advisor.replay import recorded_weather
from advisor.weather import Array, Weather, archived_weather, cut, read_csv, screen

LEAST_PAST_DAYS = 14
"""So many are needed before the first evening: what stands in for a forecast is made of them."""
PAST_DAYS, AHEAD_DAYS = 31, 11
"""So many are used, where they are there."""
FAR = datetime(9000, 1, 1, tzinfo=UTC)
DAY = timedelta(days=1)
WAYS = (
    "--weather FILE.csv with hourly weather, --archive to ask an archive service, or nights kept by "
    "`advisor serve`"
)


@dataclass(frozen=True, slots=True)
class Span:
    """The local evenings of a season; None: from as early, or until as late, as the weather allows."""

    first: date | None = None
    last: date | None = None


def weather_of_file(path: Path, site: Site) -> Weather:
    """The hours of an hourly CSV file, all of them past."""
    place = site.place
    return read_csv(
        path,
        latitude_deg=place.latitude_deg,
        longitude_deg=place.longitude_deg,
        elevation_m=place.elevation_m,
        now=FAR,
    )


def recorded_hours(site: Site, records: Records) -> Weather | None:
    """All hours that the records have kept, with the rain of the gauge; None where none is kept."""
    hours = [hour.starts_at for hour in records.archive if hour.rain_mm is not None]
    if not hours:
        return None
    return recorded_weather(site, records, min(hours), max(hours) + timedelta(hours=1))


def weather_of_records(site: Site, records: Records) -> Weather:
    """The same. InputError says how else to come by weather, where none is kept."""
    weather = recorded_hours(site, records)
    if weather is None:
        raise InputError(
            f"no past weather is kept in the records of {site.place.name}", where="--weather", allowed=WAYS
        )
    return weather


def weather_of_archive(site: Site, span: Span, now: datetime) -> Weather:
    """The season with the days round it, from the first archive service that answers."""
    if span.first is None or span.last is None:
        raise InputError(
            "an archive must be asked for certain days", where="--archive", allowed="with --from and --to"
        )
    if span.last < span.first:
        raise _ends_first(span.first, span.last)
    last = min(span.last + AHEAD_DAYS * DAY, now.date() - DAY)
    client = client_for(site)
    first = span.first - PAST_DAYS * DAY
    return archived_weather(site.place, site.weather, client, now, first=first, last=last)


def span_of(weather: Weather, site: Site, span: Span) -> tuple[Weather, date, date]:
    """The weather cut to the season, and the season's first and last evening.

    InputError names the option or the first hour that is wrong.
    """
    zone = site.place.zone
    begins, ends = (weather.starts_at(hour).astimezone(zone) for hour in (0, weather.hours))
    earliest = begins.date() + DAY * (LEAST_PAST_DAYS + (begins.time() > time(0)))
    latest = ends.date() - DAY * (2 if ends.time() < time(21) else 1)
    first, last = span.first or earliest, span.last or latest
    if span.first is not None and span.last is not None and last < first:
        raise _ends_first(first, last)
    reaches = f"the weather reaches from {begins:%Y-%m-%d} to {ends:%Y-%m-%d}"
    if latest < earliest:
        raise InputError(
            f"the weather is too short to live a season in: {begins:%Y-%m-%d} to {ends:%Y-%m-%d}",
            where="--weather",
            allowed=f"{LEAST_PAST_DAYS} days before the first evening and one after the last",
        )
    if not earliest <= first <= latest:
        raise InputError(
            f"{reaches}, and {LEAST_PAST_DAYS} days of it must lie before the first evening",
            where="--from",
            found=f"{first:%Y-%m-%d}",
            allowed=f"{earliest:%Y-%m-%d} to {latest:%Y-%m-%d}",
        )
    if not first <= last <= latest:
        raise InputError(
            f"{reaches}, and must hold the evening after the last too",
            where="--to",
            found=f"{last:%Y-%m-%d}",
            allowed=f"{first:%Y-%m-%d} to {latest:%Y-%m-%d}",
        )
    begin, end = (
        weather.index_at(datetime.combine(day, time(0), zone))
        for day in (first - PAST_DAYS * DAY, last + AHEAD_DAYS * DAY)
    )
    mine = screen(cut(weather, max(0, begin), min(weather.hours, end)))
    _no_gaps(mine, site)
    return replace(mine, sources=(), notes=()), first, last


def _ends_first(first: date, last: date) -> InputError:
    return InputError(
        "the season ends before it begins",
        where="--to",
        found=f"{last:%Y-%m-%d}",
        allowed=f"{first:%Y-%m-%d} or later",
    )


def _no_gaps(weather: Weather, site: Site) -> None:
    """InputError where rain or temperature of an hour is not known."""
    of: tuple[tuple[str, Callable[[Weather], Array]], ...] = (
        ("rain", lambda w: w.rain_mm),
        ("temperature", lambda w: w.temp_c),
    )
    for what, series in of:
        unknown = np.flatnonzero(~np.isfinite(series(weather)))
        if not len(unknown):
            continue
        at = weather.starts_at(int(unknown[0])).astimezone(site.place.zone)
        hours = "1 hour" if len(unknown) == 1 else f"{len(unknown)} hours"
        raise InputError(
            f"the weather has gaps: the {what} of {hours} is not known, first of {at:%Y-%m-%d %H:%M} local time",
            where="--weather",
            allowed="every hour of the season and of the days before it; or another stretch by --from and --to",
        )
