"""`advisor rain`: will the rain do it, for what was put down or for what might be."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Annotated

import typer

from advisor.errors import InputError
from advisor.faces.cli.options import (
    DEFAULT_SITE,
    DemoOption,
    JsonOption,
    NowOption,
    Opened,
    SiteOption,
    WeatherOption,
    moment,
    open_site,
)
from advisor.units import clock_time

if TYPE_CHECKING:
    from advisor.lawn.products import Product
    from advisor.lawn.records import Application
    from advisor.lawn.site_values import Site

ONLY_ASKED = -1  # the id of an application that is not in the records


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
            "--method", help="How: tank, backpack, hose-end, spreader, by hand.", show_default=False
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
        asked = _asked_about(opened, product, zones, at, method, dilution)
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
    from advisor.advice.rain_answer import WhatIf
    from advisor.faces.cli.inputs import gathered
    from advisor.faces.text.paragraphs import terminal_width
    from advisor.faces.text.rain_text import rain_text
    from advisor.tonight.rain_answer import rain_answer

    inputs = gathered(opened, weather)
    what_if = None
    if asked is not None:
        records = replace(inputs.records, applications=(*inputs.records.applications, asked))
        inputs = replace(
            inputs,
            records=records,
            now=max(opened.now, asked.ended_at.astimezone(opened.now.tzinfo)),
            previous=None,
        )
        what_if = WhatIf(
            product=asked.product,
            zones=asked.zones,
            at=asked.ended_at,
            method=asked.method,
            dilution=asked.dilution,
        )
    answer = rain_answer(inputs.advise(), what_if, None if asked is None else ONLY_ASKED)
    if json:
        typer.echo(answer.model_dump_json(indent=2))
    else:
        typer.echo(rain_text(answer, width=terminal_width(), demo=demo), nl=False)


def _asked_about(
    opened: Opened, product: str, zones: str | None, at: str | None, method: str | None, dilution: str | None
) -> Application:
    """The application that is only asked about."""
    from advisor.faces.cli.asked import known_name, known_names, quantity
    from advisor.lawn.records import METHODS, Application

    site = opened.site
    named = site.products[known_name(product, site.products, what="product", where="--product")]
    all_zones = [z.name for z in site.zones]
    chosen = [z for z in (zones or "").split(",") if z.strip()] or all_zones
    by = method if method is not None else _usual_method(site, named)
    if by not in METHODS:
        raise InputError("no such method", where="--method", found=repr(by), allowed=", ".join(METHODS))
    ratio = None if dilution is None else quantity(dilution, "dilution", where="--dilution")
    if ratio is None and by == "hose-end":
        ratio = next((s.dilution for s in site.sprayers if s.method == by), None)
    when = _when(opened, at).astimezone(UTC)
    return Application(
        product=named.name,
        zones=tuple(known_names(chosen, all_zones, what="zone", where="--zones")),
        started_at=when,
        ended_at=when,
        method=by,
        dilution=ratio,
        id=ONLY_ASKED,
    )


def _usual_method(site: Site, product: Product) -> str:
    if product.kind.form != "liquid":
        return "spreader"
    return next((s.method for s in site.sprayers if s.method in ("tank", "backpack", "hose-end")), "tank")


def _when(opened: Opened, at: str | None) -> datetime:
    """The moment asked about; a clock time is that of today."""
    if at is None:
        return opened.now
    zone = opened.site.place.zone
    clock = clock_time(at)
    if clock is not None:
        today = opened.now.astimezone(zone).date()
        at = datetime.combine(today, clock).isoformat()
    try:
        return moment(at, zone)
    except InputError:
        raise InputError(
            "a time is not understood", where="--at", found=repr(at), allowed="17:00, 2026-06-18T17:00"
        ) from None
