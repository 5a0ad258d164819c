"""Runs by hand as a short list of moves with times, for a sprinkler that has no valve."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from advisor.advice.advice import PlannedRun


def hand_moves(runs: Sequence[PlannedRun], zone: ZoneInfo) -> tuple[str, ...]:
    """What a person does and when, in local time; empty when nothing runs by hand.

    A stretch that begins as another ends is one move of the sprinkler. Moves on a later date than
    the first are told with their weekday, and those of a run that waits for a look with its condition.
    """
    stretches = sorted(
        ((c.starts_at, c.ends_at, run) for run in runs if run.by_hand for c in run.cycles),
        key=lambda stretch: stretch[:2],
    )
    moves: list[str] = []
    seen: set[str] = set()
    for i, (starts_at, ends_at, run) in enumerate(stretches):
        start, end = (_clock(when, zone, stretches[0][0]) for when in (starts_at, ends_at))
        before = stretches[i - 1][2].zone if i and stretches[i - 1][1] == starts_at else None
        if before == run.zone:
            act = f"Leave the sprinkler running on {run.zone}"
        elif before is not None:
            act = f"Move the sprinkler from {before} to {run.zone}"
        else:
            act = f"Start the sprinkler on {run.zone}{' again' if run.zone in seen else ''}"
        if run.only_if:
            act += f", if {run.only_if}"
        moves.append(f"{start} {act}; it runs until {end}.")
        seen.add(run.zone)
        if i + 1 == len(stretches) or stretches[i + 1][0] > ends_at:
            moves.append(f"{end} Turn the water off.")
    return tuple(moves)


def _clock(when: datetime, zone: ZoneInfo, first: datetime) -> str:
    """Local time, with the weekday when the date is not that of the first move."""
    local = when.astimezone(zone)
    return f"{local:%H:%M}" if local.date() == first.astimezone(zone).date() else f"{local:%a %H:%M}"
