"""From decisions and needs to the water that is wanted tonight, one want a zone.

One run meets all that it can: the deepest of what is asked, but never past what a product on the
zone bears. A dry period always wins over a run; what has to wait for it says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from advisor.hours.window import Window
from advisor.lawn.site_values import Zone
from advisor.schedule.planner import Plan
from advisor.schedule.request import DUE, TURF, Request
from advisor.science.sprinkler import run_minutes
from advisor.soil_water.requirement import LEAST_RUN_MM, Requirement
from advisor.soil_water.zone_figures import ZoneFigures
from advisor.tonight.seed import SEED_RUN_MM, SEED_RUNS, seed_request
from advisor.watering_in.applications import ZoneApplication
from advisor.watering_in.conflicts import agreed_depth
from advisor.watering_in.decision import Choice
from advisor.wording import listed


@dataclass(frozen=True, slots=True)
class ZoneRequest:
    """What one zone is to get tonight and what asked for it.

    `effective_mm` is 0 when nothing is wanted. `look_at` and `under_mm` are set when the run is made
    only if the gauge then shows less; `later_at` is the first chance after tonight of a run that cannot
    be made sooner. `capped_by` is the product whose most depth cut the turf's refill, `serves` the products
    that the run waters in, `turf_mm` what the turf asked. `held`: the night holds only a part of it, the
    rest waits for the date `rest_on`, None where no coming night has room. `note` is to be said with the
    plan, "" when nothing is.
    """

    zone: int
    effective_mm: float
    serves: tuple[str, ...]
    turf_mm: float
    capped_by: str
    requests: tuple[Request, ...]
    look_at: datetime | None = None
    under_mm: float | None = None
    held: bool = False
    later_at: datetime | None = None
    rest_on: date | None = None
    note: str = ""


def minutes_for(effective_mm: float, figures: ZoneFigures, rate_mm_h: float | None = None) -> float:
    """Run time that gives the drier part of a zone `effective_mm`, min."""
    gross = effective_mm * figures.multiplier
    return float(run_minutes(depth_mm=gross, rate_mm_h=rate_mm_h or figures.rate_mm_h))


def run_time(effective_mm: float, figures: ZoneFigures) -> timedelta:
    """How long a run takes with its soaks."""
    run = minutes_for(effective_mm, figures)
    pauses = 0.0
    if figures.cycle_min is not None and figures.cycle_min > 0:
        pauses = figures.soak_min * max(0, -int(-run // figures.cycle_min) - 1)
    return timedelta(minutes=run + pauses)


def zone_request(
    *,
    zone: Zone,
    figures: ZoneFigures,
    need: Requirement,
    obligations: Sequence[tuple[ZoneApplication, Choice | None]],
    windows: Sequence[Window],
    night: date,
    now: datetime,
    supply_l_min: float | None = None,
    midday: Window | None = None,
) -> ZoneRequest:
    """Bring one zone's obligations and turf need together; `midday` as `Night` has it.

    A zone that draws more than the supply is said to carry does run in the world: it runs alone.
    A refill of the turf may be cut where the night has no room for all of it, but never below what is
    due on the zone, nor to less than is worth a run.
    """
    flow = figures.flow_l_min
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
        starts = [c.expected_loss.run_at for _, c in due if c.expected_loss.run_at is not None]
        later_at = min((at for at in starts if at >= over_at), default=None)
        due = [(o, c) for o, c in due if c.expected_loss.run_at is None or c.expected_loss.run_at < over_at]
    open_ones = [o for o, c in obligations if c is not None and o.most_mm > 0]
    due_mm = agreed_depth(max((c.top_up_mm for _, c in due), default=0.0), obligations)
    capped_by, turf_mm = "", need.wanted_mm
    for o in open_ones:
        bears = max(o.most_mm - o.total_received_mm, 0.0)
        if bears < turf_mm:
            turf_mm, capped_by = bears, o.product.name
    effective = max(due_mm, turf_mm)
    run_mm, runs = _seed_runs(zone, obligations, night, now)
    if runs > 0:
        seed, note = seed_request(zone, figures, windows, dry, flow, midday, run_mm, runs)
        return ZoneRequest(need.zone, run_mm * runs, (), 0.0, "", (seed,), note=note)
    look_at = under_mm = None
    if effective <= 0:
        waits = [c for _, c in obligations if c is not None and c.action == "wait" and c.look_top_up_mm > 0]
        if not waits:
            return ZoneRequest(need.zone, 0.0, (), turf_mm, capped_by, (), later_at=later_at)
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
    want = Request(
        zone=zone.name,
        depth_mm=effective * figures.multiplier,
        effective_mm=effective,
        minutes=minutes_for(effective, figures),
        cycle_min=figures.cycle_min,
        soak_min=figures.soak_min,
        priority=priority,
        urgency=urgency,
        area_m2=zone.area_m2,
        flow_l_min=flow,
        earliest=look_at,
        latest=by if by and by > now else None,
        dry=dry,
        by_hand=zone.by_hand,
        why="water in" if priority == DUE else "turf",
        least_minutes=_least_minutes(due_mm, effective, figures),
    )
    return ZoneRequest(need.zone, effective, serves, turf_mm, capped_by, (want,), look_at, under_mm)


def _least_minutes(due_mm: float, effective_mm: float, figures: ZoneFigures) -> float | None:
    """How far a run may be cut: the turf's part of it, down to what is due; None: not at all."""
    least = max(due_mm, LEAST_RUN_MM)
    return minutes_for(least, figures) if least < effective_mm - 0.1 else None


def as_planned(
    wanted: Sequence[ZoneRequest],
    plan: Plan,
    names: Sequence[str],
    decided: Sequence[tuple[ZoneApplication, Choice | None]],
) -> list[ZoneRequest]:
    """What the zones get of what was wanted, where the plan holds only a part of a run."""
    runs = {run.zone: run for run in plan.runs}
    rests = {left.zone: left for left in plan.not_planned if left.zone in runs}
    made: list[ZoneRequest] = []
    for want in wanted:
        name = names[want.zone]
        if name not in rests or want.turf_mm <= 0:
            made.append(want)
            continue
        got = runs[name].effective_mm
        short = {
            o.product.name
            for o, c in decided
            if c is not None and o.zone_index == want.zone and got < o.missing_mm - 1e-6
        }
        made.append(
            replace(
                want,
                effective_mm=got,
                serves=tuple(product for product in want.serves if product not in short),
                held=True,
                rest_on=rests[name].waits_for,
            )
        )
    return made


def notes_of(wanted: Sequence[ZoneRequest], names: Sequence[str]) -> tuple[str, ...]:
    """What is to be said with the plan, each note once with the zones that it is about."""
    about: dict[str, list[str]] = {}
    for want in wanted:
        if want.note:
            about.setdefault(want.note, []).append(names[want.zone])
    return tuple(f"{listed(zones)}: {note}" for note, zones in about.items())


def _seed_runs(
    zone: Zone, obligations: Sequence[tuple[ZoneApplication, Choice | None]], night: date, now: datetime
) -> tuple[float, int]:
    """How deep a light run of seed is and how many a day: as the seed asks, else as usual; 0 without seed."""
    kinds = (
        o.product.kind
        for o, _ in obligations
        if now <= o.application.ended_at + timedelta(days=o.product.kind.for_days)
    )
    sown = [(k.light_run_mm or SEED_RUN_MM, k.light_runs_per_day) for k in kinds if k.light_runs_per_day > 0]
    declared = zone.mode == "seed" and (zone.mode_until is None or night <= zone.mode_until)
    if not sown:
        return (SEED_RUN_MM, SEED_RUNS) if declared else (0.0, 0)
    return max(mm for mm, _ in sown), max(runs for _, runs in sown)
