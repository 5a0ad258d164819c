"""How long a run takes: its water in whole minutes, its cycles, and the soaks between them.

The planner lays these very cycles into the night, so whoever asks whether a run fits asks here.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from math import ceil, floor

from advisor.science.sprinkler import run_minutes
from advisor.soil_water import ZoneFigures

LEAST_HAND_MIN = 10
"""A sprinkler that a person moves stands at least so long, even where the soil would puddle sooner."""
TINY = 1e-6


@dataclass(frozen=True, slots=True)
class RunLength:
    """A run in whole minutes: its `cycles`, and the least pause `soak` between two of them."""

    cycles: tuple[int, ...]
    soak: int

    @property
    def minutes(self) -> int:
        """Run time [min]."""
        return sum(self.cycles)

    @property
    def elapsed(self) -> int:
        """Run time and soaks, from the first minute of water to the last [min]."""
        return self.minutes + self.soak * max(0, len(self.cycles) - 1)

    @property
    def takes(self) -> timedelta:
        """`elapsed` as time."""
        return timedelta(minutes=self.elapsed)


def run_length(
    minutes: float, cycle_min: float | None, soak_min: float, *, by_hand: bool = False
) -> RunLength:
    """Minutes of water as whole-minute cycles, as even as can be, none over the longest stretch `cycle_min`.

    The total is rounded up, so what is delivered is never less than what is asked for and at most a
    minute more. A stretch is at least a minute, and for a sprinkler moved by hand at least
    `LEAST_HAND_MIN`, even where the soil would puddle sooner. No minutes are no cycle.

    >>> run_length(60, 4.0, 35.0).elapsed, run_length(60, 4.0, 35.0, by_hand=True).elapsed
    (550, 235)
    """
    total = ceil(minutes - TINY)
    soak = max(0, ceil(soak_min - TINY))
    if total <= 0:
        return RunLength((), soak)
    if cycle_min is None:
        return RunLength((total,), soak)
    longest = max(LEAST_HAND_MIN if by_hand else 1, floor(cycle_min + TINY))
    count = -(-total // longest)
    return RunLength(tuple(total // count + (i < total % count) for i in range(count)), soak)


def minutes_for(effective_mm: float, figures: ZoneFigures, rate_mm_h: float | None = None) -> float:
    """Run time that gives the drier part of a zone `effective_mm` [min]."""
    gross = effective_mm * figures.multiplier
    return float(run_minutes(depth_mm=gross, rate_mm_h=rate_mm_h or figures.rate_mm_h))


def length_for(effective_mm: float, figures: ZoneFigures, *, by_hand: bool = False) -> RunLength:
    """The run that gives the drier part of a zone `effective_mm`."""
    return run_length(
        minutes_for(effective_mm, figures), figures.cycle_min, figures.soak_min, by_hand=by_hand
    )
