"""Results kept as they finish: a line of JSON for each, which a run that was broken off finds again."""

from __future__ import annotations

import json
import os
from contextlib import suppress
from pathlib import Path
from types import TracebackType
from typing import IO

from pydantic import ValidationError

from advisor.errors import InputError
from advisor.files import open_file
from advisor.replay import RESULT, Result

BEGINS = b'{"key": '
LONGEST_LINE = 50_000_000


class KeptResults:
    """The file of kept results, open: `found` what it holds by digest, `keep` adds one to its end.

    A last line that was torn off as it was written is cut away; a file that holds anything else is
    refused and left as it is.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.found: dict[str, Result] = {}
        try:
            whole_lines = self._read() if path.exists() else 0
            path.parent.mkdir(parents=True, exist_ok=True)
            self._file: IO[bytes] = path.open("ab")
            self._file.truncate(whole_lines)
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

    def _read(self) -> int:
        """Take in every whole line; how many bytes they are."""
        length = number = 0
        with open_file(self.path) as file:
            while line := file.readline(LONGEST_LINE):
                number += 1
                if not (line.startswith(BEGINS) or BEGINS.startswith(line)):
                    raise self._strange(number)
                if not line.endswith(b"\n"):
                    if len(line) == LONGEST_LINE:
                        raise self._strange(number)
                    break
                self._take_in(number, line)
                length += len(line)
        return length

    def _take_in(self, number: int, line: bytes) -> None:
        try:
            one = json.loads(line)
            digest, result = one["digest"], one["result"]
        except (ValueError, KeyError, TypeError, RecursionError):
            raise self._strange(number) from None
        with suppress(ValidationError):  # of another version of the program, which its digest names too
            self.found[digest] = RESULT.validate_python(result)

    def _strange(self, line: int) -> InputError:
        return InputError(
            "this is no file of kept seasons",
            where=str(self.path),
            line=line,
            allowed="a file that an earlier replay has written, or the name of a new one",
        )
