"""Rounds of a service that dies or meets a full disk, each in a process of its own, and what must hold afterwards."""

from __future__ import annotations

import json
import os
import secrets
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path
from typing import Any

from service.loopback import Hook
from service.made_service import applied, at, service_site

from advisor.advice.advice import Advice
from advisor.lawn.records import GaugeReading
from advisor.store import open_store

PROGRAM = Path(__file__).with_name("dying_service.py")
SIGNING = secrets.token_hex(16)


class Rounds:
    """Talks to the forking process."""

    def __init__(self) -> None:
        path = os.pathsep.join([str(PROGRAM.parents[1]), *os.environ.get("PYTHONPATH", "").split(os.pathsep)])
        environment = {**os.environ, "PYTHONPATH": path, "OPENBLAS_NUM_THREADS": "1"}
        self._process = subprocess.Popen(
            [sys.executable, str(PROGRAM)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env=environment,
            text=True,
        )

    def run(self, folder: Path, hook: Hook, now: Any, **order: Any) -> tuple[int, list[str]]:
        """One round in a process of its own: how it ended and what it told."""
        row = {"folder": str(folder), "hook": hook.url, "signing": SIGNING, "now": now.isoformat(), **order}
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write(json.dumps(row) + "\n")
        self._process.stdin.flush()
        answer = json.loads(self._process.stdout.readline())
        return answer["status"], answer["told"]

    def close(self) -> None:
        self._process.communicate()


def enter_records(folder: Path) -> None:
    with open_store(service_site(folder).records_path) as store:
        store.add_application(applied(at("2026-06-17T09:00")))
        store.add_gauge(GaugeReading(at("2026-06-17T08:00"), 1.0))


def sound(folder: Path, *, nights: int) -> None:
    """Nothing that was entered is lost, no advice is doubled, the file is whole."""
    path = service_site(folder).records_path
    with open_store(path) as store:
        assert store.check() == []
        records = store.records()
        assert (len(records.applications), len(records.gauge)) == (1, 1)
        assert len({hour.starts_at for hour in records.archive}) == len(records.archive)
        advices = store.advice_list("Larkmoor Lane")
        assert [advice.night.day for advice in advices] == list(range(16 + nights, 16, -1))
        for advice in advices:
            Advice.model_validate_json(advice.advice_json)
            assert store.done(f"advice:Larkmoor Lane:{advice.night}") is not None
            assert store.done(f"sent:advice:Larkmoor Lane:{advice.night}:webhook") is not None
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
