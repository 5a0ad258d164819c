"""What SQLite and the disk complain of, in one sentence that the owner can act on."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy.exc import DBAPIError

from advisor.errors import RecordsError, RecordsFault

_SENTENCES = (
    (
        "SQLITE_FULL",
        RecordsFault.DISK_FULL,
        "the disk that holds the records {place} is full",
        "free some space and try again",
    ),
    (
        "SQLITE_BUSY",
        RecordsFault.LOCKED,
        "the records {place} are locked by another program",
        "let it finish, or stop it, and try again",
    ),
    (
        "SQLITE_LOCKED",
        RecordsFault.LOCKED,
        "the records {place} are locked by another program",
        "let it finish and try again",
    ),
    (
        "SQLITE_READONLY",
        RecordsFault.READ_ONLY,
        "the records {place} cannot be written: the file or its folder is read-only",
        "give yourself the right to write there, or set another place for the records in the site file",
    ),
    (
        "SQLITE_CANTOPEN",
        RecordsFault.READ_ONLY,
        "the records {place} cannot be opened: the folder may not be written or a folder bears that name",
        "give yourself the right to write there, or set another place for the records in the site file",
    ),
    (
        "SQLITE_NOTADB",
        RecordsFault.OTHER,
        "{place} is not a file of records",
        "set another place for the records in the site file, or put a backup back with `advisor records restore`",
    ),
    (
        "SQLITE_CORRUPT",
        RecordsFault.OTHER,
        "the records {place} are damaged",
        "put a backup back with `advisor records restore`, which keeps the damaged file too",
    ),
    (
        "SQLITE_IOERR",
        RecordsFault.DISK_FAILS,
        "the disk that holds the records {place} failed while it was read or written",
        "see whether it is full or failing, and try again",
    ),
    (
        "SQLITE_CONSTRAINT",
        RecordsFault.OTHER,
        "the records {place} refuse this because it would stand there twice",
        "change or remove the one that is there",
    ),
)


def place(path: Path | None) -> str:
    """How the records are called in a sentence."""
    return "in memory" if path is None else str(path)


def understood(error: BaseException, path: Path | None, *, after: str = "") -> RecordsError:
    """What went wrong with the records at `path`, and what it comes to (`after`)."""
    name = str(getattr(error, "sqlite_errorname", ""))
    for start, fault, what, way_out in _SENTENCES:
        if name.startswith(start):
            return RecordsError(what.format(place=place(path)), way_out=way_out, after=after, fault=fault)
    return RecordsError(f"the records {place(path)} cannot be used: {error}", after=after)


@contextmanager
def told(path: Path | None, *, after: str = "") -> Iterator[None]:
    """Turn what SQLite raises into a RecordsError: what, where, the way out, and what it comes to (`after`)."""
    try:
        yield
    except DBAPIError as error:
        raise understood(error.orig or error, path, after=after) from error
    except sqlite3.Error as error:
        raise understood(error, path, after=after) from error
