"""What the system's service manager is told: that the service is ready, alive, stopping, and how it stands.

The protocol is that of sd_notify(3) and sd_watchdog_enabled(3): lines to the datagram socket named by
NOTIFY_SOCKET, and a sign of life within WATCHDOG_USEC. Without a manager nobody is told; what cannot be sent
hurts no evening.
"""

from __future__ import annotations

import contextlib
import os
import socket
from collections.abc import Mapping


class Manager:
    """The service manager of this environment; `watchdog_s` is how long it waits for a sign of life, or None."""

    def __init__(self, environment: Mapping[str, str]) -> None:
        name = environment.get("NOTIFY_SOCKET", "")
        self._address = f"\0{name[1:]}" if name.startswith("@") else name
        wait, whose = environment.get("WATCHDOG_USEC", ""), environment.get("WATCHDOG_PID", "")
        ours = bool(self._address) and whose in ("", str(os.getpid()))
        self.watchdog_s = int(wait) / 1e6 if ours and wait.isdecimal() and int(wait) > 0 else None

    def ready(self) -> None:
        """All is opened and served."""
        self._tell("READY=1")

    def alive(self, status: str) -> None:
        """A round went through; `status` is how the service stands, in a line."""
        life = [] if self.watchdog_s is None else ["WATCHDOG=1"]
        self._tell(*life, f"STATUS={' '.join(status.split())}")

    def stopping(self) -> None:
        """The service ends of itself."""
        self._tell("STOPPING=1", "STATUS=Stopping.")

    def _tell(self, *lines: str) -> None:
        if self._address:
            with contextlib.suppress(OSError), socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as out:
                out.setblocking(False)
                out.sendto("\n".join(lines).encode("utf-8", "replace"), self._address)
