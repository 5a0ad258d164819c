"""What a next look has come to, and whether an advice asks for any act."""

from __future__ import annotations

from datetime import timedelta
from enum import StrEnum
from typing import NamedTuple

from advisor.advice.advice import Advice, LookKind, NextLook

AT_THE_LOOK = timedelta(hours=2)
"""A reading of the gauge so near a look is that of the look."""


class LookVerdict(StrEnum):
    """How a look ended."""

    TOP_UP = "Top-up"
    ALL_CLEAR = "All clear"
    NOT_SETTLED = "Not settled yet"
    GO_AHEAD = "Go ahead as planned"
    SKIP = "Skip it"


class LookOutcome(NamedTuple):
    """How a look ended, and whether that is worth telling where only what is to be done is told."""

    verdict: LookVerdict
    worth_telling: bool


def look_outcome(advice: Advice, look: NextLook) -> LookOutcome:
    """What the advice given at the time of a look says to the question that the look had put."""
    zones = set(look.zones)
    runs = any(run.zone in zones for run in advice.runs)
    if look.kind is not LookKind.GAUGE:
        runs = runs or any(run.zone in zones for run in advice.under_way)  # too late to be skipped
        return LookOutcome(LookVerdict.GO_AHEAD if runs else LookVerdict.SKIP, not runs)
    if runs or any(left.zone in zones for left in advice.not_planned):
        return LookOutcome(LookVerdict.TOP_UP, True)
    waits = any(one.kind is LookKind.GAUGE and zones & set(one.zones) for one in advice.next_looks)
    return LookOutcome(LookVerdict.NOT_SETTLED if waits else LookVerdict.ALL_CLEAR, True)


def asks_for_an_act(advice: Advice) -> bool:
    """Whether there is a run, a look that decides one, or water that does not fit."""
    return bool(
        advice.runs or advice.not_planned or any(look.kind is LookKind.GAUGE for look in advice.next_looks)
    )
