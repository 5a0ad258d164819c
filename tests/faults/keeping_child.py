"""A process that starts commands, each in a child of its own, on a disk that says no or with a sudden end.

It reads one JSON line a command on stdin, forks a child for it, so that each meets its fault alone and for real and
no module is loaded twice, and answers with how the child ended and what it wrote:

    {"words": ["tonight", "--site", ...],
     "limit_bytes": how long a file may become (the "no" of a full disk),
     "bound": true: what is read-only is read-only for root too,
     "wait_s": how long to wait for another's lock,
     "dies_at": the step of the command, counted from 0, at which it kills itself}
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import resource
import signal
import sys
from typing import Any

from bound import bind

NO_STEPS = 1_000_000


def meet(order: dict[str, Any]) -> None:
    """Bring about what the order asks for, in this process."""
    from advisor.store import opening

    if (wait_s := order.get("wait_s")) is not None:
        opening.open_store.__kwdefaults__["wait_s"] = wait_s
    if (dies_at := order.get("dies_at")) is not None:
        from advisor.service import restoring

        steps = iter(range(NO_STEPS))

        def step(_here: str) -> None:
            if next(steps) == dies_at:
                os.kill(os.getpid(), signal.SIGKILL)

        restoring.restore.__kwdefaults__["step"] = step
    if order.get("bound"):
        bind()
    if limit := order.get("limit_bytes"):
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))


def run(order: dict[str, Any]) -> tuple[int, str, str]:
    """The command: its exit code, and what it wrote."""
    from advisor.faces.cli.main import main

    out, err = io.StringIO(), io.StringIO()
    sys.argv = ["advisor", *order["words"]]
    code: Any = 0
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            meet(order)
            main()
        except SystemExit as end:
            code = end.code or 0
    return int(code), out.getvalue(), err.getvalue()


def main() -> None:
    """Fork, wait, tell."""

    for line in sys.stdin:
        read, write = os.pipe()
        child = os.fork()
        if child == 0:
            os.close(read)
            try:
                said: Any = run(json.loads(line))
            except BaseException as error:
                said = (3, "", f"Traceback: {error!r}")
            with os.fdopen(write, "wb") as pipe:
                pipe.write(json.dumps(said).encode())
            os._exit(0)
        os.close(write)
        with os.fdopen(read, "rb") as pipe:
            said = pipe.read()
        status = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
        code, out, err = json.loads(said) if said else (status, "", "")
        print(json.dumps({"code": code, "out": out, "err": err}), flush=True)


if __name__ == "__main__":
    main()
