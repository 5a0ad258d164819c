"""Runs by hand as a short list of moves with times, for a sprinkler that has no valve."""

from __future__ import annotations

from collections.abc import Sequence
from zoneinfo import ZoneInfo

from advisor.advice.advice import PlannedRun


def hand_moves(runs: Sequence[PlannedRun], zone: ZoneInfo) -> tuple[str, ...]:
    """What a person does and when, in local time; empty when nothing runs by hand.

    A stretch that begins as another ends is one move of the sprinkler.
    """
    stretches = sorted(
        (cycle.starts_at, cycle.ends_at, run.zone) for run in runs if run.by_hand for cycle in run.cycles
    )
    moves: list[str] = []
    seen: set[str] = set()
    for i, (starts_at, ends_at, name) in enumerate(stretches):
        until = f"it runs until {ends_at.astimezone(zone):%H:%M}."
        before = stretches[i - 1][2] if i and stretches[i - 1][1] == starts_at else None
        if before == name:
            act = f"Leave the sprinkler running on {name}"
        elif before is not None:
            act = f"Move the sprinkler from {before} to {name}"
        else:
            act = f"Start the sprinkler on {name}{' again' if name in seen else ''}"
        moves.append(f"{starts_at.astimezone(zone):%H:%M} {act}; {until}")
        seen.add(name)
        if i + 1 == len(stretches) or stretches[i + 1][0] > ends_at:
            moves.append(f"{ends_at.astimezone(zone):%H:%M} Turn the water off.")
    return tuple(moves)
