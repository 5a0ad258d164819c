"""Seed kept moist: light runs, and when in the day they do the most good.

Two light runs a day until seed is up (Iowa State), of 1–4 mm (from memory) or as deep as its label says. What
dries seed is the day, so one run is put near dawn and the other as close to the middle of the day as the rules
allow. Where they allow none by day, it is put at the evening end of the night, and that is said.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from math import ceil
from typing import NamedTuple

from advisor.advice import RunPurpose
from advisor.hours import BY_DAY, Window
from advisor.lawn import Zone
from advisor.schedule import SEED, Request
from advisor.science.sprinkler import depth_of, run_minutes
from advisor.soil_water import ZoneFigures

SEED_RUN_MM, SEED_RUNS = 2.5, 2  # as the shipped kind of seed has it
HOUR = timedelta(hours=1)


class LightRuns(NamedTuple):
    """How deep a light run is, how many a day, and what part of the time between two is left to other zones."""

    run_mm: float
    runs: int
    spare_share: float


def seed_request(
    zone: Zone,
    figures: ZoneFigures,
    windows: Sequence[Window],
    dry: tuple[Window, ...],
    flow_l_min: float | None,
    midday: Window | None,
    light: LightRuns,
) -> tuple[Request, bool]:
    """The light runs of one night and the day after, one of them where both do not fit; and whether the seed
    may dry by day because the rules hold no daytime hours.

    `midday` as `Night` has it; the runs are as the seed asks for them: the first near dawn, the last as near to midday as can be, the others evenly between.
    """
    run_mm, runs, spare_share = light
    one = float(ceil(run_minutes(depth_mm=run_mm, rate_mm_h=figures.rate_mm_h) - 1e-6))
    if figures.cycle_min is not None:
        one = min(one, max(1.0, float(int(figures.cycle_min))))
    takes, depth_mm = timedelta(minutes=one), depth_of(minutes=runs * one, rate_mm_h=figures.rate_mm_h)
    by_day = _by_day(windows, midday, takes)
    before = [w for w in windows if midday is not None and w.starts_at + takes < midday.starts_at]
    earliest = latest = None
    if by_day is not None and midday is not None and before:
        first = before[-1].starts_at
        dawn = max(first + takes, min(before[-1].ends_at, midday.starts_at - BY_DAY))
        earliest, latest = max(first, dawn - 2 * HOUR), by_day + takes + HOUR
        pause = (by_day - dawn).total_seconds() / 60.0 / max(1, runs - 1) - (one if runs > 2 else 0.0)
    else:
        span = windows[-1].ends_at - windows[0].starts_at if windows else timedelta()
        pause = (1.0 - spare_share) * (span.total_seconds() / 60.0 - runs * one) / max(1, runs - 1)
    want = Request(
        zone=zone.name,
        depth_mm=depth_mm,
        effective_mm=depth_mm / figures.multiplier,
        minutes=runs * one,
        cycle_min=one,
        soak_min=max(figures.soak_min, pause),
        priority=SEED,
        urgency=1.0,
        area_m2=zone.area_m2,
        flow_l_min=flow_l_min,
        earliest=earliest,
        latest=latest,
        dry=dry,
        by_hand=zone.by_hand,
        why=RunPurpose.SEED,
        least_minutes=one,
    )
    return want, bool(windows) and midday is not None and by_day is None


def _by_day(windows: Sequence[Window], midday: Window | None, takes: timedelta) -> datetime | None:
    """When a run by day had best begin: as near to the middle of the day as an allowed hour holds it."""
    if midday is None:
        return None
    middle = midday.starts_at + (midday.ends_at - midday.starts_at) / 2
    found: list[datetime] = []
    for window in windows:
        first = max(window.starts_at, midday.starts_at)
        last = min(window.ends_at, midday.ends_at) - takes
        if first <= last:
            found.append(min(max(middle, first), last))
    return min(found, key=lambda at: abs(at - middle), default=None)
