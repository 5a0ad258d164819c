"""The records as a whole: list, take back the last entry, carry in and out, look through."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from advisor.advice import (
    Act,
    Carried,
    Examined,
    Exported,
    HeldRow,
    RecordKind,
    TakenBack,
    unusable_told,
)
from advisor.errors import InputError, ManyProblems, Unlikely
from advisor.lawn import (
    KINDS,
    FileRow,
    Gate,
    Outside,
    OutsideWhy,
    ReadRows,
    Records,
    RowWrong,
    Site,
    Weight,
    compared,
    gathered,
    kind_of,
    of_kind,
    write_records,
)
from advisor.recording.entry import as_kept
from advisor.recording.said import kind_of_record
from advisor.sentences import held_words, unusable_sentence, ways_out

if TYPE_CHECKING:
    from advisor.store import Store


def kinds_asked(texts: Iterable[str] | None) -> tuple[str, ...]:
    """The kinds of record that are named, or all."""
    return tuple(kind_of_record(each) for each in texts or ()) or tuple(KINDS)


def of_kinds(records: Records, kinds: Iterable[str]) -> Records:
    """The records of these kinds alone."""
    named = tuple(kinds)
    return replace(
        gathered(record for kind in named for record in of_kind(records, kind)),
        unusable=tuple(each for each in records.unusable if each.kind in named),
    )


def undo_last(site: Site, store: Store) -> TakenBack:
    """Take back the last entry, edit, removal or import, with all that went with it."""
    undone = store.undo_last()
    if undone is None:
        return TakenBack(site=site.place.name, act=None)
    return TakenBack(
        site=site.place.name,
        act=Act(undone.act),
        gone=tuple(as_kept(record, site) for record in undone.gone),
        restored=tuple(as_kept(record, site) for record in undone.restored),
    )


def export_records(site: Site, store: Store, target: Path) -> Exported:
    """Write all records to a JSON file, or to a folder with one CSV file per kind."""
    found = store.records()
    written = write_records(replace(found, unusable=()), target)
    return Exported(
        site=site.place.name,
        target=str(target),
        files=tuple(str(path) for path in written),
        records={RecordKind(kind): len(of_kind(found, kind)) for kind in KINDS},
        left_out=tuple(unusable_told(each, unusable_sentence(each)) for each in found.unusable),
    )


@dataclass(frozen=True, slots=True)
class Wanted:
    """What an owner wants of an import: to write it, to leave out the rows that the gate holds back, and to take
    those that are only unlikely."""

    write: bool = False
    leave_out: bool = False
    anyway: bool = False


def take_in_records(
    site: Site, store: Store, found: ReadRows, now: datetime, *, source: Path, wanted: Wanted
) -> Carried:
    """Look the rows of a file over, and add them as one entry where that is wanted, none of them twice.

    Where the gate holds one back and it is not to be left out, nothing is written: ManyProblems or InputError
    with the file and the lines.
    """
    present = store.records()
    new, replacing = _compared(present, found.rows)
    gate = Gate(site, present, now, batch=[found.rows[place].record for place in new])
    held = [_unusable_row(each) for each in found.wrong]
    kept_back: set[int] = set()
    for place in sorted({*new, *replacing}, key=lambda place: _order(found.rows[place])):
        row = found.rows[place]
        outside = [
            each
            for each in gate.outside(row.record)
            if not (wanted.anyway and each.weight is Weight.UNLIKELY)
        ]
        held += [_held(row, each) for each in outside]
        kept_back |= {place} if outside else set()
        if not (outside and wanted.leave_out):
            gate.let_in(row.record)
    told = Carried(
        site=site.place.name,
        source=str(source),
        added=_by_kind(found.rows, set(new) - kept_back),
        skipped=_by_kind(found.rows, set(range(len(found.rows))) - {*new, *replacing}),
        replaced=_by_kind(found.rows, set(replacing) - kept_back),
        written=False,
        held=tuple(sorted(held, key=lambda each: (each.where, each.line))),
        left_out=_rows_held(held) if wanted.leave_out else {},
    )
    if not wanted.write:
        return told
    refuse_held(told)
    done = store.import_records(
        gathered(row.record for place, row in enumerate(found.rows) if place not in kept_back)
    )
    added, skipped, replaced = (
        {RecordKind(kind): number for kind, number in numbers.items() if number}
        for numbers in (done.added, done.skipped, done.replaced)
    )
    return told.model_copy(update={"written": True, "added": added, "skipped": skipped, "replaced": replaced})


def refuse_held(told: Carried) -> None:
    """ManyProblems where rows are held back and are not to be left out."""
    if told.held and not told.left_out:
        raise ManyProblems([_nothing_written(told), *(_problem(each) for each in told.held)])


def _compared(present: Records, rows: Sequence[FileRow]) -> tuple[list[int], list[int]]:
    """The places of the rows that are new, and of those that are there with other values."""
    new: list[int] = []
    replacing: list[int] = []
    for kind in KINDS:
        places = [place for place, row in enumerate(rows) if kind_of(row.record) == kind]
        told = compared(kind, of_kind(present, kind), [rows[place].record for place in places])
        new += [places[each] for each in told.new]
        replacing += [places[each] for each in told.replacing]
    return new, replacing


def _order(row: FileRow) -> tuple[int, datetime]:
    """Applications before what they took from the stock, and the earlier before the later."""
    kind = kind_of(row.record)
    return list(KINDS).index(kind), getattr(row.record, KINDS[kind].time)


def _by_kind(rows: Sequence[FileRow], places: Iterable[int]) -> dict[RecordKind, int]:
    count = Counter(kind_of(rows[place].record) for place in places)
    return {RecordKind(kind): count[kind] for kind in KINDS if count[kind]}


def _rows_held(held: Iterable[HeldRow]) -> dict[RecordKind, int]:
    count = Counter(kind for kind, _, _ in {(each.kind, each.where, each.line) for each in held})
    return {RecordKind(kind): count[RecordKind(kind)] for kind in KINDS if count[RecordKind(kind)]}


def _held(row: FileRow, outside: Outside) -> HeldRow:
    problem = InputError(
        outside.what, where=row.where, line=row.line, found=outside.found, allowed=outside.allowed
    )
    return _row(kind_of(row.record), outside.why, outside.weight, outside.field, problem)


def _unusable_row(wrong: RowWrong) -> HeldRow:
    return _row(wrong.kind, OutsideWhy.MAKES_NO_SENSE, Weight.CANNOT_BE, wrong.field, wrong.problem)


def _row(kind: str, why: OutsideWhy, weight: Weight, field: str, problem: InputError) -> HeldRow:
    return HeldRow(
        kind=RecordKind(kind),
        where=problem.where,
        line=problem.line or 0,
        why=why,
        weight=weight,
        field=field,
        what=problem.what,
        found=problem.found,
        allowed=problem.allowed,
        text=str(problem),
    )


def _problem(held: HeldRow) -> InputError:
    sort = InputError if held.weight is Weight.CANNOT_BE else Unlikely
    return sort(
        held.what, where=held.where, line=held.line, found=held.found, allowed=held.allowed, field=held.field
    )


def _nothing_written(told: Carried) -> InputError:
    """What stands before the rows that are held back."""
    return InputError(
        f"{held_words(told)}, and nothing was written", where=told.source, allowed=ways_out(told)
    )


def examine_records(site: Site, store: Store, now: datetime) -> Examined:
    """Look for what is damaged or doubtful in the records."""
    doubts = tuple(store.check(site=site, now=now))
    records = store.records()
    return Examined(
        site=site.place.name,
        ok=not doubts,
        looked_through=sum(len(of_kind(records, kind)) for kind in KINDS) + len(records.unusable),
        doubts=doubts,
    )
