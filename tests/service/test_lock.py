"""One service for one records file, by whatever name it is called."""

from __future__ import annotations

from pathlib import Path

import pytest

from advisor.errors import RecordsError
from advisor.service.lock import is_served, lock_records


def test_the_second_to_ask_is_told_who_has_it_until_the_first_lets_go(tmp_path: Path) -> None:
    records = tmp_path / "lawn.sqlite"
    assert not is_served(records)
    first = lock_records(records)
    assert is_served(records)
    with pytest.raises(
        RecordsError, match=r"another advisor already serves .*lawn.sqlite \(process [0-9]+\)"
    ):
        lock_records(records)
    first.close()
    first.close()
    assert not is_served(records)
    lock_records(records).close()


def test_another_name_for_the_same_records_is_the_same_lock(tmp_path: Path) -> None:
    (tmp_path / "lawn.sqlite").write_bytes(b"")
    (tmp_path / "elsewhere").mkdir()
    other = tmp_path / "elsewhere" / "link.sqlite"
    other.symlink_to(tmp_path / "lawn.sqlite")
    lock = lock_records(tmp_path / "lawn.sqlite")
    with pytest.raises(RecordsError, match="already serves"):
        lock_records(other)
    lock.close()


def test_a_glance_at_whether_it_is_served_keeps_nobody_out(tmp_path: Path) -> None:
    records = tmp_path / "lawn.sqlite"
    lock_records(records).close()
    assert not is_served(records)
    lock_records(records).close()
