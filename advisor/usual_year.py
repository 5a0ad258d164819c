"""A site's usual year: from the owner's file, the demo's, or the archive of an open service."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from pathlib import Path

from advisor.lawn import Site, read_usual_year
from advisor.night import client_for
from advisor.shipped import shipped
from advisor.soil_water import Climate, climate_of, climate_of_months
from advisor.weather import archived_weather, read_csv

YEARS = 5
SETTLED_DAYS = 10  # the newest days of the archive are not final


def usual_year(site: Site, now: datetime, *, file: Path | None = None, demo: bool = False) -> Climate:
    """The usual year at the site, from `file` where there is one.

    Raises InputError or ManyProblems for a file, CannotAdvise where its hours are too few, and SourceError
    when the archive does not answer.
    """
    if file is None and demo:
        file = shipped("data", "demo_climate.csv")
    if file is None:
        return _of_archive(site, now)
    months = read_usual_year(file)
    if months is not None:
        return climate_of_months(months, file=file.name)
    place = site.place
    weather = read_csv(
        file,
        latitude_deg=place.latitude_deg,
        longitude_deg=place.longitude_deg,
        elevation_m=place.elevation_m,
        now=now,
    )
    return climate_of(weather, place.zone, source=file.name)


def _of_archive(site: Site, now: datetime) -> Climate:
    """Whole months of the last years that are final in the first archive that answers."""
    settled = now.date() - timedelta(days=SETTLED_DAYS)
    first, last = date(settled.year - YEARS, settled.month, 1), settled.replace(day=1) - timedelta(days=1)
    weather = archived_weather(site.place, site.weather, client_for(site), now, first=first, last=last)
    told = " ".join(f"{used.name}. {used.attribution}".strip() for used in weather.sources)
    return climate_of(weather, site.place.zone, source=told)
