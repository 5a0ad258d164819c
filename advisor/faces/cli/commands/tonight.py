"""`advisor tonight`: what to do tonight, and why."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from advisor.faces.cli.asked import known_name
from advisor.faces.cli.options import (
    DEFAULT_SITE,
    DemoOption,
    JsonOption,
    NowOption,
    Opened,
    SiteOption,
    WeatherOption,
    open_site,
)
from advisor.faces.cli.printed import print_json

ExplainOption = Annotated[
    str | None,
    typer.Option(
        "--explain",
        metavar="ZONE",
        help="Show the balance behind one zone, term by term.",
        show_default=False,
    ),
]
WhyOption = Annotated[
    bool,
    typer.Option("--why", help="Show which judged number, halved or doubled, would change an answer."),
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
    why: WhyOption = False,
    json: JsonOption = False,
) -> None:
    """Say what to water tonight, zone by zone, and whether rain will do it."""
    opened = open_site(site, demo=demo, now=now)
    if explain is not None:
        names = [z.name for z in opened.site.zones]
        explain = known_name(explain, names, what="zone", where="--explain")
    if why:
        _why(opened, weather, json=json)
        return
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


def _why(opened: Opened, weather: Path | None, *, json: bool) -> None:
    """Print what tonight's answers hang on."""
    from advisor import night
    from advisor.faces.text import terminal_width, why_text

    if opened.demo:
        found = night.gather_demo(opened.site, opened.now, weather_file=weather).why()
    else:
        from advisor.store import open_store

        with open_store(opened.site.records_path) as store:
            found = night.why_tonight(opened.site, store, opened.now, weather_file=weather)
    if json:
        print_json(found)
    else:
        typer.echo(why_text(found, width=terminal_width(), demo=opened.demo), nl=False)
