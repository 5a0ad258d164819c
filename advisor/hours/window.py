"""A stretch of time in which water may run."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, slots=True)
class Window:
    """A half-open stretch [starts_at, ends_at) of aware UTC time in which water may run."""

    starts_at: datetime
    ends_at: datetime
