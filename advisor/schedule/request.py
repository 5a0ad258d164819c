"""What the night's plan is made from: the water that is asked for."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

from advisor.advice import RunPurpose
from advisor.hours import Window
from advisor.schedule.run_length import RunLength, run_length

DUE, SEED, TURF = 0, 1, 2


@dataclass(frozen=True, slots=True)
class Request:
    """Water wanted on one zone tonight.

    `depth_mm` is the mean depth over the zone that `minutes` of run time deliver; `effective_mm`
    what it is counted as. `cycle_min` is the longest stretch before runoff (None: no limit),
    `soak_min` the least pause between two stretches. `priority` DUE before SEED before TURF, then
    the larger `urgency` first. It may run only inside [earliest, latest] and outside `dry` spans.
    `flow_l_min` None when unknown: then the zone runs alone. `least_minutes`: where the whole does not
    fit, it may be cut down to so much; None: whole or not at all.
    """

    zone: str
    depth_mm: float
    effective_mm: float
    minutes: float
    cycle_min: float | None
    soak_min: float
    priority: int
    urgency: float
    area_m2: float
    flow_l_min: float | None = None
    earliest: datetime | None = None
    latest: datetime | None = None
    dry: tuple[Window, ...] = ()
    by_hand: bool = False
    why: RunPurpose = RunPurpose.TURF
    least_minutes: float | None = None

    @property
    def length(self) -> RunLength:
        """Its cycles and soaks in whole minutes."""
        return run_length(self.minutes, self.cycle_min, self.soak_min, by_hand=self.by_hand)

    def shortened(self, minutes: float) -> Request:
        """The same zone with so many minutes, and the depth they deliver."""
        share = minutes / self.minutes
        return replace(
            self,
            minutes=float(minutes),
            depth_mm=self.depth_mm * share,
            effective_mm=self.effective_mm * share,
        )
