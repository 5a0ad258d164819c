"""`advisor mix`: today's round, worked out."""

from __future__ import annotations

from datetime import UTC
from typing import TYPE_CHECKING, Annotated

import typer

from advisor.errors import InputError
from advisor.faces.cli.options import DEFAULT_SITE, DemoOption, JsonOption, NowOption, SiteOption, open_site

if TYPE_CHECKING:
    from collections.abc import Sequence

    from advisor.advice import Equipment
    from advisor.lawn import Product, Round, Site, Sprayer


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("mix")(mix)


def mix(
    names: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="PRODUCT|ROUND", help="Your products or one of your rounds.", show_default=False
        ),
    ] = None,
    zones: Annotated[
        list[str] | None,
        typer.Option("--zones", help="Only these zones. Repeat it, or separate them by commas."),
    ] = None,
    area: Annotated[
        str | None, typer.Option("--area", help="An area instead of zones, such as '5000 sq ft'.")
    ] = None,
    sprayer: Annotated[
        str | None,
        typer.Option("--sprayer", help="Which of your sprayers to use. If not said, the usual one."),
    ] = None,
    carrier: Annotated[
        str | None,
        typer.Option(
            "--carrier", help="Spray per area, instead of the sprayer's, such as '1 gal/1000 sq ft'."
        ),
    ] = None,
    site: SiteOption = DEFAULT_SITE,
    demo: DemoOption = False,
    now: NowOption = None,
    json: JsonOption = False,
) -> None:
    """Work out a round: amounts, water, loads, filling order, what may not meet, and the stock."""
    opened = open_site(site, demo=demo, now=now)
    from advisor.faces.cli.asked import quantity, records_of
    from advisor.faces.text import mix_text, terminal_width
    from advisor.lawn import Application, seed_conflicts
    from advisor.rounds import MixAsked, on_hand, plan_mix

    here = opened.site
    products, round_ = _asked(here, names or [])
    chosen, area_m2 = _where(here, round_, zones or [], area)
    equipment = _equipment(here, round_, products, sprayer)
    if carrier is not None and equipment.method == "hose-end":
        raise InputError(
            "a hose-end sprayer's water follows from its dilution, not from a carrier rate",
            where="--carrier",
            found=repr(carrier),
            allowed="leave it out, or name a tank with --sprayer",
        )
    records, at = records_of(opened), opened.now.astimezone(UTC)
    now_down = [Application(p.name, chosen, at, at, equipment.method) for p in products]
    worked = plan_mix(
        MixAsked(
            area_m2=area_m2,
            products=tuple(products),
            equipment=equipment,
            sprayer=_named_by(here, equipment),
            day=opened.now.astimezone(here.place.zone).date(),
            carrier_l_m2=None if carrier is None else quantity(carrier, "carrier", where="--carrier"),
            stock=on_hand(products, records.stock),
            zones=chosen,
            blackouts=round_.blackouts if round_ else (),
            units=here.place.units,
            seed=seed_conflicts(now_down, records.applications, here),
            judgement=here.judgement,
        )
    )
    if json:
        typer.echo(worked.model_dump_json(indent=2))
    else:
        typer.echo(mix_text(worked, here.place.units, width=terminal_width(), demo=demo), nl=False)


def _asked(site: Site, names: Sequence[str]) -> tuple[list[Product], Round | None]:
    """The products asked for, by their names or by the name of a round."""
    from advisor.faces.cli.asked import known_names

    rounds = {r.name: r for r in site.rounds}
    if not names and len(rounds) == 1:
        names = list(rounds)
    if not names:
        allowed = f"rounds: {', '.join(rounds) or 'none'}; products: {', '.join(site.products) or 'none'}"
        raise InputError("say which round or products to mix", where="advisor mix", allowed=allowed)
    round_ = None
    if len(names) == 1:
        folded = {name.casefold(): r for name, r in rounds.items()}
        round_ = folded.get(" ".join(names[0].split()).casefold())
    if round_ is not None:
        return [site.products[name] for name in round_.products], round_
    known = [*site.products, *(rounds if len(names) == 1 else ())]
    meant = known_names(names, known, what="product or round", where="advisor mix")
    return [site.products[name] for name in meant], None


def _where(
    site: Site, round_: Round | None, zones: Sequence[str], area: str | None
) -> tuple[tuple[str, ...], float]:
    """The zones and their area, m², or the area alone."""
    from advisor.faces.cli.asked import known_names, quantity

    if area is not None:
        if zones:
            raise InputError(
                "give zones or an area, not both", where="--area", found=repr(area), allowed="one of them"
            )
        return (), quantity(area, "area", where="--area")
    by_name = {z.name: z for z in site.zones}
    asked = [name for part in zones for name in part.split(",") if name.strip()]
    chosen = tuple(known_names(asked, by_name, what="zone", where="--zones"))
    chosen = chosen or (round_.zones if round_ else ()) or tuple(by_name)
    return chosen, sum(by_name[name].area_m2 for name in chosen)


def _equipment(site: Site, round_: Round | None, products: Sequence[Product], asked: str | None) -> Equipment:
    """The sprayer asked for, or what is usual for these products."""
    from advisor.faces.cli.asked import known_name
    from advisor.watering_in import equipment_said, usual_equipment

    if asked is None:
        return usual_equipment(site, products, round_)
    names = [s.name for s in site.sprayers]
    return equipment_said(site, known_name(asked, names, what="sprayer", where="--sprayer"))


def _named_by(site: Site, equipment: Equipment) -> Sprayer | None:
    """The declared piece that is meant; none where nothing is sprayed or none is declared."""
    from advisor.advice import EquipmentBasis

    if equipment.basis == EquipmentBasis.SPREADER:
        return None
    return next((s for s in site.sprayers if s.name == equipment.name), None)
