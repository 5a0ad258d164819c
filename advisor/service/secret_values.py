"""Secrets: where they come from, and how they are kept out of everything that is shown or written.

They stand in the environment, or as NAME=value lines in a file that nobody else may read (0600); what
the file says goes over the environment. `hide` takes them, and the parts that alone would do, out of a text.
"""

from __future__ import annotations

import json
import os
import stat
from collections.abc import Mapping
from pathlib import Path
from urllib.parse import quote, unquote, urlsplit

from advisor.errors import InputError
from advisor.files import open_file

HIDDEN = "•••"
PREFIX = "ADVISOR_"
LEAST_SIGNING_LETTERS = 16
LEAST_PART_LETTERS = 6
EMAIL_PASSWORD, WEBHOOK_SECRET, WEBHOOK_URL = "EMAIL_PASSWORD", "WEBHOOK_SECRET", "WEBHOOK_URL"
HEARTBEAT_URL = "HEARTBEAT_URL"


class Secrets:
    """The secrets of one site, by name without its prefix; never printed."""

    def __init__(self, values: Mapping[str, str]) -> None:
        self._values = {name: value for name, value in values.items() if value}
        parts = {part for value in self._values.values() for part in _parts(value)}
        self._hidden = sorted(parts, key=len, reverse=True)

    def __repr__(self) -> str:
        return f"Secrets({', '.join(sorted(self._values))})"

    def get(self, name: str) -> str:
        """The secret, or "" where there is none."""
        return self._values.get(name, "")

    def hide(self, text: str) -> str:
        """`text` without any secret."""
        for part in self._hidden:
            text = text.replace(part, HIDDEN)
        return text

    def and_those_of(self, other: Secrets) -> Secrets:
        """One that hides both."""
        return Secrets({f"{n}:{k}": v for n, one in enumerate((self, other)) for k, v in one._values.items()})


def channel_secret(name: str) -> str:
    """The name of the secret that holds a channel's address."""
    return f"CHANNEL_{name.upper()}"


def read_secrets(path: Path | None, environment: Mapping[str, str]) -> Secrets:
    """The secrets of the file at `path` (None: no file) and of the environment.

    Raises InputError when the file cannot be read, is not ours, may be read by others, or is not understood.
    """
    values = {
        name.removeprefix(PREFIX): value for name, value in environment.items() if name.startswith(PREFIX)
    }
    if path is not None:
        values |= _file(path)
    return Secrets({name: value for name, value in values.items() if _is_secret(name)})


def _is_secret(name: str) -> bool:
    return name in (EMAIL_PASSWORD, WEBHOOK_SECRET, WEBHOOK_URL, HEARTBEAT_URL) or name.startswith("CHANNEL_")


def _file(path: Path) -> dict[str, str]:
    try:
        with open_file(path) as file:
            mode = os.fstat(file.fileno())
            data = file.read(100_001)
    except OSError as error:
        raise InputError(
            f"the file of secrets cannot be read ({(error.strerror or type(error).__name__).lower()})",
            where=str(path),
            allowed="a file of NAME=value lines with permissions 0600",
        ) from None
    if mode.st_mode & 0o077 or mode.st_uid not in (0, os.geteuid()):
        raise InputError(
            "others may read the file of secrets",
            where=str(path),
            found=f"permissions {stat.S_IMODE(mode.st_mode):04o}, owner {mode.st_uid}",
            allowed=f"permissions 0600 and you as its owner (chmod 600 {path.name})",
        )
    values = {}
    for number, line in enumerate(data.decode("utf-8", "replace").splitlines(), start=1):
        name, equals, value = line.strip().partition("=")
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        if not equals or not name.strip().startswith(PREFIX):
            raise InputError(
                "a line of the file of secrets is not understood",
                where=str(path),
                line=number,
                found="something else (not shown)",
                allowed="ADVISOR_EMAIL_PASSWORD=…, ADVISOR_WEBHOOK_SECRET=…, ADVISOR_CHANNEL_NAME=…",
            )
        value = value.strip()
        if len(value) > 1 and value[0] == value[-1] and value[0] in "\"'":
            value = value[1:-1]
        values[name.strip().removeprefix(PREFIX)] = value
    return values


def _parts(value: str) -> set[str]:
    """The secret as it may be written: plain, quoted, in JSON; of an address also what it consists of."""
    pieces = {value}
    if "://" in value:
        try:
            split = urlsplit(value)
            found = [
                split.username,
                split.password,
                *split.path.split("/"),
                *split.query.replace("=", "&").split("&"),
            ]
            pieces |= {piece for piece in found if piece and len(piece) >= LEAST_PART_LETTERS}
            if split.netloc and "." not in split.netloc and len(split.netloc) >= LEAST_PART_LETTERS:
                pieces.add(split.netloc)
        except ValueError:
            pass
    written: set[str] = set()
    for piece in pieces:
        written |= {piece, unquote(piece), quote(piece), quote(piece, safe=""), repr(piece)[1:-1]}
        written |= {json.dumps(piece)[1:-1], json.dumps(piece, ensure_ascii=False)[1:-1]}
    return {text for text in written if text}
