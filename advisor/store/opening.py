"""Opens the records: makes the file on first use, brings its schema up to date, or says why not.

A file is made whole beside its place and put there at once: an empty file is never a beginning. Records
that can be read and not written are read as they are, into memory; every write is told why it cannot be.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Callable
from contextlib import suppress
from functools import partial
from pathlib import Path

import sqlalchemy as sa

from advisor.errors import RecordsError, RecordsFault
from advisor.files import make_folder, make_private, not_a_file
from advisor.lawn import KINDS, Records, of_kind
from advisor.store import rows
from advisor.store.connection import engine_for, reading, write_ahead, writing
from advisor.store.identity import WAYS_OUT, note, seen
from advisor.store.migrate import create, identity_of, make_ready, version_of
from advisor.store.read_only import engine_of_copy
from advisor.store.store import Store
from advisor.store.trouble import told

WITH_IDENTITY = 3
"""The schema version from which on records bear an identity."""


def _no_fault(_point: str) -> None:
    """Nothing goes wrong; tests hand in something that does."""


def open_store(
    path: Path | None,
    *,
    create: bool = True,
    seed: Records | None = None,
    wait_s: float = 5.0,
    fault: Callable[[str], None] = _no_fault,
) -> Store:
    """Open the records at `path`, making the file and its folder on first use when `create`.

    None is a throwaway store in memory. `seed` is written into it at once, and is not in the undo
    journal. `wait_s` is how long to wait for another program's lock. `fault` is called with the
    name of every point in a write at which a process may die; tests hand one in.
    """
    if path is None:
        engine = _in_memory()
    else:
        _make_room(path, create_it=create, wait_s=wait_s)
        ready = partial(_ready, path, wait_s=wait_s, fault=fault)
        try:
            engine = ready()
        except RecordsError as error:
            if not error.may_pass or error.fault is RecordsFault.LOCKED:
                raise
            return Store(path, _as_it_is(path, error), fault, blocked=error, reopen=ready)
    if seed is not None:
        with told(path), writing(engine) as connection:
            for kind in KINDS:
                rows.insert(connection, kind, of_kind(seed, kind))
    return Store(path, engine, fault)


def _in_memory() -> sa.Engine:
    engine = engine_for(None, wait_s=0)
    create(engine)
    return engine


def _ready(path: Path, *, wait_s: float, fault: Callable[[str], None]) -> sa.Engine:
    """The file opened for reading and writing; it is what was kept here, and of this program's schema."""
    engine = engine_for(path, wait_s=wait_s)
    try:
        with told(path):
            _refuse_others(engine, path)
            make_ready(engine, path, fault)
            write_ahead(engine)
            with reading(engine) as connection:
                found = identity_of(connection)
    except BaseException:
        engine.dispose()
        raise
    note(path, found)
    return engine


def _as_it_is(path: Path, error: RecordsError) -> sa.Engine:
    """What can be read of records that cannot be written (`error`); what was in the way where nothing can."""
    try:
        engine = engine_of_copy(path)
    except OSError:
        if os.access(path, os.R_OK):
            raise error from None
        raise RecordsError(
            f"the records {path} cannot be read",
            way_out="give yourself the right to read and write them",
            fault=error.fault,
        ) from None
    with told(path):
        _refuse_others(engine, path)
        make_ready(engine, path, _no_fault, copy_first=False)
    return engine


def _refuse_others(engine: sa.Engine, path: Path) -> None:
    """A sentence where other records stand here than those that were kept here."""
    known = seen(path).identities
    with reading(engine) as connection:
        version, found = version_of(connection, path), identity_of(connection)
    if known and (version < WITH_IDENTITY or found not in known):
        raise RecordsError(
            f"the records {path} are not those that were kept here until now", way_out=WAYS_OUT
        )


def _make_room(path: Path, *, create_it: bool, wait_s: float) -> None:
    try:
        if path.exists():
            words = "" if path.is_dir() else not_a_file(path.stat().st_mode)
            if words:
                raise RecordsError(
                    f"the records {path} cannot be opened: {words}",
                    way_out="set another place for the records in the site file",
                )
            return
    except OSError as error:
        raise RecordsError(
            f"the records {path} cannot be read ({(error.strerror or 'refused').lower()})",
            way_out="give yourself the right to read and write them",
            fault=RecordsFault.READ_ONLY,
        ) from error
    if seen(path).identities:
        raise RecordsError(f"the records {path} are gone", way_out=WAYS_OUT)
    if not create_it:
        raise RecordsError(f"there are no records at {path} yet; `advisor record` begins them")
    begin(path, wait_s=wait_s)


def begin(path: Path, *, wait_s: float = 5.0) -> None:
    """Make new records at a place where nothing stands; whoever makes them first has made them."""
    try:
        make_folder(path.parent)
    except OSError as error:
        raise RecordsError(
            f"the folder {path.parent} for the records cannot be made: {error.strerror}; "
            "set another place for the records in the site file"
        ) from error
    place = path.resolve()
    made = place.with_name(f".{place.name}.{os.getpid()}-{threading.get_ident()}.new")
    with suppress(OSError):  # SQLite tells why
        make_private(made)
    engine = engine_for(made, wait_s=wait_s)
    try:
        with told(path):
            write_ahead(engine)
            create(engine)
        engine.dispose()
        _put(made, place)
    finally:
        engine.dispose()
        for left in (made, made.with_name(made.name + "-wal"), made.with_name(made.name + "-shm")):
            left.unlink(missing_ok=True)


def _put(made: Path, place: Path) -> None:
    """Give the whole file its name, where none has it yet."""
    try:
        os.link(made, place)
    except FileExistsError:
        pass
    except OSError:  # a disk without second names for a file
        if not place.exists():
            made.replace(place)
