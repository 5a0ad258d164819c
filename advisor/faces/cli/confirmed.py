"""What is unlikely, or not written yet, is asked where somebody sits at the terminal."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import TypeVar

import typer

from advisor.errors import AdvisorError, ManyProblems, Unlikely

T = TypeVar("T")


def may_ask(*, json: bool) -> bool:
    """Whether there is somebody to ask: a terminal on both sides, and no machine that reads."""
    return not json and sys.stdin.isatty() and sys.stdout.isatty()


def anyway_if_said(act: Callable[[bool], T], *, anyway: bool, json: bool) -> T:
    """Do something that may be unlikely; on a terminal it is asked whether it is so, elsewhere it is refused."""
    try:
        return act(anyway)
    except (Unlikely, ManyProblems) as problem:
        if not (_only_unlikely(problem) and may_ask(json=json)):
            raise
        typer.echo(f"advisor: {problem}", err=True)
    if not typer.confirm("Is it so?"):
        typer.echo("Nothing was written.")
        raise typer.Exit(1)
    return act(True)


def _only_unlikely(problem: AdvisorError) -> bool:
    several = problem.problems if isinstance(problem, ManyProblems) else (problem,)
    return all(isinstance(each, Unlikely) for each in several)
