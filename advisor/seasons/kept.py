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


class KeptResults:
    """The file of kept results, open: `found` what it holds by digest, `keep` adds one to its end.

    A last line that was torn off as it was written is cut away; a file that holds anything else is
    refused and left as it is.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.found: dict[str, Result] = {}
        try:
            whole = path.read_bytes() if path.exists() else b""
            self._read(whole)
            path.parent.mkdir(parents=True, exist_ok=True)
            self._file: IO[bytes] = path.open("ab")
            self._file.truncate(whole.rfind(b"\n") + 1)
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

    def _read(self, whole: bytes) -> None:
        """Take in every whole line."""
        *lines, torn = whole.split(b"\n")
        if torn and not (torn.startswith(BEGINS) or BEGINS.startswith(torn)):
            raise self._strange(len(lines) + 1)
        for number, line in enumerate(lines, 1):
            try:
                one = json.loads(line)
                digest, result = one["digest"], one["result"]
            except (ValueError, KeyError, TypeError):
                raise self._strange(number) from None
            try:
                self.found[digest] = RESULT.validate_python(result)
            except ValidationError:
                continue  # of another version of the program, which its digest names too

    def _strange(self, line: int) -> InputError:
        return InputError(
            "this is no file of kept seasons",
            where=str(self.path),
            line=line,
            allowed="a file that an earlier replay has written, or the name of a new one",
        )
