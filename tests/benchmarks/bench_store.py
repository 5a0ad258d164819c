"""How long the store takes with 10,000 records of each kind, against plain sqlite3 reading the same rows.

Run it: python tests/benchmarks/bench_store.py
"""

from __future__ import annotations

import sqlite3
import tempfile
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import median
from time import perf_counter

from advisor.lawn.record_fields import KINDS, gathered
from advisor.lawn.records import (
    Application,
    ArchivedHour,
    Audit,
    GaugeReading,
    ProbeReading,
    RainPair,
    Record,
    Run,
    StockChange,
)
from advisor.store import open_store

COUNT = 10_000
NOW = datetime(2026, 6, 17, tzinfo=UTC)


def many() -> list[Record]:
    """10,000 records of each kind, one of each an hour, back from now."""
    found: list[Record] = []
    for back in range(COUNT):
        at = NOW - timedelta(hours=back)
        found += [
            Application("Calcium solution", ("Front", "Back"), at, at + timedelta(minutes=40), "backpack"),
            Run("Front", at, at + timedelta(minutes=18), 18.0),
            GaugeReading(at, 1.0),
            ProbeReading("Front", at, 12.0),
            Audit("Front", at, 13.2, 0.68),
            ArchivedHour(at, 0.1, 20.0, 12.0, 3.0, 1.2, 0.0, "a service"),
            RainPair(at, 12, 3.0, 4.0, 2.0, 5.0, 30),
            StockChange("Calcium solution", at, -961.1),
        ]
    return found


def timed(act: Callable[[], object], times: int = 5) -> float:
    """The median of several goes, in seconds."""
    goes = []
    for _ in range(times):
        began = perf_counter()
        act()
        goes.append(perf_counter() - began)
    return median(goes)


def plain_read(path: Path) -> None:
    """The floor: every row of every kind through sqlite3 alone, no values made of them."""
    with closing(sqlite3.connect(path)) as connection:
        for kind in KINDS:
            connection.execute(f"SELECT * FROM {kind}").fetchall()


def main() -> None:
    """Print the figures."""
    records = gathered(many())
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "lawn.db"
        with open_store(path) as store:
            filling = timed(lambda: store.import_records(records), 1)
            doubled = timed(lambda: store.import_records(records), 1)
            floor = timed(lambda: plain_read(path))
            whole = timed(store.records)
            recent = timed(lambda: store.records(since=NOW - timedelta(days=40)))
            one = timed(lambda: store.add_gauge(GaugeReading(NOW, 1.0)), 20)
            backup = timed(lambda: store.backup(Path(folder) / "backup.db"))
            check = timed(lambda: store.check(now=NOW), 1)
        opening = timed(lambda: open_store(path).close(), 20)
        size = path.stat().st_size / 1e6
    print(f"{COUNT:,} records of each of {len(KINDS)} kinds, {size:.1f} MB")
    print(f"floor: sqlite3 alone reads all rows   {floor * 1000:8.1f} ms")
    for name, seconds in (
        ("import all as one entry", filling),
        ("import again, all left out", doubled),
        ("read all", whole),
        ("read the last 40 days", recent),
        ("record one gauge reading", one),
        ("backup", backup),
        ("check", check),
        ("open a current file", opening),
    ):
        print(f"{name:<37} {seconds * 1000:8.1f} ms  {seconds / floor:6.2f} × floor")


if __name__ == "__main__":
    main()
