"""Applications that share an answer, so that a face can tell it once."""

from __future__ import annotations

from collections.abc import Iterable

from advisor.advice.advice import ApplicationAdvice
from advisor.advice.reasons import Reason


def alike(applications: Iterable[ApplicationAdvice]) -> list[list[ApplicationAdvice]]:
    """The applications of one zone that rest on the same reasons, together, in their order."""
    same: dict[tuple[str, tuple[Reason, ...]], list[ApplicationAdvice]] = {}
    for one in applications:
        same.setdefault((one.zone, one.reasons), []).append(one)
    return list(same.values())
