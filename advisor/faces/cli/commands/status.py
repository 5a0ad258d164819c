"""`advisor status`: how the nightly service is; exit code 1 where something is wrong."""

from __future__ import annotations

import json as as_json
from typing import TYPE_CHECKING, Any

import typer

from advisor.faces.cli.commands.serve import SitesOption
from advisor.faces.cli.options import DEFAULT_SITE, DemoOption, JsonOption, NowOption, moment
from advisor.wording import short_day

if TYPE_CHECKING:
    from datetime import datetime
    from pathlib import Path
    from zoneinfo import ZoneInfo


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
    told, zones = _told_of_demo(now) if demo else _told(site, now)
    typer.echo(as_json.dumps(told, ensure_ascii=False, indent=2) if json else _text(told, zones), nl=json)
    if not told["ok"]:
        raise typer.Exit(1)


def _told(paths: list[Path], now: str | None) -> tuple[dict[str, Any], list[ZoneInfo]]:
    from advisor.lawn.load import load_site
    from advisor.lawn.service_settings import service_settings
    from advisor.service.health import report, site_health
    from advisor.service.lock import is_served
    from advisor.store import open_store

    sites = [load_site(path) for path in paths]
    at = moment(now, sites[0].place.zone)
    found = []
    for one in sites:
        settings = service_settings(one)
        live = () if is_served(one.records_path) else ("the service is not running",)
        with open_store(one.records_path, create=False) as store:
            found.append(site_health(one, settings, store, at, live=live))
    return report(found, at), [one.place.zone for one in sites]


def _told_of_demo(now: str | None) -> tuple[dict[str, Any], list[ZoneInfo]]:
    from advisor.faces.cli.options import open_site
    from advisor.service.health import report, site_health
    from advisor.service.serving_demo import demo_evening

    opened = open_site(DEFAULT_SITE, demo=True, now=now)
    with demo_evening(opened.now) as (one, _):
        found = site_health(one.site, one.settings, one.store, opened.now)
    return report([found], opened.now), [opened.site.place.zone]


def _text(told: dict[str, Any], zones: list[ZoneInfo]) -> str:
    from datetime import datetime

    lines = []
    for one, zone in zip(told["sites"], zones, strict=True):

        def local(when: str, zone: ZoneInfo = zone) -> str:
            at: datetime = datetime.fromisoformat(when).astimezone(zone)
            return f"{short_day(at)} {at:%H:%M}"

        advice, weather, message = one["last_advice"], one["last_weather"], one["last_message"]
        lines += [f"{one['site']}: {'all is well' if one['ok'] else 'something is wrong'}"]
        lines += [f"  ! {reason}" for reason in one["reasons"]]
        lines.append(
            "  last advice:  none yet"
            if advice is None
            else f"  last advice:  {local(advice['given_at'])} for the night of {advice['night']}: {advice['headline']}"
        )
        lines.append(
            "  last weather: none yet"
            if weather is None
            else f"  last weather: {local(weather['fetched_at'])} from {weather['source']}"
        )
        lines.append(
            "  last message: none yet"
            if message is None
            else f"  last message: {local(message['at'])} by {message['channel']} ({message['kind']})"
        )
        if one["messages_waiting"]:
            lines.append(f"  messages waiting: {one['messages_waiting']}")
        lines += [f"  next {job['job']}: {local(job['at'])}" for job in one["next_jobs"]]
        lines.append(f"  disk free: {one['disk_free_bytes'] / 1e9:.1f} GB")
    return "\n".join(lines) + "\n"
