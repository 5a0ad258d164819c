"""`advisor serve`: the nightly advice, its looks and its messages, until it is stopped."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from advisor.errors import AdvisorError
from advisor.faces.cli.options import DEFAULT_SITE, DemoOption

if TYPE_CHECKING:
    from advisor.advice import Trouble

SitesOption = Annotated[
    list[Path],
    typer.Option("--site", "-s", help="A site file. Say it once for each site.", envvar="ADVISOR_SITE"),
]
OnceOption = Annotated[bool, typer.Option("--once", help="Do what is due now, then end.")]


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("serve")(serve)


def serve(
    site: SitesOption = [DEFAULT_SITE],  # noqa: B006
    demo: DemoOption = False,
    once: OnceOption = False,
) -> None:
    """Give the advice every evening, look again when it matters, and send the messages.

    It goes on until it is stopped.
    """
    import gc
    from datetime import UTC, datetime

    from advisor.faces.text import advice_text
    from advisor.service import serve_once, serve_until_stopped

    gc.enable()

    def clock() -> datetime:
        return datetime.now(UTC)

    if demo:
        _show()
    elif once:
        _once(serve_once(site, clock, render=advice_text))
    else:
        serve_until_stopped(site, clock, render=advice_text, ready=_say)


def _say(line: str) -> None:
    """Say it where it can be said: a full disk under the output ends no service."""
    import contextlib

    with contextlib.suppress(OSError, AdvisorError):
        typer.echo(line)


def _once(wrong: dict[str, tuple[Trouble, ...]]) -> None:
    from advisor.sentences import trouble_words

    for name, troubles in wrong.items():
        for trouble in troubles:
            typer.echo(f"{name}: {trouble_words(trouble)}", err=True)
    if any(wrong.values()):
        raise typer.Exit(1)


def _show() -> None:
    """The message of the demo's evening, as a phone would show it and as it is behind that."""
    from advisor.faces.cli.options import open_site
    from advisor.faces.text import advice_text
    from advisor.service import demo_evening

    now = open_site(DEFAULT_SITE, demo=True, now=None).now
    with demo_evening(now, advice_text) as (_, letters):
        typer.echo("Invented demo: nothing is fetched, kept or sent. This evening's message would be:\n")
        for letter in letters:
            typer.echo(f"{letter.title}\n{letter.short}\n\n{letter.text}", nl=False)
