"""A line to a server that is cut when its time is over, so that a server that drips cannot hold us.

No time-out of a socket bounds a server that says a letter now and then. So what is asked is asked on a thread
of its own, and when the time is over its connections are ended from outside: whoever waits goes on at once, and
neither the thread nor a descriptor stays behind.
"""

from __future__ import annotations

import os
import socket
import threading
from collections.abc import Callable
from contextlib import suppress
from typing import TypeVar

T = TypeVar("T")
END_S = 2.0
"""How long a line that was cut is waited for; only the look-up of a name takes longer, and then ends by itself."""


class Failed(Exception):
    """An exchange that came to nothing, in one clause; `again` is how often another try may help."""

    def __init__(self, reason: str, *, again: int = 0) -> None:
        self.again = again
        super().__init__(reason)


class Line:
    """The connections of an exchange, so that it can be cut from outside."""

    def __init__(self) -> None:
        self.is_cut = threading.Event()
        self._held: list[socket.socket] = []
        self._lock = threading.Lock()

    def hold(self, connection: socket.socket) -> None:
        """Keep a second handle on a connection: the first is given away where it is encrypted."""
        handle = socket.socket(fileno=os.dup(connection.fileno()))
        with self._lock:
            self._held.append(handle)
        if self.is_cut.is_set():
            self.cut()

    def cut(self) -> None:
        """End every connection; whoever reads from one reads its end."""
        self.is_cut.set()
        with self._lock:
            for one in self._held:
                with suppress(OSError):
                    one.shutdown(socket.SHUT_RDWR)

    def let_go(self) -> None:
        """Close the handles."""
        with self._lock:
            for one in self._held:
                one.close()
            self._held.clear()


def within(total_s: float, act: Callable[[Line], T]) -> T:
    """What `act` returns or raises; Failed where it has not ended after `total_s`, and its line is cut."""
    line = Line()
    box: list[tuple[T, None] | tuple[None, BaseException]] = []

    def run() -> None:
        try:
            box.append((act(line), None))
        except BaseException as problem:  # carried to the thread that waits, which raises it
            box.append((None, problem))
        finally:
            line.let_go()

    worker = threading.Thread(target=run, daemon=True, name="exchange")
    worker.start()
    try:
        worker.join(total_s)
    finally:
        if not box:
            line.cut()
    if line.is_cut.is_set():
        worker.join(END_S)
        raise Failed(f"no whole answer within {total_s:g} s")
    worker.join()
    found, problem = box[0]
    if problem is not None:
        raise problem
    return found  # type: ignore[return-value]
