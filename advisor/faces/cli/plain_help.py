"""How the command line shows what may be typed: one word for one thing in all commands, no types.

Used for every command, so that `--help` says TIME, DEPTH or FILE, and never what the program makes of it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Any

import typer
from typer.core import TyperCommand

from advisor.errors import InputError, ManyProblems

WORDS = {
    "ahead": "DAYS",
    "at": "TIME",
    "back": "DAYS",
    "can": "DEPTH",
    "cans": "FILE",
    "climate": "FILE",
    "cluster": "ADDRESS",
    "dilution": "RATIO",
    "elevation": "HEIGHT",
    "eto": "DEPTHS",
    "first": "DATE",
    "forecasts": "FOLDER",
    "html": "FILE",
    "jobs": "NUMBER",
    "keep": "FILE",
    "last": "DATE",
    "latitude": "DEGREES",
    "longitude": "DEGREES",
    "meter_end": "VOLUME",
    "meter_start": "VOLUME",
    "name": "TEXT",
    "night": "DATE",
    "note": "TEXT",
    "now": "TIME",
    "out": "FILE",
    "picture": "FILE",
    "readings": "VOLUMES",
    "recipe": "NAME",
    "seeds": "NUMBER",
    "shortened": "SHARE",
    "since": "TIME",
    "site": "FILE",
    "source": "FILE",
    "target": "FILE",
    "throat": "AREA",
    "time_zone": "NAME",
    "until": "TIME",
    "weather": "FILE",
    "why": "TEXT",
    "wind": "SPEED",
}
"""What stands for the value of a parameter, where it is not the parameter's own name."""

WHOLE = 200
_BRACED = re.compile(r"\{([^{}\s]+)\}")
_TYPED = re.compile(r"^(  \S+)( <[^<>]+>)(?=\s)", re.MULTILINE)
_BELOW_ZERO = re.compile(r"-[0-9.]")


class PlainCommand(TyperCommand):
    """A command whose help has plain words for what is to be typed."""

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        for parameter in self.params:
            if parameter.metavar is None and not getattr(parameter, "is_flag", False):
                name = str(parameter.name)
                parameter.metavar = WORDS.get(name, name.upper())

    def invoke(self, ctx: Any) -> Any:
        """Run it; an error that names a field of what was asked is told of the option it came from."""
        try:
            return super().invoke(ctx)
        except (InputError, ManyProblems) as error:
            raise _of_options(error, self.params) from error

    def get_short_help_str(self, limit: int = 0) -> str:
        """The first sentence, whole, for the list of commands."""
        return super().get_short_help_str(limit=max(limit, WHOLE))

    def get_usage(self, ctx: Any) -> str:
        """The usage line, without braces."""
        return _BRACED.sub(r"\1", super().get_usage(ctx))

    def get_help(self, ctx: Any) -> str:
        """The whole help, without braces and types."""
        usage, rest = super().get_usage(ctx), super().get_help(ctx)
        rest = rest.replace(usage, self.get_usage(ctx), 1)
        return _TYPED.sub(lambda found: found[1] + " " * len(found[2]), rest)


class NothingBelowZero(PlainCommand):
    """A command whose arguments are amounts: "-5" is told as one of them, not as an unknown option."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Parse; an option that cannot be one because it is a number raises InputError."""
        given = list(args)
        try:
            return super().parse_args(ctx, args)
        except Exception as error:
            if _BELOW_ZERO.match(str(getattr(error, "option_name", ""))) is None:
                raise
            found = next((word for word in given if _BELOW_ZERO.match(word)), "")
            raise InputError(
                "nothing below zero is recorded",
                where=str(ctx.command_path),
                found=repr(found),
                allowed="0 or more",
            ) from None


def _of_options(error: InputError | ManyProblems, parameters: Iterable[Any]) -> InputError | ManyProblems:
    """The error with the option or argument in the place of the field that a use case named."""
    names = {
        str(p.name): max(p.opts, key=len) if p.param_type_name == "option" else str(p.metavar)
        for p in parameters
    }
    if isinstance(error, ManyProblems):
        return ManyProblems([_placed(each, names) for each in error.problems])
    return _placed(error, names)


def _placed(error: InputError, names: Mapping[str, str]) -> InputError:
    return error if error.where or error.field not in names else error.at(names[error.field])


def make_plain(group: typer.Typer) -> None:
    """Let every command of a group, and of the groups in it, show plain words."""
    for command in group.registered_commands:
        if command.cls in (None, TyperCommand):
            command.cls = PlainCommand
    for inner in group.registered_groups:
        if inner.typer_instance is not None:
            make_plain(inner.typer_instance)
