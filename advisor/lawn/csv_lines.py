"""The lines of a small CSV file that an owner wrote: each with its number, without notes and empty ones."""

from __future__ import annotations

import csv
from pathlib import Path

from advisor.errors import InputError
from advisor.files import read_bytes

MOST_BYTES = 64_000_000
"""More than thirty years of hours take."""


def csv_lines(path: Path) -> list[tuple[int, str]]:
    """The lines that hold cells, numbered from 1; those that begin with # and empty ones are passed over.

    Raises InputError when the file cannot be read or is no text in UTF-8.
    """
    try:
        text = read_bytes(path, MOST_BYTES).decode("utf-8-sig")
    except OSError as error:
        raise InputError(f"the file cannot be read: {error.strerror}", where=str(path)) from None
    except UnicodeDecodeError:
        raise InputError("the file is not text in UTF-8", where=str(path), allowed="a CSV file") from None
    return [
        (number, line)
        for number, line in enumerate(text.splitlines(), 1)
        if line.strip(" ,\t") and line.lstrip()[0] != "#"
    ]


def cells_of(line: str, where: str, number: int, *, count: int | None = None) -> list[str]:
    """The cells of a line; InputError when there are not `count` of them, as in the row of names."""
    try:
        cells = [cell.strip() for cell in next(csv.reader([line]))]
    except csv.Error as error:
        raise InputError(f"a row cannot be read ({error})", where=where, line=number) from None
    if count is not None and len(cells) != count:
        raise InputError(
            "a row has another number of cells than the row of names",
            where=where,
            line=number,
            found=f"{len(cells)} cells",
            allowed=f"{count}",
        )
    return cells
