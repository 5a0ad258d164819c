"""The address at which monitors ask how the service is, and nobody else learns anything.

It listens on 127.0.0.1 alone. Whoever asks by a name that is not this computer's own or a declared one is
turned away (a page in a browser may have given itself our address), and whoever comes through a gate is told
only whether all is well. A client that is slow, or one of too many, is hung up on: the advice does not wait.
"""

from __future__ import annotations

import json
import logging
import re
import socket
import sys
import threading
import time
from collections.abc import Callable, Collection
from contextlib import suppress
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any, Self

from advisor.advice import HEALTH_SCHEMA, ServiceHealth
from advisor.errors import AdvisorError, InputError
from advisor.service.logs import say

OWN_NAMES = frozenset({"localhost", "127.0.0.1", "::1"})
HOST = re.compile(r"(\[[0-9A-Fa-f:.]+\]|[A-Za-z0-9._-]+)(?::[0-9]{0,5})?")
THROUGH_A_GATE = ("Forwarded", "X-Forwarded-For", "X-Forwarded-Host", "X-Real-IP", "Via")
MOST_OPEN = 32
SLOWEST_S = 5.0
"""How long a client may take for its whole question and answer."""
HANG_UPS_TOLD_EVERY_S = 60.0
NOT_FOR_STRANGERS = "something is wrong; `advisor status` says what"


class HealthServer:
    """Answers GET and HEAD of / with 200 when all is well, 503 with the reason when not; JSON both times.

    `names` are those, beside this computer's own, under which the address may be asked.
    """

    def __init__(self, port: int, ask: Callable[[], ServiceHealth], names: Collection[str] = ()) -> None:
        one_at_a_time = threading.Lock()
        declared = frozenset(name.casefold() for name in names)

        class Handler(_Handler):
            timeout = SLOWEST_S

            def told(self, *, bare: bool) -> tuple[int, bytes]:
                if not one_at_a_time.acquire(timeout=SLOWEST_S):
                    return 503, _refusal("the records keep it waiting")
                try:
                    return _told(ask, bare=bare)
                finally:
                    one_at_a_time.release()

        Handler.declared = declared
        try:
            self._http = _Server(("127.0.0.1", port), Handler)
        except OSError as error:
            raise InputError(
                f"the health address cannot be had ({(error.strerror or 'refused').lower()})",
                where="service.health_port",
                found=str(port),
                allowed="a port that nothing else uses",
            ) from None
        self.port: int = self._http.server_address[1]

    def __enter__(self) -> Self:
        threading.Thread(target=self._http.serve_forever, args=(0.1,), daemon=True, name="health").start()
        return self

    def __exit__(self, *_: object) -> None:
        self._http.shutdown()
        self._http.server_close()


def _told(ask: Callable[[], ServiceHealth], *, bare: bool) -> tuple[int, bytes]:
    """The status and the body; `bare` without any fact."""
    try:
        found = ask()
    except Exception as error:
        why = str(error) if isinstance(error, AdvisorError) else type(error).__name__
        return 503, _refusal(NOT_FOR_STRANGERS if bare else why)
    if bare:
        reason = "" if found.ok else NOT_FOR_STRANGERS
        found = found.model_copy(update={"sites": (), "reason": reason})
    return (200 if found.ok else 503), found.as_json(indent=1).encode()


def _refusal(reason: str) -> bytes:
    row = {"schema_version": HEALTH_SCHEMA, "schema": HEALTH_SCHEMA, "ok": False, "reason": reason}
    return json.dumps(row, ensure_ascii=False).encode()


class _Handler(BaseHTTPRequestHandler):
    """One question."""

    server_version, sys_version = "advisor", ""
    wbufsize = -1  # head and body are sent as one
    declared: frozenset[str] = frozenset()

    def told(self, *, bare: bool) -> tuple[int, bytes]:
        """How the service is."""
        raise NotImplementedError

    def do_GET(self) -> None:
        """Tell, where the path and the name are ours."""
        hosts = self.headers.get_all("Host", [])
        if not hosts and self.request_version == "HTTP/1.0":  # a plain probe; no browser comes without
            name = "localhost"
        elif len(hosts) != 1 or (found := HOST.fullmatch(hosts[0].strip())) is None:
            self._answer(400, _refusal("the question has no Host that is understood"))
            return
        else:
            name = found[1].strip("[]").rstrip(".").casefold()
        if name not in OWN_NAMES | self.declared:
            self._answer(
                421, _refusal("asked by a name that is neither localhost nor in service.health_names")
            )
        elif self.path.partition("?")[0] != "/":
            self._answer(404, _refusal("there is nothing but /"))
        else:
            through = name not in self.declared and any(one in self.headers for one in THROUGH_A_GATE)
            self._answer(*self.told(bare=through))

    do_HEAD = do_GET

    def send_error(self, code: int, message: str | None = None, explain: str | None = None) -> None:  # noqa: ARG002
        """What is no question is told in JSON too; a method that we do not know is not allowed."""
        if code == HTTPStatus.NOT_IMPLEMENTED:
            self._read_what_came()
            self._answer(405, _refusal("only GET and HEAD are answered"), ("Allow", "GET, HEAD"))
        else:
            self._answer(code, _refusal(HTTPStatus(code).phrase.lower()))

    def _answer(self, status: int, body: bytes, *more: tuple[str, str]) -> None:
        self.send_response(status)
        for name, value in (
            ("Content-Type", "application/json"),
            ("Cache-Control", "no-store"),
            ("X-Content-Type-Options", "nosniff"),
            ("Content-Length", str(len(body))),
            ("Connection", "close"),
            *more,
        ):
            self.send_header(name, value)
        self.end_headers()
        if self.command != "HEAD":
            self.wfile.write(body)
        self.wfile.flush()

    def _read_what_came(self) -> None:
        """Take in a body that is here already: else the client's system throws our answer away."""
        length = self.headers.get("Content-Length", "")
        if length.isdecimal():
            self.connection.settimeout(0.2)
            with suppress(OSError):
                self.rfile.read(min(int(length[:9]), 65536))

    def log_message(self, *_: object) -> None:
        """Say nothing."""


class _Server(ThreadingHTTPServer):
    """Few connections at once, each for a short time; the oldest makes way for a new one."""

    daemon_threads = True
    request_queue_size = 128

    def __init__(self, *args: Any) -> None:
        self._open: dict[socket.socket, float] = {}
        self._lock = threading.Lock()
        self._hang_ups, self._told_at = 0, -HANG_UPS_TOLD_EVERY_S
        super().__init__(*args)

    def get_request(self) -> tuple[socket.socket, Any]:
        """The next connection; where none can be had for want of descriptors, after a breath."""
        try:
            return super().get_request()
        except OSError:
            time.sleep(0.1)
            raise

    def process_request(self, request: Any, client_address: Any) -> None:
        """Answer on a thread of its own; hang up on the oldest of too many."""
        with self._lock:
            self._open[request] = time.monotonic()
            for one in list(self._open)[:-MOST_OPEN]:
                self._hang_up_on(one)
        super().process_request(request, client_address)

    def service_actions(self) -> None:
        """Between two connections: hang up on those that take too long."""
        with self._lock:
            before = time.monotonic() - SLOWEST_S
            for one in [one for one, since in self._open.items() if since < before]:
                self._hang_up_on(one)

    def _hang_up_on(self, one: socket.socket) -> None:
        del self._open[one]
        with suppress(OSError):
            one.shutdown(socket.SHUT_RDWR)

    def shutdown_request(self, request: Any) -> None:
        """Forget a connection that is over."""
        with self._lock:
            self._open.pop(request, None)
        super().shutdown_request(request)

    def handle_error(self, request: Any, client_address: Any) -> None:  # noqa: ARG002
        """A client that hung up is a line in the log, once a minute; anything else is a bug."""
        error = sys.exc_info()[1]
        if not isinstance(error, OSError):
            say("failed", level=logging.ERROR, trace=error, key="health address")
            return
        with self._lock:
            self._hang_ups += 1
            if time.monotonic() - self._told_at < HANG_UPS_TOLD_EVERY_S:
                return
            self._told_at, times, self._hang_ups = time.monotonic(), self._hang_ups, 0
        say("a client of the health address hung up", times=times)
