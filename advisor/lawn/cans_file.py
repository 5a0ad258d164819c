"""A catch-can audit written down in a CSV file → readings, or every problem with its line.

The first row names the columns: `volume` or `depth`, and where the places are known `x` and `y`, each
with its unit after an underscore (`volume_ml`, `depth_mm`, `depth_in`, `x_m`, `y_ft`) or with the unit
in every cell. Lines that begin with # and empty lines are passed over. One row a can.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from advisor.errors import InputError, ManyProblems, QuantityError
from advisor.lawn.csv_lines import cells_of, csv_lines
from advisor.units import parse

DIMENSIONS = {"volume": "small volume", "depth": "depth", "x": "length", "y": "length"}
UNITS = {"floz": "fl oz"}
MOST = {
    "volume": (20_000.0, "up to 20 L"),
    "depth": (2_000.0, "up to 2 m"),
    "x": (1_000.0, "within 1 km"),
    "y": (1_000.0, "within 1 km"),
}
"""What no can holds and no lawn reaches, mL, mm and m: common practice, no source."""
ALLOWED = "volume_ml or depth_mm (or another unit), and x_m with y_m where the places are known"


@dataclass(frozen=True, slots=True)
class CanRow:
    """One can as written: a depth in mm or a volume in mL, and its place in m where known."""

    depth_mm: float | None = None
    volume_ml: float | None = None
    x_m: float | None = None
    y_m: float | None = None

    def depth_in(self, throat_m2: float) -> float:
        """The depth caught [mm]; a volume through an opening of so many m², one mL over one m² is 1 µm."""
        if self.volume_ml is None:
            return self.depth_mm or 0.0
        return self.volume_ml / 1000.0 / throat_m2


def read_cans(path: Path) -> tuple[CanRow, ...]:
    """The cans in the CSV file at `path`. Raises InputError or ManyProblems with file and line."""
    lines = csv_lines(path)
    if not lines:
        raise InputError("the file has no cans", where=str(path), allowed=f"a row of names: {ALLOWED}")
    names = _columns(lines[0][1], str(path), lines[0][0])
    problems: list[InputError] = []
    rows = []
    for number, line in lines[1:]:
        try:
            rows.append(_row(line, names, str(path), number))
        except InputError as problem:
            problems.append(problem)
    if not rows and not problems:
        raise InputError("the file has no cans under its row of names", where=str(path), line=lines[0][0])
    if problems:
        raise ManyProblems(problems)
    return tuple(rows)


def _columns(line: str, where: str, number: int) -> list[tuple[str, str]]:
    """Each column as (volume, depth, x or y; its unit or "")."""
    found = []
    for cell in cells_of(line, where, number):
        name, _, unit = cell.lower().partition("_")
        if name not in DIMENSIONS:
            raise InputError(
                "a column is not known", where=where, line=number, found=repr(cell), allowed=ALLOWED
            )
        found.append((name, UNITS.get(unit, unit)))
    names = [name for name, _ in found]
    if (
        ("volume" in names) == ("depth" in names)
        or len(set(names)) < len(names)
        or ("x" in names) != ("y" in names)
    ):
        raise InputError(
            "the columns do not make an audit", where=where, line=number, found=line, allowed=ALLOWED
        )
    return found


def _row(line: str, columns: list[tuple[str, str]], where: str, number: int) -> CanRow:
    cells = cells_of(line, where, number, count=len(columns))
    values = {}
    for cell, (name, unit) in zip(cells, columns, strict=True):
        try:
            value = parse(f"{cell} {unit}" if unit else cell, DIMENSIONS[name])
        except QuantityError as error:
            raise InputError(
                error.what, where=where, line=number, found=f"{cell!r} under {name}", allowed=error.allowed
            ) from None
        if value < 0.0 and name in ("volume", "depth"):
            raise InputError("a can holds less than nothing", where=where, line=number, found=repr(cell))
        if abs(value) > MOST[name][0]:
            what = f"no can has such a {name}" if name in ("volume", "depth") else "no can stands so far away"
            raise InputError(what, where=where, line=number, found=repr(cell), allowed=MOST[name][1])
        values[{"volume": "volume_ml", "depth": "depth_mm", "x": "x_m", "y": "y_m"}[name]] = value
    return CanRow(**values)
