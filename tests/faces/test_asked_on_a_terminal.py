"""Where somebody sits at the terminal, what is unlikely or not written yet is asked, in a process of its own."""

from __future__ import annotations

import os
import pty
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from advisor.shipped import shipped
from advisor.store import open_store

CODE = "import sys; sys.argv[0] = 'advisor'; from advisor.faces.cli.main import main; main()"
DEMO = shipped("data", "demo_records.json")


def typed(folder: Path, *words: str, answer: str) -> tuple[int, str]:
    """The exit code and what was shown of a command on a terminal, where `answer` is typed."""
    ours, theirs = pty.openpty()
    at = ["--site", str(folder / "site.yaml"), "--now", "2026-06-17T20:15"]
    with subprocess.Popen(
        [sys.executable, "-c", CODE, *words, *at], stdin=theirs, stdout=theirs, stderr=theirs
    ) as asked:
        os.close(theirs)
        os.write(ours, f"{answer}\n".encode())
        shown = b""
        while True:
            try:
                part = os.read(ours, 4096)
            except OSError:  # the other side is closed
                break
            if not part:
                break
            shown += part
        code = asked.wait(30)
    os.close(ours)
    return code, shown.decode()


@pytest.fixture
def lawn(tmp_path: Path) -> Path:
    shutil.copy(shipped("config", "demo.yaml"), tmp_path / "site.yaml")
    return tmp_path


@pytest.mark.parametrize(("answer", "readings"), [("y", 3), ("n", 0)])
def test_an_import_is_shown_and_written_where_the_answer_is_yes(
    lawn: Path, answer: str, readings: int
) -> None:
    code, shown = typed(lawn, "records", "import", str(DEMO), answer=answer)
    assert code == 0
    assert "It would import 6 applications" in shown
    assert "Write it?" in shown
    if not readings:
        assert not (lawn / "larkmoor-lane.sqlite").exists()
        return
    assert "Imported 6 applications" in shown
    with open_store(lawn / "larkmoor-lane.sqlite") as store:
        assert len(store.records().gauge) == readings


@pytest.mark.parametrize(("answer", "code", "readings"), [("y", 0, 1), ("n", 1, 0)])
def test_what_is_unlikely_is_recorded_where_it_is_so(
    lawn: Path, answer: str, code: int, readings: int
) -> None:
    ended, shown = typed(lawn, "record", "rain", "600 mm", answer=answer)
    assert ended == code
    assert "so much rain is likely a slip" in shown
    assert "Is it so?" in shown
    assert ("Nothing was written." in shown) == (answer == "n")
    with open_store(lawn / "larkmoor-lane.sqlite") as store:
        assert len(store.records().gauge) == readings
