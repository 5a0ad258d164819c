"""What the owner could allow so that a want fits beside the runs that come before it.

Nothing is told that was not tried: the whole night is planned anew with the change, and the zone has to
run in it. Hours before now are tried too, for the next such night.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from advisor.hours.windows import why_forbidden
from advisor.schedule.cycles import Placed, Span, Task, insert
from advisor.schedule.limits import NightLimits, from_minute

STEP_MIN, MOST_MIN = 15, 12 * 60
DAYTIME = range(6, 12)  # hours that belong to the night before, or come after sunrise


@dataclass(frozen=True, slots=True)
class Trial:
    """Planning the night anew: `room_of` makes the room of other allowed stretches (in minutes since
    1970), `would_run` names the zones that run whole in a room."""

    room_of: Callable[[Sequence[Span]], NightLimits]
    would_run: Callable[[NightLimits], frozenset[str]]


def what_would_do(task: Task, placed: Sequence[Placed], night: NightLimits, trial: Trial) -> list[str]:
    """Changes to the rules, each enough by itself; empty where neither hours nor minutes would help."""
    before = [run for run in placed if run.task.order < task.order]
    used = sum(run.task.minutes for run in before) + task.minutes
    minutes = [] if used <= night.limit else [f"allow {used} min a night"]
    limit = max(night.limit, float(used))

    def runs_with(allowed: Sequence[Span]) -> bool:
        room = replace(trial.room_of(allowed), limit=limit)
        then = replace(task, rooms=room.rooms(task.want))
        alone = insert(then, before, night.carries) is not None
        return alone and task.want.zone in trial.would_run(room)

    if minutes and runs_with(night.open):
        return minutes
    hours = [*_earlier(night, runs_with), *_later(night, runs_with)]
    return [", and ".join([*minutes, hour]) for hour in hours]


def _earlier(night: NightLimits, runs_with: Callable[[Sequence[Span]], bool]) -> list[str]:
    """The latest earlier hour that would do, back to noon, if the night's first hours are not simply past."""
    begins = from_minute(night.begin).astimezone(night.zone)
    if not any((begins.hour, begins.minute) == (a.hour, a.minute) for a, _ in night.rules.hours):
        return []
    (a, b), *rest = night.open
    for sooner in range(STEP_MIN, MOST_MIN + 1, STEP_MIN):
        since = from_minute(a - sooner).astimezone(night.zone)
        if since.hour in DAYTIME or why_forbidden(since.date(), night.rules):
            return []
        if runs_with([(a - sooner, b), *rest]):
            return [f"allow watering from {since:%H:%M}"]
    return []


def _later(night: NightLimits, runs_with: Callable[[Sequence[Span]], bool]) -> list[str]:
    """Let runs go on after sunrise to the end of the hours, where sunrise is what ends the night."""
    *rest, (a, b) = night.open
    ends = from_minute(b).astimezone(night.zone)
    by_clock = {(0, 0), *((clock.hour, clock.minute) for _, clock in night.rules.hours)}
    if night.rules.finish != "sunrise" or (ends.hour, ends.minute) in by_clock:
        return []
    for _, clock in night.rules.hours:
        more = int((datetime.combine(ends.date(), clock, night.zone) - ends).total_seconds() // 60)
        if 0 < more <= MOST_MIN and runs_with([*rest, (a, b + more)]):
            return ["let runs go on after sunrise (finish_by: window)"]
    return []
