"""The options that commands share, and how a face turns them into a site, records and a time.

A face alone may ask the clock, and does it here.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from advisor.errors import InputError
from advisor.units import YEARS, known_year

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

    from advisor.lawn import Site

DEFAULT_SITE = Path("site.yaml")

SiteOption = Annotated[
    Path,
    typer.Option(
        "--site",
        "-s",
        help="The site file that `advisor init` wrote.",
        envvar="ADVISOR_SITE",
        show_default=True,
    ),
]
DemoOption = Annotated[
    bool, typer.Option("--demo", help="Use the invented demo site, records and weather; no network.")
]
NowOption = Annotated[
    str | None,
    typer.Option(
        "--now", help="Pretend it is this local time, such as 2026-06-17T20:15.", show_default=False
    ),
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print the whole object as JSON.")]
AnywayOption = Annotated[
    bool, typer.Option("--anyway", help="Take what is unlikely, because it is so.", show_default=False)
]
WeatherOption = Annotated[
    Path | None,
    typer.Option("--weather", help="An hourly CSV file instead of the services.", show_default=False),
]
ClimateOption = Annotated[
    Path | None,
    typer.Option(
        "--climate",
        help="The usual year from a CSV file: month,eto_mm_d,rain_mm a row a month, or hourly weather.",
        show_default=False,
    ),
]


@dataclass(frozen=True)
class Opened:
    """A site that a command works on, and the moment it works at."""

    site: Site
    now: datetime
    demo: bool


def open_site(path: Path, *, demo: bool, now: str | None) -> Opened:
    """Load the site file (or the demo's) and settle what time it is there."""
    from advisor.lawn import load_site
    from advisor.shipped import shipped

    site = load_site(shipped("config", "demo.yaml") if demo else path)
    if now is None and demo:
        now = DEMO_NOW
    return Opened(site=site, now=moment(now, site.place.zone), demo=demo)


DEMO_NOW = "2026-06-17T20:15"


def moment(text: str | None, zone: ZoneInfo) -> datetime:
    """`text` as an aware time, read as local where it has no offset; None is the clock's now."""
    if text is None:
        return datetime.now(zone)
    try:
        parsed = datetime.fromisoformat(text)
    except ValueError:
        raise InputError(
            "a time is not understood", where="--now", found=repr(text), allowed="2026-06-17T20:15"
        ) from None
    if not known_year(parsed):
        raise InputError(
            "a time is too far away", where="--now", found=repr(text), allowed=f"the years {YEARS}"
        )
    return parsed.replace(tzinfo=zone) if parsed.tzinfo is None else parsed.astimezone(zone)
