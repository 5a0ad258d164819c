"""`advisor init` writes a starter site file; `advisor check` tells what a site file comes to."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from advisor.errors import InputError, ManyProblems
from advisor.faces.cli.options import DEFAULT_SITE, DemoOption, JsonOption, NowOption, SiteOption, open_site
from advisor.faces.cli.printed import print_json

if TYPE_CHECKING:
    from advisor.lawn import Product, Rules, Site

ASKED = {
    "latitude": "Latitude in decimal degrees, south negative",
    "longitude": "Longitude in decimal degrees, west negative",
    "elevation": "Elevation with its unit, such as 381 m or 1250 ft",
    "time_zone": "Time zone, such as America/Chicago",
    "units": "Units to show, metric or us",
}


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.command("init")(init)
    app.command("check")(check)


def init(
    latitude: Annotated[str | None, typer.Option(help=ASKED["latitude"] + ".")] = None,
    longitude: Annotated[str | None, typer.Option(help=ASKED["longitude"] + ".")] = None,
    elevation: Annotated[str | None, typer.Option(help=ASKED["elevation"] + ".")] = None,
    time_zone: Annotated[str | None, typer.Option(help=ASKED["time_zone"] + ".")] = None,
    units: Annotated[str | None, typer.Option(help=ASKED["units"] + ".")] = None,
    name: Annotated[str, typer.Option(help="What the lawn is called.")] = "Home lawn",
    out: Annotated[Path, typer.Option(help="The file to write.")] = DEFAULT_SITE,
    force: Annotated[bool, typer.Option("--force", help="Write over a file that is there.")] = False,
    json: JsonOption = False,
) -> None:
    """Write a commented starter site file for your place.

    Nothing about the place is guessed: what is not said is asked.
    """
    given = {
        "latitude": latitude,
        "longitude": longitude,
        "elevation": elevation,
        "time_zone": time_zone,
        "units": units,
    }
    place = {"name": name, **_complete(given, may_ask=not json)}

    from advisor.lawn import read_site, starter_text, write_new

    text = starter_text(place)
    read_site(text, out)
    write_new(text, out, force=force)
    if json:
        from advisor.advice import SiteWritten

        print_json(SiteWritten(site=name, file=str(out)))
        return
    typer.echo(f"Wrote {out} for {name}.")
    typer.echo("Now open it, put your own zones in place of the example, and then run:")
    typer.echo("  advisor check" + ("" if out == DEFAULT_SITE else f" --site {out}"))


def _complete(given: dict[str, str | None], *, may_ask: bool) -> dict[str, str]:
    """What was given, and the rest asked for at a terminal; without one the missing are told."""
    missing = [key for key, value in given.items() if value is None]
    if missing and not (may_ask and sys.stdin.isatty()):
        options = ", ".join("--" + key.replace("_", "-") for key in missing)
        raise InputError(
            "the place is not complete and nothing about it is guessed",
            where="advisor init",
            found=f"no {options}",
            allowed="; ".join(ASKED[key] for key in missing),
        )
    return {
        key: value if value is not None else str(typer.prompt(ASKED[key])) for key, value in given.items()
    }


def check(
    site: SiteOption = DEFAULT_SITE,
    demo: DemoOption = False,
    now: NowOption = None,
    json: JsonOption = False,
) -> None:
    """Tell what the site file comes to, and what in it is a guess worth measuring."""
    from advisor.lawn import at_odds, dated_ahead, problems_written, to_measure
    from advisor.wording import INVENTED

    try:
        opened = open_site(site, demo=demo, now=now)
    except ManyProblems as problems:
        raise ManyProblems([*problems.problems, *problems_written(site)]) from None
    declared = opened.site
    ahead = dated_ahead(declared, opened.now.astimezone(declared.place.zone).date())
    wrong = [*ahead, *problems_written(declared.path)]
    if wrong:
        raise ManyProblems(wrong)
    if json:
        from advisor.advice import site_check

        print_json(site_check(declared))
        return
    if demo:
        typer.echo(f"{INVENTED}\n")
    for line in _summary(declared):
        typer.echo(line)
    odd = at_odds(declared)
    if odd:
        typer.echo("\nDoes not go together:")
        for each in odd:
            typer.echo(f"- {each}")
    guesses = to_measure(declared)
    if guesses:
        typer.echo("\nGuessed, worth measuring:")
        for guess in guesses:
            typer.echo(f"- {guess}")
    typer.echo(f"\n{'The demo site' if demo else site} can be used.")


def _summary(site: Site) -> list[str]:
    from advisor.lawn import HEARTBEAT_IS_SECRET, heartbeat_host
    from advisor.units import show

    place, system = site.place, site.place.units
    north = "N" if place.latitude_deg >= 0 else "S"
    east = "E" if place.longitude_deg >= 0 else "W"
    lines = [
        f"{place.name}: {abs(place.latitude_deg):g}° {north}, {abs(place.longitude_deg):g}° {east}, "
        f"{show(place.elevation_m, 'length', system, digits=0)}, {place.zone.key}",
        "",
        *_zone_table(site),
        "",
        f"Watering: {_hours(site.rules)}",
    ]
    if site.supply.flow_l_min is not None:
        lines.append(f"Supply: {show(site.supply.flow_l_min, 'flow', system)}")
    else:
        lines.append("Supply: not said, so one zone at a time")
    lines += [f"Product: {_product(product, system)}" for product in site.products.values()]
    lines += [
        f"Round: {one.name}, every {one.every_days} days: {', '.join(one.products)}" for one in site.rounds
    ]
    lines.append(f"Careful: {site.decision.dial}")
    lines.append(f"Records: {site.records_path}")
    if (host := heartbeat_host(site)) is not None:
        whom = "a secret address" if host == HEARTBEAT_IS_SECRET else host
        lines.append(f"Heartbeat: {whom} is called after each evening that went well")
    return lines


def _zone_table(site: Site) -> list[str]:
    from advisor.lawn import RateBasis, declared_figures
    from advisor.units import show, show_number

    system = site.place.units
    head = (
        "zone",
        "area",
        "grass",
        "soil",
        "slope",
        "rate",
        "known by",
        "evenness",
        "holds",
        "may lose",
        "10 min",
    )
    rows: list[tuple[str, ...]] = [head]
    for zone in site.zones:
        figures = declared_figures(zone)
        known = f"measured {zone.rate.measured_on}" if zone.rate.measured_on else zone.rate.basis
        if zone.rate.basis == RateBasis.GUESS:
            low, high = (
                show_number(rate, "rate", system) for rate in (zone.rate.low_mm_h, zone.rate.high_mm_h)
            )
            known = f"guess {low}-{high}"
        rows.append(
            (
                zone.name,
                show(zone.area_m2, "area", system),
                zone.turf.name,
                zone.soil.name,
                show(zone.slope_pct, "slope"),
                show(zone.rate.rate_mm_h, "rate", system),
                known,
                show(zone.uniformity, "share") + ("" if zone.uniformity_known else " ?"),
                show(figures.taw_mm, "depth", system),
                show(figures.allowed_mm, "depth", system),
                show(figures.ten_minutes_l, "volume", system, digits=0),
            )
        )
    return [
        *_columns(rows),
        "evenness: low-quarter distribution uniformity; holds: total available water of the root zone;",
        "may lose: allowed depletion; ?: usual for the head, not measured",
    ]


def _columns(rows: Sequence[Sequence[str]]) -> list[str]:
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    return [
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows
    ]


def _hours(rules: Rules) -> str:
    from advisor.lawn import Parity
    from advisor.wording import weekdays_words

    spans = ", ".join(f"{begin:%H:%M}-{end:%H:%M}" for begin, end in rules.hours)
    days = weekdays_words(rules.weekdays)
    parity = "" if rules.parity == Parity.ANY else f", {rules.parity} dates"
    end = "ends by sunrise" if rules.finish == "sunrise" else "ends with the hours"
    count = len(rules.blackouts)
    stops = f", {count} blackout{'s' if count > 1 else ''}" if count else ""
    return f"{spans}, {days}{parity}, {end}{stops}"


def _product(product: Product, system: str) -> str:
    from advisor.lawn import label_keys
    from advisor.units import show, show_amount

    kind = product.kind
    liquid = kind.form == "liquid"
    parts = [f"{product.name} ({kind.key})"]
    if product.rate is not None:
        parts.append(show(product.rate, "liquid rate" if liquid else "granule rate", system))
    if kind.target_mm > 0:
        least, target, most = (
            show(d, "depth", system) for d in (kind.least_mm, kind.target_mm, kind.most_mm)
        )
        parts.append(f"water in {target} ({least} to {most})")
    if kind.dry_h > 0:
        parts.append(f"dry for {kind.dry_h:g} h")
    if product.stock is not None:
        parts.append(f"stock {show_amount(product.stock, liquid=liquid, system=system)}")
    if product.overrides:
        parts.append(f"from its label: {', '.join(label_keys(product))}")
    return ", ".join(parts)
