"""How a command prints what a use case did: as lines, or with --json as one JSON object."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING

import typer

if TYPE_CHECKING:
    from pydantic import BaseModel

    from advisor.faces.cli.options import Opened

UNDO = "undo: advisor records undo"
THROWAWAY = "Demo: this went into a throwaway copy of the invented records; nothing is kept."


def print_json(done: BaseModel) -> None:
    """The object as JSON, under the schema that it names."""
    typer.echo(done.model_dump_json(indent=2))


def print_done(done: BaseModel, *, json: bool, opened: Opened, lines: Callable[[], Iterable[str]]) -> None:
    """What was done, as JSON or in `lines`; with --demo a line that nothing is kept."""
    if json:
        print_json(done)
        return
    for line in lines():
        typer.echo(line)
    if opened.demo:
        typer.echo(THROWAWAY)
