"""Servers on loopback that take messages, and that fail when told to: a webhook and a mail server with TLS."""

from __future__ import annotations

import json
import socket
import ssl
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from email import message_from_bytes
from email.message import Message
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any, Self

import trustme
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP


@dataclass
class Post:
    """One request as it came in."""

    key: str
    body: bytes
    headers: dict[str, str]

    @property
    def json(self) -> dict[str, Any]:
        """The body, read."""
        found: dict[str, Any] = json.loads(self.body)
        return found


class Hook:
    """A webhook that honours Idempotency-Key: what it took under a key it does not take again.

    `behave` lists what to do, one request after the other, the last for ever: "well", "503", "redirect",
    "loses the answer" (takes the message, then hangs up without a word), "hangs up" (takes nothing) or
    "hangs" (says nothing for long).
    """

    def __init__(self) -> None:
        self.posts: list[Post] = []
        self.taken: dict[str, Post] = {}
        self.plan = ["well"]
        self.asked, self.stopped = threading.Event(), threading.Event()
        owner = self

        class Handler(BaseHTTPRequestHandler):
            def do_POST(self) -> None:
                body = self.rfile.read(int(self.headers["Content-Length"]))
                headers = {name.lower(): value for name, value in self.headers.items()}
                post = Post(headers.get("idempotency-key", ""), body, headers)
                owner.posts.append(post)
                owner.asked.set()
                act = owner.plan.pop(0) if len(owner.plan) > 1 else owner.plan[0]
                if act in ("well", "loses the answer"):
                    owner.taken.setdefault(post.key, post)
                if act == "hangs":
                    owner.stopped.wait(30)
                if act in ("loses the answer", "hangs up", "hangs"):
                    self.close_connection = True
                    return
                status = {"well": 200, "503": 503, "redirect": 302}[act]
                self.send_response(status)
                if act == "redirect":
                    self.send_header("Location", f"{owner.url}/elsewhere")
                self.send_header("Content-Length", "0")
                self.end_headers()

            def log_message(self, *args: object) -> None:
                """Say nothing."""

        self._http = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self._http.daemon_threads = True
        self.url = f"http://127.0.0.1:{self._http.server_address[1]}"

    def behave(self, *acts: str) -> None:
        """Behave so from now on."""
        self.plan = list(acts)

    def __enter__(self) -> Self:
        threading.Thread(target=self._http.serve_forever, args=(0.02,), daemon=True).start()
        return self

    def __exit__(self, *args: object) -> None:
        self.stopped.set()
        self._http.shutdown()
        self._http.server_close()


@dataclass
class Mailbox:
    """A mail server's takings. `refuse` makes it answer so to every message; "" takes them."""

    port: int = 0
    refuse: str = ""
    mails: list[Message] = field(default_factory=list)
    logins: list[tuple[str, str]] = field(default_factory=list)
    secure: list[bool] = field(default_factory=list)

    async def handle_DATA(self, server: SMTP, session: Any, envelope: Any) -> str:
        if self.refuse:
            return self.refuse
        self.secure.append(server.transport.get_extra_info("sslcontext") is not None)
        self.mails.append(message_from_bytes(envelope.content))
        return "250 taken"


def authority(folder: Path) -> tuple[Path, ssl.SSLContext]:
    """A certificate authority made on the spot: its file, and a server's context for localhost."""
    made = trustme.CA()
    file = folder / "authority.pem"
    made.cert_pem.write_to_path(str(file))
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    made.issue_cert("localhost").configure_cert(context)
    return file, context


def free_port() -> int:
    """A port on loopback that nothing listens on just now."""
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


@contextmanager
def mail_server(context: ssl.SSLContext | None, *, security: str, password: str = "") -> Iterator[Mailbox]:
    """A mail server on localhost: "starttls", "tls" or "plain"; with a password it asks for a login."""
    from aiosmtpd.smtp import AuthResult

    box = Mailbox()

    def check(server: Any, session: Any, envelope: Any, mechanism: str, data: Any) -> AuthResult:
        found = (data.login.decode(), data.password.decode())
        box.logins.append(found)
        right = found[1] == password
        return AuthResult(success=right, handled=right)

    more: dict[str, Any] = {"authenticator": check, "auth_required": True} if password else {}
    if security == "starttls":
        more |= {"tls_context": context, "require_starttls": True}
    if security == "tls":
        more |= {"ssl_context": context, "auth_require_tls": False, "auth_required": False}
    box.port = free_port()
    controller = Controller(box, hostname="localhost", port=box.port, **more)
    controller.start()
    try:
        yield box
    finally:
        controller.stop()
