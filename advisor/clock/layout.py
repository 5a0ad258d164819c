"""Which zones of a clock share a program, and where in the night each month's programs are put.

Zones that want water as often as each other share a program: for each halving of a zone's own interval a
grouping pays, and it pays a little for every program and for starts that a zone does not need. Pure.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise
from math import inf, log2

import numpy as np

from advisor.clock.programs import MOST_PROGRAMS, MOST_STARTS, MinuteSpan, Program, Station, program_of, put
from advisor.clock.watering_days import Days, days_for
from advisor.lawn import Rules

A_PROGRAM, A_START = 0.5, 0.1
"""What one program or start more costs, in halvings of an interval (no source)."""
SHALLOWER = (1.0, 0.7, 0.5, 0.35)  # shares of the allowance that a run may bring, tried in turn
TRIED = 12  # groupings that are laid out in full, the best first

Groups = tuple[tuple[int, ...], ...]
Laid = dict[int, tuple[Program, tuple[int, ...]]]  # programs and their starts by the number of the group


@dataclass(frozen=True, slots=True)
class Room:
    """What one month asks of the clock: its stations by zone number, and the allowed hours in minutes.
    `early` is the part of `spans` that is over by sunrise: it is used where all fits into it."""

    stations: dict[int, Station]
    spans: tuple[MinuteSpan, ...]
    early: tuple[MinuteSpan, ...]


def laid_out(rooms: Sequence[Room], rules: Rules) -> list[Laid]:
    """Each month's programs with their starts; which zones share a program is the same all year."""
    found: dict[Groups, float] = {}
    for order in _orders(rooms):
        for groups in _groupings(order):
            named = tuple(sorted(groups))
            if named not in found:
                found[named] = _cost(named, rooms, rules)
    best: tuple[int, list[Laid]] | None = None
    for groups in sorted(found, key=lambda g: (found[g], g))[:TRIED]:
        laid = [_laid_out(groups, room, rules) for room in rooms]
        missing = sum(
            len(room.stations) - sum(len(p.stations) for p, _ in month.values())
            for room, month in zip(rooms, laid, strict=True)
        )
        if best is None or missing < best[0]:
            best = missing, laid
        if missing == 0:
            break
    return [{} for _ in rooms] if best is None else best[1]


def _orders(rooms: Sequence[Room]) -> list[list[int]]:
    """Zones from those that are watered often to those that are seldom, with fast and slow soils apart or not."""
    numbers = sorted({i for room in rooms for i in room.stations})
    often = {
        i: float(np.mean([log2(r.stations[i].days_between) for r in rooms if i in r.stations]))
        for i in numbers
    }
    slow = {i: max(r.stations[i].starts(1.0) for r in rooms if i in r.stations) for i in numbers}
    return [
        sorted(numbers, key=lambda i: (often[i], i)),
        sorted(numbers, key=lambda i: (slow[i], often[i], i)),
    ]


def _cost(groups: Groups, rooms: Sequence[Room], rules: Rules) -> float:
    """Halvings of the zones' own intervals, and what programs and needless starts cost beside."""
    cost = 0.0
    for room in rooms:
        for group in groups:
            on = [room.stations[i] for i in group if i in room.stations]
            if not on:
                continue
            shared = _days(on, rules, 1.0)
            starts = max(s.starts(shared.every) for s in on)
            own = [_days([s], rules, 1.0).every for s in on]
            cost += A_PROGRAM + sum(log2(every / shared.every) for every in own)
            cost += sum(A_START * (starts - s.starts(shared.every)) for s in on)
            cost += A_PROGRAM * max(0, starts - MOST_STARTS)
    return cost


def _days(stations: Sequence[Station], rules: Rules, share: float) -> Days:
    days = days_for(share * min(s.days_between for s in stations), rules)
    assert days is not None, "the rules leave a day when no day is taken"
    return days


def _laid_out(groups: Groups, room: Room, rules: Rules) -> Laid:
    """The month's programs with their starts. All on one night where they fit, else on days of their own,
    else with shallower runs more often; what fits in no way is left out."""
    on = {
        g: [room.stations[i] for i in group if i in room.stations]
        for g, group in enumerate(groups)
        if any(i in room.stations for i in group)
    }
    limit = inf if rules.minutes_a_night is None else rules.minutes_a_night
    best: Laid = {}
    for share in SHALLOWER:
        programs = {g: _program(stations, rules, share) for g, stations in on.items()}
        laid = _laid(programs, room.early, limit)
        if laid is None and room.early != room.spans:
            laid = _laid(programs, room.spans, limit)
        if laid is not None:
            return laid
        apart = _apart(on, room, rules, share, limit)
        if len(apart) > len(best):
            best = apart
        if len(best) == len(on):
            return best
    return best


def _laid(programs: dict[int, Program], spans: Sequence[MinuteSpan], limit: float) -> Laid | None:
    """The programs with their starts, all on one night; None where they do not fit into its `spans`."""
    starts = put(list(programs.values()), spans, limit)
    if starts is None:
        return None
    return {g: (program, at) for (g, program), at in zip(programs.items(), starts, strict=True)}


def _program(stations: Sequence[Station], rules: Rules, share: float) -> Program:
    """The group's program, with shallower runs where its soils would take more starts than clocks have."""
    for shallower in (share, share * 0.7, share * 0.5, share * 0.35, share * 0.25):
        program = program_of(stations, _days(stations, rules, shallower))
        if program.starts <= MOST_STARTS:
            return program
    return program_of(stations, _days(stations, rules, share))


def _apart(on: dict[int, list[Station]], room: Room, rules: Rules, share: float, limit: float) -> Laid:
    """Programs on weekdays of their own: as many as fit on one night, the rest on days that are left."""
    found: Laid = {}
    taken: set[int] = set()
    left = dict(on)
    while left:
        able = _on_free_days(left, rules, share, taken)
        laid = None
        while able and (laid := _laid(able, room.spans, limit)) is None:
            able.popitem()
        if laid is None:
            break
        found |= laid
        left = {g: stations for g, stations in left.items() if g not in able}
        taken |= {d for program in able.values() for d in program.days.weekdays}
        if not all(program.days.weekdays for program in able.values()):
            break
    return found


def _on_free_days(
    groups: dict[int, list[Station]], rules: Rules, share: float, taken: Collection[int]
) -> dict[int, Program]:
    """The groups' programs on weekdays that are not taken; those without such a day are left out."""
    found = {}
    for g, stations in groups.items():
        between = share * min(station.days_between for station in stations)
        days = days_for(between, rules, taken, weekdays_only=True)
        if days is not None:
            found[g] = program_of(stations, days)
    return found


def _groupings(order: Sequence[int], most: int = MOST_PROGRAMS) -> Iterator[tuple[tuple[int, ...], ...]]:
    """All ways to cut an order of zones into at most `most` groups of neighbours."""
    for count in range(1, min(most, len(order)) + 1):
        for cuts in combinations(range(1, len(order)), count - 1):
            edges = [0, *cuts, len(order)]
            yield tuple(tuple(sorted(order[a:b])) for a, b in pairwise(edges))
