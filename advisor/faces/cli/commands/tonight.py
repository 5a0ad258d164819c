"""`advisor tonight`: what to do tonight, and why."""

from __future__ import annotations

from typing import Annotated

import typer

from advisor.faces.cli.asked import known_name
from advisor.faces.cli.options import (
    DEFAULT_SITE,
    DemoOption,
    JsonOption,
    NowOption,
    SiteOption,
    WeatherOption,
    open_site,
)

ExplainOption = Annotated[
    str | None,
    typer.Option(
        "--explain",
        metavar="ZONE",
        help="Show the balance behind one zone, term by term.",
        show_default=False,
    ),
]


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("tonight")(tonight)


def tonight(
    site: SiteOption = DEFAULT_SITE,
    demo: DemoOption = False,
    now: NowOption = None,
    weather: WeatherOption = None,
    explain: ExplainOption = None,
    json: JsonOption = False,
) -> None:
    """Say what to water tonight, zone by zone, and whether rain will do it."""
    opened = open_site(site, demo=demo, now=now)
    if explain is not None:
        names = [z.name for z in opened.site.zones]
        explain = known_name(explain, names, what="zone", where="--explain")
    from advisor import night
    from advisor.faces.text import advice_text, explain_text, terminal_width

    if demo:
        advice = night.gather_demo(opened.site, opened.now, weather_file=weather).advise()
    else:
        from advisor.store import open_store

        with open_store(opened.site.records_path) as store:
            advice = night.tonight(opened.site, store, opened.now, weather_file=weather)
    width = terminal_width()
    if json:
        typer.echo(advice.model_dump_json(indent=2))
    elif explain is not None:
        typer.echo(explain_text(advice, explain, width=width), nl=False)
    else:
        typer.echo(advice_text(advice, width=width, demo=demo), nl=False)
