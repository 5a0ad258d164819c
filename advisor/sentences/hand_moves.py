"""Moves by hand in words."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from advisor.advice import HandAct, HandMove
from advisor.wording import clock_of


def hand_move_words(moves: Sequence[HandMove], local: ZoneInfo) -> tuple[str, ...]:
    """What to do and when, in local time; on a later date than the first move with the weekday."""
    return tuple(_words(move, moves[0].at, local) for move in moves)


def _words(move: HandMove, first: datetime, local: ZoneInfo) -> str:
    at = _clock(move.at, local, first)
    if move.until is None:
        return f"{at} Turn the water off."
    act = {
        HandAct.START: f"Start the sprinkler on {move.zone}",
        HandAct.START_AGAIN: f"Start the sprinkler on {move.zone} again",
        HandAct.LEAVE_ON: f"Leave the sprinkler running on {move.zone}",
        HandAct.MOVE: f"Move the sprinkler from {move.moved_from} to {move.zone}",
    }[move.act]
    condition = f", if {move.only_if}" if move.only_if else ""
    return f"{at} {act}{condition}; it runs until {_clock(move.until, local, first)}."


def _clock(when: datetime, local: ZoneInfo, first: datetime) -> str:
    """Local time, with the weekday when the date is not that of the first move."""
    at = when.astimezone(local)
    return clock_of(at) if at.date() == first.astimezone(local).date() else f"{at:%a} {clock_of(at)}"
