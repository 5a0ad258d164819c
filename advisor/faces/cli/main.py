"""The command line: gathers the commands, turns an AdvisorError into one sentence and exit code 2."""

from __future__ import annotations

import contextlib
import gc
import sys
from collections.abc import Iterable
from importlib import import_module

import typer

from advisor.errors import AdvisorError, UsageError
from advisor.faces.cli.output import Output, OutputFailed, let_go
from advisor.faces.cli.plain_help import make_plain
from advisor.version import VERSION

COMMANDS: dict[str, tuple[str, ...]] = {
    "tonight": ("tonight",),
    "rain": ("rain",),
    "next_round": ("next-round",),
    "weather": ("weather",),
    "set_up": ("init", "check"),
    "record": ("record",),
    "records": ("records",),
    "mix": ("mix",),
    "audit": ("audit",),
    "runtime": ("runtime",),
    "clock_sheet": ("clock-sheet",),
    "replay": ("replay",),
    "serve": ("serve",),
    "status": ("status",),
}
"""The rooms of the commands, and what each of them adds."""


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"advisor {VERSION}")
        raise typer.Exit


def program(rooms: Iterable[str] = COMMANDS) -> typer.Typer:
    """The command line with the commands of these rooms."""
    made = typer.Typer(
        name="advisor",
        help="What to water tonight, in which zones, for how many minutes, and why.",
        no_args_is_help=True,
        add_completion=False,
        pretty_exceptions_enable=False,
        rich_markup_mode=None,
    )
    made.callback()(_root)
    for room in rooms:
        import_module(f"advisor.faces.cli.commands.{room}").register(made)
    make_plain(made)
    return made


def _root(
    version: bool = typer.Option(
        False, "--version", callback=_version, is_eager=True, help="Print the version."
    ),
) -> None:
    """What to water tonight, in which zones, for how many minutes, and why."""


def rooms_for(words: Iterable[str]) -> tuple[str, ...]:
    """The room of the command that is asked for, so that no other is loaded; all where none is known."""
    asked = next((word for word in words if not word.startswith("-")), "")
    return tuple(room for room, names in COMMANDS.items() if asked in names) or tuple(COMMANDS)


def main() -> None:
    """Run the command line; what the user can mend is told in a sentence, exit code 2.

    With --json it is told as a JSON object on standard output, whatever the error is and wherever it
    comes from.
    """
    gc.disable()  # a command is over before there is anything to collect; the service turns it on again
    if sys.stdout is not None:
        sys.stdout = Output(sys.stdout)
    try:
        code = _ended(sys.argv[1:])
        if sys.stdout is not None:
            sys.stdout.flush()
    except BrokenPipeError:
        code = 1
        let_go()
    except OutputFailed as error:
        code = 2
        _say(error)
        let_go()
    sys.exit(code)


def _ended(words: list[str]) -> int:
    """Run the command that `words` are; its exit code. Raises OutputFailed, and BrokenPipeError."""
    as_json = "--json" in words
    try:
        answer = program(rooms_for(words))(standalone_mode=not as_json)
        return answer if isinstance(answer, int) else 0
    except SystemExit as end:
        return end.code if isinstance(end.code, int) else int(end.code is not None)
    except OutputFailed:
        raise
    except AdvisorError as error:
        if as_json:
            _tell(error)
        else:
            _say(error)
        return 2
    except typer.Abort:
        return 1
    except Exception as error:
        if not (as_json and hasattr(error, "format_message")):
            raise
        _tell(
            UsageError(error.format_message(), of=getattr(getattr(error, "param", None), "name", None) or "")
        )
        return 2


def _say(error: AdvisorError) -> None:
    with contextlib.suppress(OSError):  # who cannot be told anything still gets the exit code
        typer.echo(f"advisor: {error}", err=True)


def _tell(error: AdvisorError) -> None:
    from advisor.advice import error_told
    from advisor.faces.cli.printed import print_json

    print_json(error_told(error))


if __name__ == "__main__":
    main()
