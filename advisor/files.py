"""Files of the owner: read whole and within bounds, or made for their owner's eyes alone.

Nothing here waits: a pipe or a device is refused before a byte of it is read. What is wrong is an OSError
whose `strerror` is a clause for the sentence of whoever asked.
"""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path
from typing import IO

OWNER_FILE, OWNER_FOLDER = 0o600, 0o700
_SORTS = (
    (stat.S_ISDIR, "Is a directory"),
    (stat.S_ISFIFO, "it is a pipe, not a file"),
    (stat.S_ISSOCK, "it is a socket, not a file"),
    (stat.S_ISCHR, "it is a device, not a file"),
    (stat.S_ISBLK, "it is a device, not a file"),
)


def not_a_file(mode: int) -> str:
    """What stands there instead of a file, by its mode; "" where it is one."""
    return next((words for is_such, words in _SORTS if is_such(mode)), "")


def open_file(path: Path) -> IO[bytes]:
    """The file at `path`, open for reading; OSError at once where it is none."""
    handle = os.open(path, os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC)
    try:
        mode = os.fstat(handle).st_mode
        words = not_a_file(mode)
        if words:
            raise OSError(errno.EISDIR if stat.S_ISDIR(mode) else errno.EINVAL, words)
        return os.fdopen(handle, "rb")
    except BaseException:
        os.close(handle)
        raise


def read_bytes(path: Path, most: int) -> bytes:
    """All that a file of at most `most` bytes holds."""
    with open_file(path) as file:
        more = os.fstat(file.fileno()).st_size > most
        data = b"" if more else file.read(most + 1)
    if more or len(data) > most:
        raise OSError(errno.EFBIG, f"it is larger than {most / 1e6:g} MB")
    return data


def write_text(path: Path, text: str) -> None:
    """Put `text` in place of what stands in the file; a pipe that nobody reads is not waited for."""
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | os.O_NONBLOCK | os.O_CLOEXEC, 0o666)
    except OSError as error:
        if error.errno == errno.ENXIO:
            raise OSError(errno.ENXIO, "it is a pipe that nobody reads") from None
        raise
    os.set_blocking(handle, True)
    with os.fdopen(handle, "w", encoding="utf-8", newline="") as file:
        file.write(text)


def make_private(path: Path) -> None:
    """Make an empty file that its owner alone may read, whatever the umask; one that is there stays."""
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, OWNER_FILE)
    except FileExistsError:
        return
    try:
        os.fchmod(handle, OWNER_FILE)
    finally:
        os.close(handle)


def make_folder(path: Path) -> None:
    """Make a folder, and those above it that are missing, for their owner alone; one that is there stays."""
    try:
        path.mkdir(OWNER_FOLDER)
    except FileNotFoundError:
        if path.parent == path:
            raise
        make_folder(path.parent)
        make_folder(path)
    except OSError:
        if not path.is_dir():
            raise
    else:
        path.chmod(OWNER_FOLDER)
