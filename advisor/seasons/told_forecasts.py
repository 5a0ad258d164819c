"""Forecasts as they were archived: a folder with an hourly CSV file for each, named by the time it was told.

`2026-06-17T2015.csv` (local time) or `20260618T0115Z.csv`. A file holds the coming hours, best with rain
members; the hours before are the true weather.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from advisor.errors import CannotAdvise, InputError
from advisor.lawn import Site
from advisor.units import YEARS, known_year
from advisor.weather import SourceUse, Weather, cut, joined, read_csv, with_built_members

OPTION = "--forecasts"
PAST_H = 24 * 31


@dataclass(frozen=True, eq=False)
class ForecastsTold:
    """A sky that tells at every moment the newest of some forecasts, with the truth before it; `local` is the time
    zone in which it says what is not there."""

    truth: Weather
    told: tuple[tuple[datetime, Weather], ...]
    local: ZoneInfo

    def told_at(self, now: datetime) -> Weather:
        """The newest forecast told by `now`. Raises CannotAdvise where there is none."""
        at, newest = max((each for each in self.told if each[0] <= now), key=_told_at, default=(None, None))
        if at is None or newest is None:
            raise CannotAdvise(f"no forecast was archived by {self._clock(now)}")
        here, ahead = self.truth.index_at(now), newest.index_at(now)
        if ahead >= newest.hours:
            raise CannotAdvise(f"the newest forecast by {self._clock(now)} had ended by then")
        past = cut(self.truth, max(0, here - PAST_H), here)
        coming = cut(newest, max(0, ahead), newest.hours)
        use = SourceUse("archived forecast", "everything", at, newest.starts_at(newest.hours))
        return with_built_members(replace(joined(past, coming), sources=(use,), notes=()), now)

    def _clock(self, when: datetime) -> str:
        return f"{when.astimezone(self.local):%Y-%m-%d %H:%M} local time"


def _told_at(one: tuple[datetime, Weather]) -> datetime:
    return one[0]


def forecasts_told(folder: Path, site: Site, truth: Weather) -> ForecastsTold:
    """All forecasts of a folder. InputError where one cannot be read, or there is none."""
    try:
        files = sorted(path for path in folder.iterdir() if path.suffix.lower() == ".csv")
    except OSError as error:
        raise InputError(
            f"the folder of forecasts cannot be read: {error.strerror}", where=OPTION, found=str(folder)
        ) from None
    if not files:
        raise InputError(
            "the folder holds no forecasts",
            where=OPTION,
            found=str(folder),
            allowed="an hourly CSV file for each evening, named by its time: 2026-06-17T2015.csv",
        )
    place = site.place
    told = []
    for path in files:
        at = _time_of(path, site)
        weather = read_csv(
            path,
            latitude_deg=place.latitude_deg,
            longitude_deg=place.longitude_deg,
            elevation_m=place.elevation_m,
            now=at,
        )
        told.append((at, replace(weather, sources=(), notes=())))
    return ForecastsTold(replace(truth, sources=(), notes=()), tuple(told), place.zone)


def _time_of(path: Path, site: Site) -> datetime:
    """When a forecast was told, by the name of its file."""
    day, _, clock = path.stem.partition("T")
    try:
        at = datetime.fromisoformat(f"{day.replace('-', '')}T{clock.replace(':', '')}")
    except ValueError:
        raise InputError(
            "the name of a forecast's file is no time",
            where=str(path),
            allowed="2026-06-17T2015.csv, local time, or 20260618T0115Z.csv",
        ) from None
    if not known_year(at):
        raise InputError(
            "the name of a forecast's file is too far away", where=str(path), allowed=f"the years {YEARS}"
        )
    return at.replace(tzinfo=site.place.zone) if at.tzinfo is None else at
