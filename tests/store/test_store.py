"""The store keeps what is entered, gives it back, takes it back, and says in a sentence what it cannot."""

from __future__ import annotations

import os
import sqlite3
import stat
import tempfile
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from advisor.errors import RecordsError, RecordsFault
from advisor.lawn import record_fields
from advisor.lawn.records import (
    Application,
    ArchivedHour,
    Audit,
    GaugeReading,
    ProbeReading,
    RainPair,
    Records,
    Run,
    StockChange,
)
from advisor.lawn.records_file import records_from_json, records_to_json
from advisor.shipped import shipped
from advisor.store import Store, open_store
from advisor.store.copies import digest

T = datetime(2026, 6, 17, 21, 30, tzinfo=UTC)
DAY = timedelta(days=1)
RUN = Run("Front", T, T + timedelta(minutes=18), 18.0, 3.96)
CALCIUM = Application(
    "Calcium solution", ("Front", "Back"), T, T + timedelta(minutes=40), "backpack", None, 2.07
)
GAUGE = GaugeReading(T, 6.35)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with open_store(tmp_path / "records" / "lawn.db") as opened:
        yield opened


def test_the_file_and_its_folder_are_made_on_first_use(tmp_path: Path) -> None:
    path = tmp_path / "a" / "b c" / "räsen?#.db"
    with open_store(path) as store:
        store.add_run(RUN)
    with open_store(path, create=False) as store:
        assert store.records() == Records(runs=(replace(RUN, id=1),))


def test_a_missing_file_is_told_when_it_may_not_be_made(tmp_path: Path) -> None:
    with pytest.raises(RecordsError, match=r"there are no records at .*lawn\.db yet"):
        open_store(tmp_path / "lawn.db", create=False)
    assert not (tmp_path / "lawn.db").exists()


def test_every_connection_has_the_safe_settings(store: Store) -> None:
    asked = ("journal_mode", "foreign_keys", "busy_timeout", "synchronous")
    first = store._engine.connect()
    second = store._engine.connect()
    for connection in (first, second):
        found = [connection.exec_driver_sql(f"PRAGMA {name}").scalar() for name in asked]
        assert found == ["wal", 1, 5000, 2]
        connection.close()


def test_every_kind_comes_back_as_it_was_entered(store: Store) -> None:
    entered = (
        store.add_application(CALCIUM),
        store.add_run(RUN),
        store.add_gauge(GAUGE),
        store.add_probe(ProbeReading("Front", T, 12.5)),
        store.add_audit(Audit("Front", T, 13.2, 0.68, 0.75, 24)),
        store.add_stock(StockChange("Calcium solution", T, -961.1, "used")),
    )
    store.add_archive([ArchivedHour(T.replace(minute=0), 1.5, source="open forecast")])
    store.add_pairs([RainPair(T, 12, 3.0, 4.0, 2.0, 5.5, 30)])
    records = store.records()
    for record in entered:
        assert record.id == 1
        assert record in record_fields.of_kind(records, record_fields.kind_of(record))
    assert len(records.archive) == len(records.pairs) == 1


def test_times_come_back_in_utc_from_whatever_zone_and_fold_they_were_entered(store: Store) -> None:
    chicago = ZoneInfo("America/Chicago")
    twice = datetime(2026, 11, 1, 1, 30, tzinfo=chicago)
    store.add_gauge(GaugeReading(twice.replace(fold=1), 1.0))
    store.add_gauge(GaugeReading(twice.replace(fold=0), 2.0))
    first, second = store.records().gauge
    assert (first.read_at, first.depth_mm) == (datetime(2026, 11, 1, 6, 30, tzinfo=UTC), 2.0)
    assert (second.read_at, second.depth_mm) == (datetime(2026, 11, 1, 7, 30, tzinfo=UTC), 1.0)
    assert first.read_at.tzinfo is UTC


def test_records_since_leave_out_what_was_over_but_keep_what_later_ones_rest_on(store: Store) -> None:
    old, new = T - 50 * DAY, T
    for at in (old - DAY, old, new):
        store.add_run(Run("Front", at, at + timedelta(minutes=9), 9.0))
        store.add_gauge(GaugeReading(at, 1.0))
        store.add_audit(Audit("Front", at, 13.0))
        store.add_stock(StockChange("Calcium solution", at, 1.0))
        store.add_application(replace(CALCIUM, started_at=at, ended_at=at + timedelta(hours=1)))
    store.add_archive([ArchivedHour(at.replace(minute=0), 1.0) for at in (old, new)])
    store.add_pairs([RainPair(at, 12, 3.0, 4.0, 2.0, 5.5) for at in (old, new)])
    found = store.records(since=T - 40 * DAY)
    assert [run.started_at for run in found.runs] == [old, new]
    assert [(a.started_at, a.zones) for a in found.applications] == [(new, ("Front", "Back"))]
    assert [reading.read_at for reading in found.gauge] == [old, new]
    assert (len(found.audits), len(found.stock), len(found.pairs), len(found.archive)) == (3, 3, 2, 1)


def test_what_was_not_over_at_that_moment_is_among_the_records_since(store: Store) -> None:
    probe = store.add_probe(ProbeReading("Front", T, 6.0))
    (run,) = store.add_runs([RUN])
    assert store.records(since=RUN.ended_at).runs == (run,)
    assert store.records(since=RUN.started_at + timedelta(seconds=1)).runs == (run,)
    assert store.records(since=T).probes == (probe,)
    assert not store.records(since=T + timedelta(seconds=1)).probes


def test_an_archived_hour_of_the_same_source_is_given_its_new_values_and_keeps_its_id(store: Store) -> None:
    hour = ArchivedHour(T.replace(minute=0), 1.0, source="a")
    store.add_archive([hour, replace(hour, source="b")])
    store.add_archive([replace(hour, rain_mm=2.5)])
    assert [(h.rain_mm, h.source, h.id) for h in store.records().archive] == [(2.5, "a", 1), (1.0, "b", 2)]


def test_edit_changes_one_record_and_an_application_keeps_its_zones_in_order(store: Store) -> None:
    store.add_applications([CALCIUM, replace(CALCIUM, product="Potash solution")])
    after = store.edit("applications", 1, {"zones": ("Side", "Back", "Front"), "rate": None})
    assert after == replace(CALCIUM, id=1, zones=("Side", "Back", "Front"), rate=None)
    assert store.find("applications", 2) == replace(CALCIUM, product="Potash solution", id=2)


@pytest.mark.parametrize(
    ("act", "words"),
    [
        pytest.param(lambda s: s.edit("runs", 9, {"minutes": 1.0}), "there is no run 9", id="edit none"),
        pytest.param(lambda s: s.remove("gauge", 9), "there is no gauge reading 9", id="remove none"),
        pytest.param(lambda s: s.edit("runs", 1, {"minuts": 1.0}), "did you mean minutes", id="slip"),
        pytest.param(lambda s: s.edit("runs", 1, {"id": 7}), "no field 'id'", id="the id"),
        pytest.param(lambda s: s.edit("runs", 1, {"minutes": -1.0}), "0 to 1,440", id="negative"),
        pytest.param(lambda s: s.edit("runs", 1, {"minutes": "many"}), "a number", id="text"),
        pytest.param(lambda s: s.edit("walks", 1, {}), "no kind of record 'walks'", id="kind"),
        pytest.param(lambda s: s.add_run(replace(RUN, minutes=float("nan"))), "a number", id="not a number"),
        pytest.param(
            lambda s: s.add_runs([RUN, replace(RUN, ended_at=RUN.ended_at.replace(tzinfo=None))]),
            "with its offset",
            id="naive",
        ),
        pytest.param(
            lambda s: s.add_application(replace(CALCIUM, zones=("A", "A"))), "each once", id="zones"
        ),
        pytest.param(lambda s: s.add_application(replace(CALCIUM, zones=())), "at least one", id="no zones"),
        pytest.param(lambda s: s.add_audit(Audit("A", T, 3.0, uniformity=68.0)), "0 to 1", id="percent"),
        pytest.param(lambda s: s.add_archive([ArchivedHour(T, 1.0)]), "whole hour", id="half hour"),
    ],
)
def test_what_cannot_be_done_is_a_sentence_and_changes_nothing(
    store: Store, act: Callable[[Store], object], words: str
) -> None:
    store.add_run(RUN)
    before = store.records()
    with pytest.raises(RecordsError, match=words):
        act(store)
    assert store.records() == before
    undone = store.undo_last()
    assert undone is not None
    assert undone.gone == (replace(RUN, id=1),)


def test_undo_takes_back_a_whole_round_at_once_and_then_what_was_before_it(store: Store) -> None:
    store.add_gauge(GAUGE)
    store.add(
        [CALCIUM, replace(CALCIUM, product="Potash solution"), StockChange("Calcium solution", T, -1.0)]
    )
    undone = store.undo_last()
    assert undone is not None
    assert (undone.act, len(undone.gone), undone.restored) == ("add", 3, ())
    assert store.records() == Records(gauge=(replace(GAUGE, id=1),))
    assert store.undo_last() is not None
    assert store.records() == Records()
    assert store.undo_last() is None


def test_undo_does_not_touch_what_the_service_keeps(store: Store) -> None:
    store.add_run(RUN)
    store.add_archive([ArchivedHour(T.replace(minute=0), 1.0)])
    store.mark_done("night", T)
    assert store.undo_last() is not None
    assert len(store.records().archive) == 1
    assert store.done("night") is not None


def test_an_id_is_never_used_again(store: Store) -> None:
    store.add_run(RUN)
    store.undo_last()
    assert store.add_run(RUN).id == 2


def test_two_equal_records_of_a_file_are_both_imported_and_neither_a_second_time(store: Store) -> None:
    file = Records(
        stock=(StockChange("Calcium solution", T, 946.0), StockChange("Calcium solution", T, 946.0))
    )
    assert store.import_records(file).added["stock"] == 2
    assert store.import_records(file).skipped["stock"] == 2
    assert len(store.records().stock) == 2


def test_an_import_with_one_unsound_record_changes_nothing(store: Store) -> None:
    with pytest.raises(RecordsError, match="0 to 2,000"):
        store.import_records(Records(runs=(RUN,), gauge=(GaugeReading(T, -1.0),)))
    assert store.records() == Records()


def test_export_of_one_store_fills_another_with_the_same(store: Store) -> None:
    demo = records_from_json(shipped("data", "demo_records.json").read_text(encoding="utf-8"))
    store.import_records(demo)
    with open_store(None) as other:
        other.import_records(records_from_json(records_to_json(store.records())))
        assert other.records() == store.records()


def test_advice_is_kept_with_its_digest_and_the_newest_comes_first(store: Store) -> None:
    night = date(2026, 6, 17)
    first = store.keep_advice('{"a": 1}', site="Larkmoor Lane", night=night, given_at=T, digest="d1")
    later = store.keep_advice(
        "{}", site="Larkmoor Lane", night=night, given_at=T + timedelta(hours=9), digest="d2"
    )
    store.keep_advice("{}", site="Elsewhere", night=night + DAY, given_at=T + DAY, digest="d3")
    assert store.last_advice("Larkmoor Lane") == later
    assert store.advice_list("Larkmoor Lane") == (later, first)
    assert store.advice_list("Larkmoor Lane", since=T + DAY) == ()
    assert store.last_advice("Larkmoor Lane", night=night + DAY) is None
    assert store.last_advice("Nowhere") is None


def test_a_key_is_marked_done_once_and_says_whether_it_was_new(store: Store) -> None:
    assert store.mark_done("night:2026-06-17", T, {"runs": 2})
    assert not store.mark_done("night:2026-06-17", T + DAY, {"runs": 9})
    event = store.done("night:2026-06-17")
    assert event is not None
    assert (event.at, event.payload) == (T, {"runs": 2})
    assert store.done("night:2026-06-18") is None


def test_of_many_that_mark_one_key_at_the_same_moment_one_is_first(tmp_path: Path) -> None:
    path = tmp_path / "lawn.db"
    open_store(path).close()
    wins: list[bool] = []

    def race() -> None:
        with open_store(path) as store:
            wins.append(store.mark_done("message", T))

    threads = [threading.Thread(target=race) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(wins) == [False] * 5 + [True]


def test_a_throwaway_store_can_be_used_by_many_threads_at_once() -> None:
    with open_store(None) as store:
        wins: list[bool] = []

        def work() -> None:
            for _ in range(20):
                store.add_run(RUN)
                store.records()
            wins.append(store.mark_done("message", T))

        threads = [threading.Thread(target=work) for _ in range(4)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert sorted(wins) == [False] * 3 + [True]
        assert len(store.records().runs) == 80


def test_events_are_found_by_the_beginning_of_their_key_taken_literally(store: Store) -> None:
    for count, key in enumerate(["a_1", "ab1", "a_2", "b"]):
        store.mark_done(key, T + count * DAY)
    assert [event.key for event in store.events("a_")] == ["a_1", "a_2"]
    assert [event.key for event in store.events(since=T + 2 * DAY)] == ["a_2", "b"]


def test_a_backup_is_whole_and_stands_alone(store: Store, tmp_path: Path) -> None:
    store.add_run(RUN)
    target = tmp_path / "backups" / "lawn.db"
    for _ in range(2):
        made = store.backup(target)
        assert (made.path, made.counts["runs"], made.sha256) == (target, 1, digest(target))
    assert [path.name for path in target.parent.iterdir()] == ["lawn.db"]
    with open_store(target, create=False) as copy:
        assert copy.records() == store.records()


def test_a_backup_that_cannot_be_made_is_a_sentence(store: Store, tmp_path: Path) -> None:
    assert store.path is not None
    with pytest.raises(RecordsError, match="the records file itself"):
        store.backup(store.path)
    (tmp_path / "file").write_text("")
    with pytest.raises(RecordsError, match="cannot be written"):
        store.backup(tmp_path / "file" / "copy.db")
    with open_store(None) as memory, pytest.raises(RecordsError, match="in memory"):
        memory.backup(tmp_path / "copy.db")


@pytest.mark.parametrize("content", [b"site: Larkmoor Lane\n" * 100, os.urandom(8192)], ids=["text", "noise"])
def test_a_file_that_is_no_database_is_told_and_left_alone(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "lawn.db"
    path.write_bytes(content)
    with pytest.raises(RecordsError, match="is not a file of records"):
        open_store(path)
    assert path.read_bytes() == content


def test_another_database_is_told_and_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "other.db"
    other = sqlite3.connect(path)
    other.execute("CREATE TABLE walks (a)")
    other.close()
    with pytest.raises(RecordsError, match="a database but not one of records"):
        open_store(path)


def test_a_damaged_file_is_told(tmp_path: Path) -> None:
    path = tmp_path / "lawn.db"
    with open_store(path) as store:
        store.add_runs([RUN] * 2000)
    whole = path.read_bytes()
    path.write_bytes(whole[:8192] + b"\xff" * (len(whole) - 8192))
    with pytest.raises(RecordsError, match="damaged"), open_store(path) as store:
        store.records()


def test_a_locked_file_is_told_and_can_be_used_again_afterwards(tmp_path: Path) -> None:
    path = tmp_path / "lawn.db"
    open_store(path).close()
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with open_store(path, wait_s=0.02) as store:
        with pytest.raises(RecordsError, match="locked by another program"):
            store.add_run(RUN)
        assert store.records() == Records()
        other.execute("ROLLBACK")
        other.close()
        assert store.add_run(RUN).id == 1


def test_a_full_disk_is_told_and_what_was_kept_before_is_whole(tmp_path: Path) -> None:
    path = tmp_path / "lawn.db"
    with open_store(path) as store:
        store.add_run(RUN)
        with store._engine.connect() as connection:
            connection.exec_driver_sql("PRAGMA max_page_count = 40")
        with pytest.raises(RecordsError, match=r"disk that holds the records .* is full"):
            store.add_runs([replace(RUN, note="x" * 1000)] * 1000)
        assert store.records() == Records(runs=(replace(RUN, id=1),))
        assert store.check() == []


@contextmanager
def _as_nobody() -> Iterator[None]:
    """Without the rights of root, who may write everywhere."""
    was = os.geteuid()
    if was == 0:
        os.seteuid(65534)
    try:
        yield
    finally:
        os.seteuid(was)


@pytest.fixture
def read_only_folder() -> Iterator[Path]:
    folder = Path(tempfile.mkdtemp())
    with open_store(folder / "lawn.db") as store:
        store.add_run(RUN)
    (folder / "lawn.db").chmod(stat.S_IRUSR | stat.S_IRGRP | stat.S_IROTH)
    folder.chmod(0o555)
    yield folder
    folder.chmod(0o755)
    for path in folder.iterdir():
        path.unlink()
    folder.rmdir()


def test_records_in_a_read_only_folder_are_read_and_every_write_says_why_it_cannot_be(
    read_only_folder: Path,
) -> None:
    with _as_nobody(), open_store(read_only_folder / "lawn.db") as store:
        assert store.records() == Records(runs=(replace(RUN, id=1),))
        with pytest.raises(
            RecordsError, match=r"the file or its folder is read-only.*nothing of this entry was written"
        ):
            store.add_run(RUN)
        found = store.in_the_way()
        assert found is not None
        assert found.fault is RecordsFault.READ_ONLY
    with open_store(read_only_folder / "lawn.db") as store:
        assert len(store.records().runs) == 1


@pytest.mark.parametrize("name", ["new.db", "new/lawn.db"])
def test_a_read_only_folder_is_told(read_only_folder: Path, name: str) -> None:
    path = read_only_folder / name
    with (
        _as_nobody(),
        pytest.raises(RecordsError, match=r"read-only|may not be written|cannot be made") as told,
    ):
        open_store(path)
    assert str(read_only_folder) in str(told.value)
    assert "set another place" in str(told.value)


def test_a_folder_in_the_place_of_the_file_is_told(tmp_path: Path) -> None:
    with pytest.raises(RecordsError, match="a folder bears that name"):
        open_store(tmp_path)


def test_a_throwaway_store_begins_with_its_seed_which_cannot_be_undone() -> None:
    demo = records_from_json(shipped("data", "demo_records.json").read_text(encoding="utf-8"))
    with open_store(None, seed=demo) as store:
        assert store.records() == demo
        assert store.path is None
        assert store.undo_last() is None
