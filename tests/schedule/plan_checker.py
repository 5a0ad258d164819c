"""An independent checker of a night's plan, written from the rules minute by minute.

It shares no code with the planner: it reads the wall clock of every minute, counts flow minute by
minute and tries by brute force whether a want that was left out would have fitted among the runs
that come before it. Slow and plain on purpose.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from advisor.lawn.site_values import Rules
from advisor.schedule.planner import Plan
from advisor.schedule.request import Request

MIN = timedelta(minutes=1)
EPS = 1e-6


@dataclass
class Case:
    """One night as given to the planner; `temp_c` by the UTC start of each hour."""

    zone: ZoneInfo
    night: date
    now: datetime
    sunrise_at: datetime | None
    rules: Rules
    supply_l_min: float | None
    requests: Sequence[Request]
    temp_c: dict[datetime, float]


def clock_allows(clock: time, pairs: Sequence[tuple[time, time]]) -> bool:
    """Whether a wall-clock time lies in any of the (start, end) pairs."""
    return any(a <= clock < b if a < b else (clock >= a or clock < b) for a, b in pairs)


def date_allows(day: date, rules: Rules) -> bool:
    """Whether the rules let water run on a local date."""
    if day.weekday() not in rules.weekdays:
        return False
    if rules.parity == "odd" and day.day % 2 == 0:
        return False
    if rules.parity == "even" and day.day % 2 == 1:
        return False
    return not any(span.first <= day <= span.last for span in rules.blackouts)


def ends_by(case: Case) -> datetime | None:
    """Sunrise, where it ends the night: not for windows to the end nor for day-time hours only."""
    if case.rules.finish != "sunrise" or case.sunrise_at is None:
        return None
    moment = datetime.combine(case.night, time(18), case.zone).astimezone(UTC)
    while moment < case.sunrise_at:
        if clock_allows(moment.astimezone(case.zone).time(), case.rules.hours):
            return case.sunrise_at
        moment += 15 * MIN
    return None


def night_is_over(case: Case) -> datetime:
    """Noon after the night, or 18:00 where allowed hours lie across noon but not on to the evening."""
    pairs = case.rules.hours
    across = clock_allows(time(12), pairs) and not clock_allows(time(18), pairs)
    clock = time(18) if across else time(12)
    return datetime.combine(case.night + timedelta(days=1), clock, case.zone).astimezone(UTC)


def minute_allowed(case: Case, moment: datetime, end: datetime | None) -> bool:
    """Whether the rules let water run in the minute from `moment` on."""
    local = moment.astimezone(case.zone)
    return (
        case.now <= moment < night_is_over(case)
        and (end is None or moment + MIN <= end)
        and clock_allows(local.time(), case.rules.hours)
        and date_allows(local.date(), case.rules)
    )


def freezes(case: Case, moment: datetime) -> bool:
    """Whether the hour of `moment` is known to be below the least temperature."""
    hour = moment.replace(minute=0, second=0, microsecond=0)
    return case.temp_c.get(hour, math.nan) < case.rules.least_temp_c


def faults(case: Case, plan: Plan) -> list[str]:
    """Everything that is wrong with a plan; an empty list when it is sound."""
    wrong: list[str] = []
    asked = {w.zone: w for w in case.requests if w.minutes > 0}
    rests = {n.zone: n.minutes for n in plan.not_planned}
    names = [r.zone for r in plan.runs]
    names += [name for name in rests if name not in names]
    if sorted(names) != sorted(asked):
        wrong.append(f"asked {sorted(asked)} but answered {sorted(names)}")
    end = ends_by(case)
    on: dict[datetime, list[Request]] = {}
    litres = 0.0
    for run in plan.runs:
        want = asked[run.zone]
        total = 0
        for cycle in run.cycles:
            length = (cycle.ends_at - cycle.starts_at) / MIN
            if length < 1 or length != int(length):
                wrong.append(f"{run.zone}: cycle of {length} min")
            most = math.inf if want.cycle_min is None else max(1, want.cycle_min)
            if length > (max(10, most) if want.by_hand else most) + EPS:
                wrong.append(f"{run.zone}: {length} min at once, {want.cycle_min} allowed")
            total += int(length)
            for i in range(int(length)):
                on.setdefault(cycle.starts_at + i * MIN, []).append(want)
        for one, two in zip(run.cycles, run.cycles[1:], strict=False):
            if (two.starts_at - one.ends_at) / MIN < want.soak_min - EPS:
                wrong.append(f"{run.zone}: soak too short")
        first, last = run.cycles[0].starts_at, run.cycles[-1].ends_at
        if want.earliest and first < want.earliest:
            wrong.append(f"{run.zone}: too early")
        if want.latest and last > want.latest:
            wrong.append(f"{run.zone}: too late")
        moment = first
        while moment < last:
            if any(d.starts_at < moment + MIN and moment < d.ends_at for d in want.dry):
                wrong.append(f"{run.zone}: breaks a dry period at {moment}")
                break
            if freezes(case, moment):
                wrong.append(f"{run.zone}: across a freeze at {moment}")
                break
            moment += MIN
        asked_for = total + rests.get(run.zone, 0.0)
        if not (want.minutes - EPS <= asked_for < want.minutes + 1) or run.minutes != total:
            wrong.append(f"{run.zone}: {total} min for {want.minutes}")
        cut = run.zone in rests
        if cut and (want.least_minutes is None or total < want.least_minutes - EPS):
            wrong.append(f"{run.zone}: cut to {total} min, at least {want.least_minutes}")
        share = total / want.minutes if cut else 1.0
        rate = want.depth_mm / want.minutes
        if abs(run.depth_mm - rate * total) > EPS or run.depth_mm < share * want.depth_mm - EPS:
            wrong.append(f"{run.zone}: {run.depth_mm} mm for {want.depth_mm}")
        if run.effective_mm < share * want.effective_mm - EPS:
            wrong.append(f"{run.zone}: {run.effective_mm} mm effective for {want.effective_mm}")
        litres += want.area_m2 * rate * total
    if abs(litres - sum(r.litres for r in plan.runs)) > 1e-6 * max(1.0, litres):
        wrong.append("litres are not area times depth")
    for moment, requests in on.items():
        if not minute_allowed(case, moment, end):
            wrong.append(f"{requests[0].zone}: {moment} is not allowed")
        if not flow_carried(case, requests):
            wrong.append(f"{[w.zone for w in requests]} at once at {moment}")
        if any(w.by_hand for w in requests) and not clock_allows(
            moment.astimezone(case.zone).time(), [case.rules.awake]
        ):
            wrong.append(f"{[w.zone for w in requests]}: nobody is awake at {moment}")
    limit = case.rules.minutes_a_night
    if limit is not None and sum(r.minutes for r in plan.runs) > limit + EPS:
        wrong.append("more minutes than a night may have")
    for left in plan.not_planned:
        if not left.why.endswith("."):
            wrong.append(f"{left.zone}: no reason given")
        if any(run.zone == left.zone for run in plan.runs):
            continue
        want = asked[left.zone]
        if would_fit(case, plan, want, end):
            wrong.append(f"{left.zone}: left out though it fits among the runs that come first")
        if want.least_minutes is not None:
            least = replace(want, minutes=float(math.ceil(want.least_minutes)))
            if would_fit(case, plan, least, end):
                wrong.append(f"{left.zone}: left out though a part of it fits among the runs that come first")
    return wrong


def flow_carried(case: Case, requests: Sequence[Request]) -> bool:
    """Whether these zones may run in the same minute."""
    flows = [w.flow_l_min for w in requests]
    if len({w.zone for w in requests}) < len(requests) or sum(w.by_hand for w in requests) > 1:
        return False
    if len(requests) > 1 and (case.supply_l_min is None or None in flows):
        return False
    return case.supply_l_min is None or sum(f or 0.0 for f in flows) <= case.supply_l_min + EPS


def would_fit(case: Case, plan: Plan, want: Request, end: datetime | None) -> bool:
    """Brute force: the want, whole, among the runs of higher priority where they are."""
    rank = {w.zone: (w.priority, -w.urgency, i) for i, w in enumerate(case.requests)}
    before = {w.zone: w for w in case.requests if rank[w.zone] < rank[want.zone]}
    runs = [r for r in plan.runs if r.zone in before]
    total = math.ceil(want.minutes - EPS)
    limit = case.rules.minutes_a_night
    if limit is not None and sum(r.minutes for r in runs) + total > limit + EPS:
        return False
    longest = total if want.cycle_min is None else max(10 if want.by_hand else 1, int(want.cycle_min + EPS))
    count = math.ceil(total / longest)
    cycles = [total // count + 1] * (total % count) + [total // count] * (count - total % count)
    busy: dict[datetime, list[Request]] = {}
    for run in runs:
        for cycle in run.cycles:
            moment = cycle.starts_at
            while moment < cycle.ends_at:
                busy.setdefault(moment, []).append(before[run.zone])
                moment += MIN
    moment = datetime.combine(case.night, time(12), case.zone).astimezone(UTC)
    k, ready, length = 0, moment, 0
    for i in range(30 * 60):
        at = moment + i * MIN
        barred = freezes(case, at) or any(d.starts_at < at + MIN and at < d.ends_at for d in want.dry)
        if barred:
            k, ready, length = 0, at + MIN, 0
            continue
        free = (
            at >= ready
            and (want.earliest is None or at >= want.earliest)
            and (want.latest is None or at + MIN <= want.latest)
            and (not want.by_hand or clock_allows(at.astimezone(case.zone).time(), [case.rules.awake]))
            and minute_allowed(case, at, end)
            and flow_carried(case, [*busy.get(at, []), want])
        )
        length = length + 1 if free else 0
        if length == cycles[k]:
            k, length = k + 1, 0
            ready = at + MIN + math.ceil(want.soak_min - EPS) * MIN
            if k == len(cycles):
                return True
    return False
