"""Numbers and times as the owner reads them: their units, their clock, their words."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sized
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from advisor.units import show, show_number

INVENTED = "Invented demo: no such lawn, records or weather exist."
"""What every face says first of the demo."""
WEEK = 7
WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Say:
    """How one site speaks: "metric" or "us" units, local times relative to `now`."""

    units: str
    zone: ZoneInfo
    now: datetime

    def depth(self, mm: float) -> str:
        """A depth of water: 6.3 mm or 0.25 in."""
        return show(mm, "depth", self.units)

    def span(self, low_mm: float, high_mm: float) -> str:
        """A range of depths with the unit once."""
        return f"{show_number(low_mm, 'depth', self.units)}–{self.depth(high_mm)}"

    def rate(self, mm_h: float) -> str:
        """A precipitation rate."""
        return show(mm_h, "rate", self.units)

    def flow(self, l_min: float) -> str:
        """A flow of water."""
        return show(l_min, "flow", self.units)

    def wind(self, m_s: float) -> str:
        """A wind."""
        return show(m_s, "wind", self.units)

    def temperature(self, deg_c: float) -> str:
        """A temperature."""
        return show(deg_c, "temperature", self.units)

    def clock(self, when: datetime) -> str:
        """Local time; with the weekday when it is neither today nor in the coming night, and with the date
        where the weekday alone could mean two days."""
        return f"{self._day_before_clock(when)}{clock_of(when.astimezone(self.zone))}"

    def _day_before_clock(self, when: datetime) -> str:
        local, today = when.astimezone(self.zone), self.now.astimezone(self.zone).date()
        hours = (when - self.now).total_seconds() / 3600.0
        if local.date() == today or (0 <= hours <= 14 and local.hour < 9):
            return ""
        return f"{local:%a} " if abs((local.date() - today).days) < WEEK else f"{short_day(local)} "

    def stretch(self, begin: datetime, end: datetime) -> str:
        """A stretch of time; where both ends fall on one day, that day is named once: Sat 05:00–09:00."""
        first, last = begin.astimezone(self.zone), end.astimezone(self.zone)
        day = self._day_before_clock(end)
        if first.date() == last.date() and day:
            return f"{day}{clock_of(first)}–{clock_of(last)}"
        return f"{self.clock(begin)}–{self.clock(end)}"

    def part_of_day(self, when: datetime) -> str:
        """A time that need not be exact: Friday morning, or Friday 24 July where that is far off."""
        local, today = when.astimezone(self.zone), self.now.astimezone(self.zone).date()
        if abs((local.date() - today).days) >= WEEK:
            return long_day(local)
        part = "morning" if local.hour < 12 else "afternoon" if local.hour < 18 else "evening"
        return f"{local:%A} {part}"

    def chance(self, share: float) -> str:
        """A chance as a whole percentage, never rounded to certainty."""
        if 0 < share < 0.01:
            return "under 1 %"
        if 0.99 < share < 1:
            return "over 99 %"
        return f"{share:.0%}".replace("%", " %")


def clock_of(local: datetime) -> str:
    """The time on the clock; one that comes twice, as the clock is set back, with the name of its time.

    >>> night = datetime(2026, 11, 1, 1, 30, tzinfo=ZoneInfo("America/Chicago"))
    >>> clock_of(night), clock_of(night.replace(fold=1)), clock_of(night.replace(hour=2))
    ('01:30 CDT', '01:30 CST', '02:30')
    """
    comes_twice = local.replace(fold=1 - local.fold).utcoffset() != local.utcoffset()
    return f"{local:%H:%M %Z}" if comes_twice else f"{local:%H:%M}"


def long_day(day: date, *, year: bool = False) -> str:
    """A date in a sentence; of a time, its date.

    >>> long_day(date(2026, 6, 3)), long_day(date(2026, 6, 3), year=True)
    ('Wednesday 3 June', 'Wednesday 3 June 2026')
    """
    return f"{day:%A} {day.day} {day:%B}{_year(day, year)}"


def short_day(day: date, *, year: bool = False) -> str:
    """A date where room is short.

    >>> short_day(date(2026, 6, 3)), short_day(date(2026, 6, 3), year=True)
    ('Wed 3 Jun', 'Wed 3 Jun 2026')
    """
    return f"{day:%a} {day_of_month(day, year=year)}"


def day_of_month(day: date, *, year: bool = False) -> str:
    """A date without its weekday.

    >>> day_of_month(date(2026, 6, 3)), day_of_month(date(2026, 6, 3), year=True)
    ('3 Jun', '3 Jun 2026')
    """
    return f"{day.day} {day:%b}{_year(day, year)}"


def day_in_table(day: date) -> str:
    """A date of ten characters, for a column: Wed  3 Jun."""
    return f"{day:%a} {day.day:>2} {day:%b}"


def heading_time(local: datetime) -> str:
    """A local time in a heading: Wednesday 3 June 2026, 16:30."""
    return f"{long_day(local, year=True)}, {local:%H:%M}"


def weekdays_words(weekdays: Collection[int]) -> str:
    """Days of the week, 0 Monday … 6 Sunday.

    >>> weekdays_words([3, 0]), weekdays_words(range(7))
    ('Mon, Thu', 'every day')
    """
    return "every day" if len(weekdays) == WEEK else ", ".join(WEEKDAYS[day] for day in sorted(weekdays))


def count_words(number: int, noun: str) -> str:
    """1 can, 2 cans."""
    return f"{number} {noun}{'' if number == 1 else 's'}"


def _year(day: date, told: bool) -> str:
    return f" {day.year}" if told else ""


def minutes(value: float) -> str:
    """Whole minutes; anything above nothing is at least one."""
    return f"{max(1, round(value)) if value > 0 else 0} min"


def listed(words: Iterable[str]) -> str:
    """a, b and c."""
    items = list(words)
    if len(items) <= 1:
        return "".join(items)
    return f"{', '.join(items[:-1])} and {items[-1]}"


def verb(names: Sized, one: str = "is", many: str = "are") -> str:
    """The verb that goes with so many names.

    >>> verb(["Front"]), verb(["Front", "Back"], "was", "were")
    ('is', 'were')
    """
    return one if len(names) == 1 else many
