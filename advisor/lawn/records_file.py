"""Records as files: one JSON file, or a folder of CSV files with one file per kind; both exact.

JSON has the version "advisor.records/1" as "schema_version" and, by its older name, as "format" (one of
them is enough), and one record a line. A CSV has the names of the
fields in its first row, times in ISO with their offset, zones separated by ";", and an empty cell
for what is not known; texts that a spreadsheet would take for a formula have an apostrophe before them
(`csv_cells`), which import takes away. Everything that is wrong in a file is told at once, with its line.
What is written is for its owner's eyes alone.
"""

from __future__ import annotations

import csv
import io
import json
import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NoReturn

from advisor.errors import InputError, ManyProblems, RecordsError
from advisor.files import make_folder, make_private, read_bytes
from advisor.lawn.csv_cells import cell_of_text, text_of_cell
from advisor.lawn.record_fields import (
    KINDS,
    Field,
    built,
    fields_of,
    gathered,
    of_kind,
    plain_values,
    row_problems,
    unusable_values,
)
from advisor.lawn.records import Record, Records

FORMAT = "advisor.records/1"
VERSION_KEYS = {"schema_version", "format"}
MOST_BYTES, MOST_RECORDS = 64_000_000, 500_000
"""More than decades of a lawn come to; a larger file is taken for something else."""
ENOUGH_PROBLEMS = 200
"""After so many the rest of the file is not looked at."""
UNUSABLE_KEY = "unusable"
"""What a list of records tells of those that make no sense; it is no record, and is passed over."""


@dataclass(frozen=True, slots=True)
class _Row:
    """The plain values of one record and where in the file they stand."""

    kind: str
    values: Mapping[str, Any]
    where: str
    line: int
    problem: InputError | None = None


@dataclass(frozen=True, slots=True)
class FileRow:
    """A record of a file that makes sense by itself, and where it stands."""

    record: Record
    where: str
    line: int


@dataclass(frozen=True, slots=True)
class ReadRows:
    """The rows of a file: those that make sense, and what is wrong with the others."""

    rows: tuple[FileRow, ...]
    wrong: tuple[RowWrong, ...]

    @property
    def records(self) -> Records:
        """The records, each kind in the order of time. InputError or ManyProblems where a row makes no sense."""
        if self.wrong:
            raise told_together([each.problem for each in self.wrong])
        return gathered(row.record for row in self.rows)


@dataclass(frozen=True, slots=True)
class RowWrong:
    """What is wrong with a row, and of which kind of record it is."""

    kind: str
    field: str
    problem: InputError


def told_together(problems: Sequence[InputError]) -> InputError | ManyProblems:
    """One error of several."""
    return problems[0] if len(problems) == 1 else ManyProblems(problems)


def records_to_json(records: Records) -> str:
    """The records as JSON text, one record a line."""
    parts = [f'{{\n"schema_version": {json.dumps(FORMAT)}', f'"format": {json.dumps(FORMAT)}']
    for kind in KINDS:
        lines = ",\n".join(json.dumps(plain_values(r), ensure_ascii=False) for r in of_kind(records, kind))
        parts.append(f'"{kind}": [\n{lines}\n]' if lines else f'"{kind}": []')
    lines = ",\n".join(json.dumps(unusable_values(each)) for each in records.unusable)
    parts.append(f'"{UNUSABLE_KEY}": [\n{lines}\n]' if lines else f'"{UNUSABLE_KEY}": []')
    return ",\n".join(parts) + "\n}\n"


def records_from_json(text: str, *, where: str = "records.json") -> Records:
    """The records of JSON text; ManyProblems or InputError with `where` and line."""
    return _rows_of_json(text, where).records


def _rows_of_json(text: str, where: str) -> ReadRows:
    problems: list[InputError] = []
    rows: list[_Row] = []
    for row in _json_rows(text, where, problems):
        _not_too_many(rows, row)
        rows.append(row)
    return _built(rows, problems)


def _not_too_many(rows: list[_Row], row: _Row) -> None:
    if len(rows) >= MOST_RECORDS:
        raise InputError(
            "there are more records than any lawn has",
            where=row.where,
            line=row.line,
            allowed=f"up to {MOST_RECORDS:,}",
        )


def _json_rows(text: str, where: str, problems: list[InputError]) -> Iterator[_Row]:
    """Walk the outer object by hand, because only so is the line of each record known."""
    reader = _Reader(text, where)
    reader.expect("{")
    seen: set[str] = set()
    while not (not seen and reader.accept("}")):
        line, key = reader.line, reader.value()
        reader.expect(":")
        if key in seen:
            problems.append(InputError("a key stands twice", where=where, line=line, found=_told(key)))
        seen.add(str(key))
        if key in KINDS:
            reader.expect("[")
            empty = reader.accept("]")
            while not empty:
                line = reader.line
                yield _Row(str(key), reader.value(), where, line)
                empty = not reader.accept(",")
                if empty:
                    reader.expect("]")
        elif key == UNUSABLE_KEY:
            reader.value()
        elif key not in VERSION_KEYS:
            reader.value()
            problems.append(
                InputError(
                    "a kind of record is not known",
                    where=where,
                    line=line,
                    found=_told(key),
                    allowed=", ".join(KINDS),
                )
            )
        elif (version := reader.value()) != FORMAT:
            problems.append(
                InputError(
                    "the format is not one that is read here",
                    where=where,
                    line=line,
                    found=_told(version),
                    allowed=FORMAT,
                )
            )
        if not reader.accept(","):
            reader.expect("}")
            break
    reader.finish()
    if not seen & VERSION_KEYS:
        problems.append(
            InputError("there is no format", where=where, line=1, allowed=f'"format": "{FORMAT}"')
        )


class _Reader:
    """Reads JSON piece by piece and knows its line."""

    def __init__(self, text: str, where: str) -> None:
        self._text, self._where, self._at, self._line, self._counted = text, where, 0, 1, 0
        self._decoder = json.JSONDecoder(parse_constant=_not_a_number)
        self._skip()

    @property
    def line(self) -> int:
        """The line of the next piece, from 1."""
        self._line += self._text.count("\n", self._counted, self._at)
        self._counted = self._at
        return self._line

    def _skip(self) -> None:
        while self._at < len(self._text) and self._text[self._at] in " \t\r\n\ufeff":
            self._at += 1

    def accept(self, mark: str) -> bool:
        """Whether `mark` comes next; then it is passed."""
        if not self._text.startswith(mark, self._at):
            return False
        self._at += 1
        self._skip()
        return True

    def expect(self, mark: str) -> None:
        """Pass `mark`, which must come next."""
        if not self.accept(mark):
            self._fail(f"{mark!r} is missing", self._at)

    def value(self) -> Any:
        """The next whole value."""
        try:
            found, self._at = self._decoder.raw_decode(self._text, self._at)
        except json.JSONDecodeError as error:
            self._fail(error.msg, error.pos)
        except (ValueError, RecursionError) as error:
            self._fail(str(error), self._at)
        self._skip()
        return found

    def finish(self) -> None:
        """Nothing may follow."""
        if self._at < len(self._text):
            self._fail("something follows the end", self._at)

    def _fail(self, what: str, position: int) -> NoReturn:
        raise InputError(
            f"this is not JSON: {what}",
            where=self._where,
            line=self._text.count("\n", 0, position) + 1,
            found=_told(self._text[position : position + 20]) if position < len(self._text) else "the end",
            allowed=f"a file of the format {FORMAT}",
        )


def _not_a_number(word: str) -> NoReturn:
    raise ValueError(f"{word} is no number; write null for what is not known")


def to_csv(records: Records, folder: Path) -> tuple[Path, ...]:
    """Write one CSV file per kind into `folder`, also for a kind without records; the files written."""
    make_folder(folder)
    written = []
    for kind in KINDS:
        text = io.StringIO(newline="")
        writer = csv.writer(text)  # ends rows with CR LF, as RFC 4180 has it, and so quotes either
        writer.writerow([field.name for field in fields_of(kind)])
        for record in of_kind(records, kind):
            row = plain_values(record)
            writer.writerow([_cell(row[field.name]) for field in fields_of(kind)])
        written.append(folder / f"{kind}.csv")
        _write_whole(written[-1], text.getvalue())
    return tuple(written)


def _rows_of_csv(folder: Path) -> ReadRows:
    """The rows of a folder of CSV files; a kind without a file has none."""
    problems: list[InputError] = []
    rows: list[_Row] = []
    for path in sorted(folder.glob("*.csv")):
        if path.stem in KINDS:
            for row in _csv_rows(path, problems):
                _not_too_many(rows, row)
                rows.append(row)
        else:
            problems.append(
                InputError(
                    "a file of no known kind of record",
                    where=str(path),
                    allowed=", ".join(f"{kind}.csv" for kind in KINDS),
                )
            )
    if not rows and not problems and not any((folder / f"{kind}.csv").is_file() for kind in KINDS):
        raise InputError(
            "there are no records in this folder",
            where=str(folder),
            allowed=", ".join(f"{kind}.csv" for kind in KINDS),
        )
    return _built(rows, problems)


def _csv_rows(path: Path, problems: list[InputError]) -> Iterator[_Row]:
    reader = csv.reader(io.StringIO(_text_of(path), newline=""), strict=True)
    fields = {field.name: field for field in fields_of(path.stem)}
    try:
        names = next(reader, [])
        strange = [name for name in names if name not in fields or names.count(name) > 1]
        if strange or not names:
            problems.append(
                InputError(
                    "the first row names the fields, each once",
                    where=str(path),
                    line=1,
                    found=", ".join(map(repr, strange)) or "nothing",
                    allowed=", ".join(fields),
                )
            )
            return
        line = reader.line_num + 1
        for cells in reader:
            if len(problems) >= ENOUGH_PROBLEMS:
                return
            if len(cells) != len(names) and cells:
                problem = InputError(
                    "a row has another number of cells than the first",
                    where=str(path),
                    line=line,
                    found=str(len(cells)),
                    allowed=str(len(names)),
                )
                yield _Row(path.stem, {}, str(path), line, problem)
            elif cells:
                values = {name: _value(cell, fields[name]) for name, cell in zip(names, cells, strict=True)}
                yield _Row(path.stem, values, str(path), line)
            line = reader.line_num + 1
    except csv.Error as error:
        problems.append(InputError(f"this is not CSV: {error}", where=str(path), line=reader.line_num))


def _cell(value: object) -> str:
    """One value as a cell; zones as a;b where that can be read back, else as a JSON list."""
    if value is None:
        return ""
    if isinstance(value, list):
        simple = all(
            ";" not in name and name == name.strip() and name and cell_of_text(name) == name for name in value
        )
        if simple and value and not value[0].startswith("["):
            return ";".join(value)
        return json.dumps(value, ensure_ascii=False)
    if isinstance(value, str):
        return cell_of_text(value)
    return repr(value) if isinstance(value, float) else str(value)


def _value(cell: str, field: Field) -> object:
    """A cell as a plain value; what cannot be read stays text, for `row_problems` to tell."""
    if field.holds == "text":
        return text_of_cell(cell)
    if not cell.strip():
        return None
    try:
        if field.holds == "number":
            return float(cell)
        if field.holds == "whole":
            return int(cell)
        if field.holds == "names":
            return json.loads(cell) if cell.startswith("[") else [part.strip() for part in cell.split(";")]
    except (ValueError, RecursionError):
        pass
    return cell


def _built(rows: list[_Row], problems: list[InputError]) -> ReadRows:
    """Records from sound rows, beside what is wrong with the others. Raises what is wrong with the file itself,
    and with it all the rest."""
    made: list[FileRow] = []
    wrong: list[RowWrong] = []
    first: dict[tuple[object, ...], int] = {}
    for row in rows:
        found = list(_row_wrong(row))
        if not found:
            record = built(row.kind, row.values)
            found = list(_twice(row, record, first))
            made += [] if found else [FileRow(record, row.where, row.line)]
        wrong += found
        if len(problems) + len(wrong) >= ENOUGH_PROBLEMS:
            raise told_together([*problems, *(each.problem for each in wrong)])
    if problems:
        raise told_together([*problems, *(each.problem for each in wrong)])
    return ReadRows(tuple(made), tuple(wrong))


def _row_wrong(row: _Row) -> Iterator[RowWrong]:
    if row.problem is not None:
        yield RowWrong(row.kind, "", row.problem)
        return
    if not isinstance(row.values, dict):
        problem = InputError(
            "a record is not understood", where=row.where, line=row.line, found=_told(row.values)
        )
        yield RowWrong(row.kind, "", problem)
        return
    for one in row_problems(row.kind, row.values):
        what = f"{one.field} of this {KINDS[row.kind].one} is not usable"
        problem = InputError(what, where=row.where, line=row.line, found=one.found, allowed=one.allowed)
        yield RowWrong(row.kind, one.field, problem)


def _twice(row: _Row, record: Record, first: dict[tuple[object, ...], int]) -> Iterator[RowWrong]:
    names = KINDS[row.kind].key
    if not names:
        return
    key = (row.kind, *(getattr(record, name) for name in names))
    if first.setdefault(key, row.line) != row.line:
        problem = InputError(
            f"this {KINDS[row.kind].one} stands twice",
            where=row.where,
            line=row.line,
            found=f"the same {', '.join(names)} as in line {first[key]}",
            allowed="each once",
        )
        yield RowWrong(row.kind, names[0], problem)


def read_rows(path: Path) -> ReadRows:
    """The rows of a JSON file or of a folder of CSV files, the sound ones beside what is wrong with others."""
    return _rows_of_csv(path) if path.is_dir() else _rows_of_json(_text_of(path), str(path))


def write_records(records: Records, path: Path) -> tuple[Path, ...]:
    """Write a JSON file where `path` ends in .json, else a folder of CSV files; never over another file."""
    one_file = path.suffix == ".json"
    targets = [path] if one_file else [path / f"{kind}.csv" for kind in KINDS]
    there = next((target for target in targets if target.exists()), None)
    if there is not None:
        raise RecordsError(f"{there} is there already; export to another name, or move it away first")
    try:
        if not one_file:
            return to_csv(records, path)
        make_folder(path.parent)
        _write_whole(path, records_to_json(records))
    except OSError as error:
        raise RecordsError(f"{path} cannot be written: {error.strerror}; nothing was exported") from error
    return (path,)


def _write_whole(path: Path, text: str) -> None:
    partial = path.with_name(path.name + ".partial")
    partial.unlink(missing_ok=True)
    make_private(partial)
    with partial.open("w", encoding="utf-8", newline="") as file:
        file.write(text)
        file.flush()
        os.fsync(file.fileno())
    partial.replace(path)


def _text_of(path: Path) -> str:
    try:
        data = read_bytes(path, MOST_BYTES)
        return data.decode("utf-8-sig")
    except OSError as error:
        raise InputError(f"the file cannot be read: {error.strerror}", where=str(path)) from None
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise InputError(
            "the file is not UTF-8 text", where=str(path), line=line, allowed="text saved as UTF-8"
        ) from None


def _told(value: object) -> str:
    words = repr(value)
    return words if len(words) <= 60 else words[:57] + "..."
