"""The clock sheet: what to set a clock to, month by month, where it is set by hand a few times a year.

From the usual year: the turf's use (ETo × the turf's coefficient × exposure) less the rain that counts is
what the clock has to bring. It is brought as seldom as the allowed depletion lets it (FAO-56: p · TAW, p
adjusted to the month's demand), in cycles the soil takes, over before the month's earliest sunrise. The
start times come from the same planner as a night's plan, so they hold within hours, flow and soaks. Pure.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from math import ceil
from typing import Literal

import numpy as np

from advisor.advice.advice import Frozen, PlannedRun
from advisor.advice.climate import LENGTHS, Climate, Month
from advisor.advice.clock_days import Days, days_for
from advisor.advice.cycles import split
from advisor.advice.night_room import Air
from advisor.advice.plan import Plan, make_plan
from advisor.advice.wants import TURF, Want, Window
from advisor.advice.windows import windows_for
from advisor.advice.zone_facts import ZoneFacts
from advisor.lawn.site import Site, Zone
from advisor.science.sprinkler import depth_of, run_minutes
from advisor.science.sun import sunrise
from advisor.science.turf import depletion_fraction

SCHEMA = "advisor.clock-sheet/1"
FROST_C = 0.0  # mean nightly minimum below which the system is off (common practice, no source)
LEAST_SHARE = 1.0 / 28.0  # of the allowance a day; where less is needed rain and dew do (no source)
ROUND_MIN = 5
DAY, MINUTE = timedelta(days=1), timedelta(minutes=1)


class SheetLine(Frozen):
    """One zone in one month. Use, counted rain and need in mm/d; `effective_mm` what a run gives the drier
    part, `depth_mm` on average; `minutes` = `cycles` × `cycle_minutes`, begun at `starts` (local clock).
    `short_mm`: how far the allowed days let the root zone pass its allowance, 0 where they do not.
    """

    zone: str
    use_mm_d: float
    rain_mm_d: float
    need_mm_d: float
    effective_mm: float
    depth_mm: float
    minutes: int
    cycles: int
    cycle_minutes: int
    soak_min: int
    days: str
    days_a_week: float
    starts: tuple[str, ...]
    litres: float
    short_mm: float


class SheetMonth(Frozen):
    """One month: its lines, the zones that stay off and why, those that do not fit, and its water."""

    month: int
    lines: tuple[SheetLine, ...]
    off: tuple[str, ...]
    why_off: str
    not_fitting: tuple[str, ...]
    litres: float


class ClockSheet(Frozen):
    """What to set the clock to; schema `advisor.clock-sheet/1`."""

    schema_version: Literal["advisor.clock-sheet/1"] = "advisor.clock-sheet/1"
    site: str
    units: str
    made_on: date
    climate_source: str
    months: tuple[SheetMonth, ...]
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Asked:
    """What one zone needs in one month, before days and times are found."""

    zone: Zone
    facts: ZoneFacts
    use_mm_d: float
    rain_mm_d: float
    allowed_mm: float

    @property
    def need_mm_d(self) -> float:
        return max(0.0, self.use_mm_d - self.rain_mm_d)


def clock_sheet(site: Site, facts: Sequence[ZoneFacts], climate: Climate, *, day: date) -> ClockSheet:
    """The sheet for the year of `day`; `facts` one a zone, in the site's order."""
    return ClockSheet(
        site=site.place.name,
        units=site.place.units,
        made_on=day,
        climate_source=climate.source,
        months=tuple(_month(site, facts, month, day.year) for month in climate.months),
        assumptions=_assumptions(site, facts, climate),
        cautions=(
            "Puddles or runoff override every minute: stop, let it soak, and shorten the cycle.",
            "Turn the clock off when rain is likely to do it, when it may freeze, and while a product has to stay dry.",
            "Local watering rules win over this sheet; the system needs a working backflow preventer.",
        ),
    )


def _month(site: Site, facts: Sequence[ZoneFacts], month: Month, year: int) -> SheetMonth:
    asked = [_asked(zone, each, month) for zone, each in zip(site.zones, facts, strict=True)]
    frost = month.tmin_c is not None and month.tmin_c < FROST_C
    on = [] if frost else [a for a in asked if a.need_mm_d >= LEAST_SHARE * a.allowed_mm]
    begin, windows = _shortest_night(site, year, month.month)
    lines, left = _laid_out(site, on, windows, begin, weekdays_only=False)
    if left:
        lines, left = _laid_out(site, on, windows, begin, weekdays_only=True)
    ordered = tuple(lines[a.zone.name] for a in on if a.zone.name in lines)
    return SheetMonth(
        month=month.month,
        lines=ordered,
        off=tuple(a.zone.name for a in asked if a not in on),
        why_off="frost" if frost else "rain and dew are enough",
        not_fitting=tuple(a.zone.name for a in left),
        litres=sum(line.litres * line.days_a_week / 7.0 * LENGTHS[month.month - 1] for line in ordered),
    )


def _laid_out(
    site: Site, on: Sequence[_Asked], windows: Sequence[Window], begin: datetime, *, weekdays_only: bool
) -> tuple[dict[str, SheetLine], list[_Asked]]:
    """Lines by zone, and what is left: zones that do not fit into one day's hours get days of their own."""
    lines: dict[str, SheetLine] = {}
    left = list(on)
    taken: set[int] = set()
    while left:
        able: list[tuple[_Asked, Days]] = []
        for each in left:
            days = days_for(each.allowed_mm / each.need_mm_d, site.rules, taken, weekdays_only=weekdays_only)
            if days is not None:
                able.append((each, days))
        plan = _plan(site, able, windows, begin)
        if not plan.runs:
            break
        runs = {run.zone: run for run in plan.runs}
        sooner = _to_round(plan.runs, windows)
        here = [(each, days) for each, days in able if each.zone.name in runs]
        lines |= {a.zone.name: _line(a, days, runs[a.zone.name], sooner, site) for a, days in here}
        left = [each for each in left if each.zone.name not in runs]
        taken |= {d for _, days in here for d in days.weekdays}
        if not all(days.weekdays for _, days in here):
            break
    return lines, left


def _to_round(runs: Sequence[PlannedRun], windows: Sequence[Window]) -> timedelta:
    """How much sooner all runs are put so that the first begins on a round minute, if the hours allow it."""
    first = min(run.cycles[0].starts_at for run in runs)
    sooner = (first.minute % ROUND_MIN) * MINUTE
    inside = all(
        any(w.starts_at <= c.starts_at - sooner and c.ends_at <= w.ends_at for w in windows)
        for run in runs
        for c in run.cycles
    )
    return sooner if inside and not any(run.by_hand for run in runs) else timedelta()


def _asked(zone: Zone, facts: ZoneFacts, month: Month) -> _Asked:
    use = month.eto_mm_d * zone.turf.kc_month[month.month - 1] * zone.exposure
    p = zone.allowed_depletion
    if p is None:
        p = float(depletion_fraction(p_table=np.array(zone.turf.p), etc_mm_d=np.array(use)))
    return _Asked(zone, facts, use, month.counted_mm / LENGTHS[month.month - 1], p * facts.taw_mm)


def _plan(
    site: Site, asked: Sequence[tuple[_Asked, Days]], windows: Sequence[Window], begin: datetime
) -> Plan:
    """All zones of one day, over as late as the month's earliest sunrise lets them."""
    wants = [_want(a, days, site, rank) for rank, (a, days) in enumerate(asked)]
    return make_plan(
        wants=wants,
        windows=windows,
        supply=site.supply,
        air=Air(begin, [], []),
        rules=site.rules,
        zone=site.place.zone,
        now=begin,
    )


def _want(asked: _Asked, days: Days, site: Site, rank: int) -> Want:
    """The run of one day: whole equal cycles, no deeper than the root zone holds."""
    zone, facts = asked.zone, asked.facts
    effective = min(asked.need_mm_d * days.every, facts.taw_mm)
    minutes = run_minutes(depth_mm=effective * facts.multiplier, rate_mm_h=facts.rate_mm_h)
    flow = facts.flow_l_min
    if flow is not None and site.supply.flow_l_min is not None:
        flow = min(flow, site.supply.flow_l_min)
    want = Want(
        zone=zone.name,
        depth_mm=effective * facts.multiplier,
        effective_mm=effective,
        minutes=minutes,
        cycle_min=facts.cycle_min,
        soak_min=facts.soak_min,
        priority=TURF,
        urgency=-float(rank),
        area_m2=zone.area_m2,
        flow_l_min=flow,
        by_hand=zone.by_hand,
    )
    cycles = split(want)
    whole = len(cycles) * max(cycles)
    depth = depth_of(minutes=float(whole), rate_mm_h=facts.rate_mm_h)
    return replace(want, minutes=float(whole), depth_mm=depth, effective_mm=depth / facts.multiplier)


def _line(asked: _Asked, days: Days, run: PlannedRun, sooner: timedelta, site: Site) -> SheetLine:
    starts = [(c.starts_at - sooner).astimezone(site.place.zone) for c in run.cycles]
    return SheetLine(
        zone=run.zone,
        use_mm_d=asked.use_mm_d,
        rain_mm_d=asked.rain_mm_d,
        need_mm_d=asked.need_mm_d,
        effective_mm=run.effective_mm,
        depth_mm=run.depth_mm,
        minutes=round(run.minutes),
        cycles=len(run.cycles),
        cycle_minutes=max(round((c.ends_at - c.starts_at) / MINUTE) for c in run.cycles),
        soak_min=ceil(asked.facts.soak_min) if len(run.cycles) > 1 else 0,
        days=days.words,
        days_a_week=7.0 / days.every,
        starts=tuple(f"{at:%H:%M}" for at in starts),
        litres=run.litres,
        short_mm=max(0.0, asked.need_mm_d * days.gap - asked.allowed_mm),
    )


def _shortest_night(site: Site, year: int, month: int) -> tuple[datetime, tuple[Window, ...]]:
    """The windows of the night before the month's earliest sunrise (by the clock), dates not judged.

    Nights on which the clock is changed are left out. Where the rules judge dates, a run has to lie on
    one date: the hours after midnight, or those before where there are none after.
    """
    place, rules = site.place, site.rules
    days = [date(year, month, 1) + i * DAY for i in range(28)]
    rises = {}
    for day in days:
        noons = [
            datetime.combine(d, datetime.min.time(), place.zone).replace(hour=12) for d in (day - DAY, day)
        ]
        if noons[0].utcoffset() == noons[1].utcoffset():
            rises[day] = sunrise(
                day=day,
                latitude_deg=place.latitude_deg,
                longitude_deg=place.longitude_deg,
                zone=place.zone,
            ).at
    first = min(rises, key=lambda day: rises[day].astimezone(place.zone).time())
    begin = datetime.combine(first - DAY, datetime.min.time(), place.zone).astimezone(UTC)
    whole = replace(rules, weekdays=frozenset(range(7)), parity="any", blackouts=())
    windows = windows_for(rules=whole, night=first - DAY, zone=place.zone, sunrise_at=rises[first], now=begin)
    if len(rules.weekdays) < 7 or rules.parity != "any":
        midnight = datetime.combine(first, datetime.min.time(), place.zone).astimezone(UTC)
        after = [Window(max(w.starts_at, midnight), w.ends_at) for w in windows if w.ends_at > midnight]
        before = [Window(w.starts_at, min(w.ends_at, midnight)) for w in windows if w.starts_at < midnight]
        windows = tuple(after or before)
    return begin, windows


def _assumptions(site: Site, facts: Sequence[ZoneFacts], climate: Climate) -> tuple[str, ...]:
    guessed = [z.name for z, f in zip(site.zones, facts, strict=True) if f.rate_basis == "guess"]
    found = [
        "A clock cannot see the weather: this sheet is a fallback for the usual year. In a dry week it is too "
        "little, in a wet one too much; `advisor tonight` does better.",
        climate.basis,
        "Established turf; seed, new turf and products that want water or want to stay dry go their own ways.",
    ]
    if guessed:
        names = guessed[0] if len(guessed) == 1 else f"{', '.join(guessed[:-1])} and {guessed[-1]}"
        found.append(f"The rate of {names} is a guess from the head type: measure it with `advisor audit`.")
    if any(z.mode != "established" for z in site.zones):
        found.append("Modes with an end date (seed, new, syringe) are not on this sheet.")
    if site.rules.blackouts:
        found.append("Blackout dates are not on this sheet: turn the clock off on them.")
    return tuple(found)
