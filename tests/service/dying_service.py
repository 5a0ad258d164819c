"""A process that starts services which die at a given point, or run on a disk that says no.

It reads one JSON line a round on stdin and forks a child for it, so that each dies alone and for real:
{"folder", "hook", "signing", "now", "dies_at", "later", "limit_bytes", "bound", "afterwards"}; it answers with how the
child ended. `dies_at` counts the steps of the round from 0; `bound` has rights bind root too; `afterwards` are rounds
after the disk has room again.
"""

from __future__ import annotations

import json
import os
import resource
import signal
import sys
import tempfile
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
from bound import bind
from service import made_service
from service.made_service import Sky, hook_channel, service_site, serving

from advisor.errors import AdvisorError
from advisor.sentences.service import trouble_words
from advisor.service.lock import lock_records


def one_round(order: dict[str, Any]) -> list[str]:
    """Serve one round; what went wrong."""
    made_service.SIGNING = order["signing"]
    now, dies_at = datetime.fromisoformat(order["now"]), order.get("dies_at", -1)
    steps = iter(range(100_000))

    def fault(_here: str) -> None:
        if next(steps) == dies_at:
            os.kill(os.getpid(), signal.SIGKILL)

    if order.get("bound"):
        bind()
    sky = Sky()
    sky.members_mm = np.zeros((10, 240))
    site = service_site(Path(order["folder"]))
    lock = lock_records(site.records_path)
    try:
        channel = hook_channel(order["hook"])
        with serving(site, now, sky=sky, channels=[channel], step=fault, fault=fault) as service:
            if limit := order.get("limit_bytes"):
                signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
                most = resource.getrlimit(resource.RLIMIT_FSIZE)[1]
                resource.setrlimit(resource.RLIMIT_FSIZE, (limit, most))
            service.work(now)
            for later in order.get("later", []):
                service.work(datetime.fromisoformat(later))
            if afterwards := order.get("afterwards"):
                resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))
                for later in afterwards:
                    service.work(datetime.fromisoformat(later))
            return [trouble_words(one) for troubles in service.troubles.values() for one in troubles]
    finally:
        lock.close()


def main() -> None:
    """Fork, wait, tell. One round first, so that the children find every module loaded."""
    with tempfile.TemporaryDirectory() as folder:
        nowhere = {"folder": folder, "hook": "http://127.0.0.1:9", "signing": "x" * 16}
        one_round({**nowhere, "now": "2026-06-17T20:15:00-05:00"})
    for line in sys.stdin:
        order = json.loads(line)
        read, write = os.pipe()
        child = os.fork()
        if child == 0:
            os.close(read)
            code = 0
            try:
                told = one_round(order)
            except AdvisorError as error:
                told, code = [str(error)], 2
            except BaseException as error:
                told, code = [repr(error)], 3
            os.write(write, json.dumps(told).encode())
            os._exit(code)
        os.close(write)
        with os.fdopen(read, "rb") as pipe:
            said = pipe.read()
        status = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
        print(json.dumps({"status": status, "told": json.loads(said or b"[]")}), flush=True)


if __name__ == "__main__":
    main()
