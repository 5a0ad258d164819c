"""Brings a records file to the schema of this program: new, current, older or newer.

The usual case costs one query. Alembic is imported only when an older file must be migrated, and
then after a backup copy.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import sqlalchemy as sa

from advisor.errors import RecordsError
from advisor.files import make_private
from advisor.store.connection import reading, writing
from advisor.store.tables import METADATA, SCHEMA_VERSION

MIGRATIONS = Path(__file__).parent / "migrations"
_STAMP = "CREATE TABLE alembic_version (version_num VARCHAR(32) NOT NULL PRIMARY KEY)"


def revision(version: int) -> str:
    """The name of a schema version in the migrations, e.g. "0002"."""
    return f"{version:04d}"


def version_of(connection: sa.Connection, path: Path | None) -> int:
    """The schema version of an open file; 0 when the file is empty."""
    try:
        found = connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar()
    except sa.exc.OperationalError as error:
        if "no such table" not in str(error.orig):
            raise
        if connection.exec_driver_sql("SELECT count(*) FROM sqlite_master").scalar():
            raise RecordsError(
                f"{path} is a database but not one of records; "
                "set another place for the records in the site file"
            ) from None
        return 0
    if not str(found).isdigit():
        raise RecordsError(f"{path} has a schema version that is not understood: {found}; put back a backup")
    return int(str(found))


def make_ready(engine: sa.Engine, path: Path | None, fault: Callable[[str], None]) -> None:
    """Give the open file this program's schema; refuse one from a newer program."""
    with reading(engine) as connection:
        version = version_of(connection, path)
    if version == SCHEMA_VERSION:
        return
    if version > SCHEMA_VERSION:
        raise RecordsError(
            f"the records {path} were written by a newer version of advisor (schema {version}, this one "
            f"knows up to {SCHEMA_VERSION}); install the newer version, or use another records file"
        )
    if version == 0:
        _create(engine, path)
    else:
        assert path is not None
        _migrate(engine, path, version, fault)


def _create(engine: sa.Engine, path: Path | None) -> None:
    with writing(engine) as connection:
        if version_of(connection, path):
            return  # another program made it between our look and our lock
        METADATA.create_all(connection)
        connection.exec_driver_sql(_STAMP)
        connection.exec_driver_sql("INSERT INTO alembic_version VALUES (?)", (revision(SCHEMA_VERSION),))


def _migrate(engine: sa.Engine, path: Path, version: int, fault: Callable[[str], None]) -> None:
    copy_to(path, free_name(path, version))
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


def free_name(path: Path, version: int) -> Path:
    """A name beside the file for its backup, after its version and when it was last written."""
    written = datetime.fromtimestamp(path.stat().st_mtime, UTC)
    name = f"{path.name}.backup-v{version}-{written:%Y%m%dT%H%M%SZ}"
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
    with closing(sqlite3.connect(path)) as source, closing(sqlite3.connect(partial)) as copy:
        source.backup(copy)
        copy.execute("PRAGMA journal_mode = DELETE")
    partial.replace(target)
