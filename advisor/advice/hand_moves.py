"""Runs by hand as a short list of moves with times, for a sprinkler that has no valve."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from enum import StrEnum

from advisor.advice.advice import PlannedRun
from advisor.advice.frozen import Frozen


class HandAct(StrEnum):
    """What a person does."""

    START = "start"
    START_AGAIN = "start again"
    MOVE = "move"
    LEAVE_ON = "leave on"
    TURN_OFF = "turn off"


class HandMove(Frozen):
    """One thing to do by hand, in the order of time."""

    at: datetime
    """When."""
    act: HandAct
    """What."""
    zone: str = ""
    """The zone that gets water; none where it is turned off."""
    moved_from: str = ""
    """The zone that the sprinkler is moved from."""
    until: datetime | None = None
    """Until when it runs there."""
    only_if: str = ""
    """The condition of the run, in words; empty for a run that is to be made anyway."""


def hand_moves(runs: Sequence[PlannedRun]) -> tuple[HandMove, ...]:
    """What a person does and when; empty when nothing runs by hand.

    A stretch that begins as another ends is one move of the sprinkler.
    """
    stretches = sorted(
        ((c.starts_at, c.ends_at, run) for run in runs if run.by_hand for c in run.cycles),
        key=lambda stretch: stretch[:2],
    )
    moves: list[HandMove] = []
    seen: set[str] = set()
    for i, (starts_at, ends_at, run) in enumerate(stretches):
        before = stretches[i - 1][2].zone if i and stretches[i - 1][1] == starts_at else ""
        if before == run.zone:
            act = HandAct.LEAVE_ON
        elif before:
            act = HandAct.MOVE
        else:
            act = HandAct.START_AGAIN if run.zone in seen else HandAct.START
        moves.append(
            HandMove(
                at=starts_at,
                act=act,
                zone=run.zone,
                moved_from=before if act == HandAct.MOVE else "",
                until=ends_at,
                only_if=run.only_if,
            )
        )
        seen.add(run.zone)
        if i + 1 == len(stretches) or stretches[i + 1][0] > ends_at:
            moves.append(HandMove(at=ends_at, act=HandAct.TURN_OFF))
    return tuple(moves)
