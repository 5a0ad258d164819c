"""Brings a records file to the schema of this program: new, current, older or newer.

The usual case costs a few looks. Alembic is imported only when an older file must be migrated, and
then after a backup copy.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import sqlalchemy as sa

from advisor.errors import RecordsError
from advisor.files import make_private
from advisor.store.connection import reading, writing
from advisor.store.identity import WAYS_OUT
from advisor.store.tables import APPLICATION_ID, METADATA, NEW_IDENTITY, SCHEMA_VERSION, tables_of

MIGRATIONS = Path(__file__).parent / "migrations"
_STAMP = "CREATE TABLE alembic_version (version_num VARCHAR(32) NOT NULL PRIMARY KEY)"


def revision(version: int) -> str:
    """The name of a schema version in the migrations, e.g. "0002"."""
    return f"{version:04d}"


def version_of(connection: sa.Connection, path: Path | None) -> int:
    """The schema version of an open file; a sentence where it is none of records, or lacks some of them."""
    tables = {name for (name,) in connection.exec_driver_sql("SELECT name FROM sqlite_master")}
    mark = connection.exec_driver_sql("PRAGMA application_id").scalar()
    if not tables:
        raise RecordsError(
            f"{path} holds no records: it is empty, as a copy is that was made without what stood beside the file",
            way_out=WAYS_OUT,
        )
    if "alembic_version" not in tables or mark not in (0, APPLICATION_ID):
        raise RecordsError(
            f"{path} is a database but not one of records",
            way_out=f"{WAYS_OUT}, or set another place for the records in the site file",
        )
    found = connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar()
    if not str(found).isdigit():
        raise RecordsError(f"{path} has a schema version that is not understood: {found}", way_out=WAYS_OUT)
    version = int(str(found))
    if lacking := tables_of(version) - tables:
        raise RecordsError(f"the records {path} lack {', '.join(sorted(lacking))}", way_out=WAYS_OUT)
    return version


def identity_of(connection: sa.Connection) -> str:
    """The identity that the records bear; "" before schema 3."""
    try:
        return str(connection.exec_driver_sql("SELECT id FROM identity").scalar() or "")
    except sa.exc.OperationalError:
        return ""


def create(engine: sa.Engine) -> None:
    """Make the tables of new records in an empty file, or in memory."""
    with writing(engine) as connection:
        METADATA.create_all(connection)
        connection.exec_driver_sql(_STAMP)
        connection.exec_driver_sql("INSERT INTO alembic_version VALUES (?)", (revision(SCHEMA_VERSION),))
        connection.exec_driver_sql(NEW_IDENTITY)
        connection.exec_driver_sql(f"PRAGMA application_id = {APPLICATION_ID}")


def make_ready(
    engine: sa.Engine, path: Path, fault: Callable[[str], None], *, copy_first: bool = True
) -> None:
    """Give the open file this program's schema; refuse one from a newer program, and what holds no records.

    `copy_first` False leaves out the backup before a migration, of what is a copy itself.
    """
    with reading(engine) as connection:
        version = version_of(connection, path)
    if version > SCHEMA_VERSION:
        raise RecordsError(
            f"the records {path} were written by a newer version of advisor (schema {version}, this one "
            f"knows up to {SCHEMA_VERSION})",
            way_out="install the newer version, or use another records file",
        )
    if version == SCHEMA_VERSION:
        return
    if copy_first:
        copy_to(
            path, free_name(path, f"backup-v{version}", datetime.fromtimestamp(path.stat().st_mtime, UTC))
        )
        fault("migrate: backed up")
    with writing(engine) as connection:
        if version_of(connection, path) < SCHEMA_VERSION:
            upgrade(connection, revision(SCHEMA_VERSION))
        fault("migrate: written")


def upgrade(connection: sa.Connection, target: str) -> None:
    """Run the migrations up to `target` inside the connection's transaction."""
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    config.attributes["connection"] = connection
    command.upgrade(config, target)


def free_name(path: Path, what: str, at: datetime) -> Path:
    """A name beside the file for what is kept of it, after what it is and a time in UTC."""
    name = f"{path.name}.{what}-{at.astimezone(UTC):%Y%m%dT%H%M%SZ}"
    free, count = path.with_name(name), 1
    while free.exists():
        count += 1
        free = path.with_name(f"{name}-{count}")
    return free


def copy_to(path: Path, target: Path) -> None:
    """A whole copy of the records at one moment, also while others write; in place at once or not at all."""
    partial = target.with_name(target.name + ".partial")
    partial.unlink(missing_ok=True)
    make_private(partial)
    with closing(sqlite3.connect(path)) as source:
        write_copy(source, partial)
    partial.replace(target)


def write_copy(source: sqlite3.Connection, target: Path) -> None:
    """Copy an open database into a file that stands alone, and see that the disk has it."""
    with closing(sqlite3.connect(target)) as copy:
        source.backup(copy)
        copy.execute("PRAGMA journal_mode = DELETE")
    handle = os.open(target, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
