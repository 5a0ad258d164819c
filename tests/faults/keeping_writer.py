"""A process that starts writers of gauge readings, and kills them in the midst.

It is given the records file and reads one JSON line an order on stdin: {"firsts", "many", "kill_after_s"}. For each
number of `firsts` there is a writer, all at once: it enters `many` readings, numbered from its first on, one entry
each; "kill_after_s" after the first of them it is killed, where that is not null. The answer is the numbers that they
told as kept.
"""

from __future__ import annotations

import json
import os
import signal
import sys
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

from advisor.lawn import GaugeReading
from advisor.store import open_store

FIRST = datetime(2026, 6, 1, 8, tzinfo=UTC)


def write(path: Path, first: int, many: int, told: int) -> None:
    """Enter readings, and tell of each once it is kept."""
    with open_store(path, wait_s=60) as store:
        for n in range(first, first + many):
            store.add_gauge(GaugeReading(FIRST + timedelta(minutes=n), 1.0, note=str(n)))
            os.write(told, f"{n}\n".encode())


def started(path: Path, first: int, many: int) -> tuple[int, int]:
    """A writer: its id, and the end of the pipe to read from."""
    read, tell = os.pipe()
    child = os.fork()
    if child == 0:
        write(path, first, many, tell)
        os._exit(0)
    os.close(tell)
    return child, read


def main() -> None:
    """Fork, kill, tell."""
    open_store(None).close()  # so that the children find every module loaded
    for line in sys.stdin:
        order = json.loads(line)
        writers = [started(Path(sys.argv[1]), first, order["many"]) for first in order["firsts"]]
        said = b""
        for child, read in writers:
            if order["kill_after_s"] is not None:
                said += os.read(read, 1)
                time.sleep(order["kill_after_s"])
                os.kill(child, signal.SIGKILL)
            with os.fdopen(read, "rb") as pipe:
                said += pipe.read()
            os.waitpid(child, 0)
        print(json.dumps([int(number) for number in said.split()]), flush=True)


if __name__ == "__main__":
    main()
