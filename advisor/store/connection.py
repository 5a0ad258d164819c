"""One way to connect to the records: safe settings on every connection, plain transactions."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy import event
from sqlalchemy.pool import StaticPool


def engine_for(path: Path | None, *, wait_s: float) -> sa.Engine:
    """An engine on the file at `path`, or in memory; waits `wait_s` seconds for another's lock.

    A transaction begins when we say so, not when the driver thinks fit, and one that writes takes
    the lock at its beginning, so that what it read first still holds when it writes.
    """
    if path is None:
        engine = sa.create_engine(
            "sqlite://", poolclass=StaticPool, connect_args={"check_same_thread": False}
        )
    else:
        engine = sa.create_engine(sa.URL.create("sqlite", database=str(path)))

    @event.listens_for(engine, "connect")
    def _settle(connection: Any, _record: object) -> None:
        connection.isolation_level = None
        connection.text_factory = _text
        cursor = connection.cursor()
        cursor.execute(f"PRAGMA busy_timeout = {int(wait_s * 1000)}")
        cursor.execute("PRAGMA synchronous = FULL")
        cursor.execute("PRAGMA foreign_keys = ON")
        cursor.close()

    @event.listens_for(engine, "begin")
    def _begin(connection: sa.Connection) -> None:
        writes = connection.get_execution_options().get("writes", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


def _text(cell: bytes) -> str:
    """A text cell; bytes that are no UTF-8 stay in it as lone surrogates, for whoever reads it to see."""
    return cell.decode("utf-8", "surrogateescape")


def write_ahead(engine: sa.Engine) -> None:
    """Have the file written ahead from now on, so that readers and a writer do not hinder each other."""
    with closing(engine.raw_connection()) as raw, closing(raw.cursor()) as cursor:
        cursor.execute("PRAGMA journal_mode = WAL")


@contextmanager
def writing(engine: sa.Engine) -> Iterator[sa.Connection]:
    """A connection in one transaction that holds the right to write; kept whole or not at all."""
    with engine.connect().execution_options(writes=True) as connection, connection.begin():
        yield connection


@contextmanager
def reading(engine: sa.Engine) -> Iterator[sa.Connection]:
    """A connection in one transaction that sees one moment of the records."""
    with engine.connect() as connection, connection.begin():
        yield connection


FOLD_TRIES, FOLD_PAUSE_S = 200, 0.01


def fold_in(engine: sa.Engine) -> bool:
    """Copy all that stands in the -wal into the file; whether it is there now. Waits for others, hinders none.

    Where nobody reads or writes the -wal is emptied too; else it keeps what the file has already.
    """
    with closing(engine.raw_connection()) as raw, closing(raw.cursor()) as cursor:
        (patience,) = cursor.execute("PRAGMA busy_timeout").fetchone()
        cursor.execute("PRAGMA busy_timeout = 0")
        try:
            for mode in ("TRUNCATE", *["PASSIVE"] * FOLD_TRIES):
                busy, logged, folded = cursor.execute(f"PRAGMA wal_checkpoint({mode})").fetchone()
                if not busy and logged == folded:
                    return True
                if mode == "PASSIVE":
                    time.sleep(FOLD_PAUSE_S)
            return False
        finally:
            cursor.execute(f"PRAGMA busy_timeout = {patience}")
