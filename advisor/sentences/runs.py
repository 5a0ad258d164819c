"""How a run is written: its length, its depth, its time."""

from __future__ import annotations

from advisor.advice import PlannedRun, RunPurpose
from advisor.wording import Say, minutes


def run_words(say: Say, run: PlannedRun) -> str:
    """A run with its soaks: Lawn 24 min at 02:37, or Bank 2 × 36 min from 02:36 to 04:33."""
    first, last = say.clock(run.cycles[0].starts_at), say.clock(run.cycles[-1].ends_at)
    if len(run.cycles) == 1:
        return f"{run.zone} {length_words(run)} at {first}"
    return f"{run.zone} {length_words(run)} from {first} to {last}"


def length_words(run: PlannedRun) -> str:
    """24 min, 2 × 36 min, or 70 min in 2 cycles."""
    cycles = [round((c.ends_at - c.starts_at).total_seconds() / 60.0) for c in run.cycles]
    if len(cycles) == 1:
        return minutes(run.minutes)
    if len(set(cycles)) == 1:
        return f"{len(cycles)} × {minutes(cycles[0])}"
    return f"{minutes(run.minutes)} in {len(cycles)} cycles"


def depth_words(say: Say, run: PlannedRun) -> str:
    """What a run puts down on average, and what of it counts."""
    mean, counted = say.depth(run.depth_mm), say.depth(run.effective_mm)
    if run.why == RunPurpose.COOL or mean == counted:
        return mean
    return f"{mean} on average, {counted} counted for the drier part"


def condition_words(say: Say, run: PlannedRun) -> str:
    """The condition of a run that waits for the gauge, "" for one that is to be made anyway."""
    if run.condition is None:
        return ""
    return f"the gauge shows under {say.depth(run.condition.under_mm)} at {say.clock(run.condition.look_at)}"
