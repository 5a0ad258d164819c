"""A new file and a migrated one are the same; an older one is backed up first, a newer one refused."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory

from advisor.errors import RecordsError
from advisor.lawn.records import Application, Records, Run
from advisor.store import open_store
from advisor.store.connection import engine_for, writing
from advisor.store.migrate import MIGRATIONS, revision, upgrade
from advisor.store.tables import METADATA, SCHEMA_VERSION

T = datetime(2026, 6, 17, 21, 30, tzinfo=UTC)
RUN = Run("Front", T, T + timedelta(minutes=18), 18.0, 3.96)


def _migrated(path: Path, version: int) -> Path:
    engine = engine_for(path, wait_s=1)
    with writing(engine) as connection:
        upgrade(connection, revision(version))
    engine.dispose()
    return path


def _schema_1(path: Path) -> Path:
    """A file as the first schema left it, with two records in it."""
    with closing(sqlite3.connect(_migrated(path, 1))) as old, old:
        old.execute(
            "INSERT INTO applications VALUES (4, 'Calcium solution', '2026-06-17 21:30:00.000000',"
            " '2026-06-17 22:10:00.000000', 'backpack', NULL, 2.07, '', '')"
        )
        old.execute("INSERT INTO application_zones VALUES (4, 0, 'Front'), (4, 1, 'Back')")
        old.execute(
            "INSERT INTO runs VALUES (7, 'Front', '2026-06-17 21:30:00.000000',"
            " '2026-06-17 21:48:00.000000', 18.0, 3.96, 'by hand', '')"
        )
    return path


SCHEMA_1_RECORDS = Records(
    applications=(
        Application(
            "Calcium solution", ("Front", "Back"), T, T + timedelta(minutes=40), "backpack", rate=2.07, id=4
        ),
    ),
    runs=(replace(RUN, id=7),),
)


def _schema(path: Path) -> list[Any]:
    with closing(sqlite3.connect(path)) as connection:
        names = [
            n for (n,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY 1")
        ]
        return [
            (name, pragma, sorted(connection.execute(f"PRAGMA {pragma}('{name}')"), key=str))
            for name in names
            for pragma in ("table_xinfo", "index_list", "foreign_key_list")
        ] + [
            " ".join(str(text).split())
            for (text,) in connection.execute(
                "SELECT sql FROM sqlite_master WHERE name != 'alembic_version' ORDER BY name"
            )
        ]


def test_a_new_file_has_the_schema_that_all_migrations_give(tmp_path: Path) -> None:
    open_store(tmp_path / "new.db").close()
    assert _schema(tmp_path / "new.db") == _schema(_migrated(tmp_path / "old.db", SCHEMA_VERSION))


def test_the_migrations_leave_nothing_to_migrate(tmp_path: Path) -> None:
    engine = sa.create_engine(f"sqlite:///{_migrated(tmp_path / 'old.db', SCHEMA_VERSION)}")
    with engine.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), METADATA) == []
    engine.dispose()


def test_the_schema_version_is_that_of_the_newest_migration_and_they_stand_in_one_row() -> None:
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    config.set_main_option("path_separator", "os")
    script = ScriptDirectory.from_config(config)
    assert script.get_heads() == [revision(SCHEMA_VERSION)]
    found = [step.revision for step in script.walk_revisions()]
    assert found == [revision(version) for version in range(SCHEMA_VERSION, 0, -1)]


def test_an_older_file_is_migrated_after_a_backup_and_loses_nothing(tmp_path: Path) -> None:
    path = _schema_1(tmp_path / "lawn.db")
    with open_store(path) as store:
        assert store.records() == SCHEMA_1_RECORDS
        assert store.check() == []
        store.edit("runs", 7, {"minutes": 20.0})
        store.undo_last()
        assert store.mark_done("night", T)
        assert store.records() == SCHEMA_1_RECORDS
    (backup,) = tmp_path.glob("lawn.db.backup-v1-*Z")
    with closing(sqlite3.connect(backup)) as old:
        assert old.execute("SELECT version_num FROM alembic_version").fetchall() == [("0001",)]
        assert old.execute("SELECT id, minutes FROM runs").fetchall() == [(7, 18.0)]
    with open_store(backup) as store:
        assert store.records() == SCHEMA_1_RECORDS


def test_a_second_backup_does_not_take_the_place_of_the_first(tmp_path: Path) -> None:
    for _ in range(2):
        for name in ("lawn.db", "lawn.db.identity"):
            (tmp_path / name).unlink(missing_ok=True)
        path = _schema_1(tmp_path / "lawn.db")
        stamp = 1_800_000_000
        os.utime(path, (stamp, stamp))
        open_store(path).close()
    names = sorted(p.name for p in tmp_path.glob("lawn.db.backup-*"))
    assert names == ["lawn.db.backup-v1-20270115T080000Z", "lawn.db.backup-v1-20270115T080000Z-2"]


def test_a_migration_that_is_broken_off_leaves_the_old_file_which_migrates_next_time(tmp_path: Path) -> None:
    path = _schema_1(tmp_path / "lawn.db")

    def fault(point: str) -> None:
        if point == "migrate: written":
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        open_store(path, fault=fault)
    with closing(sqlite3.connect(path)) as old:
        assert old.execute("SELECT version_num FROM alembic_version").fetchall() == [("0001",)]
        assert old.execute("SELECT count(*) FROM sqlite_master WHERE name = 'journal'").fetchall() == [(0,)]
    with open_store(path) as store:
        assert store.records() == SCHEMA_1_RECORDS


@pytest.mark.parametrize(
    ("version", "words"),
    [
        (revision(SCHEMA_VERSION + 1), "written by a newer version of advisor"),
        ("0099", "written by a newer version of advisor"),
        ("a1b2", "a schema version that is not understood: a1b2"),
    ],
)
def test_a_file_of_another_program_version_is_refused_and_left_alone(
    tmp_path: Path, version: str, words: str
) -> None:
    path = tmp_path / "lawn.db"
    open_store(path).close()
    with closing(sqlite3.connect(path)) as other, other:
        other.execute("UPDATE alembic_version SET version_num = ?", (version,))
    before = path.read_bytes()
    with pytest.raises(RecordsError, match=words):
        open_store(path)
    assert path.read_bytes() == before
    assert sorted(p.name for p in tmp_path.iterdir()) == ["lawn.db", "lawn.db.identity"]


def test_opening_a_current_file_does_not_load_alembic(tmp_path: Path) -> None:
    code = (
        "import sys; from pathlib import Path; from advisor.store import open_store;"
        f"path = Path({str(tmp_path / 'lawn.db')!r}); open_store(path).close(); open_store(path).close();"
        "print('alembic' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"
