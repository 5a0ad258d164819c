"""`advisor rain`: will the rain do it, for what was put down or for what might be."""

from __future__ import annotations

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
from advisor.faces.cli.printed import print_json
from advisor.recording import Question, asked_about, will_rain_do_it


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("rain")(rain)


def rain(
    product: Annotated[
        str | None,
        typer.Option("--product", help="What if this product went down?", show_default=False),
    ] = None,
    zones: Annotated[
        str | None,
        typer.Option(
            "--zones", help="On which zones, separated by commas. If not said, all.", show_default=False
        ),
    ] = None,
    at: Annotated[
        str | None,
        typer.Option(
            "--at",
            help="Done by when: 17:00 (today) or 2026-06-18T17:00. If not said, now.",
            show_default=False,
        ),
    ] = None,
    method: Annotated[
        str | None,
        typer.Option(
            "--method",
            help="How: tank, backpack, hose-end, spreader, by hand, or your equipment by its name. "
            "If not said, the usual one.",
            show_default=False,
        ),
    ] = None,
    dilution: Annotated[
        str | None,
        typer.Option("--dilution", help="Water to concentrate, such as '16:1'.", show_default=False),
    ] = None,
    site: SiteOption = DEFAULT_SITE,
    demo: DemoOption = False,
    now: NowOption = None,
    weather: WeatherOption = None,
    json: JsonOption = False,
) -> None:
    """Say whether rain will water in what was put down, or what might be.

    With its chance, what every way of watering in costs, and the rule that decided.
    """
    opened = open_site(site, demo=demo, now=now)
    asked = None
    if product is not None:
        asked = asked_about(Question(product, zones, at, method, dilution), opened.site, opened.now)
    elif given := [
        name
        for name, value in (("--zones", zones), ("--at", at), ("--method", method), ("--dilution", dilution))
        if value is not None
    ]:
        raise InputError(
            "this goes with a product that is only asked about",
            where=given[0],
            allowed="--product NAME with it",
        )
    from advisor.faces.cli.inputs import gathered
    from advisor.faces.text import rain_text, terminal_width

    answer = will_rain_do_it(gathered(opened, weather), asked)
    if json:
        print_json(answer)
    else:
        typer.echo(rain_text(answer, width=terminal_width(), demo=demo), nl=False)
