"""For which coming night each want that does not fit tonight has room, as far as can be seen now.

The coming nights are filled in order with what is left over, by the same limits as tonight: allowed
hours, dry periods, times due, known frost, waking hours, flow and minutes. What those nights will
want for themselves is not known yet and takes no room here.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date

from advisor.advice.cycles import Placed, Task, insert
from advisor.advice.night_room import NightRoom
from advisor.advice.wants import Window

Nights = Sequence[tuple[date, tuple[Window, ...]]]


def first_night_with_room(
    left: Sequence[Task], nights: Nights, room_of: Callable[[Sequence[Window]], NightRoom]
) -> dict[int, date]:
    """By the order of each task the first of `nights` that it fits into; absent where none does."""
    found: dict[int, date] = {}
    for day, windows in nights:
        waiting = [task for task in left if task.order not in found]
        if not waiting:
            break
        night = room_of(windows)
        placed: list[Placed] = []
        for task in waiting:
            then = replace(task, rooms=night.rooms(task.want))
            used = sum(run.task.minutes for run in placed)
            if not night.may_run(then) or used + then.minutes > night.limit:
                continue
            run = insert(then, placed, night.carries)
            if run is not None:
                placed.append(run)
                found[task.order] = day
    return found
