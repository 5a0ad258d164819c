"""A usual year written down in a CSV file → Climate, or every problem with its line.

One row a month: `month` 1…12; `eto_mm_d` mean reference evapotranspiration a day; `rain_mm` mean rain a
month. Besides, where known: `counted_mm` the part of it that can be counted on (else it is reckoned from
the month's rain), `tmin_c` the mean nightly minimum, `source` where the row is from. Lines that begin
with # and empty lines are passed over.

A file whose first row has a column `time` is hourly weather instead (`advisor.weather.csv_file`), from
which the usual year is worked out.
"""

from __future__ import annotations

from pathlib import Path

from advisor.errors import InputError, ManyProblems
from advisor.faces.cli.csv_lines import cells_of, csv_lines
from advisor.faces.cli.options import Opened
from advisor.soil_water.usual_year import Climate, Month, climate_of, counted_by_month

NEEDED = ("month", "eto_mm_d", "rain_mm")
BOUNDS = {
    "month": (1.0, 12.0),
    "eto_mm_d": (0.0, 15.0),
    "rain_mm": (0.0, 2000.0),
    "counted_mm": (0.0, 2000.0),
    "tmin_c": (-60.0, 40.0),
}
ALLOWED = "month, eto_mm_d, rain_mm and, where known, counted_mm, tmin_c, source; or hourly weather"


def read_climate(path: Path, opened: Opened) -> Climate:
    """The usual year in the file at `path`. Raises InputError, ManyProblems or CannotAdvise."""
    lines = csv_lines(path)
    if not lines:
        raise InputError("the file is empty", where=str(path), allowed=ALLOWED)
    names = [cell.lower() for cell in cells_of(lines[0][1], str(path), lines[0][0])]
    if "time" in names:
        return _from_hours(path, opened)
    unknown = [name for name in names if name not in BOUNDS and name != "source"]
    lacking = [name for name in NEEDED if name not in names]
    if unknown or lacking or len(set(names)) < len(names):
        raise InputError(
            "the columns do not make a usual year",
            where=str(path),
            line=lines[0][0],
            found=", ".join(names)[:80],
            allowed=ALLOWED,
        )
    return _from_months(path, names, lines[1:])


def _from_hours(path: Path, opened: Opened) -> Climate:
    from advisor.weather.csv_file import read_csv

    place = opened.site.place
    weather = read_csv(
        path,
        latitude_deg=place.latitude_deg,
        longitude_deg=place.longitude_deg,
        elevation_m=place.elevation_m,
        now=opened.now,
    )
    return climate_of(weather, place.zone, source=path.name)


def _from_months(path: Path, names: list[str], rows: list[tuple[int, str]]) -> Climate:
    problems: list[InputError] = []
    found: dict[int, Month] = {}
    sources: list[str] = []
    for line, text in rows:
        try:
            cells = cells_of(text, str(path), line, count=len(names))
            values = _values(str(path), line, names, cells)
            month = int(values["month"])
            if month in found:
                raise InputError("a month is given twice", where=str(path), line=line, found=str(month))
        except InputError as problem:
            problems.append(problem)
            continue
        counted = values.get("counted_mm")
        found[month] = Month(
            month=month,
            eto_mm_d=values["eto_mm_d"],
            rain_mm=values["rain_mm"],
            counted_mm=counted_by_month(values["rain_mm"]) if counted is None else counted,
            tmin_c=values.get("tmin_c"),
        )
        if "source" in names and cells[names.index("source")]:
            sources.append(cells[names.index("source")])
    missing = [str(month) for month in range(1, 13) if month not in found]
    if missing and not problems:
        problems.append(
            InputError(
                "months are missing",
                where=str(path),
                found=f"none of {', '.join(missing)}",
                allowed="1 to 12",
            )
        )
    if problems:
        raise ManyProblems(problems)
    rain = (
        "The rain that counts is as the file says."
        if "counted_mm" in names
        else "Of a month's rain the part counts that comes in four years of five (FAO, dependable rain)."
    )
    return Climate(
        months=tuple(found[month] for month in range(1, 13)),
        source="; ".join(dict.fromkeys(sources)) or path.name,
        basis=f"Monthly means as written in {path.name}. {rain}",
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
