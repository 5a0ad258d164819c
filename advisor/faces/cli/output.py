"""Standard output that says in a sentence that it cannot be written: a full disk is no bug of ours.

A reader that has gone (`| head`) is no fault at all, and nothing is said of it.
"""

from __future__ import annotations

import contextlib
import os
import sys
from typing import Any, TextIO

from advisor.errors import AdvisorError


class OutputFailed(AdvisorError):
    """What was to be told could not be written."""


class Output:
    """A stream whose writes fail with OutputFailed; everything else is the stream's own."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)

    def write(self, text: str) -> int:
        """Write; raises OutputFailed, or BrokenPipeError where nobody reads any more."""
        try:
            return self._stream.write(text)
        except OSError as error:
            raise _told(error) from None

    def flush(self) -> None:
        """Write what is held back; raises as `write` does."""
        try:
            self._stream.flush()
        except OSError as error:
            raise _told(error) from None


def _told(error: OSError) -> Exception:
    if isinstance(error, BrokenPipeError):
        return error
    return OutputFailed(
        f"the answer could not be written to standard output ({(error.strerror or '').lower()})"
    )


def let_go() -> None:
    """Leave nothing for the end of the process to write: what could not be written would be told there again."""
    for stream in (sys.stdout, sys.stderr):
        with contextlib.suppress(Exception):
            nowhere = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nowhere, stream.fileno())
            os.close(nowhere)
