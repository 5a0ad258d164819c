"""Programs as an ordinary clock holds them: days, start times, and its zones in order with whole minutes.

At each start the clock runs the zones of the program one after another. Cycle and soak is a second or third
start of the same program, late enough for every zone to have soaked. No two starts overlap, so that no
start waits for another, and all starts of a program lie on one date, as a clock counts its days. Pure; times
are whole minutes from a midnight.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import permutations
from math import ceil

from advisor.clock.watering_days import Days
from advisor.schedule import run_length
from advisor.science.sprinkler import run_minutes

MOST_PROGRAMS, MOST_STARTS = 4, 4  # what most clocks hold (common practice, no source)
ROUND_MIN, DAY_MIN = 5, 24 * 60
TINY = 1e-6

MinuteSpan = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Station:
    """One zone in one month: need in mm/d, what it may be short of, what its soil takes.

    `number` is its place in the site file. Depths are effective mm; `cycle_min` None without a limit.
    """

    number: int
    need_mm_d: float
    allowed_mm: float
    most_mm: float
    multiplier: float
    rate_mm_h: float
    cycle_min: float | None
    soak_min: float

    @property
    def days_between(self) -> float:
        """How long the allowance lasts, days."""
        return self.allowed_mm / self.need_mm_d

    def minutes(self, every: float) -> float:
        """Run time that brings what is needed in so many days, no deeper than the root zone holds."""
        effective = min(self.need_mm_d * every, self.most_mm)
        return run_minutes(depth_mm=effective * self.multiplier, rate_mm_h=self.rate_mm_h)

    def starts(self, every: float) -> int:
        """How many stretches that takes."""
        return max(1, len(run_length(self.minutes(every), self.cycle_min, self.soak_min).cycles))


@dataclass(frozen=True, slots=True)
class Program:
    """Stations that share days and starts; `minutes` of each station at each start."""

    stations: tuple[Station, ...]
    days: Days
    minutes: tuple[int, ...]
    starts: int

    @property
    def length(self) -> int:
        """Minutes from a start to the end of its last zone."""
        return sum(self.minutes)

    @property
    def gap(self) -> int:
        """The least minutes from one start to the next."""
        soaks = (m + ceil(s.soak_min - TINY) for m, s in zip(self.minutes, self.stations, strict=True))
        return max(self.length, *soaks)

    @property
    def a_day(self) -> int:
        """Run minutes of a watering day."""
        return self.starts * self.length


def program_of(stations: Sequence[Station], days: Days) -> Program:
    """The stations with the days they share: as many starts as the slowest soil needs."""
    starts = max(s.starts(days.every) for s in stations)
    minutes = tuple(max(1, ceil(s.minutes(days.every) / starts - TINY)) for s in stations)
    return Program(tuple(stations), days, minutes, starts)


def put(
    programs: Sequence[Program], windows: Sequence[MinuteSpan], limit: float
) -> list[tuple[int, ...]] | None:
    """The starts of programs that may share a day, each as late as it can be; None where they do not fit."""
    if sum(p.a_day for p in programs) > limit + TINY:
        return None
    best: list[tuple[int, ...]] | None = None
    for order in permutations(range(len(programs))):
        taken: list[MinuteSpan] = []
        found: dict[int, tuple[int, ...]] = {}
        for i in order:
            starts = _backwards(programs[i], windows, taken)
            if starts is None:
                break
            found[i] = starts
            taken += [(s, s + programs[i].length) for s in starts]
        else:
            put_so = [found[i] for i in range(len(programs))]
            if best is None or min(map(min, put_so)) > min(map(min, best)):
                best = put_so
    return best


def _backwards(
    program: Program, windows: Sequence[MinuteSpan], taken: Sequence[MinuteSpan]
) -> tuple[int, ...] | None:
    """The program's starts from the end of the night back, on round minutes of one date."""
    dates = sorted({day for begin, end in windows for day in range(begin // DAY_MIN, -(-end // DAY_MIN))})
    for day in reversed(dates):
        first, last = day * DAY_MIN, (day + 1) * DAY_MIN
        on_date = [(max(a, first), min(b, last)) for a, b in windows if a < last and b > first]
        starts: list[int] = []
        at: int | None = last
        while at is not None and len(starts) < program.starts:
            at = _latest(at, program.length, on_date, taken)
            if at is not None:
                starts.insert(0, at)
                at -= program.gap
        if len(starts) == program.starts:
            return tuple(starts)
    return None


def _latest(at: int, length: int, windows: Sequence[MinuteSpan], taken: Sequence[MinuteSpan]) -> int | None:
    """The last round minute up to `at` at which so many minutes are allowed and free."""
    for begin, end in reversed(windows):
        start = min(at, end - length) // ROUND_MIN * ROUND_MIN
        while start >= begin:
            over = [a for a, b in taken if a < start + length and b > start]
            if not over:
                return start
            start = (min(over) - length) // ROUND_MIN * ROUND_MIN
    return None
