"""An error as data, for whoever asked for JSON."""

from __future__ import annotations

from typing import Literal

from advisor.advice.frozen import Frozen
from advisor.errors import AdvisorError, InputError, ManyProblems


class Problem(Frozen):
    """One thing that is wrong."""

    kind: str
    """What sort of error: "InputError", "QuantityError", "Unlikely", "UsageError", "ManyProblems", "WeatherError",
    "SourceError", "StaleWeather", "RecordsError" or "CannotAdvise"."""
    message: str
    """The whole sentence, as the terminal shows it."""
    what: str = ""
    """What is wrong, without the place; "" where the message is all there is."""
    field: str = ""
    """The field of what was asked that it is about; "" where it is about none."""
    where: str = ""
    """The option or argument, or the file, that it is about; "" where there is none."""
    line: int | None = None
    """The line of the file, from 1; null where there is none."""
    found: str = ""
    """What stands there; "" where it is not told."""
    allowed: str = ""
    """What may stand there; "" where it is not told."""


class ErrorTold(Frozen):
    """Why a command could not do what it was asked."""

    schema_version: Literal["advisor.error/1"] = "advisor.error/1"
    """The version of this form."""
    error: Problem
    """The error."""
    problems: tuple[Problem, ...]
    """Each thing that is wrong, where several are told together; else the error alone."""


def error_told(error: AdvisorError) -> ErrorTold:
    """An error as data."""
    whole = _problem(error)
    several = (
        tuple(_problem(each) for each in error.problems) if isinstance(error, ManyProblems) else (whole,)
    )
    return ErrorTold(error=whole, problems=several)


def _problem(error: AdvisorError) -> Problem:
    of_the_tree = (each for each in type(error).__mro__ if each.__module__ == AdvisorError.__module__)
    kind, message = next(of_the_tree).__name__, str(error)
    if not isinstance(error, InputError):
        return Problem(kind=kind, message=message)
    return Problem(
        kind=kind,
        message=message,
        what=error.what,
        field=error.field,
        where=error.where,
        line=error.line,
        found=error.found,
        allowed=error.allowed,
    )
