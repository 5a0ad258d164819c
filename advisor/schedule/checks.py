"""Named checks that a plan keeps every rule, said with each advice: passed, or why not.

The checks look at the printed runs alone (times, minutes, litres), not at how they were found.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, timedelta
from itertools import pairwise
from math import isclose
from zoneinfo import ZoneInfo

from advisor.advice.advice import Check, Cycle, PlannedRun
from advisor.hours.window import Window
from advisor.lawn.site_values import Rules, Supply
from advisor.schedule.limits import Air
from advisor.schedule.planner import Plan
from advisor.schedule.request import Request

HOUR, MINUTE = timedelta(hours=1), timedelta(minutes=1)
TINY = 1e-6


def check_plan(
    plan: Plan,
    *,
    requests: Sequence[Request],
    windows: Sequence[Window],
    supply: Supply,
    air: Air,
    rules: Rules,
    zone: ZoneInfo,
    sunrise_at: datetime | None,
) -> tuple[Check, ...]:
    """Check a plan against what `make_plan` was given; `sunrise_at` as `windows_for` was given it."""
    asked = {want.zone: want for want in requests if want.minutes > 0}
    pairs = [(run, asked[run.zone]) for run in plan.runs if run.zone in asked]
    found = {
        "every want answered": _answered(plan, asked),
        "inside the allowed hours": _allowed(pairs, windows),
        "ends by sunrise": _by_sunrise(pairs, windows, rules, sunrise_at),
        "in time": _in_time(pairs),
        "dry periods kept": _dry(pairs),
        "no run in frost": _frost(pairs, air, rules),
        "soaks kept": _soaks(pairs),
        "flow carried": _flow(pairs, supply),
        "minutes a night kept": _minutes(pairs, rules),
        "by hand while awake": _awake(pairs, rules, zone),
        "depth delivered": _depth(pairs, {left.zone: left.minutes for left in plan.not_planned}),
        "litres add up": _litres(pairs),
    }
    return tuple(Check(name=name, passed=not why, why=why) for name, why in found.items())


Pairs = Sequence[tuple[PlannedRun, Request]]


def _cycles(pairs: Pairs) -> Iterable[tuple[Cycle, Request]]:
    return ((cycle, want) for run, want in pairs for cycle in run.cycles)


def _first(words: Iterable[str]) -> str:
    return next(iter(words), "")


def _answered(plan: Plan, asked: Mapping[str, Request]) -> str:
    ran = [run.zone for run in plan.runs]
    answered = sorted(ran + [left.zone for left in plan.not_planned if left.zone not in ran])
    return "" if answered == sorted(asked) else f"wanted {sorted(asked)}, answered {answered}"


def _allowed(pairs: Pairs, windows: Sequence[Window]) -> str:
    return _first(
        f"{want.zone} runs outside the allowed hours"
        for cycle, want in _cycles(pairs)
        if not any(w.starts_at <= cycle.starts_at and cycle.ends_at <= w.ends_at for w in windows)
    )


def _by_sunrise(pairs: Pairs, windows: Sequence[Window], rules: Rules, sunrise_at: datetime | None) -> str:
    """Runs after sunrise only if the rules end with the hours or all hours come after it."""
    if rules.finish != "sunrise" or sunrise_at is None or (windows and windows[0].starts_at >= sunrise_at):
        return ""
    return _first(
        f"{want.zone} runs after sunrise" for cycle, want in _cycles(pairs) if cycle.ends_at > sunrise_at
    )


def _in_time(pairs: Pairs) -> str:
    return _first(
        f"{want.zone} runs before it may or after it is due"
        for cycle, want in _cycles(pairs)
        if (want.earliest and cycle.starts_at < want.earliest)
        or (want.latest and cycle.ends_at > want.latest)
    )


def _dry(pairs: Pairs) -> str:
    return _first(
        f"{want.zone} runs while it has to stay dry"
        for run, want in pairs
        for dry in want.dry
        if run.cycles[0].starts_at < dry.ends_at and run.cycles[-1].ends_at > dry.starts_at
    )


def _frost(pairs: Pairs, air: Air, rules: Rules) -> str:
    for run, want in pairs:
        first = (run.cycles[0].starts_at - air.first) // HOUR
        last = -((air.first - run.cycles[-1].ends_at) // HOUR)
        if any(temp < rules.least_temp_c for temp in air.temp_c[max(0, first) : max(0, last)]):
            return f"{want.zone} runs while it is below {rules.least_temp_c:g} °C"
    return ""


def _soaks(pairs: Pairs) -> str:
    return _first(
        f"{want.zone} soaks too short"
        for run, want in pairs
        for one, two in pairwise(run.cycles)
        if two.starts_at - one.ends_at < want.soak_min * MINUTE
    )


def _flow(pairs: Pairs, supply: Supply) -> str:
    """At every start: one zone, or known flows that the supply carries; one at most by hand."""
    cycles = list(_cycles(pairs))
    for cycle, _ in cycles:
        now_on = [want for other, want in cycles if other.starts_at <= cycle.starts_at < other.ends_at]
        flows = [want.flow_l_min for want in now_on]
        known = [flow for flow in flows if flow is not None]
        names = " and ".join(want.zone for want in now_on)
        if supply.flow_l_min is not None and sum(known) > supply.flow_l_min + TINY:
            return f"{names} together draw more than the supply carries"
        if len(now_on) > 1 and (supply.flow_l_min is None or len(known) < len(flows)):
            return f"{names} run at once though their flows or the supply's are not known"
        if sum(want.by_hand for want in now_on) > 1:
            return f"{names} are moved by hand and run at once"
    return ""


def _minutes(pairs: Pairs, rules: Rules) -> str:
    total = sum(run.minutes for run, _ in pairs)
    if rules.minutes_a_night is None or total <= rules.minutes_a_night + TINY:
        return ""
    return f"{total:g} min planned, {rules.minutes_a_night:g} allowed"


def _awake(pairs: Pairs, rules: Rules, zone: ZoneInfo) -> str:
    start, end = rules.awake
    for cycle, want in _cycles(pairs):
        if not want.by_hand or start == end:
            continue
        moment = cycle.starts_at
        while moment < cycle.ends_at:
            clock = moment.astimezone(zone).time()
            is_awake = start <= clock < end if start < end else clock >= start or clock < end
            if not is_awake:
                return f"{want.zone} is moved by hand at {clock:%H:%M}, outside the waking hours"
            moment += MINUTE
    return ""


def _depth(pairs: Pairs, rests: Mapping[str, float]) -> str:
    """What was wanted, or, of wants that may be cut, at least their least and the rest told as left."""
    for run, want in pairs:
        ran = sum((c.ends_at - c.starts_at for c in run.cycles), timedelta()) / MINUTE
        told = ran + rests.get(run.zone, 0.0)
        if not isclose(ran, run.minutes) or not want.minutes - TINY <= told < want.minutes + 1 + TINY:
            return f"{want.zone} runs {ran:g} min, {want.minutes:g} wanted"
        if told > ran and (want.least_minutes is None or ran < want.least_minutes - TINY):
            return f"{want.zone} is cut to {ran:g} of {want.minutes:g} min"
        if not isclose(run.depth_mm * want.minutes, want.depth_mm * ran, abs_tol=TINY):
            return f"{want.zone}: {run.depth_mm:g} mm is not what {ran:g} min deliver"
    return ""


def _litres(pairs: Pairs) -> str:
    return _first(
        f"{want.zone}: {run.litres:g} L is not {run.depth_mm:g} mm on {want.area_m2:g} m²"
        for run, want in pairs
        if not isclose(run.litres, run.depth_mm * want.area_m2, abs_tol=TINY)
    )
