"""An invented lawn in a folder, and commands on it that meet a disk or a death of their own."""

from __future__ import annotations

import atexit
import json
import os
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

from advisor.store import Store, open_store

HERE = Path(__file__).resolve().parent
NOW = datetime(2026, 6, 17, 20, 15, tzinfo=UTC)
SITE = """
# Larkmoor Lane: an invented lawn. No such place is meant.
site: {name: Larkmoor Lane, latitude: 40.52, longitude: 0.5, elevation: 381 m, time_zone: UTC, units: metric}
zones:
  - name: Front
    area: 223 m2
    grass: tall fescue
    soil: loam
    slope: 2 %
    exposure: full sun
    head: gear rotor
    rate: {measured: 12 mm/h, on: 2026-05-02}
watering: {hours: 00:00-24:00, finish_by: window}
weather: {csv: station.csv}
records: lawn.sqlite
service: {advice_at: 20:15, backup_at: 03:30}
"""


@dataclass(frozen=True, slots=True)
class Told:
    """What a command said."""

    code: int
    out: str
    err: str

    @property
    def json(self) -> dict[str, Any]:
        """Its object."""
        found: dict[str, Any] = json.loads(self.out)
        return found


@cache
def _commands() -> subprocess.Popen[str]:
    """The process that starts commands, made when the first one is asked for."""
    path = os.pathsep.join([str(HERE.parent), *os.environ.get("PYTHONPATH", "").split(os.pathsep)])
    process = subprocess.Popen(
        [sys.executable, str(HERE / "keeping_child.py")],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        env={**os.environ, "PYTHONPATH": path, "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"},
        text=True,
    )
    atexit.register(process.communicate)
    return process


class Lawn:
    """A site in a folder; `ask` is a command on it in a process of its own."""

    def __init__(self, folder: Path, **changes: str) -> None:
        self.folder = folder
        self.records = folder / "lawn.sqlite"
        self.backups = folder / "backups"
        folder.mkdir(parents=True, exist_ok=True)
        text = SITE
        for before, after in changes.items():
            text = text.replace(before, after)
        (folder / "site.yaml").write_text(text)
        _station(folder / "station.csv")

    def ask(self, *words: str, now: datetime = NOW, **order: Any) -> Told:
        """A command as the owner types it, with what it is to meet."""
        timed = () if words[0] == "serve" else ("--now", f"{now:%Y-%m-%dT%H:%M}")
        said = {"words": [*words, "--site", str(self.folder / "site.yaml"), *timed], **order}
        process = _commands()
        assert process.stdin is not None
        assert process.stdout is not None
        process.stdin.write(json.dumps(said) + "\n")
        process.stdin.flush()
        told = Told(**json.loads(process.stdout.readline()))
        assert "Traceback" not in told.err + told.out, told
        return told

    def begin(self, nights: int = 3) -> None:
        """Records as some evenings leave them: a gauge reading, and an advice a night."""
        with open_store(self.records) as store:
            enter_rain(store, 1)
            for n in range(nights):
                enter_night(store, n)

    def count(self, table: str = "advice", *, of: Path | None = None) -> int:
        """How many rows a table of a file has, read without the program."""
        return count(of or self.records, table)

    def bytes_of_all(self) -> dict[str, bytes]:
        """Every file of the folder."""
        return {
            str(path.relative_to(self.folder)): path.read_bytes()
            for path in sorted(self.folder.rglob("*"))
            if path.is_file() and path.name not in ("station.csv", "site.yaml")
        }


def enter_night(store: Store, n: int) -> None:
    """The advice of a night of the past; no reader of ours opens it."""
    night = date(2026, 5, 1) + timedelta(days=n)
    at = datetime(2026, 5, 1, 20, 15, tzinfo=UTC) + timedelta(days=n)
    store.keep_advice("{}", site="Larkmoor Lane", night=night, given_at=at, digest=f"night {n}")


def enter_rain(store: Store, n: int) -> None:
    """A gauge reading."""
    from advisor.lawn import GaugeReading

    store.add_gauge(GaugeReading(datetime(2026, 6, 1, 8, tzinfo=UTC) + timedelta(hours=n), 1.0, note=str(n)))


def count(path: Path, table: str) -> int:
    """How many rows a table has, by SQLite alone."""
    with closing(sqlite3.connect(path)) as found:
        (number,) = found.execute(f"SELECT count(*) FROM {table}").fetchone()
    return int(number)


@contextmanager
def held(path: Path, how: str) -> Iterator[None]:
    """Another program that holds the records: "writing", or "alone", which keeps readers out too."""
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        if how == "alone":
            other.execute("PRAGMA locking_mode = EXCLUSIVE")
        other.execute("BEGIN IMMEDIATE")
        other.execute("INSERT INTO events VALUES ('another program', '2026-01-01 00:00:00.000000', '{}')")
        yield
        other.execute("ROLLBACK")


@contextmanager
def rights(path: Path, mode: int) -> Iterator[None]:
    """A file or folder with other rights for a while."""
    before = path.stat().st_mode
    path.chmod(mode)
    try:
        yield
    finally:
        path.chmod(before)


@contextmanager
def small_disk(place: Path, size: str = "1m") -> Iterator[bool]:
    """A disk of its own at `place`; False where this machine does not let us make one."""
    place.mkdir(parents=True, exist_ok=True)
    made = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(place)], capture_output=True, check=False
    )
    try:
        yield made.returncode == 0
    finally:
        if made.returncode == 0:
            subprocess.run(["umount", str(place)], check=True)


def _station(path: Path) -> None:
    """An invented station's hours, 31 days back and 10 ahead."""
    first = NOW.replace(minute=0) - timedelta(days=31)
    rows = ["time,temp_c,rh_pct,wind2_m_s,rs_w_m2,rain_mm"]
    for n in range(41 * 24):
        when = first + timedelta(hours=n)
        sun = max(0.0, 1.0 - abs(when.hour - 12) / 6)
        rows.append(f"{when:%Y-%m-%dT%H:%M}Z,{18 + 8 * sun:.1f},55,2.0,{700 * sun:.0f},0.0")
    path.write_text("\n".join(rows) + "\n")
