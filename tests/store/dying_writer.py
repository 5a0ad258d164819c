"""Run as a program: opens a records file, does one thing to it and is killed at one fault point.

Arguments: the file, the act, the fault point. Prints nothing; ends by SIGKILL from itself.
"""

from __future__ import annotations

import os
import signal
import sys
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from advisor.lawn.records import Application, ArchivedHour, Records, Run, StockChange
from advisor.store import Store, open_store

T = datetime(2026, 6, 17, 21, 0, tzinfo=UTC)
RUN = Run("Back", T, T + timedelta(minutes=18), 18.0)
ROUND = [
    Application("Calcium solution", ("Front", "Back"), T, T),
    Application("Potash solution", ("Front", "Back"), T, T),
    StockChange("Calcium solution", T, -961.1),
]


def act(store: Store, name: str) -> None:
    """Do the one thing."""
    match name:
        case "add":
            store.add(ROUND)
        case "edit":
            store.edit("applications", 1, {"zones": ("Side",), "note": "edited"})
        case "remove":
            store.remove("applications", 1)
        case "undo":
            store.undo_last()
        case "import":
            store.import_records(Records(runs=(RUN,) * 500))
        case "archive":
            store.add_archive([ArchivedHour(T + timedelta(hours=h), 1.0) for h in range(500)])
        case "advice":
            store.keep_advice("{}", site="Larkmoor Lane", night=date(2026, 6, 17), given_at=T, digest="d")
        case "mark":
            store.mark_done("night", T)


def main() -> None:
    """Open, do, die."""
    path, name, point = sys.argv[1:]

    def fault(here: str) -> None:
        if here == point:
            os.kill(os.getpid(), signal.SIGKILL)

    with open_store(Path(path), fault=fault) as store:
        act(store, name)


if __name__ == "__main__":
    main()
