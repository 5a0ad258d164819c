"""The records of one lawn in one SQLite file: every write is one transaction, kept whole or not at all.

What the owner enters, edits or removes goes into a journal too, so that `undo_last` can take it
back, entry by entry. What the service keeps (archive, pairs, advice, events) does not.
"""

from __future__ import annotations

import json
import sqlite3
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime
from difflib import get_close_matches
from pathlib import Path
from threading import Lock
from types import TracebackType
from typing import TYPE_CHECKING, Any, TypeVar

import sqlalchemy as sa
from sqlalchemy.exc import DBAPIError

from advisor.advice import Doubt
from advisor.errors import RecordsError
from advisor.files import make_folder
from advisor.lawn import (
    KINDS,
    Application,
    ArchivedHour,
    Audit,
    GaugeReading,
    ProbeReading,
    RainPair,
    Record,
    Records,
    Run,
    StockChange,
    Unusable,
    built,
    compared,
    fields_of,
    gathered,
    kind_of,
    of_kind,
    plain_values,
    record_problems,
)
from advisor.store import rows
from advisor.store.connection import fold_in, reading, writing
from advisor.store.copies import BackedUp, back_up
from advisor.store.kept import Kept
from advisor.store.read_only import engine_of_copy, stamp
from advisor.store.tables import JOURNAL
from advisor.store.trouble import place, told

if TYPE_CHECKING:
    from advisor.lawn import Site

R = TypeVar("R")
WHOLE_PAST = ("audits", "pairs", "stock")
NOT_WRITTEN = "nothing of this entry was written"


@dataclass(frozen=True, slots=True)
class Undone:
    """What `undo_last` took back: records that are gone again and records that stand as before."""

    act: str
    gone: tuple[Record | Unusable, ...]
    restored: tuple[Record | Unusable, ...]


@dataclass(frozen=True, slots=True)
class Imported:
    """What an import did, by kind: records added, already there, and given other values."""

    added: Mapping[str, int]
    skipped: Mapping[str, int]
    replaced: Mapping[str, int]


class Store(Kept):
    """The records file, open. Close it, or use it in a `with`."""

    def __init__(
        self,
        path: Path | None,
        engine: sa.Engine,
        fault: Callable[[str], None],
        *,
        blocked: RecordsError | None = None,
        reopen: Callable[[], sa.Engine] | None = None,
    ) -> None:
        self.path, self._engine, self._fault = path, engine, fault
        self._blocked, self._reopen = blocked, reopen
        """Why the file cannot be written, so that its copy in memory serves; how to try again."""
        self._copied = () if path is None else stamp(path)
        self._turn = Lock()

    def __enter__(self) -> Store:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file."""
        self._engine.dispose()

    @contextmanager
    def _way(self) -> Iterator[sa.Engine]:
        """The way to the records: a file has a connection for each thread; in memory all share one, in turns."""
        if self.path is not None and self._blocked is None:
            yield self._engine
            return
        with self._turn:
            if self._blocked is not None:
                self._try_again()
            yield self._engine

    def _try_again(self) -> None:
        """Open the file for writing after all, or take a newer copy of it where it has changed."""
        assert self.path is not None
        assert self._reopen is not None
        try:
            engine = self._reopen()
        except RecordsError as error:
            if not error.may_pass:
                raise
            self._blocked = error
            if self._copied == stamp(self.path):
                return
            engine = engine_of_copy(self.path)
        else:
            self._blocked = None
        self._engine.dispose()
        self._engine, self._copied = engine, stamp(self.path)

    @contextmanager
    def _writing(self, act: str) -> Iterator[sa.Connection]:
        """One transaction; the fault points stand before, inside and after what it keeps."""
        with told(self.path, after=NOT_WRITTEN):
            with self._way() as engine:
                if (blocked := self._blocked) is not None:
                    raise RecordsError(
                        blocked.what, way_out=blocked.way_out, after=NOT_WRITTEN, fault=blocked.fault
                    )
                with writing(engine) as connection:
                    self._fault(f"{act}: begun")
                    yield connection
                    self._fault(f"{act}: written")
            self._fault(f"{act}: kept")
        self.settle()

    @contextmanager
    def _reading(self) -> Iterator[sa.Connection]:
        with told(self.path), self._way() as engine, reading(engine) as connection:
            yield connection

    def settle(self) -> bool:
        """Bring what was kept into the file itself, so that a copy of the file alone holds it; whether all is there.

        What is kept stands safely in the -wal beside it until then, so a disk that says no costs nothing.
        """
        if self.path is None or self._blocked is not None:
            return True
        try:
            return fold_in(self._engine)
        except (DBAPIError, sqlite3.Error):
            return False

    # -- reading

    def records(self, since: datetime | None = None) -> Records:
        """All records, or those not over before `since`.

        Audits, rain pairs and stock always come whole: the newest measurement, the calibration and
        what is left rest on all of them. The gauge reading before `since` comes too, because the
        next one counts from it, and so does the run before: it tells that watering is recorded here.
        What makes no sense as a record comes beside them, as `unusable`.
        """
        found: list[Record] = []
        unusable: list[Unusable] = []
        with self._reading() as connection:
            for kind in KINDS:
                there = rows.select(connection, kind, since=None if kind in WHOLE_PAST else since)
                found += there.records
                unusable += there.unusable
            if since is not None:
                for kind in ("gauge", "runs"):
                    found += [r for r in rows.last_before(connection, kind, since) if r not in found]
        return replace(gathered(found), unusable=tuple(unusable))

    def find(self, kind: str, number: int) -> Record | Unusable:
        """What stands under this kind and id; RecordsError when there is nothing."""
        with self._reading() as connection:
            return rows.one(connection, _known(kind), number)

    # -- the owner's entries

    def add(self, records: Sequence[Record], *, act: str = "add") -> tuple[Record, ...]:
        """Write several records of any kinds as one entry; they come back with their ids."""
        _refuse_unsound(records)
        kept: dict[int, Record] = {}
        with self._writing(act) as connection:
            for kind in KINDS:
                places = [i for i, record in enumerate(records) if kind_of(record) == kind]
                written = rows.insert(connection, kind, [records[i] for i in places])
                kept.update(zip(places, written, strict=True))
            added = tuple(kept[i] for i in range(len(records)))
            if added:
                _journal(connection, act, added=added)
        return added

    def add_application(self, record: Application) -> Application:
        """Write one application."""
        return _same(self.add([record]), Application)[0]

    def add_applications(self, records: Sequence[Application]) -> tuple[Application, ...]:
        """Write the applications of one round as one entry."""
        return _same(self.add(records), Application)

    def add_run(self, record: Run) -> Run:
        """Write one run."""
        return _same(self.add([record]), Run)[0]

    def add_runs(self, records: Sequence[Run]) -> tuple[Run, ...]:
        """Write several runs as one entry."""
        return _same(self.add(records), Run)

    def add_gauge(self, record: GaugeReading) -> GaugeReading:
        """Write one gauge reading."""
        return _same(self.add([record]), GaugeReading)[0]

    def add_probe(self, record: ProbeReading) -> ProbeReading:
        """Write one probe reading."""
        return _same(self.add([record]), ProbeReading)[0]

    def add_audit(self, record: Audit) -> Audit:
        """Write one audit."""
        return _same(self.add([record]), Audit)[0]

    def add_stock(self, record: StockChange) -> StockChange:
        """Write one stock change."""
        return _same(self.add([record]), StockChange)[0]

    def edit(self, kind: str, number: int, changes: Mapping[str, Any]) -> Record:
        """Give fields of one record other values; the record as it stands now."""
        known = [field.name for field in fields_of(_known(kind)) if field.name != "id"]
        for name in changes:
            if name not in known:
                near = get_close_matches(name, known, 1)
                hint = f"; did you mean {near[0]}?" if near else ""
                raise RecordsError(
                    f"{KINDS[kind].one} has no field {name!r}{hint}; allowed: {', '.join(known)}"
                )
        before = self.find(kind, number)
        after: Record = (
            KINDS[kind].type(**{**before.values, **changes})
            if isinstance(before, Unusable)
            else replace(before, **changes)
        )
        self.revise("edit", changed=[after])
        return after

    def remove(self, kind: str, number: int) -> Record | Unusable:
        """Take one record out; the record as it stood."""
        before = self.find(kind, number)
        self.revise("remove", gone=[before])
        return before

    def revise(
        self,
        act: str,
        *,
        changed: Sequence[Record] = (),
        gone: Sequence[Record | Unusable] = (),
        new: Sequence[Record] = (),
    ) -> tuple[Record, ...]:
        """Give records other values, take some out and add some, as one entry; the added with their ids.

        `changed` are put in place of the records of their kind and id.
        """
        _refuse_unsound([*changed, *new])
        with self._writing(act) as connection:
            before = [rows.one(connection, _kind(each), each.id) for each in (*changed, *gone)]
            for each in changed:
                rows.refuse_taken_key(connection, each)
                rows.put_back(connection, each)
            for old in gone:
                rows.delete(connection, _kind(old), [old.id])
            added = [kept for each in new for kept in rows.insert(connection, kind_of(each), [each])]
            _journal(connection, act, added=added, before=before)
        return tuple(added)

    def undo_last(self) -> Undone | None:
        """Take back the last entry, edit, removal or import; None when there is none left."""
        with self._writing("undo") as connection:
            last = connection.execute(sa.select(JOURNAL).order_by(JOURNAL.c.id.desc()).limit(1)).first()
            if last is None:
                return None
            entry = _entry_of(last.entry, last.act)
            gone: list[Record | Unusable] = []
            for kind, numbers in entry["added"].items():
                for part in range(0, len(numbers), 500):
                    there = rows.select(connection, kind, ids=numbers[part : part + 500])
                    gone += [*there.records, *there.unusable]
                rows.delete(connection, kind, numbers)
            restored: list[Record | Unusable] = list(entry["before"])
            for record in entry["before"]:
                rows.put_back(connection, record)
            for kind, cells in entry.get("unusable", ()):
                rows.put_back_cells(connection, kind, cells)
                restored.append(rows.one(connection, kind, cells["id"]))
            connection.execute(sa.delete(JOURNAL).where(JOURNAL.c.id == last.id))
        return Undone(last.act, tuple(gone), tuple(restored))

    def import_records(self, records: Records) -> Imported:
        """Add the records of a file as one entry: all or none, and none of them twice.

        What is there already is told by `compared`. The ids of the file are not kept.
        """
        counts: dict[str, Counter[str]] = {"added": Counter(), "skipped": Counter(), "replaced": Counter()}
        added: list[Record] = []
        before: list[Record] = []
        with self._writing("import") as connection:
            for kind in KINDS:
                found = of_kind(records, kind)
                _refuse_unsound(found)
                told = compared(kind, rows.select(connection, kind).records, found)
                rows.upsert(connection, kind, [found[place] for place in told.replacing])
                before += told.replaced
                added += rows.insert(connection, kind, [found[place] for place in told.new])
                counts["added"][kind] += len(told.new)
                counts["replaced"][kind] += len(told.replaced)
                counts["skipped"][kind] += len(found) - len(told.new) - len(told.replacing)
            if added or before:
                _journal(connection, "import", added=added, before=before)
        return Imported(**counts)

    # -- what the service keeps

    def add_archive(self, records: Sequence[ArchivedHour]) -> int:
        """Keep past hours; an hour that the same source told before is given the new values."""
        return self._keep("archive", records)

    def add_pairs(self, records: Sequence[RainPair]) -> int:
        """Keep forecast periods held against the gauge; the same period and lead stands once."""
        return self._keep("pairs", records)

    def _keep(self, kind: str, records: Sequence[Record]) -> int:
        _refuse_unsound(records)
        with self._writing(kind) as connection:
            rows.upsert(connection, kind, records)
        return len(records)

    # -- care

    def in_the_way(self) -> RecordsError | None:
        """What keeps the records from being written just now, as far as can be seen without writing."""
        try:
            with self._writing("look"):
                pass
        except RecordsError as error:
            return error
        return None

    def backup(self, to: Path) -> BackedUp:
        """A whole copy of the records in `to`, taken while they are in use; an older copy is replaced.

        It is looked over and counted before it takes the place of the older one.
        """
        if self.path is None:
            raise RecordsError("records in memory have no file to back up; export them instead")
        if to.resolve() == self.path.resolve():
            raise RecordsError(f"{to} is the records file itself; name another file for its backup")
        self.settle()
        try:
            make_folder(to.parent)
            return back_up(self.path, to)
        except OSError as error:
            raise RecordsError(f"the backup {to} cannot be written: {error.strerror}") from error

    def check(self, *, site: Site | None = None, now: datetime | None = None) -> list[Doubt]:
        """Everything that is wrong or doubtful in the records; empty when sound.

        With `site`, names of zones and products are held against it; with `now`, records of the
        future are found.
        """
        from advisor.store.check import doubts

        found = []
        with self._reading() as connection:
            for (word,) in connection.exec_driver_sql("PRAGMA integrity_check"):
                if word != "ok":
                    found.append(
                        f"the file {place(self.path)} is damaged: {word}; put a backup back with `advisor records restore`"
                    )
            for row in connection.exec_driver_sql("PRAGMA foreign_key_check"):
                found.append(f"{row[0]} {row[1]} refers to a record of {row[2]} that is not there")
        return [Doubt(text=text) for text in found] + doubts(self.records(), site=site, now=now)


def _known(kind: str) -> str:
    if kind not in KINDS:
        raise RecordsError(f"there is no kind of record {kind!r}; allowed: {', '.join(KINDS)}")
    return kind


def _same(records: Iterable[object], sort: type[R]) -> tuple[R, ...]:
    return tuple(record for record in records if isinstance(record, sort))


def _refuse_unsound(records: Iterable[Record]) -> None:
    for record in records:
        wrong = record_problems(record)
        if wrong:
            raise RecordsError(
                f"this {KINDS[kind_of(record)].one} cannot be recorded: " + "; ".join(map(str, wrong))
            )


def _kind(there: Record | Unusable) -> str:
    return there.kind if isinstance(there, Unusable) else kind_of(there)


def _entry_of(text: object, act: object) -> dict[str, Any]:
    """An entry of the journal. RecordsError where it cannot be read or what it would put back makes no sense."""
    try:
        entry = json.loads(str(text))
        entry["before"] = [built(kind, row) for kind, row in entry["before"]]
        unusable = entry.get("unusable", ())
        numbers = [number for ids in entry["added"].values() for number in ids]
        numbers += [cells["id"] for _, cells in unusable]
        if not {*entry["added"], *(kind for kind, _ in unusable)} <= set(KINDS) or not all(
            type(number) is int for number in numbers
        ):
            raise ValueError("of no kind of record, or without its number")
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError) as error:
        raise RecordsError(
            f"the note of the last step ({act}) is damaged, so that it cannot be taken back; nothing was changed; "
            "mend records with `advisor records edit` and `advisor records remove`, or put back a backup"
        ) from error
    return dict(entry)


def _journal(
    connection: sa.Connection,
    act: str,
    *,
    added: Sequence[Record] = (),
    before: Sequence[Record | Unusable] = (),
) -> None:
    """Note what undoing this entry takes: ids to delete, records to put back, unusable ones as they stood."""
    ids: dict[str, list[int]] = {}
    for record in added:
        ids.setdefault(kind_of(record), []).append(record.id)
    entry: dict[str, Any] = {"added": ids, "before": []}
    for there in before:
        if isinstance(there, Unusable):
            entry.setdefault("unusable", []).append([there.kind, rows.cells_kept(there)])
        else:
            entry["before"].append([kind_of(there), plain_values(there)])
    connection.execute(sa.insert(JOURNAL), {"act": act, "entry": json.dumps(entry, ensure_ascii=False)})
