"""`advisor rain`: will the rain do it, for what was put down or for what might be."""

from __future__ import annotations

import re
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

if TYPE_CHECKING:
    from advisor.advice.water_need import Equipment
    from advisor.lawn.records import Application

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
            "--method",
            help="How: tank, backpack, hose-end, spreader, by hand, or your equipment by its name.",
            show_default=False,
        ),
    ] = None,
    dilution: Annotated[
        str | None,
        typer.Option("--dilution", help="Water to concentrate, such as '20:1'.", show_default=False),
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
    asked = equipment = None
    if product is not None:
        asked, equipment = _asked_about(opened, product, zones, at, method, dilution)
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
    from advisor.advice.cautions import Asking
    from advisor.faces.cli.inputs import gathered
    from advisor.faces.text.paragraphs import terminal_width
    from advisor.faces.text.rain_text import rain_text
    from advisor.sentences.watering_in import equipment_words
    from advisor.tonight.rain_answer import WhatIf, rain_answer

    inputs = gathered(opened, weather)
    what_if = None
    if asked is not None and equipment is not None:
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
            equipment=equipment,
            equipment_note=equipment_words(equipment, Asking.RAIN),
        )
    answer = rain_answer(inputs.advise(), what_if, None if asked is None else ONLY_ASKED)
    if json:
        typer.echo(answer.model_dump_json(indent=2))
    else:
        typer.echo(rain_text(answer, width=terminal_width(), demo=demo), nl=False)


def _asked_about(
    opened: Opened, product: str, zones: str | None, at: str | None, method: str | None, dilution: str | None
) -> tuple[Application, Equipment]:
    """The application that is only asked about, and with what it is taken as put down."""
    from advisor.faces.cli.asked import known_name, known_names, quantity
    from advisor.lawn.records import METHODS, Application
    from advisor.watering_in.equipment import equipment_said, usual_equipment

    site = opened.site
    named = site.products[known_name(product, site.products, what="product", where="--product")]
    all_zones = [z.name for z in site.zones]
    chosen = [z for z in (zones or "").split(",") if z.strip()] or all_zones
    known = [*METHODS, *(s.name for s in site.sprayers)]
    if method is None:
        equipment = usual_equipment(site, [named])
    else:
        equipment = equipment_said(site, known_name(method, known, what="method", where="--method"))
    if dilution is not None:
        ratio = quantity(dilution, "dilution", where="--dilution")
        equipment = equipment.model_copy(update={"dilution": ratio})
    when = _when(opened, at).astimezone(UTC)
    asked = Application(
        product=named.name,
        zones=tuple(known_names(chosen, all_zones, what="zone", where="--zones")),
        started_at=when,
        ended_at=when,
        method=equipment.method,
        dilution=equipment.dilution,
        id=ONLY_ASKED,
    )
    return asked, equipment


def _when(opened: Opened, at: str | None) -> datetime:
    """The moment asked about; a clock time is that of today."""
    if at is None:
        return opened.now
    zone = opened.site.place.zone
    if re.fullmatch(r"[0-9]{1,2}:[0-9]{2}", at.strip()):
        today = opened.now.astimezone(zone).date()
        at = f"{today.isoformat()}T{at.strip().zfill(5)}"
    try:
        return moment(at, zone)
    except InputError:
        raise InputError(
            "a time is not understood", where="--at", found=repr(at), allowed="17:00, 2026-06-18T17:00"
        ) from None
