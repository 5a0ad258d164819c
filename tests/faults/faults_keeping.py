"""Faults of keeping: records that cannot be written, and records that would vanish.

Where root would pass over rights, the command gives that power up first; where a full disk cannot be made, the size
that a file may have is limited for the command: SQLite hears the same "no".
"""

from __future__ import annotations

import contextlib
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

from faults.fault_table import Seen, fault
from faults.keeping_lawn import Lawn, Told, count, enter_night, held, rights, small_disk

from advisor.store import open_store

WAYS = ((), ("--json",), ("--explain", "Front"), ("--why",), ("--why", "--json"))
"""The ways to ask for tonight's advice."""
FULL = 20_000
"""How long a file may become: too little for a write, and for the index that SQLite makes of it."""
OUT_OF_THE_WAY = ("`advisor records restore`", "`advisor records adopt`")


def shown(told: Told, way: tuple[str, ...], why: str) -> str:
    """The advice is shown, says that it is not kept, and why."""
    assert told.code == 0, told
    if "--json" in way:
        found = told.json
        assert found["zones"][0]["zone"] == "Front"
        assert found["not_kept"]["fault"] == why, found["not_kept"]
        return str(found["not_kept"]["words"])
    text = " ".join(told.out.split())
    assert "Front" in text
    assert "Not kept in the records:" in text, text[:400]
    assert "may come twice" in text
    assert "--as-advised" in text
    return text[text.index("Not kept") :].split(" Tonight,")[0][:400]


def kept_when_asked_again(lawn: Lawn) -> None:
    """The next one is kept, and does not say otherwise."""
    before = lawn.count()
    again = lawn.ask("tonight", "--json")
    assert again.code == 0, again
    assert again.json["not_kept"] is None
    assert lawn.count() == before + 1


def refused(told: Told, *words: str) -> str:
    """One sentence, exit code 2."""
    assert told.code == 2, told
    assert told.err.count("\n") == 1, told
    for each in words:
        assert each in told.err, (each, told.err)
    return told.err


@fault("records", "the disk is full when the advice is to be kept")
def the_disk_is_full(folder: Path, nightly: bool) -> Seen:
    lawn = Lawn(folder)
    lawn.begin()
    saw, before, asked = "", lawn.count(), WAYS if nightly else WAYS[1:2]
    for way in asked:
        saw = shown(lawn.ask("tonight", *way, limit_bytes=FULL), way, "disk fails")
        with open_store(lawn.records) as other:  # the index is there already
            other.events()
            saw = shown(lawn.ask("tonight", *way, limit_bytes=FULL), way, "disk fails")
            assert lawn.count() == before
    kept_when_asked_again(lawn)
    tried = 2 * len(asked)
    return Seen(saw, tried)


@fault("records", "a disk of one megabyte, filled to the brim")
def a_small_disk_is_full(folder: Path, nightly: bool) -> Seen:
    with small_disk(folder / "disk") as made:
        if not made:
            return Seen("(this machine lets nobody make a disk)")
        lawn = Lawn(folder / "disk")
        lawn.begin()
        brim = folder / "disk" / "brim"
        with brim.open("wb", buffering=0) as full, contextlib.suppress(OSError):
            while full.write(b"x" * 512):
                pass
        told = lawn.ask("tonight")
        saw = " ".join(told.out.split())
        assert told.code == 0, told
        assert "Not kept in the records: the disk" in saw, saw[:400]
        refused(lawn.ask("record", "rain", "3 mm"), "nothing of this entry was written")
        brim.unlink()
        kept_when_asked_again(lawn)
        return Seen(saw[saw.index("Not kept") :][:300], 2)


@fault("records", "the records or their folder are read-only")
def read_only(folder: Path, nightly: bool) -> Seen:
    lawn = Lawn(folder)
    lawn.begin()
    saw, tried = "", 0
    kinds: list[tuple[str, ...]] = (
        [("file",), ("folder",), ("file", "folder")] if nightly else [("file", "folder")]
    )
    for what in kinds:
        file, whole = 0o444 if "file" in what else 0o644, 0o555 if "folder" in what else 0o755
        with rights(lawn.records, file), rights(folder, whole):
            before = lawn.count()
            for way in WAYS if nightly else WAYS[:1]:
                saw = shown(lawn.ask("tonight", *way, bound=True), way, "read-only")
                tried += 1
            listed = lawn.ask("records", "list", bound=True)
            assert "1.0 mm" in listed.out, listed
            refused(
                lawn.ask("record", "rain", "3 mm", bound=True),
                "read-only",
                "nothing of this entry was written",
            )
            tried += 2
            assert lawn.count() == before
            if nightly:
                assert lawn.ask("records", "check", bound=True).code in (0, 1)
                assert lawn.ask("rain", "--json", bound=True).code == 0
                status = lawn.ask("status", "--json", bound=True)
                assert "records not written" in {t["kind"] for t in status.json["sites"][0]["troubles"]}
                tried += 3
    kept_when_asked_again(lawn)
    return Seen(saw, tried)


@fault("records", "read-only, and the last writes stand in the -wal beside the file")
def read_only_with_wal(folder: Path, nightly: bool) -> Seen:
    lawn = Lawn(folder / "lawn")
    lawn.begin()
    apart = folder / "apart"
    with closing(sqlite3.connect(lawn.records)) as other:
        other.execute("PRAGMA wal_autocheckpoint = 0")
        other.execute("INSERT INTO events VALUES ('written last', '2026-01-01 00:00:00.000000', '{}')")
        other.execute("UPDATE gauge SET depth_mm = 7.0")
        other.commit()
        shutil.copytree(lawn.folder, apart)
    (apart / "lawn.sqlite-shm").unlink()
    assert (apart / "lawn.sqlite-wal").stat().st_size > 0
    lawn.folder = apart
    with rights(apart / "lawn.sqlite", 0o444), rights(apart, 0o555):
        listed = lawn.ask("records", "list", bound=True)
        assert listed.code == 0, listed
        assert "7.0 mm" in listed.out, listed
        saw = shown(lawn.ask("tonight", bound=True), (), "read-only")
    return Seen(saw, 2)


@fault("records", "another program holds the records longer than is waited for")
def locked(folder: Path, nightly: bool) -> Seen:
    lawn = Lawn(folder)
    lawn.begin()
    waits = {} if nightly else {"wait_s": 0.05}
    with held(lawn.records, "writing"):
        saw = ""
        for way in WAYS if nightly else WAYS[:1]:
            saw = shown(lawn.ask("tonight", *way, **waits), way, "locked")
        refused(lawn.ask("record", "rain", "3 mm", **waits), "locked by another program")
    kept_when_asked_again(lawn)
    return Seen(saw, 3)


@fault("records", "the records cannot even be read")
def unreadable(folder: Path, nightly: bool) -> Seen:
    lawn = Lawn(folder)
    lawn.begin()
    with held(lawn.records, "alone"):
        refused(lawn.ask("tonight", wait_s=0.05), "locked by another program")
    with rights(lawn.records, 0o000):
        saw = refused(lawn.ask("tonight", bound=True), str(lawn.records), "cannot be read")
    kept_when_asked_again(lawn)
    return Seen(saw, 2)


@fault("records", "only the .sqlite is copied while a program holds the records open")
def copied_alone(folder: Path, nightly: bool) -> Seen:
    lawn, copies = Lawn(folder), folder / "copies"
    copies.mkdir()
    lost, nights = 0, 200 if nightly else 14
    with open_store(lawn.records) as store, open_store(lawn.records) as other:
        for n in range(nights):
            other.last_advice("Larkmoor Lane")
            enter_night(store, n)
            copy = copies / f"{n}.sqlite"
            shutil.copyfile(lawn.records, copy)
            with closing(sqlite3.connect(copy)) as found:
                try:
                    (kept,) = found.execute("SELECT count(*) FROM advice").fetchone()
                except sqlite3.OperationalError:
                    kept = 0
            lost += n + 1 - kept
    return Seen("(a copy of the file alone holds every night that was told as kept)", nights, lost=lost)


def broken_files(lawn: Lawn) -> dict[str, bytes]:
    """What may stand in the place of the records and holds none of this lawn's."""
    aside = lawn.folder / "aside"
    other = Lawn(aside / "other")
    other.begin(nights=1)
    foreign, empty = aside / "foreign.sqlite", aside / "empty.sqlite"
    with closing(sqlite3.connect(foreign)) as made, made:
        made.execute("CREATE TABLE songs (title)")
    with closing(sqlite3.connect(empty)) as made, made:
        made.execute("PRAGMA journal_mode = WAL")
    branded = aside / "branded.sqlite"
    shutil.copyfile(other.records, branded)
    with closing(sqlite3.connect(branded)) as made, made:
        made.execute("PRAGMA application_id = 77")
    lost = aside / "lost.sqlite"
    shutil.copyfile(other.records, lost)
    with closing(sqlite3.connect(lost)) as made, made:
        made.execute("DROP TABLE runs")
    found = {
        "a file of no length": b"",
        "a database without tables": empty.read_bytes(),
        "another program's database": foreign.read_bytes(),
        "a database that bears another program's mark": branded.read_bytes(),
        "records that lack a table": lost.read_bytes(),
        "another lawn's records": other.records.read_bytes(),
        "no database": b"These are my records.\n" * 60,
    }
    shutil.rmtree(aside)
    return found


@fault("records", "what stands in the place of the records is not this lawn's records")
def not_these_records(folder: Path, nightly: bool) -> Seen:
    lawn = Lawn(folder)
    saw, tried = "", 0
    for name, content in broken_files(lawn).items():
        for path in (lawn.records, *folder.glob("lawn.sqlite*")):
            path.unlink(missing_ok=True)
        lawn.begin()
        lawn.records.write_bytes(content)
        before = lawn.bytes_of_all()
        asked = [("records", "check")]
        if nightly:
            asked += [
                ("tonight",),
                ("status",),
                ("serve", "--once"),
                ("records", "list"),
                ("record", "rain", "3 mm"),
            ]
        for words in asked:
            out_of_it = OUT_OF_THE_WAY if name != "no database" else OUT_OF_THE_WAY[:1]
            told = lawn.ask(*words)
            saw = refused(told, str(lawn.records), *out_of_it)
            tried += 1
        after = lawn.bytes_of_all()
        after.pop("lawn.sqlite.lock", None)
        assert after == before, name
    return Seen(saw, tried)


@fault("records", "the records are gone")
def gone(folder: Path, nightly: bool) -> Seen:
    lawn = Lawn(folder)
    first = lawn.ask("tonight", "--json")
    assert (first.code, lawn.count()) == (0, 1), first
    lawn.records.unlink()
    saw = ""
    asked = [("tonight",), ("rain",)]
    if nightly:
        asked += [("status",), ("serve", "--once"), ("records", "list"), ("record", "rain", "3 mm")]
    for words in asked:
        saw = refused(lawn.ask(*words), str(lawn.records), "gone", *OUT_OF_THE_WAY)
    assert not lawn.records.exists()
    said = lawn.ask("records", "adopt", "--json")
    assert said.code == 0, said
    assert lawn.ask("tonight").code == 0
    assert count(lawn.records, "advice") == 1
    return Seen(saw, len(asked) + 1)
