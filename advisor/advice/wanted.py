"""From decisions and needs to the water that is wanted tonight, one want a zone.

One run meets all that it can: the deepest of what is asked, but never past what a product on the
zone bears. A dry period always wins over a run; what has to wait for it says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from math import ceil

from advisor.advice.conflicts import agreed_depth
from advisor.advice.cover import Choice
from advisor.advice.need import LEAST_RUN_MM, TurfNeed
from advisor.advice.obligations import Obligation
from advisor.advice.wants import DUE, SEED, TURF, Want, Window
from advisor.advice.zone_facts import ZoneFacts
from advisor.lawn.site import Zone
from advisor.science.sprinkler import depth_of, run_minutes

SEED_RUN_MM, SEED_RUNS, SEED_PAUSE_MIN = 3.0, 2, 180.0
# Iowa State: two light runs a day until seed is up; 1–4 mm a run from memory


@dataclass(frozen=True, slots=True)
class ZoneWant:
    """What one zone is to get tonight and what asked for it.

    `effective_mm` is 0 when nothing is wanted. `look_at` and `under_mm` are set when the run is made
    only if the gauge then shows less; `later_at` is the first chance after tonight of a run that cannot
    be made sooner. `capped_by` is the product whose most depth cut the turf's refill, `held` that the
    night holds no more, `serves` the products that the run waters in, `turf_mm` what the turf asked.
    """

    zone: int
    effective_mm: float
    serves: tuple[str, ...]
    turf_mm: float
    capped_by: str
    wants: tuple[Want, ...]
    look_at: datetime | None = None
    under_mm: float | None = None
    held: bool = False
    later_at: datetime | None = None


def minutes_for(effective_mm: float, facts: ZoneFacts, rate_mm_h: float | None = None) -> float:
    """Run time that gives the drier part of a zone `effective_mm`, min."""
    gross = effective_mm * facts.multiplier
    return float(run_minutes(depth_mm=gross, rate_mm_h=rate_mm_h or facts.rate_mm_h))


def run_time(effective_mm: float, facts: ZoneFacts) -> timedelta:
    """How long a run takes with its soaks."""
    run = minutes_for(effective_mm, facts)
    pauses = 0.0
    if facts.cycle_min is not None and facts.cycle_min > 0:
        pauses = facts.soak_min * max(0, -int(-run // facts.cycle_min) - 1)
    return timedelta(minutes=run + pauses)


def zone_want(
    *,
    zone: Zone,
    facts: ZoneFacts,
    need: TurfNeed,
    obligations: Sequence[tuple[Obligation, Choice | None]],
    windows: Sequence[Window],
    night: date,
    now: datetime,
    supply_l_min: float | None = None,
    most_min: float | None = None,
) -> ZoneWant:
    """Bring one zone's obligations and turf need together.

    A zone that draws more than the supply is said to carry does run in the world: it runs alone.
    A refill of the turf that a whole night (`most_min`: the run time the rules allow in one) could not
    hold is cut to what it holds; water that is due is not.
    """
    flow = facts.flow_l_min
    if flow is not None and supply_l_min is not None:
        flow = min(flow, supply_l_min)
    dry = tuple(
        Window(max(now, o.application.started_at), o.dry_until)
        for o, _ in obligations
        if o.dry_until is not None and o.dry_until > now
    )
    due = [(o, c) for o, c in obligations if c is not None and c.action == "run" and c.top_up_mm > 0]
    over_at = windows[-1].ends_at if windows else None
    later_at = None
    if over_at is not None:
        starts = [c.prospect.run_at for _, c in due if c.prospect.run_at is not None]
        later_at = min((at for at in starts if at >= over_at), default=None)
        due = [(o, c) for o, c in due if c.prospect.run_at is None or c.prospect.run_at < over_at]
    open_ones = [o for o, c in obligations if c is not None and o.most_mm > 0]
    due_mm = agreed_depth(max((c.top_up_mm for _, c in due), default=0.0), obligations)
    capped_by, turf_mm, held = "", need.wanted_mm, False
    for o in open_ones:
        bears = max(o.most_mm - o.total_received_mm, 0.0)
        if bears < turf_mm:
            turf_mm, capped_by = bears, o.product.name
    held_mm = _held(facts, windows, most_min)
    if turf_mm > held_mm >= LEAST_RUN_MM:
        turf_mm, capped_by, held = held_mm, "", True
    effective = max(due_mm, turf_mm)
    if _is_seed(zone, obligations, night, now):
        return ZoneWant(
            need.zone, SEED_RUN_MM * SEED_RUNS, (), 0.0, "", _seed_wants(zone, facts, windows, dry, flow)
        )
    look_at = under_mm = None
    if effective <= 0:
        waits = [c for _, c in obligations if c is not None and c.action == "wait" and c.look_top_up_mm > 0]
        if not waits:
            return ZoneWant(need.zone, 0.0, (), turf_mm, capped_by, (), later_at=later_at)
        look_at = min(c.look_at for c in waits if c.look_at is not None)
        under_mm = max(c.under_mm for c in waits if c.under_mm is not None)
        effective = due_mm = max(c.look_top_up_mm for c in waits)
        by_then = min(c.by for c in waits)
    serves = tuple(dict.fromkeys(o.product.name for o in open_ones if effective >= o.missing_mm - 1e-6))
    priority = DUE if due_mm > 0 else TURF
    by = by_then if look_at is not None else min((c.by for _, c in due), default=None)
    urgency = (
        1.0 / (1.0 + (by - now).total_seconds() / 3600.0)
        if by
        else need.at_run_mm / max(need.allowed_mm, 1e-9)
    )
    want = Want(
        zone=zone.name,
        depth_mm=effective * facts.multiplier,
        effective_mm=effective,
        minutes=minutes_for(effective, facts),
        cycle_min=facts.cycle_min,
        soak_min=facts.soak_min,
        priority=priority,
        urgency=urgency,
        area_m2=zone.area_m2,
        flow_l_min=flow,
        earliest=look_at,
        latest=by if by and by > now else None,
        dry=dry,
        by_hand=zone.by_hand,
        why="water in" if priority == DUE else "turf",
    )
    held = held and effective <= turf_mm
    return ZoneWant(need.zone, effective, serves, turf_mm, capped_by, (want,), look_at, under_mm, held)


def _held(facts: ZoneFacts, windows: Sequence[Window], most_min: float | None) -> float:
    """The effective depth that one zone alone could get in these windows, in cycles and soaks, mm."""
    minutes = 0
    for window in windows:
        open_min = int((window.ends_at - window.starts_at).total_seconds() // 60)
        if facts.cycle_min is None:
            minutes += open_min
            continue
        cycle, soak = max(1, int(facts.cycle_min)), ceil(facts.soak_min)
        whole = (open_min + soak) // (cycle + soak)
        minutes += whole * cycle + min(cycle, max(0, open_min - whole * (cycle + soak)))
    if most_min is not None:
        minutes = min(minutes, int(most_min))
    return depth_of(minutes=float(minutes), rate_mm_h=facts.rate_mm_h) / facts.multiplier


def _is_seed(
    zone: Zone, obligations: Sequence[tuple[Obligation, Choice | None]], night: date, now: datetime
) -> bool:
    declared = zone.mode == "seed" and (zone.mode_until is None or night <= zone.mode_until)
    sown = any(
        o.product.kind.light_runs_per_day > 0
        and now <= o.application.ended_at + timedelta(days=o.product.kind.for_days)
        for o, _ in obligations
    )
    return declared or sown


def _seed_wants(
    zone: Zone, facts: ZoneFacts, windows: Sequence[Window], dry: tuple[Window, ...], flow_l_min: float | None
) -> tuple[Want, ...]:
    """Light runs with a long pause between, as far as tonight's windows allow."""
    one = float(run_minutes(depth_mm=SEED_RUN_MM, rate_mm_h=facts.rate_mm_h))
    longest = max(((w.ends_at - w.starts_at).total_seconds() / 60.0 for w in windows), default=0.0)
    pause = max(facts.soak_min, min(SEED_PAUSE_MIN, 0.7 * (longest - SEED_RUNS * one)))
    want = Want(
        zone=zone.name,
        depth_mm=SEED_RUN_MM * SEED_RUNS,
        effective_mm=SEED_RUN_MM * SEED_RUNS / facts.multiplier,
        minutes=SEED_RUNS * one,
        cycle_min=one if facts.cycle_min is None else min(one, facts.cycle_min),
        soak_min=pause,
        priority=SEED,
        urgency=1.0,
        area_m2=zone.area_m2,
        flow_l_min=flow_l_min,
        dry=dry,
        by_hand=zone.by_hand,
        why="seed kept moist",
    )
    return (want,)
