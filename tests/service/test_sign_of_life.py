"""What the service manager is told, over a socket as systemd makes one."""

from __future__ import annotations

import os
import socket
from pathlib import Path

import pytest

from advisor.service.sign_of_life import Manager


@pytest.mark.parametrize("abstract", [False, True], ids=["a path", "an abstract name"])
def test_ready_alive_and_stopping_are_told_as_the_protocol_has_them(tmp_path: Path, abstract: bool) -> None:
    name = f"@advisor-test-{os.getpid()}" if abstract else str(tmp_path / "notify")
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listener:
        listener.bind(f"\0{name[1:]}" if abstract else name)
        listener.settimeout(5)
        manager = Manager(
            {"NOTIFY_SOCKET": name, "WATCHDOG_USEC": "1800000000", "WATCHDOG_PID": str(os.getpid())}
        )
        assert manager.watchdog_s == 1800
        manager.ready()
        manager.alive("Front:\nall is well")
        manager.stopping()
        heard = [listener.recv(4096).decode() for _ in range(3)]
    assert heard == ["READY=1", "WATCHDOG=1\nSTATUS=Front: all is well", "STOPPING=1\nSTATUS=Stopping."]


@pytest.mark.parametrize(
    "environment",
    [
        {},
        {"WATCHDOG_USEC": "1000000"},
        {"NOTIFY_SOCKET": "/nowhere/at/all"},
        {"NOTIFY_SOCKET": "/nowhere/at/all", "WATCHDOG_USEC": "soon"},
        {"NOTIFY_SOCKET": "/nowhere/at/all", "WATCHDOG_USEC": "1000000", "WATCHDOG_PID": "1"},
    ],
)
def test_without_a_manager_or_its_watchdog_nobody_waits_and_nothing_goes_wrong(
    environment: dict[str, str],
) -> None:
    manager = Manager(environment)
    assert manager.watchdog_s is None
    manager.ready()
    manager.alive("all is well")
    manager.stopping()
