"""Results kept as they finish: a line of JSON for each, which a run that was broken off finds again."""

from __future__ import annotations

import json
import os
from pathlib import Path
from types import TracebackType
from typing import IO

from pydantic import ValidationError

from advisor.errors import InputError
from advisor.replay import RESULT, Result

BEGINS = b'{"key": '


def may_keep(path: Path) -> None:
    """InputError where no results can be kept in a file: before anything is worked, and nothing is written."""
    _read(path)
    for where, needs in ((path, os.W_OK), (path.parent, os.W_OK | os.X_OK)):
        if where.exists() and not os.access(where, needs):
            raise InputError("the results cannot be kept: Permission denied", where=str(where))
        if path.exists():
            break


class KeptResults:
    """The file of kept results, open: `found` what it holds by digest, `keep` adds one to its end.

    A last line that was torn off as it was written is cut away; a file that holds anything else is
    refused and left as it is.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.found, ends = _read(path)
        try:
            self._file: IO[bytes] = path.open("ab")
            self._file.truncate(ends)
        except OSError as error:
            raise InputError(f"the results cannot be kept: {error.strerror}", where=str(path)) from None

    def __enter__(self) -> KeptResults:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._file.close()

    def keep(self, digest: str, result: Result) -> None:
        """Write a result, at once and whole."""
        line = {"key": result.key, "digest": digest, "result": RESULT.dump_python(result, mode="json")}
        try:
            self._file.write(json.dumps(line, ensure_ascii=False).encode() + b"\n")
            self._file.flush()
            os.fsync(self._file.fileno())
        except OSError as error:
            raise InputError(f"the results cannot be kept: {error.strerror}", where=str(self.path)) from None


def _read(path: Path) -> tuple[dict[str, Result], int]:
    """Every whole line of a file by its digest, and where the last of them ends."""
    if not path.parent.is_dir():
        raise InputError(
            "the results cannot be kept in a directory that does not exist",
            where=str(path),
            allowed="a file in a directory that is there",
        )
    try:
        whole = path.read_bytes() if path.exists() else b""
    except OSError as error:
        raise InputError(f"the results cannot be kept: {error.strerror}", where=str(path)) from None
    found: dict[str, Result] = {}
    *lines, torn = whole.split(b"\n")
    if torn and not (torn.startswith(BEGINS) or BEGINS.startswith(torn)):
        raise _strange(path, len(lines) + 1)
    for number, line in enumerate(lines, 1):
        try:
            one = json.loads(line)
            digest, result = str(one["digest"]), one["result"]
        except (ValueError, KeyError, TypeError):
            raise _strange(path, number) from None
        try:
            found[digest] = RESULT.validate_python(result)
        except ValidationError:
            continue  # of another version of the program, which its digest names too
    return found, len(whole) - len(torn)


def _strange(path: Path, line: int) -> InputError:
    return InputError(
        "this is no file of kept seasons",
        where=str(path),
        line=line,
        allowed="a file that an earlier replay has written, or the name of a new one",
    )
