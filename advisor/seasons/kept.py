"""Results kept as they finish: a line of JSON for each, which a run that was broken off finds again."""

from __future__ import annotations

import json
import os
from contextlib import nullcontext, suppress
from io import BytesIO
from pathlib import Path
from types import TracebackType
from typing import IO

from pydantic import ValidationError

from advisor.errors import InputError
from advisor.files import open_file
from advisor.replay import RESULT, Result

BEGINS = b'{"key": '
LONGEST_LINE = 50_000_000


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
    found: dict[str, Result] = {}
    length = number = 0
    try:
        with open_file(path) if path.exists() else nullcontext(BytesIO()) as file:
            while line := file.readline(LONGEST_LINE):
                number += 1
                if not line.endswith(b"\n"):
                    if not (line.startswith(BEGINS) or BEGINS.startswith(line)) or len(line) == LONGEST_LINE:
                        raise _strange(path, number)
                    break  # torn off where an earlier run ended
                _take_in(found, line, path, number)
                length += len(line)
    except OSError as error:
        raise InputError(f"the results cannot be kept: {error.strerror}", where=str(path)) from None
    return found, length


def _take_in(found: dict[str, Result], line: bytes, path: Path, number: int) -> None:
    """One whole line; that of another version of the program, which its digest names too, is passed over."""
    try:
        one = json.loads(line)
        digest, result = str(one["digest"]), one["result"]
    except (ValueError, KeyError, TypeError, RecursionError):
        raise _strange(path, number) from None
    with suppress(ValidationError):
        found[digest] = RESULT.validate_python(result)


def _strange(path: Path, line: int) -> InputError:
    return InputError(
        "this is no file of kept seasons",
        where=str(path),
        line=line,
        allowed="a file that an earlier replay has written, or the name of a new one",
    )
