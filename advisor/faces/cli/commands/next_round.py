"""`advisor next-round`: the best hours in the forecast for the next round of each programme."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated

import typer

from advisor.errors import InputError
from advisor.faces.cli.options import (
    DEFAULT_SITE,
    DemoOption,
    JsonOption,
    NowOption,
    SiteOption,
    WeatherOption,
    open_site,
)


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("next-round")(next_round)


def next_round(
    rounds: Annotated[
        list[str] | None,
        typer.Argument(metavar="ROUND", help="Only these of your rounds.", show_default=False),
    ] = None,
    site: SiteOption = DEFAULT_SITE,
    demo: DemoOption = False,
    now: NowOption = None,
    weather: WeatherOption = None,
    json: JsonOption = False,
) -> None:
    """Choose the day of the next round, so that the weather suits it and rain does the watering in."""
    opened = open_site(site, demo=demo, now=now)
    if not opened.site.rounds:
        raise InputError(
            "the site file has no rounds",
            where=str(opened.site.path),
            allowed="rounds: [{name: …, products: […], every: 30 days}]",
        )
    from advisor.faces.cli.asked import known_names
    from advisor.faces.cli.inputs import all_applications, gathered
    from advisor.faces.text import rounds_text, terminal_width
    from advisor.rounds import next_rounds

    names = known_names(rounds or [], [r.name for r in opened.site.rounds], what="round", where="next-round")
    inputs = gathered(opened, weather)
    found = next_rounds(
        site=opened.site,
        records=replace(inputs.records, applications=all_applications(opened)),
        weather=inputs.weather,
        now=opened.now,
        names=names,
    )
    if json:
        typer.echo(found.model_dump_json(indent=2))
    else:
        typer.echo(rounds_text(found, width=terminal_width(), demo=demo), nl=False)
