"""The service's log: one JSON object a line, to a file that is turned over by size or to stderr.

No secret can pass: the text of every line, tracebacks too, goes through `hide` before it is written.
"""

from __future__ import annotations

import contextlib
import json
import logging
import sys
from collections.abc import Callable
from datetime import UTC, datetime
from logging.handlers import RotatingFileHandler
from pathlib import Path

from advisor.errors import InputError

Hide = Callable[[str], str]
LOGGER = logging.getLogger("advisor.service")
OTHERS = ("apscheduler", "apprise", "urllib3", "requests", "py.warnings")


class JsonLines(logging.Formatter):
    """A record as one line of JSON: at, level, event and the facts given with it."""

    def __init__(self, hide: Hide) -> None:
        super().__init__()
        self._hide = hide

    def format(self, record: logging.LogRecord) -> str:
        """The line, without any secret."""
        row: dict[str, object] = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "event": record.getMessage(),
        }
        if record.name != LOGGER.name:
            row["from"] = record.name
        row |= getattr(record, "facts", {})
        if record.exc_info:
            row["traceback"] = self.formatException(record.exc_info)
        hidden = {key: self._hide(one) if isinstance(one, str) else one for key, one in row.items()}
        return self._hide(json.dumps(hidden, ensure_ascii=False, default=str))


class _Quiet(RotatingFileHandler):
    """A full disk under the log stops the log, not the service: the line goes to stderr instead."""

    def handleError(self, record: logging.LogRecord) -> None:
        with contextlib.suppress(OSError):
            sys.stderr.write(self.format(record) + "\n")


def set_up(path: Path | None, *, hide: Hide, bytes_each: int = 5_000_000, kept: int = 4) -> logging.Handler:
    """Send the service's log and that of its libraries to `path` (None: stderr); the handler, to be closed.

    Raises InputError when the file cannot be written.
    """
    handler: logging.Handler = logging.StreamHandler()
    if path is not None:
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            handler = _Quiet(path, maxBytes=bytes_each, backupCount=kept, encoding="utf-8")
        except OSError as error:
            raise InputError(
                f"the log cannot be written ({(error.strerror or type(error).__name__).lower()})",
                where=str(path),
                allowed="service.log: a file in a folder that may be written",
            ) from None
    handler.setFormatter(JsonLines(hide))
    LOGGER.setLevel(logging.INFO)
    for name in (LOGGER.name, *OTHERS):
        logger = logging.getLogger(name)
        logger.handlers[:] = [handler]
        logger.propagate = False
        if name != LOGGER.name:
            logger.setLevel(logging.WARNING)
    return handler


def say(
    event: str, *, level: int = logging.INFO, trace: BaseException | None = None, **facts: object
) -> None:
    """Write one line: what happened and its facts."""
    LOGGER.log(level, event, extra={"facts": facts}, exc_info=trace)
