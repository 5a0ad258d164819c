"""Faults of putting a backup back: damaged ones, the wrong ones, and a sudden end in the middle."""

from __future__ import annotations

import shutil
import signal
import sqlite3
from collections.abc import Sequence
from contextlib import closing
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from faults.fault_table import Seen, fault
from faults.keeping_lawn import Lawn, Told, count, enter_night

from advisor.lawn import load_site, message_settings, service_settings
from advisor.service.housekeeping import backup
from advisor.service.jobs import Due
from advisor.service.lock import lock_records
from advisor.service.served import take_up
from advisor.store import open_store

DAY = timedelta(days=1)
MORNING = datetime(2026, 6, 16, 3, 30, tzinfo=UTC)
STEPS = 7
"""At how many points a command that restores can end: tried, alone, kept aside, cleared, noted, in place, done."""


def night_backups(lawn: Lawn, days: int = 2) -> list[Path]:
    """What the service's nights leave: a backup a day, one more advice in each; the newest last."""
    from advisor.advice import Job

    site, made = load_site(lawn.folder / "site.yaml"), []
    with open_store(lawn.records) as store:
        settings, wanted = service_settings(site), message_settings(site)
        served = take_up(site, settings, wanted, store, [], MORNING, hide=str, render=str)
        for n in range(days):
            at = MORNING + n * DAY
            enter_night(store, 20 + n)
            slot = date(2026, 6, 16) + n * DAY
            backup(served, Due(Job.BACKUP, f"backup:Larkmoor Lane:{slot}", at, at + DAY, slot), at)
            made.append(lawn.backups / f"lawn-{slot}.sqlite")
    return made


def damage(path: Path) -> None:
    """Overwrite a page in the middle, as a failing disk does."""
    whole = bytearray(path.read_bytes())
    whole[8192:12288] = b"\xff" * 4096
    path.write_bytes(bytes(whole))


def refused(told: Told, *words: str) -> str:
    """One sentence, exit code 2."""
    assert told.code == 2, told
    assert told.err.count("\n") == 1, told
    for each in (*words, "nothing was changed"):
        assert each in told.err, (each, told.err)
    return told.err


def unchanged(lawn: Lawn, before: dict[str, bytes]) -> None:
    """Every file of the folder stands as it stood."""
    after = lawn.bytes_of_all()
    after.pop("lawn.sqlite.lock", None)
    before.pop("lawn.sqlite.lock", None)
    assert after == before


@fault("restore", "the records are lost and the newest backup is put back")
def lost_and_restored(folder: Path, nightly: bool) -> Seen:
    lawn = Lawn(folder)
    lawn.begin()
    newest = night_backups(lawn)[-1]
    status = lawn.ask("status")
    assert "the records can be restored as of Wed 17 Jun 2026 03:30" in status.out, status
    lawn.records.write_bytes(b"")
    tried = lawn.ask("records", "restore", "--dry-run", "--json")
    assert (tried.code, tried.json["kept_as"], lawn.records.read_bytes()) == (0, "", b""), tried
    done = lawn.ask("records", "restore", "--json")
    assert done.code == 0, done
    assert done.json["backup"]["path"] == str(newest)
    assert done.json["backup"]["advices"] == 5
    assert done.json["replaced"]["sound"] is False
    kept = Path(done.json["kept_as"])
    assert (kept.read_bytes(), kept.name) == (b"", "lawn.sqlite.replaced-20260617T201500Z")
    assert lawn.count() == 5
    assert lawn.ask("records", "check").code == 0
    return Seen(" ".join(done.json["words"]), 3, lost=5 - lawn.count())


@fault("restore", "a backup is damaged, gone, or of another lawn")
def damaged_backups(folder: Path, nightly: bool) -> Seen:
    lawn = Lawn(folder / "lawn")
    lawn.begin()
    older, newest = night_backups(lawn)
    damage(newest)
    status = lawn.ask("status", "--json")
    assert f"the backup {newest} is gone or is not what was backed up" in status.json["sites"][0]["reasons"]
    assert status.json["sites"][0]["last_backup"]["file"] == str(older)
    before, tried = lawn.bytes_of_all(), 2
    saw = refused(lawn.ask("records", "restore", str(newest)), "cannot be put back", "damaged")
    if nightly:
        other = Lawn(folder / "other")
        other.begin()
        refused(lawn.ask("records", "restore", str(night_backups(other)[-1])), "of other records")
        refused(lawn.ask("records", "restore", str(folder / "none.sqlite")), "cannot be read")
        zero = folder / "zero.sqlite"
        zero.write_bytes(b"")
        refused(lawn.ask("records", "restore", str(zero)), "holds no records")
        with closing(sqlite3.connect(folder / "songs.sqlite")) as songs, songs:
            songs.execute("CREATE TABLE songs (title)")
        refused(lawn.ask("records", "restore", str(folder / "songs.sqlite")), "not one of records")
        tried += 4
    unchanged(lawn, before)
    done = lawn.ask("records", "restore", "--json")
    assert done.code == 0, done
    assert [one["path"] for one in done.json["passed_over"]] == [str(newest)]
    assert done.json["backup"]["path"] == str(older)
    assert count(Path(done.json["kept_as"]), "advice") == 5
    assert lawn.count() == 4
    return Seen(saw, tried + 1)


@fault("restore", "the records are to be restored from themselves, or while they are in use")
def onto_itself(folder: Path, nightly: bool) -> Seen:
    lawn = Lawn(folder)
    lawn.begin()
    night_backups(lawn)
    link = folder / "link.sqlite"
    link.symlink_to(lawn.records)
    before = lawn.bytes_of_all()
    refused(lawn.ask("records", "restore", str(lawn.records)), "is the records file itself")
    refused(lawn.ask("records", "restore", str(link)), "is the records file itself")
    lock = lock_records(lawn.records)
    saw = refused(lawn.ask("records", "restore"), "already serves the records", "stop it first")
    refused(lawn.ask("records", "adopt"), "already serves the records", "stop it first")
    lock.close()
    with open_store(lawn.records) as other:
        other.records()
        refused(lawn.ask("records", "restore"), "in use by another program")
    unchanged(lawn, before)
    return Seen(saw, 5)


@fault("restore", "the backup is of an older program")
def older_backup(folder: Path, nightly: bool) -> Seen:
    from advisor.store.connection import engine_for, writing
    from advisor.store.migrate import revision, upgrade

    lawn = Lawn(folder)
    lawn.begin()
    old = folder / "old.sqlite"
    for version in (1, 2) if nightly else (1,):
        old.unlink(missing_ok=True)
        engine = engine_for(old, wait_s=1)
        with writing(engine) as connection:
            upgrade(connection, revision(version))
            connection.exec_driver_sql(
                "INSERT INTO gauge VALUES (7, '2026-06-01 08:00:00.000000', 9.0, NULL, 'of old')"
            )
        engine.dispose()
        content = old.read_bytes()
        done = lawn.ask(
            "records", "restore", str(old), "--json", now=datetime(2026, 6, 17, 12 + version, tzinfo=UTC)
        )
        assert done.code == 0, done
        assert (done.json["backup"]["schema_number"], done.json["replaced"]["sound"]) == (version, True)
        assert old.read_bytes() == content
    listed = lawn.ask("records", "list")
    assert "9.0 mm" in listed.out, listed
    return Seen(" ".join(done.json["words"]), 2)


@fault("restore", "killed in the middle of a restoration")
def killed_while_restoring(folder: Path, nightly: bool) -> Seen:
    """At each step: the records are the old ones or the new ones, whole, and the old ones are there besides."""
    lost, saw = 0, ""
    model = Lawn(folder / "model")
    model.begin()
    night_backups(model)
    with open_store(model.records) as store:
        enter_night(store, 40)
    points: Sequence[int] = range(STEPS) if nightly else (3, 5)
    for dies_at in points:
        lawn = Lawn(folder / f"dies at {dies_at}")
        for name in ("lawn.sqlite", "lawn.sqlite.identity"):
            shutil.copy(model.folder / name, lawn.folder / name)
        shutil.copytree(model.backups, lawn.backups)
        ended = lawn.ask("records", "restore", dies_at=dies_at)
        assert ended.code == (-signal.SIGKILL if dies_at < STEPS - 1 else 0), (dies_at, ended)
        found = lawn.count()
        kept = [count(path, "advice") for path in lawn.folder.glob("lawn.sqlite.replaced-*Z")]
        lost += found not in (5, 6) or 6 not in (found, *kept)
        checked = lawn.ask("records", "check")
        assert checked.code == 0, checked
        again = lawn.ask("records", "restore", "--json")
        assert (again.code, lawn.count()) == (0, 5), again
        saw = " ".join(again.json["words"])
        assert not list(lawn.folder.glob(".*restoring*"))
    return Seen(saw, len(points), lost=lost)
