"""Finds config/ and data/ beside the package in a checkout, or inside the installed wheel."""

from __future__ import annotations

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent


def shipped(folder: str, name: str) -> Path:
    """The path of a shipped file: `folder` is "config" or "data", `name` its file name.

    Raises FileNotFoundError when it is in neither place: a broken installation, not user error.
    """
    for base in (_PACKAGE / "_shipped", _PACKAGE.parent):
        path = base / folder / name
        if path.is_file():
            return path
    raise FileNotFoundError(f"{folder}/{name} is missing from this installation of advisor")
