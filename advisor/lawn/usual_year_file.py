"""A usual year written down in a CSV file → its months, or every problem with its line.

One row a month: `month` 1…12; `eto_mm_d` mean reference evapotranspiration a day; `rain_mm` mean rain a
month. Besides, where known: `counted_mm` the part of it that can be counted on, `tmin_c` the mean nightly
minimum, `source` where the row is from. Lines that begin with # and empty lines are passed over.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from advisor.errors import InputError, ManyProblems
from advisor.lawn.csv_lines import cells_of, csv_lines

NEEDED = ("month", "eto_mm_d", "rain_mm")
BOUNDS = {
    "month": (1.0, 12.0),
    "eto_mm_d": (0.0, 15.0),
    "rain_mm": (0.0, 2000.0),
    "counted_mm": (0.0, 2000.0),
    "tmin_c": (-60.0, 40.0),
}
ALLOWED = "month, eto_mm_d, rain_mm and, where known, counted_mm, tmin_c, source; or hourly weather"


@dataclass(frozen=True, slots=True)
class MonthWritten:
    """One month as written; what is not known is None. `counted_mm`: the part of the rain that counts."""

    month: int
    eto_mm_d: float
    rain_mm: float
    counted_mm: float | None = None
    tmin_c: float | None = None
    source: str = ""


def read_usual_year(path: Path) -> tuple[MonthWritten, ...] | None:
    """January…December from the file at `path`; None where its first row says that it is hourly weather.

    Hourly weather has a column `time` (`advisor.weather.csv_file`). Raises InputError or ManyProblems.
    """
    lines = csv_lines(path)
    where = str(path)
    if not lines:
        raise InputError("the file is empty", where=where, allowed=ALLOWED)
    names = [cell.lower() for cell in cells_of(lines[0][1], where, lines[0][0])]
    if "time" in names:
        return None
    unknown = [name for name in names if name not in BOUNDS and name != "source"]
    lacking = [name for name in NEEDED if name not in names]
    if unknown or lacking or len(set(names)) < len(names):
        raise InputError(
            "the columns do not make a usual year",
            where=where,
            line=lines[0][0],
            found=", ".join(names)[:80],
            allowed=ALLOWED,
        )
    return _months(where, names, lines[1:])


def _months(where: str, names: list[str], rows: Sequence[tuple[int, str]]) -> tuple[MonthWritten, ...]:
    problems: list[InputError] = []
    found: dict[int, MonthWritten] = {}
    for line, text in rows:
        try:
            each = _month(where, line, names, cells_of(text, where, line, count=len(names)))
            if each.month in found:
                raise InputError("a month is given twice", where=where, line=line, found=str(each.month))
            found[each.month] = each
        except InputError as problem:
            problems.append(problem)
    missing = [str(month) for month in range(1, 13) if month not in found]
    if missing and not problems:
        none_of = f"none of {', '.join(missing)}"
        problems.append(InputError("months are missing", where=where, found=none_of, allowed="1 to 12"))
    if problems:
        raise ManyProblems(problems)
    return tuple(found[month] for month in range(1, 13))


def _month(where: str, line: int, names: list[str], cells: list[str]) -> MonthWritten:
    values = _values(where, line, names, cells)
    return MonthWritten(
        month=int(values["month"]),
        eto_mm_d=values["eto_mm_d"],
        rain_mm=values["rain_mm"],
        counted_mm=values.get("counted_mm"),
        tmin_c=values.get("tmin_c"),
        source=cells[names.index("source")] if "source" in names else "",
    )


def _values(where: str, line: int, names: list[str], cells: list[str]) -> dict[str, float]:
    values: dict[str, float] = {}
    for name, text in zip(names, cells, strict=True):
        if name == "source" or (not text and name not in NEEDED):
            continue
        low, high = BOUNDS[name]
        try:
            value = float(text)
        except ValueError:
            value = float("nan")
        if not low <= value <= high or (name == "month" and value != int(value)):
            raise InputError(
                f"{name} cannot be", where=where, line=line, found=repr(text), allowed=f"{low:g} to {high:g}"
            )
        values[name] = value
    return values
