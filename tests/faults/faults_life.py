"""Faults of the service's own life: hung up on, stuck, unheard, and the watchers that should notice."""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

from faults.fault_table import ADVISOR, Seen, fault
from faults.own_lawn import lay_out
from service.loopback import Hook, free_port
from service.made_service import Sky, at, hook_channel, service_site, serving

from advisor.advice import SiteHealth
from advisor.faces.text import status_text
from advisor.service.health import site_health

SIGNING = "a signing secret of this test"
STARTED_S = 60.0
HOUR = timedelta(hours=1)


class Listener:
    """A service manager that only listens: a datagram socket, and what came in."""

    def __init__(self, folder: Path) -> None:
        self.name = str(folder / "notify")
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._socket.bind(self.name)
        self.heard: list[str] = []

    def until(self, word: str, within_s: float) -> bool:
        """Listen until a line is heard; whether it was within the time."""
        self._socket.settimeout(within_s)
        try:
            while word not in self.heard[-3:]:
                self.heard += self._socket.recv(4096).decode().split("\n")
        except TimeoutError:
            return False
        return True

    def close(self) -> None:
        self._socket.close()


@contextmanager
def served(
    folder: Path, *, hook: Hook | None = None, more: str = "", before: tuple[str, ...] = ()
) -> Iterator[tuple[subprocess.Popen[str], Listener]]:
    """`advisor serve` under a manager that listens, its evening just now; ended at the end however it stands."""
    now = datetime.now(UTC)
    messages = ""
    if hook is not None:
        messages = f"messages: {{webhook: {{url: '{hook.url}/x'}}}}\n"
    lay_out(
        folder, more=f"service: {{advice_at: '{now:%H:%M}', log: service.log{more}}}\n{messages}", now=now
    )
    listener = Listener(folder)
    told = {"NOTIFY_SOCKET": listener.name, "WATCHDOG_USEC": "1500000", "ADVISOR_WEBHOOK_SECRET": SIGNING}
    process = subprocess.Popen(
        [*before, ADVISOR, "serve", "--site", str(folder / "site.yaml")],
        env=os.environ | told,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    try:
        assert listener.until("READY=1", STARTED_S), (listener.heard, process.poll())
        yield process, listener
    finally:
        process.kill()
        process.communicate()
        listener.close()


def ended(process: subprocess.Popen[str]) -> tuple[int, str]:
    """How the service ended, and what it said on its way."""
    _, err = process.communicate(timeout=30)
    return process.returncode, err


def events(folder: Path) -> list[str]:
    """What the log tells, in order."""
    return [json.loads(line)["event"] for line in (folder / "service.log").read_text().splitlines()]


@fault("life", "the terminal hangs up on the service (SIGHUP)")
def hung_up(folder: Path, nightly: bool) -> Seen:
    """It ends as at SIGTERM; and while it lives its manager hears so, round after round."""
    with Hook() as hook, served(folder, hook=hook) as (process, manager):
        for _ in range(3):
            manager.heard.clear()
            assert manager.until("WATCHDOG=1", STARTED_S), manager.heard
        status = next(line for line in manager.heard if line.startswith("STATUS="))
        assert "Larkmoor Lane: all is well; the next advice is due " in status
        process.send_signal(signal.SIGHUP)
        assert manager.until("STOPPING=1", STARTED_S), manager.heard
        assert ended(process) == (0, "")
        assert events(folder)[-1] == "stopped"
        assert len(hook.posts) == 1
    if nightly:
        ignoring = (
            "python3",
            "-c",
            "import os,signal,sys;signal.signal(1,signal.SIG_IGN);os.execvp(sys.argv[1],sys.argv[1:])",
        )
        inner = folder / "nohup"
        inner.mkdir()
        with served(inner, before=ignoring) as (process, manager):
            process.send_signal(signal.SIGHUP)
            manager.heard.clear()
            assert manager.until("WATCHDOG=1", STARTED_S), manager.heard
            process.send_signal(signal.SIGTERM)
            assert ended(process)[0] == 0
    return Seen(owner_saw=status, tried=2 if nightly else 1)


@fault("life", "the worker is stuck in a channel that never answers")
def stuck(folder: Path, nightly: bool) -> Seen:
    """The health address and the alarm clock go on; the manager hears nothing, and so ends and starts it again."""
    with Hook() as hook:
        hook.behave("hangs")
        with served(folder, hook=hook, more=f", health_port: {free_port()}") as (process, manager):
            assert hook.asked.wait(STARTED_S)
            assert not manager.until("WATCHDOG=1", 1.5), manager.heard  # twelve ticks of the alarm clock
            assert process.poll() is None
            process.send_signal(signal.SIGABRT)  # what systemd's watchdog does
            code, said = ended(process)
            assert code == -signal.SIGABRT
            assert "channels.py" in said, said  # where it was stuck stands in the journal
        hook.behave("well")
        (folder / "notify").unlink()
        again = subprocess.run(
            [ADVISOR, "serve", "--once", "--site", str(folder / "site.yaml")],
            env=os.environ | {"ADVISOR_WEBHOOK_SECRET": SIGNING},
            capture_output=True,
            text=True,
            check=False,
        )
        assert again.returncode == 0, again
        keys = {post.key for post in hook.posts}
        return Seen(
            owner_saw="no sign of life while stuck; after the restart the message is sent",
            lost=int(len(hook.taken) < 1),
            doubled=len(keys) - 1,
        )


class Watcher:
    """An outside watcher: how often it was called, and the status that it answers with."""

    def __init__(self) -> None:
        self.calls: list[str] = []
        self.status = 200
        owner = self

        class Handler(BaseHTTPRequestHandler):
            def do_GET(self) -> None:
                owner.calls.append(self.path)
                self.send_response(owner.status)
                self.send_header("Location", "/elsewhere")
                self.send_header("Content-Length", "0")
                self.end_headers()

            def log_message(self, *args: object) -> None:
                """Say nothing."""

        self._http = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.url = f"http://127.0.0.1:{self._http.server_address[1]}/lawn-is-well"
        threading.Thread(target=self._http.serve_forever, args=(0.02,), daemon=True).start()

    def close(self) -> None:
        self._http.shutdown()
        self._http.server_close()


EVENING = at("2026-06-17T20:15")


@fault("life", "the evening fails, or its watcher does: the heartbeat")
def heartbeat(folder: Path, nightly: bool) -> Seen:
    """A watcher is called once after an evening that was given and told, and only then; its own failing hurts none."""
    watcher = Watcher()
    site = service_site(
        folder, settings={"service": {"advice_at": "20:15", "heartbeat": watcher.url}, "messages": {}}
    )
    sky = Sky()
    try:
        with (
            Hook() as hook,
            serving(site, EVENING - HOUR, sky=sky, channels=[hook_channel(hook.url)]) as service,
        ):
            one = service.served[0]

            def standing(now: datetime) -> SiteHealth:
                return site_health(site, one.settings, one.store, now)

            def evening(days: int, minutes: int = 0) -> datetime:
                now = EVENING + timedelta(days=days, minutes=minutes)
                service.work(now)
                return now

            now = evening(0)
            evening(0, 1)
            assert len(watcher.calls) == 1
            told = standing(now)
            assert told.heartbeat is not None
            assert (told.heartbeat.host, told.heartbeat.last_at, told.heartbeat.failed) == (
                "127.0.0.1",
                now,
                "",
            )
            assert "last heartbeat: Wed 17 Jun 20:15 to 127.0.0.1" in status_text([told], [site.place.zone])

            sky.down = "no weather"
            evening(1)
            assert len(watcher.calls) == 1  # no advice
            sky.down = ""
            hook.behave("503")
            evening(1, 2)
            assert len(watcher.calls) == 1  # advice that is not told
            hook.behave("well")
            evening(1, 10)
            assert len(watcher.calls) == 2

            watcher.status = 302
            now = evening(2)
            for later in (1, 2, 3, 4, 5):
                evening(2, later)
            failed = one.store.events("heartbeat-failed:")
            assert (len(watcher.calls), len(failed)) == (5, 1)  # tried again with pauses, marked once
            assert len(hook.taken) == 3  # the evening is not hurt
            why = "heartbeat: 127.0.0.1 answered HTTP 302"
            assert standing(now).reasons == (why,)
            watcher.status = 200
            evening(2, 30)
            assert standing(now + HOUR).ok
            assert "/elsewhere" not in watcher.calls
        with Hook() as hook, serving(site, EVENING, sky=sky, channels=[hook_channel(hook.url)]) as again:
            again.work(EVENING + timedelta(days=2, minutes=40))
    finally:
        watcher.close()
    return Seen(owner_saw=why, tried=4, doubled=len(watcher.calls) - 6)
