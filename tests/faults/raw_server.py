"""A server on loopback that says exactly the bytes that it is given, and as slowly as it is told to."""

from __future__ import annotations

import socket
import threading
from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress
from typing import Self

Act = Callable[[socket.socket, threading.Event], None]
"""What is done with a connection whose request has been read; the event is set when the server ends."""


class RawServer:
    """Reads each request and does `act` with its connection, or that of `by_path` whose path it begins with.

    `asked` holds the first lines of the requests. With `speaks_first` it waits for none.
    """

    def __init__(
        self, act: Act, by_path: Mapping[str, Act] | None = None, *, speaks_first: bool = False
    ) -> None:
        self.act, self.by_path, self.speaks_first = act, dict(by_path or {}), speaks_first
        self.asked: list[str] = []
        self.stopped = threading.Event()
        self._listening = socket.create_server(("127.0.0.1", 0))
        self._open: list[socket.socket] = []
        self.url = f"http://127.0.0.1:{self._listening.getsockname()[1]}"

    def __enter__(self) -> Self:
        threading.Thread(target=self._accept, daemon=True, name="raw-server").start()
        return self

    def __exit__(self, *_: object) -> None:
        self.stopped.set()
        for one in (self._listening, *self._open):
            with suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)
            one.close()

    def _accept(self) -> None:
        while not self.stopped.is_set():
            try:
                connection, _ = self._listening.accept()
            except OSError:
                return
            self._open.append(connection)
            threading.Thread(target=self._serve, args=(connection,), daemon=True, name="raw-server").start()

    def _serve(self, connection: socket.socket) -> None:
        with connection, suppress(OSError):
            asked = b""
            while not self.speaks_first and b"\r\n\r\n" not in asked and (more := connection.recv(65536)):
                asked += more
            self.asked.append(asked.partition(b"\r\n")[0].decode("latin-1"))
            path = asked.split(b" ")[1].decode("latin-1") if b" " in asked else ""
            act = next((act for prefix, act in self.by_path.items() if path.startswith(prefix)), self.act)
            act(connection, self.stopped)
            connection.shutdown(socket.SHUT_WR)
            while connection.recv(65536):
                pass


def says(status: int, body: bytes = b"", *headers: str) -> Act:
    """One whole answer of JSON."""
    head = [f"HTTP/1.1 {status} Said", "Content-Type: application/json", *headers]
    if not any(line.lower().startswith(("content-length", "transfer-encoding")) for line in headers):
        head.append(f"Content-Length: {len(body)}")
    whole = "\r\n".join([*head, "Connection: close", "", ""]).encode() + body
    return lambda connection, _: connection.sendall(whole)


def says_nothing(connection: socket.socket, stopped: threading.Event) -> None:
    """Hangs up."""


def redirects(location: str) -> Act:
    """A redirect to this address."""
    return says(302, b"", f"Location: {location}")


def drips(head: bytes, drop: bytes, every_s: float) -> Act:
    """`head` at once, then `drop` again and again."""

    def act(connection: socket.socket, stopped: threading.Event) -> None:
        connection.sendall(head)
        while not stopped.wait(every_s):
            connection.sendall(drop)

    return act


def floods(head: bytes, pieces: Iterable[bytes]) -> Act:
    """`head`, then the pieces as fast as they are taken."""

    def act(connection: socket.socket, stopped: threading.Event) -> None:
        connection.sendall(head)
        for piece in pieces:
            if stopped.is_set():
                return
            connection.sendall(piece)

    return act
