"""Records that can be read and not written, read into memory as they are: also where SQLite itself would
need to write beside them."""

from __future__ import annotations

import shutil
import sqlite3
import tempfile
from contextlib import closing
from pathlib import Path
from urllib.parse import quote

import sqlalchemy as sa

from advisor.store.connection import engine_for
from advisor.store.trouble import told


def engine_of_copy(path: Path) -> sa.Engine:
    """The records at `path` in memory, with what stands in the -wal beside them; OSError where they cannot be read."""
    engine = engine_for(None, wait_s=0)
    raw = engine.raw_connection()
    try:
        memory = raw.driver_connection
        assert isinstance(memory, sqlite3.Connection)
        with told(path):
            _read_into(memory, path)
    except BaseException:
        raw.close()
        engine.dispose()
        raise
    raw.close()
    return engine


def stamp(path: Path) -> tuple[tuple[int, int], ...]:
    """What changes when the records do: the time and length of the file and of its -wal."""
    return tuple(_time_and_length(each) for each in (path, _wal(path)))


def _read_into(memory: sqlite3.Connection, path: Path) -> None:
    with path.open("rb") as file:  # whether it may be read at all
        file.read(1)
    wal = _wal(path)
    if not wal.exists() or not wal.stat().st_size:
        _copy(f"file:{quote(str(path.resolve()))}?mode=ro&immutable=1", memory)
        return
    with tempfile.TemporaryDirectory() as folder:
        for each in (path, wal):
            shutil.copyfile(each, Path(folder, each.name))
        _copy(f"file:{quote(str(Path(folder, path.name)))}", memory)


def _copy(uri: str, memory: sqlite3.Connection) -> None:
    with closing(sqlite3.connect(uri, uri=True)) as source:
        source.backup(memory)


def _wal(path: Path) -> Path:
    found = path.resolve()
    return found.with_name(found.name + "-wal")


def _time_and_length(path: Path) -> tuple[int, int]:
    try:
        found = path.stat()
    except OSError:
        return 0, 0
    return found.st_mtime_ns, found.st_size
