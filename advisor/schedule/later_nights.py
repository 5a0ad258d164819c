"""On which date each want that does not fit tonight could run, as far as can be seen now.

The coming nights are filled in order with what is left over, by the same planner and limits as tonight:
allowed hours, dry periods, times due, known frost, waking hours, flow and minutes. What those nights will
want for themselves is not known yet and takes no room here.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date

from advisor.hours.window import Window
from advisor.schedule.cycles import Placed, Task
from advisor.schedule.limits import NightLimits, from_minute

Nights = Sequence[tuple[date, tuple[Window, ...]]]


Arranged = tuple[list[Placed], list[Task]]


def first_night_with_room(
    left: Sequence[Task],
    nights: Nights,
    room_of: Callable[[Sequence[Window]], NightLimits],
    arrange: Callable[[Sequence[Task], NightLimits], Arranged],
) -> dict[int, date]:
    """By the order of each task the local date on which water would run in the first of `nights` that has
    room for it; absent where none has. `arrange` plans tasks in the room of a night."""
    found: dict[int, date] = {}
    for _, windows in nights:
        waiting = [task for task in left if task.order not in found]
        if not waiting:
            break
        night = room_of(windows)
        placed, _ = arrange([replace(task, rooms=night.rooms(task.want)) for task in waiting], night)
        for run in placed:
            found[run.task.order] = from_minute(run.starts[0]).astimezone(night.zone).date()
    return found
