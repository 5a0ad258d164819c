"""What decides the result of a job, as one number: the same job anywhere has the same digest.

It covers the site, the true weather hour by hour, the dates, the recipe, the seed, the parts, the usual year,
the version of the program and its code: a line that is changed may change what comes out. It leaves out the
job's key, where files lie, what the weather says of its own origin, and the faces, which only show.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import fields, is_dataclass, replace
from enum import Enum
from functools import cache
from pathlib import Path, PurePath
from typing import Any, Protocol

import numpy as np
from pydantic import BaseModel

from advisor.replay import Job
from advisor.version import VERSION

PACKAGE, FACES = Path(__file__).resolve().parents[1], "faces"


class _Hash(Protocol):
    def update(self, data: bytes, /) -> None: ...


@cache
def code_digest() -> str:
    """The digest of the source of every package that may steer a result; read once."""
    found = hashlib.sha256()
    for path in sorted(PACKAGE.rglob("*.py")):
        name = path.relative_to(PACKAGE).as_posix()
        if not name.startswith(f"{FACES}/"):
            source = path.read_bytes().replace(b"\r\n", b"\n")
            found.update(f"{name} {len(source)};".encode() + source)
    return found.hexdigest()


def digest_of(job: Job) -> str:
    """The digest of all that decides what comes of a job."""
    found = hashlib.sha256()
    plain = replace(job, key="", truth=replace(job.truth, sources=(), notes=()))
    _take(found, VERSION)
    _take(found, code_digest())
    _take(found, plain)
    return found.hexdigest()


def _take(into: _Hash, value: Any) -> None:
    """Feed a value, with marks that keep neighbours apart."""
    if isinstance(value, PurePath):
        into.update(b"file;")
    elif isinstance(value, np.ndarray):
        into.update(f"array {value.dtype} {value.shape};".encode())
        into.update(np.ascontiguousarray(value).tobytes())
    elif is_dataclass(value) and not isinstance(value, type):
        into.update(f"{type(value).__name__}(".encode())
        for one in fields(value):
            into.update(f"{one.name}=".encode())
            _take(into, getattr(value, one.name))
        into.update(b")")
    elif isinstance(value, BaseModel):
        into.update(f"{type(value).__name__}({value.model_dump_json()})".encode())
    elif isinstance(value, Mapping):
        into.update(b"{")
        for key in sorted(value, key=repr):
            _take(into, key)
            _take(into, value[key])
        into.update(b"}")
    elif isinstance(value, (frozenset, set)):
        _take(into, sorted(value, key=repr))
    elif isinstance(value, (list, tuple)):
        into.update(b"[")
        for each in value:
            _take(into, each)
        into.update(b"]")
    elif isinstance(value, Enum):
        into.update(f"{type(value).__name__}.{value.name};".encode())
    elif hasattr(value, "__dict__") and type(value).__module__.startswith("advisor."):
        into.update(f"{type(value).__name__}".encode())
        _take(into, vars(value))
    else:
        into.update(f"{type(value).__name__} {value!r};".encode())
