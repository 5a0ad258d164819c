"""Where a command gets a site's usual year: a file, the demo's, or the archive of an open service."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from advisor.faces.cli.options import Opened

if TYPE_CHECKING:
    from advisor.soil_water.usual_year import Climate

YEARS = 5
SETTLED_DAYS = 10  # the newest days of the archive are not final
ClimateOption = Annotated[
    Path | None,
    typer.Option(
        "--climate",
        help="The usual year from a CSV file: month,eto_mm_d,rain_mm a row a month, or hourly weather.",
        show_default=False,
    ),
]


def usual_year(opened: Opened, file: Path | None) -> Climate:
    """The site's usual year. Raises InputError for a file, SourceError when the archive does not answer."""
    from advisor.faces.cli.climate_file import read_climate
    from advisor.shipped import shipped

    if file is not None:
        return read_climate(file, opened)
    if opened.demo:
        return read_climate(shipped("data", "demo_climate.csv"), opened)
    from advisor.night import client_for
    from advisor.soil_water.usual_year import climate_of
    from advisor.weather.gather import archived_weather

    site = opened.site
    settled = opened.now.date() - timedelta(days=SETTLED_DAYS)
    first, last = date(settled.year - YEARS, settled.month, 1), settled.replace(day=1) - timedelta(days=1)
    client = client_for(site)
    weather = archived_weather(site.place, site.weather, client, opened.now, first=first, last=last)
    named = "; ".join(f"{source.name}. {source.attribution}".strip() for source in weather.sources)
    return climate_of(weather, site.place.zone, source=named)
