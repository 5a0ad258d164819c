"""The command line: gathers the commands, turns an AdvisorError into one sentence and exit code 2."""

from __future__ import annotations

import sys
from importlib import import_module

import typer

from advisor import __version__
from advisor.errors import AdvisorError
from advisor.faces.plain_help import make_plain

COMMANDS: tuple[str, ...] = (
    "tonight",
    "rain",
    "next_round",
    "weather",
    "site",
    "record",
    "records",
    "mix",
    "audit",
    "runtime",
    "clock_sheet",
    "serve",
    "status",
)

app = typer.Typer(
    name="advisor",
    help="What to water tonight, in which zones, for how many minutes, and why.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"advisor {__version__}")
        raise typer.Exit


@app.callback()
def _root(
    version: bool = typer.Option(
        False, "--version", callback=_version, is_eager=True, help="Print the version."
    ),
) -> None:
    """What to water tonight, in which zones, for how many minutes, and why."""


for _name in COMMANDS:
    import_module(f"advisor.faces.commands.{_name}").register(app)
make_plain(app)


def main() -> None:
    """Run the command line; what the user can mend is told in a sentence, exit code 2."""
    try:
        app()
    except AdvisorError as error:
        typer.echo(f"advisor: {error}", err=True)
        sys.exit(2)


if __name__ == "__main__":
    main()
