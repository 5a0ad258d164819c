"""A stretch of time in which water may run, and what is common to several."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta


@dataclass(frozen=True, slots=True)
class Window:
    """A half-open stretch [starts_at, ends_at) of aware UTC time in which water may run."""

    starts_at: datetime
    ends_at: datetime


def overlap(
    some: Iterable[Window], others: Sequence[Window], *, least: timedelta = timedelta()
) -> tuple[Window, ...]:
    """What lies in both, in the order of `some`; parts shorter than `least` are left out."""
    found = (Window(max(a.starts_at, b.starts_at), min(a.ends_at, b.ends_at)) for a in some for b in others)
    return tuple(w for w in found if w.starts_at < w.ends_at and w.ends_at - w.starts_at >= least)


def without(windows: Iterable[Window], taken: Iterable[Window]) -> tuple[Window, ...]:
    """What is left of the windows outside what is taken, in order."""
    free = list(windows)
    for other in taken:
        parts = (
            part
            for w in free
            for part in (
                Window(w.starts_at, min(w.ends_at, other.starts_at)),
                Window(max(w.starts_at, other.ends_at), w.ends_at),
            )
        )
        free = [part for part in parts if part.starts_at < part.ends_at]
    return tuple(free)
