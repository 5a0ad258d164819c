"""A process that dies in the middle of a write leaves records that are whole: before it or after it."""

from __future__ import annotations

import json
import signal
import sqlite3
import subprocess
import sys
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from advisor.errors import RecordsError
from advisor.lawn.records import Application, GaugeReading, Records
from advisor.store import Store, open_store

T = datetime(2026, 6, 1, 12, 0, tzinfo=UTC)
WRITER = Path(__file__).with_name("dying_writer.py")


def _state(store: Store) -> tuple[Any, ...]:
    with closing(sqlite3.connect(str(store.path))) as connection:
        journal = connection.execute("SELECT act, entry FROM journal ORDER BY id").fetchall()
    kept = [(a.digest, a.advice_json) for a in store.advice_list("Larkmoor Lane")]
    return store.records(), journal, kept, [event.key for event in store.events()]


def _before(path: Path) -> tuple[Any, ...]:
    with open_store(path) as store:
        store.add_application(Application("Weed spray", ("Front", "Back"), T, T))
        store.add_gauge(GaugeReading(T, 5.0))
        return _state(store)


def _die(path: Path, act: str, point: str) -> int:
    return subprocess.run([sys.executable, str(WRITER), str(path), act, point], check=False).returncode


@pytest.mark.parametrize("act", ["add", "edit", "remove", "undo", "import", "archive", "advice", "mark"])
def test_killed_inside_the_transaction_nothing_of_it_is_kept_and_nothing_else_is_lost(
    tmp_path: Path, act: str
) -> None:
    path = tmp_path / "lawn.db"
    before = _before(path)
    assert _die(path, act, f"{act}: written") == -signal.SIGKILL
    with open_store(path) as store:
        assert _state(store) == before
        assert store.check() == []
        store.add_gauge(GaugeReading(T.replace(day=2), 1.0))


@pytest.mark.parametrize("act", ["add", "mark"])
def test_killed_right_after_the_transaction_all_of_it_is_kept(tmp_path: Path, act: str) -> None:
    path = tmp_path / "lawn.db"
    before = _before(path)
    assert _die(path, act, f"{act}: kept") == -signal.SIGKILL
    with open_store(path) as store:
        after = _state(store)
        assert store.check() == []
        if act == "add":
            assert len(after[0].applications) == len(before[0].applications) + 2
            assert len(after[0].stock) == 1
            assert json.loads(after[1][-1][1])["added"] == {"applications": [2, 3], "stock": [1]}
        else:
            assert not store.mark_done("night", T)


def test_many_that_open_a_new_file_at_the_same_moment_make_one_and_all_write_to_it(tmp_path: Path) -> None:
    path = tmp_path / "new" / "lawn.db"
    writers = [subprocess.Popen([sys.executable, str(WRITER), str(path), "add", "none"]) for _ in range(4)]
    assert [writer.wait() for writer in writers] == [0] * 4
    with open_store(path) as store:
        assert len(store.records().applications) == 8
        assert store.check() == []


def test_a_file_that_may_not_grow_is_told_and_stays_whole(tmp_path: Path) -> None:
    """The disk says no for real: the size a file may have is limited for the writing process."""
    path = tmp_path / "lawn.db"
    before = _before(path)
    code = (
        "import resource, signal, sys; from pathlib import Path; sys.argv = ['x', '', '', ''];"
        f"sys.path.insert(0, {str(WRITER.parent)!r}); from dying_writer import act;"
        "from advisor.store import open_store; from advisor.errors import RecordsError;"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN);"
        f"store = open_store(Path({str(path)!r}));"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (40_000, 40_000))\n"
        "try:\n    act(store, 'import')\n"
        "except RecordsError as error:\n    print(error)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert f"the disk that holds the records {path}" in done.stdout
    assert "nothing of this entry was written" in done.stdout
    with open_store(path) as store:
        assert _state(store) == before
        assert store.check() == []


def test_an_error_in_the_middle_of_a_write_takes_the_whole_write_back(tmp_path: Path) -> None:
    def fault(point: str) -> None:
        if point == "add: written":
            raise RecordsError("the cable was pulled")

    with open_store(tmp_path / "lawn.db", fault=fault) as store:
        with pytest.raises(RecordsError, match="cable"):
            store.add_gauge(GaugeReading(T, 5.0))
        assert store.records() == Records()
        assert store.undo_last() is None
