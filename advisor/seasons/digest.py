"""What decides the result of a job, as one number: the same job anywhere has the same digest.

It covers the site, the true weather hour by hour, the dates, the recipe, the seed, the parts, the usual year
and the version of the program. It leaves out the job's key, where files lie, and what the weather says
of its own origin: none of them changes what comes out.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import fields, is_dataclass, replace
from enum import Enum
from pathlib import PurePath
from typing import Any, Protocol

import numpy as np
from pydantic import BaseModel

from advisor.replay import Job
from advisor.version import VERSION


class _Hash(Protocol):
    def update(self, data: bytes, /) -> None: ...


def digest_of(job: Job) -> str:
    """The digest of all that decides what comes of a job."""
    found = hashlib.sha256()
    plain = replace(job, key="", truth=replace(job.truth, sources=(), notes=()))
    _take(found, VERSION)
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
