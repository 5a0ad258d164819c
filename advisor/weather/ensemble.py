"""Rain members as a source's ensemble gives them, put on the hours of its forecast."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from typing import NamedTuple

import numpy as np

from advisor.advice import Note, NoteKind, NoteLevel
from advisor.errors import SourceError
from advisor.weather.hour_grid import HOUR_S, seconds
from advisor.weather.members import pool_members
from advisor.weather.weather import Array, Hours, SourceUse, Weather, failed


class Ensemble(NamedTuple):
    """Rain members as fetched from `source`. `members_mm` (m, h) over `starts` (h,); `models` (m,) each
    one's model."""

    source: str
    attribution: str
    starts: Hours
    members_mm: Array
    models: tuple[str, ...]
    notes: tuple[Note, ...]
    fetched_at: datetime


def with_ensemble(
    weather: Weather, found: Ensemble | SourceError, now: datetime, *, refuse_after_h: float
) -> Weather:
    """The weather with the ensemble's members, its models counted alike; or with a note why there are none."""
    if isinstance(found, SourceError):
        return replace(weather, notes=(failed(found), *weather.notes))
    if (old := (now - found.fetched_at).total_seconds() / 3600.0) > refuse_after_h:
        note = Note(level=NoteLevel.WARNING, kind=NoteKind.MEMBERS_OLD, age_h=old)
        return replace(weather, notes=(note, *weather.notes))
    return with_members(weather, models_alike(found))


def models_alike(ensemble: Ensemble) -> Ensemble:
    """The ensemble with as many members of each of its models."""
    models = np.array(ensemble.models)
    names = list(dict.fromkeys(ensemble.models))
    if len(names) < 2:
        return ensemble
    pooled = pool_members([ensemble.members_mm[models == name] for name in names])
    each = tuple(name for name in names for _ in range(len(pooled) // len(names)))
    return ensemble._replace(members_mm=pooled, models=each)


def with_members(weather: Weather, ensemble: Ensemble) -> Weather:
    """The weather with the ensemble's members on its own hours; hours the ensemble lacks are NaN."""
    first = int(seconds(weather.starts)[0])
    at = (seconds(ensemble.starts) - first) // HOUR_S
    inside = (at >= 0) & (at < weather.hours)
    members = np.full((len(ensemble.members_mm), weather.hours), np.nan)
    members[:, at[inside]] = ensemble.members_mm[:, inside]
    known = np.flatnonzero(np.isfinite(ensemble.members_mm).any(axis=0))
    until = int(seconds(ensemble.starts)[known[-1]]) + HOUR_S
    use = SourceUse(
        f"{ensemble.source} ({', '.join(dict.fromkeys(ensemble.models))})",
        "rain members",
        ensemble.fetched_at,
        datetime.fromtimestamp(until, UTC),
        ensemble.attribution,
        len(members),
    )
    return replace(
        weather,
        members_mm=members,
        sources=(*weather.sources, use),
        notes=(*weather.notes, *ensemble.notes),
    )
