"""A weather service on loopback that misbehaves on command.

In a test: `with BadServer() as server: server.serve("/v1/forecast", payload); server.behave("cut off")`.
Behaviours are taken in turn, the last one for ever. By hand, for trials with a real site file:

    python tests/weather/bad_server.py 8931 "503 once" /v1/forecast=FILE.json …
"""

from __future__ import annotations

import hashlib
import json
import sys
import threading
from collections import defaultdict
from collections.abc import Callable
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any, Self
from urllib.parse import urlsplit


class Handler(BaseHTTPRequestHandler):
    """One request, answered as the server was told to misbehave."""

    protocol_version = "HTTP/1.1"
    disable_nagle_algorithm = True  # head and body are sent apart: else 40 ms between them
    server: Any

    def log_message(self, *args: object) -> None:
        """Say nothing."""

    def do_GET(self) -> None:
        owner: BadServer = self.server.owner
        path = urlsplit(self.path).path
        owner.asked.append((self.path, {k.lower(): v for k, v in self.headers.items()}))
        try:
            BEHAVIOURS[owner.next_behaviour(path)](self, owner, owner.body(path))
        except (BrokenPipeError, ConnectionResetError):
            self.close_connection = True

    def answer(
        self,
        status: int,
        body: bytes,
        kind: str | None = "application/json",
        said: int | None = None,
        **extra: str,
    ) -> None:
        """Send a whole answer; `said` is a Content-Length other than the true one."""
        (self.send_response_only if "Date" in extra else self.send_response)(status)
        if kind:
            self.send_header("Content-Type", kind)
        for name, value in extra.items():
            self.send_header(name.replace("_", "-"), value)
        self.send_header("Content-Length", str(len(body) if said is None else said))
        self.end_headers()
        self.wfile.write(body)


Behaviour = Callable[[Handler, "BadServer", bytes], None]


def _well(h: Handler, s: BadServer, body: bytes) -> None:
    h.answer(200, body)


def _slow(h: Handler, s: BadServer, body: bytes) -> None:
    s.stopped.wait(20)
    h.close_connection = True


def _drips(h: Handler, s: BadServer, body: bytes) -> None:
    """A byte now and then: no read time-out ever strikes."""
    h.send_response(200)
    h.send_header("Content-Type", "application/json")
    h.send_header("Content-Length", "100000")
    h.end_headers()
    for _ in range(2000):
        h.wfile.write(b" ")
        if s.stopped.wait(0.02):
            break
    h.close_connection = True


def _cut_off(h: Handler, s: BadServer, body: bytes) -> None:
    h.answer(200, body[: len(body) // 2], said=len(body))
    h.close_connection = True


def _cut_short(h: Handler, s: BadServer, body: bytes) -> None:
    """Half a body whose length was never said: only the JSON can tell."""
    h.answer(200, body[: len(body) // 2])


def _status(status: int, reason: str, **extra: str) -> Behaviour:
    def act(h: Handler, s: BadServer, body: bytes) -> None:
        h.answer(status, json.dumps({"error": True, "reason": reason}).encode(), **extra)

    return act


def _circles(h: Handler, s: BadServer, body: bytes) -> None:
    h.answer(302, b"", Location=h.path)


def _huge(h: Handler, s: BadServer, body: bytes) -> None:
    h.send_response(200)
    h.send_header("Content-Type", "application/json")
    h.send_header("Content-Length", "100000000")
    h.end_headers()
    for _ in range(100):
        h.wfile.write(b" " * 1_000_000)


def _validated(h: Handler, s: BadServer, body: bytes) -> None:
    """With an ETag and a Last-Modified; 304 when either matches; due again at once."""
    tag, day = f'"{hashlib.sha256(body).hexdigest()[:12]}"', "Wed, 17 Jun 2026 12:00:00 GMT"
    if tag == h.headers.get("If-None-Match") or (
        "If-None-Match" not in h.headers and day == h.headers.get("If-Modified-Since")
    ):
        h.answer(304, b"", kind=None, ETag=tag, Cache_Control="max-age=0")
    else:
        h.answer(200, body, ETag=tag, Last_Modified=day, Cache_Control="max-age=0")


BEHAVIOURS: dict[str, Behaviour] = {
    "well": _well,
    "slow": _slow,
    "drips": _drips,
    "cut off": _cut_off,
    "cut short": _cut_short,
    "hangs up": lambda h, s, b: setattr(h, "close_connection", True),
    "400": _status(400, "Data corrupted at path ''. Cannot initialize Variable from invalid String value x."),
    "403": lambda h, s, b: h.answer(403, b"<html><body>403 Forbidden</body></html>", "text/html"),
    "404": _status(404, "Not Found"),
    "429": _status(429, "Minutely API request limit exceeded. Please try again in one minute."),
    "429 wait 2 s": _status(429, "Too many requests", Retry_After="2"),
    "429 wait 6 h": _status(429, "Too many requests", Retry_After="21600"),
    "429 wait nonsense": _status(429, "Too many requests", Retry_After="soon"),
    "500": _status(500, "Something went wrong."),
    "503": _status(503, "The service is overloaded"),
    "wrong type": lambda h, s, b: h.answer(200, b, "image/png"),
    "no type": lambda h, s, b: h.answer(200, b, None),
    "html": lambda h, s, b: h.answer(200, b"<!doctype html><p>Maintenance</p>", "text/html"),
    "html as json": lambda h, s, b: h.answer(200, b"<!doctype html><p>Maintenance</p>"),
    "circles": _circles,
    "huge": _huge,
    "empty": lambda h, s, b: h.answer(200, b""),
    "wrong shape": lambda h, s, b: h.answer(200, b'{"weather": "fine"}'),
    "a list of numbers": lambda h, s, b: h.answer(200, b"[1, 2, 3]"),
    "bare NaN": lambda h, s, b: h.answer(200, b'{"latitude": NaN}'),
    "deep": lambda h, s, b: h.answer(200, b"[" * 200_000),
    "not UTF-8": lambda h, s, b: h.answer(200, b'{"a": "\xff\xfe\xff"}'),
    "bad gzip": lambda h, s, b: h.answer(200, b"not gzip at all", Content_Encoding="gzip"),
    "error under 200": _status(200, "Something went wrong."),
    "validated": _validated,
    "fresh for 10 min": lambda h, s, b: h.answer(200, b, Cache_Control="max-age=600"),
    "expires in 30 min": lambda h, s, b: h.answer(
        200, b, Expires="Thu, 18 Jun 2026 01:30:00 GMT", Date="Thu, 18 Jun 2026 01:00:00 GMT"
    ),
}
IN_TURN = {"503 once": ("503", "well"), "429 once": ("429 wait 2 s", "well")}


class BadServer:
    """Serves JSON by path on 127.0.0.1; `asked` holds every (path with query, lower-case headers)."""

    def __init__(self, port: int = 0) -> None:
        self.asked: list[tuple[str, dict[str, str]]] = []
        self.stopped = threading.Event()
        self._bodies: dict[str, bytes] = {}
        self._plans: defaultdict[str, list[str]] = defaultdict(lambda: ["well"])
        self._lock = threading.Lock()
        self._http = ThreadingHTTPServer(("127.0.0.1", port), Handler)
        self._http.owner = self  # type: ignore[attr-defined]
        self._http.daemon_threads = True
        self._thread = threading.Thread(target=self._http.serve_forever, args=(0.02,), daemon=True)

    @property
    def url(self) -> str:
        """The root address, without a slash at the end."""
        return f"http://127.0.0.1:{self._http.server_address[1]}"

    def serve(self, path: str, payload: Any) -> str:
        """Answer `path` with this JSON from now on; returns the whole address."""
        self._bodies[path] = payload if isinstance(payload, bytes) else json.dumps(payload).encode()
        return self.url + path

    def behave(self, *behaviours: str, path: str = "") -> None:
        """Behave so, one request after the other, the last for ever; at `path` or everywhere."""
        plan = [name for b in behaviours for name in IN_TURN.get(b, (b,))]
        if unknown := [name for name in plan if name not in BEHAVIOURS]:
            raise KeyError(f"no such behaviour: {unknown}; known: {sorted(BEHAVIOURS)}")
        if not path:
            self._plans.clear()
        self._plans[path] = plan

    def next_behaviour(self, path: str) -> str:
        with self._lock:
            plan = self._plans[path if path in self._plans else ""]
            return plan.pop(0) if len(plan) > 1 else plan[0]

    def body(self, path: str) -> bytes:
        return self._bodies.get(path, b"{}")

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *args: object) -> None:
        self.stopped.set()
        self._http.shutdown()
        self._http.server_close()
        self._thread.join()


if __name__ == "__main__":
    with BadServer(int(sys.argv[1])) as by_hand:
        for pair in sys.argv[3:]:
            where, _, file = pair.partition("=")
            by_hand.serve(where, Path(file).read_bytes())
        by_hand.behave(sys.argv[2])
        print(f"{by_hand.url} behaves {sys.argv[2]!r}; Ctrl-C ends it", flush=True)
        threading.Event().wait()
