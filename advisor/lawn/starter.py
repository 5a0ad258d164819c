"""The starter site file: config/site.yaml with the owner's place written into it."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from pathlib import Path

from pydantic import ValidationError

from advisor.errors import InputError, ManyProblems
from advisor.files import write_text
from advisor.lawn.refusals import problems_of
from advisor.lawn.schema import PlaceWritten
from advisor.shipped import shipped

EXAMPLE_ZONE = "Example zone"
"""The name of the starter's zone, which the owner is to replace."""
PLACE_KEYS = ("name", "latitude", "longitude", "elevation", "time_zone", "units")


def starter_text(place: Mapping[str, str]) -> str:
    """The starter file for `place`, whose keys are PLACE_KEYS and whose values are as people write them.

    Raises ManyProblems that name the command's options.
    """
    try:
        PlaceWritten.model_validate(dict(place))
    except ValidationError as error:
        found = problems_of(
            error, PlaceWritten, (), place, lambda loc: (option_of(str(loc[0])), None), is_named=True
        )
        raise ManyProblems(tuple(found)) from None
    text = shipped("config", "site.yaml").read_text(encoding="utf-8")
    for key in PLACE_KEYS:
        value = json.dumps(place[key], ensure_ascii=False) if key == "name" else place[key].strip()
        text = _with_value(text, key, value)
    return text


def _with_value(text: str, key: str, value: str) -> str:
    """`text` with `key` of the section site, its first and only one so indented, set to `value`."""
    found = re.search(rf"^  {key}: *(?P<value>[^#\n]*?) *(?:#.*)?$", text, re.MULTILINE)
    assert found is not None, key
    return text[: found.start("value")] + value + text[found.end("value") :]


def option_of(key: str) -> str:
    """The command-line option of a key: --time-zone."""
    return "--" + key.replace("_", "-")


def write_new(text: str, path: Path, *, force: bool) -> None:
    """Write `text` to `path`; a file that is there stays unless `force`. Raises InputError."""
    try:
        if not force:
            path.open("x").close()
        write_text(path, text)
    except FileExistsError:
        raise InputError(
            "the file is there already and stays as it is",
            where=str(path),
            allowed="another --out, or --force to write over it",
        ) from None
    except OSError as error:
        reason = (error.strerror or type(error).__name__).lower()
        raise InputError(
            f"the file cannot be written ({reason})", where=str(path), allowed="another --out"
        ) from None
