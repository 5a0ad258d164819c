"""`advisor serve`: the nightly advice, its looks and its messages, until it is stopped."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from advisor.faces.options import DEFAULT_SITE

SitesOption = Annotated[
    list[Path],
    typer.Option("--site", "-s", help="A site file; say it once for each site.", envvar="ADVISOR_SITE"),
]
OnceOption = Annotated[bool, typer.Option("--once", help="Do what is due now, then end.")]


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("serve")(serve)


def serve(site: SitesOption = [DEFAULT_SITE], once: OnceOption = False) -> None:  # noqa: B006
    """Give the advice every evening, look again when it matters, and send the messages; until stopped."""
    from datetime import UTC, datetime

    from advisor.faces import serving

    def clock() -> datetime:
        return datetime.now(UTC)

    if not once:
        serving.serve(site, clock, ready=lambda line: typer.echo(line))
        return
    wrong = serving.once(site, clock)
    for name, reasons in wrong.items():
        for reason in reasons:
            typer.echo(f"{name}: {reason}", err=True)
    if any(wrong.values()):
        raise typer.Exit(1)
