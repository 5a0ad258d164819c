"""`advisor status`: how the nightly service is; exit code 1 where something is wrong."""

from __future__ import annotations

from typing import TYPE_CHECKING

import typer

from advisor.faces.cli.commands.serve import SitesOption
from advisor.faces.cli.options import DEFAULT_SITE, DemoOption, JsonOption, NowOption, moment

if TYPE_CHECKING:
    from pathlib import Path
    from zoneinfo import ZoneInfo

    from advisor.advice import ServiceHealth


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("status")(status)


def status(
    site: SitesOption = [DEFAULT_SITE],  # noqa: B006
    demo: DemoOption = False,
    now: NowOption = None,
    json: JsonOption = False,
) -> None:
    """Tell the last advice, weather and message, the next jobs, the disk, and what is wrong."""
    from advisor.faces.text import status_text
    from advisor.wording import INVENTED

    if demo and not json:
        typer.echo(f"{INVENTED}\n")
    told, zones = _told_of_demo(now) if demo else _told(site, now)
    typer.echo(told.as_json(indent=2) if json else status_text(told.sites, zones), nl=json)
    if not told.ok:
        raise typer.Exit(1)


def _told(paths: list[Path], now: str | None) -> tuple[ServiceHealth, list[ZoneInfo]]:
    from advisor.advice import Trouble, TroubleKind
    from advisor.lawn import load_site, service_settings
    from advisor.service import is_served, service_health, site_health
    from advisor.store import open_store

    sites = [load_site(path) for path in paths]
    at = moment(now, sites[0].place.zone)
    found = []
    for one in sites:
        settings = service_settings(one)
        live = () if is_served(one.records_path) else (Trouble(kind=TroubleKind.NOT_RUNNING),)
        with open_store(one.records_path, create=False) as store:
            found.append(site_health(one, settings, store, at, live=live))
    return service_health(found, at), [one.place.zone for one in sites]


def _told_of_demo(now: str | None) -> tuple[ServiceHealth, list[ZoneInfo]]:
    from advisor.faces.cli.options import open_site
    from advisor.faces.text import advice_text
    from advisor.service import demo_evening, service_health, site_health

    opened = open_site(DEFAULT_SITE, demo=True, now=now)
    with demo_evening(opened.now, advice_text) as (one, _):
        found = site_health(one.site, one.settings, one.store, opened.now)
    return service_health([found], opened.now), [opened.site.place.zone]
