"""From decisions and needs to the water that is wanted tonight, one want a zone.

One run meets all that it can: the deepest of what is asked, but never past what a product on the
zone bears. A dry period always wins over a run; what has to wait for it says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import NamedTuple

from advisor.advice import Action, PlanNote, PlanNoteKind, RunPurpose
from advisor.hours import Window
from advisor.lawn import Zone
from advisor.schedule import DUE, TURF, Plan, Request, minutes_for
from advisor.soil_water import Requirement, ZoneFigures
from advisor.tonight.lawn_state import LawnState
from advisor.tonight.seed import SEED_RUN_MM, SEED_RUNS, LightRuns, seed_request
from advisor.watering_in import Choice, Decided, agreed_depth, bears_mm


@dataclass(frozen=True, slots=True)
class ZoneRequest:
    """What one zone is to get tonight and what asked for it.

    `effective_mm` is 0 when nothing is wanted. `look_at` and `under_mm` are set when the run is made
    only if the gauge then shows less; `later_at` is the first chance after tonight of a run that cannot
    be made sooner. `capped_by` is the product whose most depth cut the turf's refill, `serves` the products
    that the run waters in, `turf_mm` what the turf asked. `held`: the night holds only a part of it, the
    rest waits for the date `rest_on`, None where no coming night has room. `seed_dries`: no allowed hour lies
    by day, when its seed dries.
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
    seed_dries: bool = False


def zone_request(lawn: LawnState, need: Requirement, decided: Sequence[Decided]) -> ZoneRequest:
    """Bring what was decided for one zone's applications and its turf's need together.

    A refill of the turf may be cut where the night has no room for all of it, but never below what is
    due on the zone, nor to less than is worth a run.
    """
    zone, now = lawn.site.zones[need.zone], lawn.now
    dry = tuple(
        Window(max(now, o.application.started_at), o.dry_until)
        for o, _ in decided
        if o.dry_until is not None and o.dry_until > now
    )
    run_mm, runs = _seed_runs(zone, decided, lawn.night.night, now)
    if runs > 0:
        figures, flow = lawn.root_zone.figures[need.zone], lawn.flow_l_min(need.zone)
        light = LightRuns(run_mm, runs, lawn.site.judgement.light.spare_share)
        seed, dries = seed_request(zone, figures, lawn.night.windows, dry, flow, lawn.night.midday, light)
        return ZoneRequest(need.zone, run_mm * runs, (), 0.0, "", (seed,), seed_dries=dries)

    due, later_at = _due_tonight(decided, lawn.night.ends_at)
    due_mm = agreed_depth(max((c.top_up_mm for c in due), default=0.0), decided)
    turf_mm, capped_by = _turf_mm(need.wanted_mm, decided)
    asked = _Asked(due_mm, max(due_mm, turf_mm), min((c.by for c in due), default=None))
    if asked.effective_mm <= 0:
        waits = [c for _, c in decided if c is not None and c.action == Action.WAIT and c.look_top_up_mm > 0]
        if not waits:
            return ZoneRequest(need.zone, 0.0, (), turf_mm, capped_by, (), later_at=later_at)
        asked = _asked_at_a_look(waits)
    request = _request(lawn, need, asked, dry)
    serves = tuple(
        dict.fromkeys(
            o.product.name
            for o, c in decided
            if c is not None and o.most_mm > 0 and asked.effective_mm >= o.missing_mm - 1e-6
        )
    )
    return ZoneRequest(
        need.zone,
        asked.effective_mm,
        serves,
        turf_mm,
        capped_by,
        (request,),
        asked.look_at,
        asked.under_mm,
    )


class _Asked(NamedTuple):
    """The depth that is due on a zone, that of its run, by when, and the look that it waits for."""

    due_mm: float
    effective_mm: float
    by: datetime | None
    look_at: datetime | None = None
    under_mm: float | None = None


def _asked_at_a_look(waits: Sequence[Choice]) -> _Asked:
    """What may be asked after the first look of those that wait, under the weakest of their rules."""
    depth_mm = max(c.look_top_up_mm for c in waits)
    return _Asked(
        due_mm=depth_mm,
        effective_mm=depth_mm,
        by=min(c.by for c in waits),
        look_at=min(c.look_at for c in waits if c.look_at is not None),
        under_mm=max(c.under_mm for c in waits if c.under_mm is not None),
    )


def _request(lawn: LawnState, need: Requirement, asked: _Asked, dry: tuple[Window, ...]) -> Request:
    """The run that brings it, as the planner takes it."""
    zone, figures, by = lawn.site.zones[need.zone], lawn.root_zone.figures[need.zone], asked.by
    hours = None if by is None else (by - lawn.now).total_seconds() / 3600.0
    return Request(
        zone=zone.name,
        depth_mm=asked.effective_mm * figures.multiplier,
        effective_mm=asked.effective_mm,
        minutes=minutes_for(asked.effective_mm, figures),
        cycle_min=figures.cycle_min,
        soak_min=figures.soak_min,
        priority=DUE if asked.due_mm > 0 else TURF,
        urgency=need.at_run_mm / max(need.allowed_mm, 1e-9) if hours is None else 1.0 / (1.0 + hours),
        area_m2=zone.area_m2,
        flow_l_min=lawn.flow_l_min(need.zone),
        earliest=asked.look_at,
        latest=by if by is not None and by > lawn.now else None,
        dry=dry,
        by_hand=zone.by_hand,
        why=RunPurpose.WATER_IN if asked.due_mm > 0 else RunPurpose.TURF,
        least_minutes=_least_minutes(asked, figures, lawn.site.judgement.turf.least_run_mm),
    )


def _due_tonight(
    decided: Sequence[Decided], over_at: datetime | None
) -> tuple[list[Choice], datetime | None]:
    """The runs that are decided and can begin tonight, and the first chance of one that cannot."""
    due = [c for _, c in decided if c is not None and c.action == Action.RUN and c.top_up_mm > 0]
    if over_at is None:
        return due, None
    starts = [c.expected_loss.run_at for c in due if c.expected_loss.run_at is not None]
    later_at = min((at for at in starts if at >= over_at), default=None)
    return [c for c in due if c.expected_loss.run_at is None or c.expected_loss.run_at < over_at], later_at


def _turf_mm(wanted_mm: float, decided: Sequence[Decided]) -> tuple[float, str]:
    """The turf's refill, no deeper than what each product on the zone bears, and which one cuts it."""
    capped_by = ""
    for one, choice in decided:
        if choice is not None and one.most_mm > 0 and bears_mm(one) < wanted_mm:
            wanted_mm, capped_by = bears_mm(one), one.product.name
    return wanted_mm, capped_by


def _least_minutes(asked: _Asked, figures: ZoneFigures, least_run_mm: float) -> float | None:
    """How far a run may be cut: the turf's part of it, down to what is due; None: not at all."""
    least = max(asked.due_mm, least_run_mm)
    return minutes_for(least, figures) if least < asked.effective_mm - 0.1 else None


def as_planned(
    zone_requests: Sequence[ZoneRequest],
    plan: Plan,
    names: Sequence[str],
    decided: Sequence[Decided],
) -> list[ZoneRequest]:
    """What the zones get of what was wanted, where the plan holds only a part of a run."""
    runs = {run.zone: run for run in plan.runs}
    rests = {left.zone: left for left in plan.not_planned if left.zone in runs}
    made: list[ZoneRequest] = []
    for want in zone_requests:
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


def notes_of(zone_requests: Sequence[ZoneRequest], names: Sequence[str]) -> tuple[PlanNote, ...]:
    """What is to be said with the plan."""
    dries = tuple(names[each.zone] for each in zone_requests if each.seed_dries)
    return (PlanNote(kind=PlanNoteKind.SEED_DRIES, zones=dries),) if dries else ()


def _seed_runs(zone: Zone, decided: Sequence[Decided], night: date, now: datetime) -> tuple[float, int]:
    """How deep a light run of seed is and how many a day: as the seed asks, else as usual; 0 without seed."""
    kinds = (
        o.product.kind
        for o, _ in decided
        if now <= o.application.ended_at + timedelta(days=o.product.kind.for_days)
    )
    sown = [(k.light_run_mm or SEED_RUN_MM, k.light_runs_per_day) for k in kinds if k.light_runs_per_day > 0]
    declared = zone.mode == "seed" and (zone.mode_until is None or night <= zone.mode_until)
    if not sown:
        return (SEED_RUN_MM, SEED_RUNS) if declared else (0.0, 0)
    return max(mm for mm, _ in sown), max(runs for _, runs in sown)
