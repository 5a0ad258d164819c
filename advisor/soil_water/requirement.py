"""What the turf itself needs tonight: whether to run, how deep, and what rain would make it needless.

A zone is run tonight when leaving it until its next allowed night is expected to cost the grass more
than a run costs. It is filled only as far as room is likely to remain for the rain that may follow,
so runs are deep and seldom and do not push rain past the roots. More rain, or wetter soil, lowers
both the want and the depth.

One step ahead is enough: tonight is weighed against the next allowed night alone, however far off that
is. Later nights add nothing, because what they could do for the grass they can do in either case; a
search over every depth and member to that night comes out no better (tests/advice/test_which_night.py).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from advisor.lawn import Decision, Judgement
from advisor.science.chance import quantile, share_of
from advisor.soil_water.root_zone import RootZone
from advisor.weather import Array

DOUBT_MM = 3.0  # readings of the soil closer together than this are not told apart


@dataclass(frozen=True, slots=True)
class Requirement:
    """One zone's own need. Depths in mm of effective water.

    `depletion_mm` is that of now, `low_mm` and `high_mm` the same by the wet and the dry reading of what is
    not known; `at_run_mm` the expected one when a run could start, `next_mm` at the next chance after it,
    without water; `chance_past` the chance that it passes the allowance by then, `unmet_mm` what the turf
    would go short of from the one to the other; `spare_mm` the rain before the run that would make it
    needless. `wanted_mm` is the depth to put on, 0 when none is.
    """

    zone: int
    wanted_mm: float
    depletion_mm: float
    low_mm: float
    high_mm: float
    allowed_mm: float
    at_run_mm: float
    next_mm: float
    room_mm: float
    chance_past: float
    unmet_mm: float
    spare_mm: float
    next_at: datetime | None
    left_to_rain: bool

    @property
    def is_unsure(self) -> bool:
        """Whether the wet and the dry reading are so far apart that it is worth telling."""
        return self.high_mm - self.low_mm > DOUBT_MM


def turf_requirement(
    *,
    root_zone: RootZone,
    zone: int,
    run_at: datetime,
    next_at: datetime | None,
    decision: Decision,
    judgement: Judgement,
) -> Requirement:
    """The need of zone number `zone`, were it run at `run_at` or else not before `next_at`."""
    judged, dial = judgement.turf, decision.dial
    run_hour = _hour(root_zone, run_at)
    next_hour = _hour(root_zone, next_at) if next_at is not None else root_zone.hours_ahead - 1
    next_hour = max(next_hour, min(run_hour + 1, root_zone.hours_ahead - 1))
    first, depletion = root_zone.first, root_zone.ahead_depletion_mm[zone]
    allowed = root_zone.allowed_mm(zone, run_hour)
    etc = root_zone.etc_mm[zone, first : first + root_zone.hours_ahead]
    dry_part = etc[run_hour : next_hour + 1] - root_zone.ahead_actual_mm[zone, :, run_hour : next_hour + 1]
    unmet = float(dry_part.sum(axis=1).mean())
    room_until = min(run_hour + round(judged.room_h), root_zone.hours_ahead)
    fullest = depletion[:, run_hour:room_until].min(axis=1)
    room = quantile(fullest, judged.room_share.of(dial))
    stress = decision.costs.get("stress", judged.stress.of(dial))
    wants = stress * unmet > judged.run_mm
    low, high = _past_range(root_zone, zone)
    next_mm = depletion[:, next_hour]
    return Requirement(
        zone=zone,
        wanted_mm=room if wants and room >= judged.least_run_mm else 0.0,
        depletion_mm=float(root_zone.depletion_mm[zone, 1, -1]),
        low_mm=low,
        high_mm=high,
        allowed_mm=allowed,
        at_run_mm=float(depletion[:, run_hour].mean()),
        next_mm=float(next_mm.mean()),
        room_mm=room,
        chance_past=share_of(next_mm > allowed),
        unmet_mm=unmet,
        spare_mm=_spare(root_zone, zone, next_hour, allowed) + judgement.rain.interception_mm,
        next_at=next_at,
        left_to_rain=wants and room < judged.least_run_mm,
    )


def _hour(root_zone: RootZone, when: datetime) -> int:
    hours_ahead = root_zone.weather.index_at(when) - root_zone.first
    return min(max(hours_ahead, 0), root_zone.hours_ahead - 1)


def _past_range(root_zone: RootZone, zone: int) -> tuple[float, float]:
    """Depletion now by the wet and by the dry reading of what is not known."""
    traces: Array = root_zone.depletion_mm[zone, :, -1]
    return float(traces.min()), float(traces.max())


def _spare(root_zone: RootZone, zone: int, next_hour: int, allowed: float) -> float:
    """Rain into the soil before the run that keeps depletion within the allowance until the next chance:
    what the driest member then lacks."""
    dry = float(root_zone.ahead_depletion_mm[zone, :, next_hour].max())
    return max(0.0, dry - allowed)
