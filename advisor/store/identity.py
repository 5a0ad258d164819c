"""Which records were kept at a place: the identity that they bear, noted beside them as `NAME.identity`.

Records that are gone, or have others standing in their place, are not begun anew in silence. The note is a
help: where it cannot be written or read, nothing is refused for it.
"""

from __future__ import annotations

import json
import os
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from advisor.files import make_private

WAYS_OUT = (
    "put a backup back with `advisor records restore`, or say that they are new with `advisor records adopt`"
)


@dataclass(frozen=True, slots=True)
class Seen:
    """The identities of the records that may stand at a place, and of those that stood there before."""

    identities: tuple[str, ...] = ()
    before: tuple[str, ...] = ()


def note_path(path: Path) -> Path:
    """Where the note of a records file stands, whatever name leads to it."""
    found = path.resolve()
    return found.with_name(found.name + ".identity")


def seen(path: Path) -> Seen:
    """What is noted; nothing where there is no note, or none that can be understood."""
    try:
        row = json.loads(note_path(path).read_text(encoding="utf-8"))
        return Seen(tuple(map(str, row["identities"])), tuple(map(str, row["before"])))
    except (OSError, ValueError, KeyError, TypeError):
        return Seen()


def note(path: Path, *identities: str) -> None:
    """Note which records may stand at this place from now on; those noted so far stood there before."""
    known = seen(path)
    if known.identities == identities:
        return
    before = tuple(dict.fromkeys(one for one in (*known.before, *known.identities) if one not in identities))
    target = note_path(path)
    partial = target.with_name(f"{target.name}.{os.getpid()}.partial")
    try:
        make_private(partial)
        partial.write_text(json.dumps({"identities": identities, "before": before}) + "\n", encoding="utf-8")
        partial.replace(target)
    except OSError:
        with suppress(OSError):
            partial.unlink()


def forget(path: Path) -> None:
    """Note that any records may stand here from now on; those noted so far stood there before."""
    note(path)


def has_begun(path: Path) -> bool:
    """Whether records stand at this place, or stood there when they were seen last."""
    return path.exists() or bool(seen(path).identities)
