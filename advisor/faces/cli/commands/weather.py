"""`advisor weather`: the days behind and ahead, each value with its source; and how good the chances are."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

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

if TYPE_CHECKING:
    from advisor.faces.cli.options import Opened

MOST_BACK, MOST_AHEAD = 45, 16


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("weather")(weather)


def weather(
    site: SiteOption = DEFAULT_SITE,
    demo: DemoOption = False,
    now: NowOption = None,
    weather: WeatherOption = None,
    back: Annotated[
        int, typer.Option("--back", min=0, max=MOST_BACK, help="How many days behind.", show_default=True)
    ] = 7,
    ahead: Annotated[
        int, typer.Option("--ahead", min=0, max=MOST_AHEAD, help="How many days ahead.", show_default=True)
    ] = 10,
    skill: Annotated[
        bool, typer.Option("--skill", help="Tell instead how good the chances of rain have been here.")
    ] = False,
    json: JsonOption = False,
    csv: Annotated[bool, typer.Option("--csv", help="Print one line a day as CSV, in SI units.")] = False,
) -> None:
    """Show rain and its chances, ETo, wind and minimum temperature of the days behind and ahead."""
    if csv and (json or skill):
        other = "--json" if json else "--skill"
        raise InputError("only one of them can be printed", where="--csv", found=f"--csv and {other}")
    opened = open_site(site, demo=demo, now=now)
    if skill:
        _skill(opened, as_json=json)
        return
    from advisor.faces.cli.inputs import gathered
    from advisor.faces.text import terminal_width, weather_csv, weather_text
    from advisor.soil_water import weather_days

    inputs = gathered(opened, weather)
    report = weather_days(
        site=inputs.site,
        records=inputs.records,
        weather=inputs.weather,
        now=inputs.now,
        back=back,
        ahead=ahead,
    )
    if json:
        typer.echo(report.model_dump_json(indent=2))
    elif csv:
        typer.echo(weather_csv(report), nl=False)
    else:
        typer.echo(weather_text(report, width=terminal_width(), demo=demo), nl=False)


def _skill(opened: Opened, *, as_json: bool) -> None:
    """What the site's own pairs of forecast and gauge say about its chances."""
    from advisor.faces.cli.asked import records_of
    from advisor.faces.text import bullets, terminal_width
    from advisor.tuning import skill
    from advisor.wording import INVENTED, Say

    place = opened.site.place
    pairs = [pair for pair in records_of(opened).pairs if pair.starts_at < opened.now]
    found = skill(
        pairs,
        Say(place.units, place.zone, opened.now),
        opened.site.judgement.rain,
        site=place.name,
    )
    if as_json:
        typer.echo(found.model_dump_json(indent=2))
        return
    lines = [f"{place.name} — how good the chances of rain have been"]
    if opened.demo:
        lines.append(INVENTED)
    typer.echo("\n".join([*lines, *bullets(found.sentences, terminal_width())]))
