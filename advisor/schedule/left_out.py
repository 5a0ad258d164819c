"""Why a want is not in tonight's plan, what it waits for and what the owner could change.

The reason is found by lifting one limit at a time: the one without which the zone would fit alone
is the one that is told. What would fit alone but not among the runs that come first is told
as such, with their names.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime

from advisor import units as quantities
from advisor.advice.advice import NotPlanned
from advisor.schedule.cycles import Placed, Task, insert
from advisor.schedule.later_nights import Nights
from advisor.schedule.limits import NightLimits
from advisor.schedule.longer_hours import Trial, what_would_do
from advisor.wording import long_day

LIMITS = ("awake", "dry", "freeze", "latest", "earliest")
TO_ALLOW, IF_RULES = ("allow ", "let "), "{}, if local rules allow it"


def not_planned(
    task: Task,
    placed: Sequence[Placed],
    night: NightLimits,
    next_nights: Nights,
    waits_for: date | None,
    trial: Trial,
    closed_because: str,
    rest_min: int,
) -> NotPlanned:
    """What is not planned of a want, `rest_min` of its minutes. `placed` is what is planned; `next_nights`
    the later ones with windows and `waits_for` the date of the first run that they have room for, `trial`
    plans the night anew."""
    why, changes = _reason(task, placed, night, trial, closed_because)
    changes = [IF_RULES.format(c) if c.startswith(TO_ALLOW) else c for c in changes]
    if task.want.least_minutes is not None:
        changes = [c for c in changes if not c.startswith("split")]
    if rest_min < task.minutes:
        why = f"{task.minutes - rest_min} of its {task.minutes} min run tonight. {why}"
    if waits_for is None and next_nights:
        latest, begins = task.want.latest, next_nights[0][1][0].starts_at
        why += (
            " It is due before the next allowed night."
            if latest is not None and latest <= begins
            else " No coming night has room for it either."
        )
    return NotPlanned(
        zone=task.want.zone,
        depth_mm=task.want.depth_mm * rest_min / task.minutes,
        minutes=float(rest_min),
        why=why,
        waits_for=waits_for,
        could_change=tuple(changes),
    )


def _reason(
    task: Task, placed: Sequence[Placed], night: NightLimits, trial: Trial, closed_because: str
) -> tuple[str, list[str]]:
    want = task.want
    flow, carries = want.flow_l_min, night.carries
    if not night.open:
        return closed_because or "No allowed hours are left tonight.", [
            "allow more hours, weekdays or dates in the watering rules"
        ]
    if flow is not None and carries is not None and flow > carries:
        return f"{want.zone} draws {_flow(flow, night)}; the supply carries {_flow(carries, night)}.", [
            "measure both flows and correct the site file",
            "divide the zone into two that the supply carries",
        ]
    used = sum(run.task.minutes for run in placed if run.task.order < task.order)
    if task.minutes > night.limit:
        return (
            f"{want.zone} needs {task.minutes} min; "
            f"the rules allow {night.limit:.0f} min of run time a night.",
            [*what_would_do(task, placed, night, trial), "split the depth over two nights"],
        )
    if insert(task, (), carries) is None:
        return _alone(task, placed, night, trial)
    if used + task.minutes > night.limit:
        return (
            f"{_names(placed, task)} {_come(placed, task)} first with {used} min; with the "
            f"{task.minutes} min of {want.zone} that is more than the {night.limit:.0f} min of run time "
            "allowed a night.",
            [*what_would_do(task, placed, night, trial), "split the runs over two nights"],
        )
    return _crowded(task, placed, night, trial)


def _alone(task: Task, placed: Sequence[Placed], night: NightLimits, trial: Trial) -> tuple[str, list[str]]:
    """Why a zone would not fit even if no other ran."""
    want, zone = task.want, task.want.zone
    stops = next(
        (limit for limit in LIMITS if insert(_lifted(task, night, (limit,)), (), night.carries)), None
    )
    if stops == "awake":
        start, end = night.rules.awake
        return (
            f"{zone} is moved by hand, and {_span(task)} do not fit into the allowed hours in which somebody "
            f"is awake ({start:%H:%M}–{end:%H:%M}).",
            ["allow hours by day or in the evening", "fit a valve or a tap timer"],
        )
    if stops == "dry":
        return f"{zone} has to stay dry until {_when(want.dry[-1].ends_at, night)}.", []
    if stops == "freeze":
        least = quantities.show(night.rules.least_temp_c, "temperature", night.units)
        return (
            f"It is forecast to be below {least} in the allowed hours: no run when it may freeze.",
            ["wait for a night without frost"],
        )
    if stops == "latest":
        return (
            f"{zone} needs {_span(task)} and is due by {_when(want.latest, night)}.",
            what_would_do(task, placed, night, trial),
        )
    if stops == "earliest":
        return (
            f"{zone} needs {_span(task)} and may not begin before {_when(want.earliest, night)}.",
            what_would_do(task, placed, night, trial),
        )
    if insert(_lifted(task, night, LIMITS), (), night.carries):
        return (
            f"{zone} needs {_span(task)}; what the rules, dry periods, frost and times due leave "
            "is too short.",
            ["split the depth over two nights"],
        )
    longest = max(b - a for a, b in night.open)
    return (
        f"{zone} needs {_span(task)}; the longest allowed stretch tonight has {longest} min.",
        [*what_would_do(task, placed, night, trial), "split the depth over two nights"],
    )


def _crowded(task: Task, placed: Sequence[Placed], night: NightLimits, trial: Trial) -> tuple[str, list[str]]:
    """Why a zone that would fit alone does not fit among the runs before it."""
    want = task.want
    why = (
        f"{_names(placed, task)} {_come(placed, task)} first; "
        f"{_span(task)} for {want.zone} do not fit beside that in the allowed hours."
    )
    changes = what_would_do(task, placed, night, trial)
    flows = [run.task.want.flow_l_min for run in placed if run.task.order < task.order]
    known = [flow for flow in (*flows, want.flow_l_min) if flow is not None]
    if night.carries is None or len(known) <= len(flows):
        changes.append(
            "enter the supply's flow and each zone's, so that zones can run at once where it carries them"
        )
    elif flows and want.flow_l_min is not None:
        least = want.flow_l_min + min(known[:-1])
        if least > night.carries:
            changes.append(f"raise the supply's flow to {_flow(least, night)}, so that two zones run at once")
    changes.append("split the runs over two nights")
    return why, changes


def _lifted(task: Task, night: NightLimits, limits: Sequence[str]) -> Task:
    return replace(task, rooms=night.rooms(task.want, limits))


def _flow(flow_l_min: float, night: NightLimits) -> str:
    return quantities.show(flow_l_min, "flow", night.units)


def _span(task: Task) -> str:
    run, soaks = task.minutes, task.length - task.minutes
    return f"{run} min of water and {soaks} min of soaking" if soaks else f"{run} min of water"


def _before(placed: Sequence[Placed], task: Task) -> list[str]:
    return [run.task.want.zone for run in sorted(placed, key=_order) if run.task.order < task.order]


def _order(run: Placed) -> int:
    return run.task.order


def _names(placed: Sequence[Placed], task: Task) -> str:
    names = _before(placed, task)
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _come(placed: Sequence[Placed], task: Task) -> str:
    return "comes" if len(_before(placed, task)) == 1 else "come"


def _when(when: datetime | None, night: NightLimits) -> str:
    if when is None:
        return ""
    local = when.astimezone(night.zone)
    return f"{local:%H:%M} on {long_day(local)}"
