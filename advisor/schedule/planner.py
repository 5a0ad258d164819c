"""The night's plan: which zone runs when, inside the owner's rules, in the calmest hours.

Order of what comes first: watering in that is due, then seed, then the driest turf. Water that is
due is planned whole or not at all; a refill of the turf may be cut (`part_runs`). What does not fit is
told with why (`left_out`). No run is left out that would fit among the runs that come before it, so
nothing gives way to a lesser need.

Zones that may use the same hours are packed into one block (one zone soaks while another runs),
and the block is put where the wind is lowest; where hours are equally calm, the latest that
are over a little before the end of the night. Where blocks do not fit, all zones are packed
together over the whole night.

Least wind: wind and sun carry off sprinkler water, so calm hours before dawn are preferred (common
practice, no source). A difference below `CALM_TIE_M_S` is not worth moving for.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from advisor import units as quantities
from advisor.advice.advice import Cycle, NotPlanned, PlannedRun
from advisor.hours.window import Window
from advisor.lawn.site_values import Rules, Supply
from advisor.schedule.cycles import ANYWHERE, Placed, Span, Task, insert, pack, pack_late, split
from advisor.schedule.later_nights import Nights, first_night_with_room
from advisor.schedule.left_out import not_planned
from advisor.schedule.limits import Air, NightLimits, from_minute, night_limits
from advisor.schedule.longer_hours import Trial
from advisor.schedule.part_runs import shortened, with_part_runs
from advisor.schedule.request import Request

GRID_MIN = 15
MARGIN_MIN = 5
CALM_TIE_M_S = 0.3
TINY = 1e-6


@dataclass(frozen=True, slots=True)
class Plan:
    """What runs, what does not and why, what is worth knowing about it, and the wind in words."""

    runs: tuple[PlannedRun, ...]
    not_planned: tuple[NotPlanned, ...]
    notes: tuple[str, ...]
    wind_words: str


def make_plan(
    *,
    requests: Sequence[Request],
    windows: Sequence[Window],
    supply: Supply,
    air: Air,
    rules: Rules,
    zone: ZoneInfo,
    now: datetime,
    next_nights: Nights = (),
    closed_because: str = "",
    units: str = "metric",
) -> Plan:
    """Plan one night to the minute; at most one want a zone.

    `windows` as `windows.windows_for` gives them; `air` hourly wind and temperature; `next_nights`
    the coming nights that have windows, each with them (for `waits_for`); `closed_because` the sentence
    of `windows.why_closed`; `units` "metric" or "us" for the words. Wants of no minutes are passed
    over. Zones run one after another, or together as far as their known flows stay within
    `supply.flow_l_min`. Nothing runs in hours below `rules.least_temp_c`; an unknown temperature
    stops nothing but is noted.
    """
    asked = [want for want in requests if want.minutes > 0]
    if len({want.zone for want in asked}) < len(asked):
        raise ValueError("a plan takes at most one want a zone")
    asked.sort(key=lambda want: (want.priority, -want.urgency))
    by_hand = any(want.by_hand for want in asked)

    def room_of(those: Sequence[Window], since: datetime = now) -> NightLimits:
        return night_limits(those, air, rules, supply, zone, since, units, by_hand)

    def wider(spans: Sequence[Span]) -> NightLimits:
        those = [Window(from_minute(a), from_minute(b)) for a, b in spans]
        return room_of(those, min(now, those[0].starts_at))

    tried: dict[tuple[tuple[Span, ...], float], frozenset[str]] = {}

    def would_run(room: NightLimits) -> frozenset[str]:
        if (room.open, room.limit) not in tried:
            those = _tasks(asked, room)
            runs, _ = with_part_runs(those, lambda some: _arrange(some, room), extend=False)
            whole = {r.task.want.zone for r in runs if r.task.minutes == those[r.task.order].minutes}
            tried[room.open, room.limit] = frozenset(whole)
        return tried[room.open, room.limit]

    def parts(tasks: Sequence[Task], room: NightLimits) -> tuple[list[Placed], list[Task]]:
        return with_part_runs(tasks, lambda some: _arrange(some, room))

    night = room_of(windows)
    tasks = _tasks(asked, night)
    placed, _ = parts(tasks, night)
    ran = {run.task.order: run.task.minutes for run in placed}
    short = [task for task in tasks if ran.get(task.order, 0) < task.minutes]
    rests = {task.order: task.minutes - ran.get(task.order, 0) for task in short}
    later = first_night_with_room(
        [shortened(task, rests[task.order]) for task in short], next_nights, room_of, parts
    )
    placed.sort(key=lambda run: (run.starts[0], run.task.order))
    return Plan(
        runs=tuple(_run(run) for run in placed),
        not_planned=tuple(
            not_planned(
                task,
                placed,
                night,
                next_nights,
                later.get(task.order),
                Trial(wider, would_run),
                closed_because,
                rests[task.order],
            )
            for task in short
        ),
        notes=_notes(placed, night),
        wind_words=_wind_words(placed, night),
    )


def _tasks(asked: Sequence[Request], night: NightLimits) -> list[Task]:
    return [Task(i, want, split(want), night.soak(want), night.rooms(want)) for i, want in enumerate(asked)]


def _arrange(tasks: list[Task], night: NightLimits) -> tuple[list[Placed], list[Task]]:
    """Place all that fits; the rest is left, and could not be put among the runs before it."""
    able = [t for t in tasks if night.may_run(t) and insert(t, (), night.carries) is not None]
    best = _most(able, night)
    if len(best) == len(tasks):
        return best, []
    chosen = {run.task.order: run for run in best}
    kept: list[Placed] = []
    left: list[Task] = []
    moved = False
    for task in tasks:
        run = chosen.get(task.order)
        if run is None or moved:
            fits = night.may_run(task) and _minutes(kept) + task.minutes <= night.limit
            added = insert(task, kept, night.carries) if fits else None
            moved = moved or (run is None and added is not None)
            run = added
        if run is None:
            left.append(task)
        else:
            kept.append(run)
    return kept, left


def _most(tasks: list[Task], night: NightLimits) -> list[Placed]:
    """As many of the first as fit together, then every later one that still fits.

    What is kept of the first tasks does not hang on the tasks that come after them.
    """
    first = len(tasks)
    while (kept := _best(tasks[:first], night)) is None:
        first -= 1
    for task in tasks[first:]:
        if _minutes(kept) + task.minutes > night.limit:
            continue
        packed = _best([*(run.task for run in kept), task], night)
        if packed is None:
            added = insert(task, kept, night.carries)
            packed = [*kept, added] if added is not None else kept
        kept = packed
    return kept


def _best(tasks: list[Task], night: NightLimits) -> list[Placed] | None:
    """All tasks in the calmest hours, in blocks or, where blocks do not fit, packed together."""
    if not tasks:
        return []
    if sum(t.minutes for t in tasks) > night.limit or _volume(tasks, night) > night.minutes:
        return None
    return _in_blocks(tasks, night) or _together(tasks, night)


def _minutes(placed: Sequence[Placed]) -> int:
    return sum(run.task.minutes for run in placed)


def _volume(tasks: Sequence[Task], night: NightLimits) -> float:
    """Minutes of the whole supply that the tasks take at the very least."""
    whole = night.carries
    return sum(
        t.minutes * (1.0 if whole is None or t.want.flow_l_min is None else t.want.flow_l_min / whole)
        for t in tasks
    )


def _in_blocks(tasks: list[Task], night: NightLimits) -> list[Placed] | None:
    groups: dict[object, list[Task]] = {}
    for task in tasks:
        groups.setdefault(task.rooms, []).append(task)
    found: list[Placed] = []
    taken: list[Span] = []
    for group in sorted(groups.values(), key=_open_minutes):
        block = _block([Task(t.order, t.want, t.cycles, t.soak, ANYWHERE) for t in group], night)
        length = max(run.end for run in block)
        starts = sorted(
            {s for room in group[0].rooms for a, b in room for s in _grid(a, b, length, taken, night.end)}
        )
        if not starts:
            return None
        costs = [night.calm.mean(block, s) for s in starts]
        at = _calm_and_late(starts, costs)
        found += [Placed(group[i], run.moved(at).starts) for i, run in enumerate(block)]
        taken.append((at, at + length))
    return found


def _block(tasks: list[Task], night: NightLimits) -> list[Placed]:
    """The tasks from minute 0 on, by their own order if that takes no longer, else by least slack."""
    by_order = pack(tasks, night.carries, 0, in_order=True)
    by_slack = pack(tasks, night.carries, 0) if max(len(t.cycles) for t in tasks) > 1 else by_order
    assert by_order is not None, "a block has no limits that it could fail"
    assert by_slack is not None
    return min(by_order, by_slack, key=lambda block: max(run.end for run in block))


def _open_minutes(group: list[Task]) -> int:
    return sum(b - a for room in group[0].rooms for a, b in room)


def _grid(a: int, b: int, length: int, taken: Sequence[Span], night_end: int) -> list[int]:
    """The starts to try for a block of `length` in the stretch [a, b) outside what is taken."""
    free = [(a, b)]
    for c, d in taken:
        free = [(x, y) for p, q in free for x, y in ((p, min(q, c)), (max(p, d), q)) if x < y]
    starts: list[int] = []
    for x, y in free:
        last = y - length
        if y == night_end and last - MARGIN_MIN >= x:
            last -= MARGIN_MIN
        if last >= x:
            starts += [*range(last, x, -GRID_MIN), x]
    return starts


def _together(tasks: list[Task], night: NightLimits) -> list[Placed] | None:
    """All tasks packed over the whole night from several starts: the calmest, then the latest."""
    first = pack(tasks, night.carries, night.begin)
    late = pack_late(tasks, night.carries, night.end - MARGIN_MIN) or pack_late(
        tasks, night.carries, night.end
    )
    found = [packed for packed in (first, late) if packed is not None]
    if first is not None:
        spare = night.end - max(run.end for run in first)
        for delay in range(60, spare + 1, 60):
            packed = pack(tasks, night.carries, night.begin + delay)
            if packed is None:
                break
            found.append(packed)
    if not found:
        return None
    found.sort(key=lambda packed: max(run.end for run in packed))
    return found[_calm_and_late(range(len(found)), [night.calm.mean(packed) for packed in found])]


def _calm_and_late(choices: Sequence[int], costs: Sequence[float]) -> int:
    """The last choice whose mean wind is within a trifle of the least."""
    least = min(costs) + CALM_TIE_M_S
    return max(choice for choice, cost in zip(choices, costs, strict=True) if cost <= least)


def _run(run: Placed) -> PlannedRun:
    want, minutes = run.task.want, run.task.minutes
    depth_mm = want.depth_mm * minutes / want.minutes
    return PlannedRun(
        zone=want.zone,
        depth_mm=depth_mm,
        effective_mm=want.effective_mm * minutes / want.minutes,
        minutes=minutes,
        cycles=tuple(Cycle(starts_at=from_minute(a), ends_at=from_minute(b)) for a, b in run.spans),
        litres=want.area_m2 * depth_mm,
        by_hand=want.by_hand,
        why=want.why,
    )


def _notes(placed: Sequence[Placed], night: NightLimits) -> tuple[str, ...]:
    notes: list[str] = []
    if placed and night.temperature_unknown(placed):
        notes.append(
            "The temperature is not known for all of the planned hours: run nothing if there is frost."
        )
    if placed and not night.calm.known:
        notes.append("The wind is not known for the allowed hours: the latest hours are taken.")
    elif placed and night.calm.gaps:
        notes.append("The wind is not known for all of the allowed hours: gaps count as the others' mean.")
    for run in placed:
        want = run.task.want
        if want.cycle_min is not None and max(run.task.cycles) > want.cycle_min + TINY:
            notes.append(
                f"{want.zone}: the soil takes only {want.cycle_min:.1f} min at a time; "
                f"the plan has {max(run.task.cycles)} min. Stop when it puddles and go on after a soak."
            )
    return tuple(notes)


def _wind_words(placed: Sequence[Placed], night: NightLimits) -> str:
    """The mean wind of the run minutes beside that of all allowed hours; "" when unknown."""
    if not placed or not night.calm.known:
        return ""
    during = quantities.show(night.calm.mean(placed), "wind", night.units)
    overall = quantities.show(night.calm.mean_over(night.open), "wind", night.units)
    return f"Mean wind while water runs {during}; over all allowed hours {overall}."
