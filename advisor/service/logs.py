"""The service's log: one JSON object a line, to a file that is turned over by size or to stderr.

No secret can pass: every record, its facts and tracebacks too, goes through `hide` before it is written. Nor
can the place of the home, which addresses hold, or a character that is not seen.
"""

from __future__ import annotations

import contextlib
import json
import logging
import sys
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from io import TextIOWrapper
from logging.handlers import RotatingFileHandler
from pathlib import Path

from advisor.errors import InputError
from advisor.files import make_folder, make_private, open_file
from advisor.foreign_words import plain, without_place

Hide = Callable[[str], str]
LOGGER = logging.getLogger("advisor.service")
OTHERS = ("apscheduler", "apprise", "urllib3", "requests", "py.warnings")


class Redaction(logging.Filter):
    """Takes secrets and the place out of a record before any handler sees it: message, facts and traceback."""

    def __init__(self, hide: Hide) -> None:
        super().__init__()
        self._secrets_out = hide

    def filter(self, record: logging.LogRecord) -> bool:
        """Every record passes, cleaned."""
        record.msg, record.args = self._hide(record.getMessage()), None
        record.facts = self._hidden(getattr(record, "facts", {}))
        if record.exc_info:
            record.exc_text = self._hide(logging.Formatter().formatException(record.exc_info))
            record.exc_info = None
        return True

    def _hide(self, text: str) -> str:
        return without_place(plain(self._secrets_out(text)))

    def _hidden(self, value: object) -> object:
        if isinstance(value, Mapping):
            return {str(key): self._hidden(one) for key, one in value.items()}
        if isinstance(value, list | tuple):
            return [self._hidden(one) for one in value]
        return value if isinstance(value, bool | int | float | None) else self._hide(str(value))


class JsonLines(logging.Formatter):
    """A record as one line of JSON: at, level, event and the facts given with it."""

    def format(self, record: logging.LogRecord) -> str:
        """The line."""
        row: dict[str, object] = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "event": record.getMessage(),
        }
        if record.name != LOGGER.name:
            row["from"] = record.name
        row |= getattr(record, "facts", {})
        if record.exc_text:
            row["traceback"] = record.exc_text
        return json.dumps(row, ensure_ascii=False, default=str)


class _Quiet(RotatingFileHandler):
    """A full disk under the log stops the log, not the service: the line goes to stderr instead.

    Its owner alone may read what it writes.
    """

    def _open(self) -> TextIOWrapper:
        make_private(Path(self.baseFilename))
        return super()._open()

    def handleError(self, record: logging.LogRecord) -> None:
        with contextlib.suppress(OSError):
            sys.stderr.write(self.format(record) + "\n")


def set_up(path: Path | None, *, hide: Hide, bytes_each: int = 5_000_000, kept: int = 4) -> logging.Handler:
    """Send the service's log and that of its libraries to `path` (None: stderr); the handler, for `take_down`.

    Raises InputError when the file cannot be written.
    """
    handler: logging.Handler = logging.StreamHandler()
    if path is not None:
        try:
            make_folder(path.parent)
            make_private(path)
            open_file(path).close()
            handler = _Quiet(path, maxBytes=bytes_each, backupCount=kept, encoding="utf-8")
        except OSError as error:
            raise InputError(
                f"the log cannot be written ({(error.strerror or type(error).__name__).lower()})",
                where=str(path),
                allowed="service.log: a file in a folder that may be written",
            ) from None
    handler.setFormatter(JsonLines())
    redaction = Redaction(hide)
    handler.addFilter(redaction)
    LOGGER.setLevel(logging.INFO)
    for name in (LOGGER.name, *OTHERS):
        logger = logging.getLogger(name)
        logger.handlers[:] = [handler]
        logger.filters[:] = [redaction]
        logger.propagate = False
        if name != LOGGER.name:
            logger.setLevel(logging.WARNING)
    return handler


def take_down(handler: logging.Handler) -> None:
    """Close what `set_up` made and let go of the loggers."""
    for name in (LOGGER.name, *OTHERS):
        logger = logging.getLogger(name)
        if handler in logger.handlers:
            logger.handlers[:], logger.filters[:], logger.propagate = [], [], True
    handler.close()


def say(
    event: str, *, level: int = logging.INFO, trace: BaseException | None = None, **facts: object
) -> None:
    """Write one line: what happened and its facts."""
    LOGGER.log(level, event, extra={"facts": facts}, exc_info=trace)
