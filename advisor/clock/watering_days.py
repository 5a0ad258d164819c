"""On which days a clock that is set by hand should run a zone: deep and seldom, within the owner's rules."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from itertools import combinations

from advisor.advice import ClockDays, DaysKind
from advisor.lawn import Parity, Rules

LONGEST = 14  # days between two runs that a clock is set to


@dataclass(frozen=True, slots=True)
class Days:
    """When a zone runs: `set_days` as they are set on the clock; `every` the mean days between two runs,
    `gap` the longest."""

    set_days: ClockDays
    every: float
    gap: int

    @property
    def weekdays(self) -> tuple[int, ...]:
        """0 Monday … 6 Sunday; empty with dates or intervals."""
        return self.set_days.weekdays


def days_for(
    days_between: float, rules: Rules, taken: Collection[int] = (), *, weekdays_only: bool = False
) -> Days | None:
    """The fewest days that leave no more than `days_between` days between two runs, or the most there are.

    `taken` weekdays belong to other zones; None where the rules and they leave no day. `weekdays_only`:
    no intervals, whose days would fall on those of other zones.
    """
    if rules.parity != Parity.ANY and len(rules.weekdays) == 7:
        return None if taken else Days(ClockDays(kind=DaysKind.DATES, parity=rules.parity), 2.0, 3)
    allowed = sorted(set(rules.weekdays) - set(taken))
    if not allowed or rules.parity != Parity.ANY:
        return _odd_weekdays(allowed, rules) if allowed and not taken else None
    free = len(rules.weekdays) == 7 and not weekdays_only
    if free and (days_between >= 8 or 2 <= days_between < 4):
        every = min(LONGEST, int(days_between))
        return Days(ClockDays(kind=DaysKind.INTERVAL, every_days=every), float(every), every)
    found = _weekdays(days_between, allowed)
    kind = DaysKind.EVERY_DAY if len(found) == 7 else DaysKind.WEEKDAYS
    return Days(ClockDays(kind=kind, weekdays=found), 7.0 / len(found), _gap(found))


def _odd_weekdays(allowed: Sequence[int], rules: Rules) -> Days:
    """Weekdays that also have to be odd or even dates come up every second time."""
    days = ClockDays(kind=DaysKind.WEEKDAYS_ON_DATES, weekdays=tuple(allowed), parity=rules.parity)
    return Days(days, 14.0 / len(allowed), 7 + _gap(allowed))


def _weekdays(days_between: float, allowed: Sequence[int]) -> tuple[int, ...]:
    """The fewest weekdays whose longest gap is short enough, as even as can be; all where none is."""
    for count in range(1, len(allowed) + 1):
        best = min(combinations(allowed, count), key=lambda days: (_gap(days), days))
        if _gap(best) <= days_between:
            return best
    return tuple(allowed)


def _gap(days: Sequence[int]) -> int:
    """The longest time between two of these weekdays, in days."""
    following = [*days[1:], days[0] + 7]
    return max(b - a for a, b in zip(days, following, strict=True))
