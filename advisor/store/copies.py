"""Copies of the records: made while they are in use, looked over and counted, and put back in their place.

A copy is read into memory and left as it is. What is put in place of records is kept beside them under
another name, and is never deleted.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import sqlite3
from collections.abc import Callable, Mapping
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import sqlalchemy as sa

from advisor.errors import RecordsError, RecordsFault
from advisor.files import make_private
from advisor.lawn import KINDS
from advisor.store.connection import reading
from advisor.store.identity import note, seen
from advisor.store.migrate import free_name, identity_of, make_ready, version_of, write_copy
from advisor.store.read_only import engine_of_copy
from advisor.store.trouble import told

ADVICES = "advice"


@dataclass(frozen=True, slots=True)
class Looked:
    """What a sound file of records holds: how many of each kind, with `advice` given, and when the newest of
    what was done or given was."""

    version: int
    identity: str
    counts: Mapping[str, int]
    newest_at: datetime | None


@dataclass(frozen=True, slots=True)
class BackedUp:
    """A backup that was opened, checked and counted, and what tells later whether it is still the same."""

    path: Path
    counts: Mapping[str, int]
    sha256: str


def look_over(path: Path) -> Looked:
    """What a file of records holds; RecordsError where it is damaged or none of records. The file stays as it is."""
    engine = _in_memory(path)
    try:
        with told(path):
            return _looked(engine, path)
    finally:
        engine.dispose()


def back_up(path: Path, to: Path) -> BackedUp:
    """A whole copy at one moment, also while others write; in place once it is seen to hold all, or not at all."""
    partial = to.with_name(to.name + ".partial")
    partial.unlink(missing_ok=True)
    with told(path), closing(sqlite3.connect(path, isolation_level=None)) as source:
        source.execute("BEGIN")
        counts = {table: _count(source, table) for table in (*KINDS, ADVICES)}
        with told(to):
            make_private(partial)
            write_copy(source, partial)
    found = look_over(partial)
    if found.counts != counts:
        raise RecordsError(
            f"the backup {to} would hold {_sum(found.counts)} of the {_sum(counts)} records and is not kept",
            way_out="see whether the disk is failing",
        )
    partial.replace(to)
    return BackedUp(to, counts, digest(to))


def digest(path: Path) -> str:
    """The fingerprint of a file; "" where it cannot be read."""
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return ""


def trial(backup: Path, *, write_to: Path | None = None) -> tuple[Looked, Looked]:
    """Try a backup: read it, check it, bring it to this program's schema in memory; what it held and holds now.

    With `write_to` the result is written there, to be put in place.
    """
    engine = _in_memory(backup)
    try:
        with told(backup):
            before = _looked(engine, backup)
            make_ready(engine, backup, lambda _: None, copy_first=False)
            after = _looked(engine, backup)
        if any(after.counts[table] != number for table, number in before.counts.items()):
            raise RecordsError(f"the backup {backup} loses records on the way to this program's schema")
        if write_to is not None:
            write_to.unlink(missing_ok=True)
            with told(write_to), closing(engine.raw_connection()) as raw:
                memory = raw.driver_connection
                assert isinstance(memory, sqlite3.Connection)
                write_copy(memory, write_to)
            after = look_over(write_to)
        return before, after
    finally:
        engine.dispose()


def put_in_place(
    made: Path, identity: str, path: Path, now: datetime, step: Callable[[str], None]
) -> Path | None:
    """Put a file that is whole in the place of the records; under which name what stood there is kept.

    Whoever dies on the way leaves the old records or the new ones, both whole, and the old ones besides.
    """
    place = path.resolve()
    kept_as = keep_aside(place, now, step)
    note(path, identity, *seen(path).identities)
    step("noted")
    made.replace(place)
    _written_through(place.parent)
    step("put in place")
    note(path, identity)
    return kept_as


def keep_aside(path: Path, now: datetime, step: Callable[[str], None]) -> Path | None:
    """Give what stands in the place of the records a second name, with its -wal; that name, none for nothing.

    Sound records are brought into their one file first, which also tells whether another program has them open.
    """
    place = path.resolve()
    if not place.exists():
        return None
    if _is_sound(place):
        _brought_together(place)
    step("alone")
    kept_as = free_name(place, "replaced", now)
    for end in ("-wal", ""):
        if _beside(place, end).exists():
            _second_name(_beside(place, end), _beside(kept_as, end))
    step("kept aside")
    for end in ("-wal", "-shm"):
        _beside(place, end).unlink(missing_ok=True)
    step("cleared")
    return kept_as


def _is_sound(place: Path) -> bool:
    try:
        look_over(place)
    except RecordsError:
        return False
    return True


def _brought_together(place: Path) -> None:
    with told(place), closing(sqlite3.connect(place, isolation_level=None, timeout=1.0)) as alone:
        try:
            (mode,) = alone.execute("PRAGMA journal_mode = DELETE").fetchone()
        except sqlite3.OperationalError as error:
            if not str(getattr(error, "sqlite_errorname", "")).startswith("SQLITE_BUSY"):
                raise
            mode = "wal"
    if mode == "wal":
        raise RecordsError(
            f"the records {place} are in use by another program",
            way_out="let it finish, or stop it, and try again",
            after="nothing was changed",
            fault=RecordsFault.LOCKED,
        )


def _in_memory(path: Path) -> sa.Engine:
    try:
        return engine_of_copy(path)
    except OSError as error:
        raise RecordsError(
            f"{path} cannot be read ({(error.strerror or type(error).__name__).lower()})",
            way_out="name a file that is there and may be read",
        ) from error


def _looked(engine: sa.Engine, path: Path) -> Looked:
    with reading(engine) as connection:
        wrong = [word for (word,) in connection.exec_driver_sql("PRAGMA integrity_check") if word != "ok"]
        if wrong:
            raise RecordsError(f"{path} is damaged: {wrong[0]}")
        version = version_of(connection, path)
        if connection.exec_driver_sql("PRAGMA foreign_key_check").first() is not None:
            raise RecordsError(f"{path} is damaged: a record refers to one that is not there")
        there = {name for (name,) in connection.exec_driver_sql("SELECT name FROM sqlite_master")}
        raw = connection.connection.driver_connection
        assert isinstance(raw, sqlite3.Connection)
        counts = {table: _count(raw, table) for table in (*KINDS, ADVICES) if table in there}
        times = [
            raw.execute(f"SELECT max({column}) FROM {table}").fetchone()[0]
            for table, column in (("events", "at"), (ADVICES, "given_at"))
            if table in there
        ]
        newest = max((at for text in times if (at := _moment(text)) is not None), default=None)
        return Looked(
            version,
            identity_of(connection),
            counts,
            newest,
        )


def _moment(text: object) -> datetime | None:
    """The moment of a cell; None where it holds none, as a damaged one may."""
    try:
        return datetime.fromisoformat(str(text)).replace(tzinfo=UTC)
    except ValueError:
        return None


def _count(connection: sqlite3.Connection, table: str) -> int:
    (number,) = connection.execute(f"SELECT count(*) FROM {table}").fetchone()
    return int(number)


def _sum(counts: Mapping[str, int]) -> int:
    return sum(counts.values())


def _beside(path: Path, end: str) -> Path:
    return path.with_name(path.name + end)


def _second_name(path: Path, name: Path) -> None:
    try:
        os.link(path, name)
    except OSError:  # a disk without second names for a file
        shutil.copy2(path, name)


def _written_through(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
