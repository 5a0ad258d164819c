"""`advisor clock-sheet`: what to set the clock to, where it is set by hand a few times a year."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from advisor.errors import InputError
from advisor.faces.cli.options import (
    DEFAULT_SITE,
    ClimateOption,
    DemoOption,
    JsonOption,
    NowOption,
    SiteOption,
    open_site,
)
from advisor.files import write_text


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("clock-sheet")(clock_sheet)


def clock_sheet(
    climate: ClimateOption = None,
    html: Annotated[
        Path | None,
        typer.Option("--html", help="Write a page to print to this file.", show_default=False),
    ] = None,
    csv: Annotated[bool, typer.Option("--csv", help="Print a row a zone and month.")] = False,
    site: SiteOption = DEFAULT_SITE,
    demo: DemoOption = False,
    now: NowOption = None,
    json: JsonOption = False,
) -> None:
    """Work out a clock sheet: minutes, cycles, days and start times by month from the usual year.

    The usual year is taken from a file with --climate, or from the archive of an open service.
    """
    opened = open_site(site, demo=demo, now=now)
    if csv and json:
        raise InputError("ask for one form", where="--csv", found="--csv and --json", allowed="one of them")
    from advisor.clock import clock_sheet as worked_out
    from advisor.faces.cli.asked import records_of
    from advisor.faces.text import sheet_csv, sheet_html, sheet_text, terminal_width
    from advisor.soil_water import zone_figures
    from advisor.usual_year import usual_year

    here = opened.site
    local = here.place.zone
    audits = records_of(opened).audits
    sheet = worked_out(
        here,
        [zone_figures(zone, audits, here.rules, local=local) for zone in here.zones],
        usual_year(here, opened.now, file=climate, demo=demo),
        day=opened.now.astimezone(local).date(),
    )
    if html is not None:
        try:
            write_text(html, sheet_html(sheet, demo=demo))
        except OSError as error:
            raise InputError(f"the page cannot be written: {error.strerror}", where=str(html)) from None
    if json:
        typer.echo(sheet.model_dump_json(indent=2))
    elif csv:
        typer.echo(sheet_csv(sheet), nl=False)
    elif html is not None:
        typer.echo(f"Written: {html}")
    else:
        typer.echo(sheet_text(sheet, width=terminal_width(), demo=demo), nl=False)
