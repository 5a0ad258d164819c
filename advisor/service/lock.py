"""One service for one records file: a lock that the system lets go of when the process ends, however it ends."""

from __future__ import annotations

import fcntl
import os
import time
from contextlib import suppress
from pathlib import Path

from advisor.errors import RecordsError
from advisor.files import make_folder, make_private

TRIES, PAUSE_S = 4, 0.1
"""A glance of `advisor status` holds the lock for a moment: no reason to stop."""


class RecordsLock:
    """The lock beside a records file, held until `close` or the end of the process."""

    def __init__(self, path: Path, handle: int) -> None:
        self.path, self._handle = path, handle

    def close(self) -> None:
        """Let go."""
        if self._handle >= 0:
            os.close(self._handle)
            self._handle = -1


def lock_path(records: Path) -> Path:
    """Where the lock of a records file stands, whatever name leads to it."""
    found = records.resolve()
    return found.with_name(found.name + ".lock")


def lock_records(
    records: Path, *, else_: str = "this one stops, so that no message is sent twice"
) -> RecordsLock:
    """Take the lock; RecordsError when another service has it, or when there is nothing that can be locked.

    `else_` is what comes of it that another has it.
    """
    path = lock_path(records)
    try:
        make_folder(path.parent)
        handle = _opened(path, records)
    except OSError as error:
        raise RecordsError(
            f"the folder {path.parent} of the records cannot be written: {error.strerror}",
            way_out="set another place for the records in the site file",
        ) from None
    if not _taken(handle):
        who = os.pread(handle, 20, 0).decode("ascii", "replace").strip()
        os.close(handle)
        raise RecordsError(
            f"another advisor already serves the records {records}"
            f"{f' (process {who})' if who.isdigit() else ''}",
            way_out=else_,
        ) from None
    try:
        os.ftruncate(handle, 0)
        os.pwrite(handle, f"{os.getpid()}\n".encode(), 0)
    except OSError:
        pass  # the number is only for the sentence above
    return RecordsLock(path, handle)


def _opened(path: Path, records: Path) -> int:
    """What is locked: a file beside the records; where none can be written there, one that can be read."""
    try:
        make_private(path)
        return os.open(path, os.O_RDWR | os.O_NONBLOCK | os.O_CLOEXEC)
    except OSError:
        for other in (path, records):
            with suppress(OSError):
                return os.open(other, os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC)
        raise


def _taken(handle: int) -> bool:
    for _ in range(TRIES):
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            return True
        except OSError:
            time.sleep(PAUSE_S)
    return False


def is_served(records: Path) -> bool:
    """Whether some service holds the lock of these records."""
    return any(_is_locked(path) for path in (lock_path(records), records))


def _is_locked(path: Path) -> bool:
    try:
        handle = os.open(path, os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC)
    except OSError:
        return False
    try:
        fcntl.flock(handle, fcntl.LOCK_SH | fcntl.LOCK_NB)
    except OSError:
        return True
    finally:
        os.close(handle)
    return False
