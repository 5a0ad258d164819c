"""`advisor runtime`: minutes for a depth, depth for minutes."""

from __future__ import annotations

from typing import Annotated

import typer

from advisor.errors import InputError
from advisor.faces.cli.asked import run_time
from advisor.faces.cli.options import (
    DEFAULT_SITE,
    ClimateOption,
    DemoOption,
    JsonOption,
    NowOption,
    SiteOption,
    open_site,
)

USUAL_MM = {"metric": (6.0, 12.0, 25.0), "us": (6.35, 12.7, 25.4)}
"""Shown when nothing is asked for: about, or just, a quarter, half and one inch."""


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("runtime")(runtime)


def runtime(
    zone: Annotated[
        list[str] | None, typer.Option("--zone", help="Only this zone. May be repeated.", show_default=False)
    ] = None,
    depth: Annotated[
        str | None,
        typer.Option("--depth", help="What the turf is to get: '0.25 in', '6 mm'.", show_default=False),
    ] = None,
    minutes: Annotated[
        float | None,
        typer.Option("--minutes", help="Tell instead what so many minutes deliver.", show_default=False),
    ] = None,
    eto: Annotated[
        str | None,
        typer.Option(
            "--eto-months",
            help="Reference ETo January to December, '25 35 … 30 mm'. Adds the minutes by month.",
            show_default=False,
        ),
    ] = None,
    by_month: Annotated[
        bool,
        typer.Option(
            "--by-month", help="Add the minutes by month, from the usual year (archive, or --climate)."
        ),
    ] = False,
    climate: ClimateOption = None,
    site: SiteOption = DEFAULT_SITE,
    demo: DemoOption = False,
    now: NowOption = None,
    json: JsonOption = False,
) -> None:
    """Turn a depth into minutes, cycles and soaks, or minutes into a depth, zone by zone."""
    opened = open_site(site, demo=demo, now=now)
    if depth is not None and minutes is not None:
        raise InputError(
            "give a depth or minutes, not both",
            where="--minutes",
            found=f"{minutes:g}",
            allowed="one of them",
        )
    if minutes is not None:
        run_time(minutes, where="--minutes")
    if eto is not None and (by_month or climate is not None):
        raise InputError(
            "the demand by month is given twice",
            where="--eto-months",
            found="--eto-months and --by-month or --climate",
            allowed="one of them",
        )
    from advisor.audit import RunsAsked
    from advisor.audit import runtime as worked_out
    from advisor.faces.cli.asked import known_names, records_of
    from advisor.faces.text import runtime_text, terminal_width
    from advisor.usual_year import usual_year
    from advisor.wording import Say

    here = opened.site
    names = [each.name for each in here.zones]
    months = None if eto is None else _months(eto)
    if by_month or climate is not None:
        months = usual_year(here, opened.now, file=climate, demo=demo).eto_month_mm()
    say = Say(here.place.units, here.place.zone, opened.now)
    asked = RunsAsked(
        depths_mm=_depths(depth, say.units) if minutes is None else (),
        minutes=() if minutes is None else (minutes,),
        eto_month_mm=months,
    )
    worked = worked_out(
        here,
        known_names(zone or names, names, what="zone", where="--zone"),
        records_of(opened).audits,
        asked,
        day=opened.now.astimezone(say.zone).date(),
    )
    if json:
        typer.echo(worked.model_dump_json(indent=2))
    else:
        typer.echo(runtime_text(say, worked, width=terminal_width(), demo=demo), nl=False)


def _depths(text: str | None, units: str) -> tuple[float, ...]:
    from advisor.faces.cli.asked import quantity

    if text is None:
        return USUAL_MM[units]
    depth_mm = quantity(text, "depth", where="--depth")
    if not 0.0 < depth_mm <= 200.0:
        what = "there is nothing to give" if depth_mm <= 0.0 else "no one waters so much at once"
        raise InputError(
            what, where="--depth", found=repr(text), allowed="more than 0, up to 200 mm (7.87 in)"
        )
    return (depth_mm,)


def _months(text: str) -> tuple[float, ...]:
    from advisor.faces.cli.asked import quantities

    months = quantities(text, "depth", where="--eto-months")
    if len(months) != 12 or min(months) < 0.0:
        raise InputError(
            "one total a month is wanted, January to December",
            where="--eto-months",
            found=f"{len(months)} numbers",
            allowed="12 of 0 or more and their unit, '25 35 … 30 mm'",
        )
    return tuple(months)
