"""The stretches of a night in which the owner's rules let water run.

Rules are kept by the wall clock. A *night* is named by the date of its evening. Every allowed
stretch belongs to exactly one night: a stretch that begins at noon or later and goes on past
18:00 belongs to the night of the date on which it begins; any other (one that begins before noon,
or one in the afternoon that is over by 18:00) belongs to the evening before, because that
evening's advice is the last that can plan it. A stretch over noon that goes on past 18:00 is cut
at noon. So the nights share out all allowed minutes, none left over and none twice.

Local hours become UTC piece by piece between the changes of the zone's offset: a local minute
that a spring night leaves out is never allowed and an allowed local minute that an autumn night
repeats is allowed twice, whatever the size of the change and the hour at which it comes.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from typing import NamedTuple
from zoneinfo import ZoneInfo

from advisor.advice import ClosedBy, ClosedDate, HoursNote, HoursNoteKind
from advisor.hours.window import Window
from advisor.lawn import Parity, Rules

DAY = timedelta(days=1)
MINUTE = timedelta(minutes=1)
NOON, EVENING = time(12), time(18)
WHOLE_DAY = ((time(0), time(0)),)

Stretch = tuple[datetime, datetime]
SunriseOf = Callable[[date], datetime | None]


class NightWindows(NamedTuple):
    """The windows that one night offers; `night` is the local date of its evening."""

    night: date
    windows: tuple[Window, ...]


def night_of(now: datetime, rules: Rules, local: ZoneInfo, sunrise_of: SunriseOf | None = None) -> date:
    """The night that advice given at `now` is for.

    It is the night before as long as that night's allowed hours are not over (open or still to
    come), and the local date of `now` from then on. Weekdays, parity and blackouts play no part,
    so the name of a night hangs on the clock alone. `sunrise_of` (local date → UTC sunrise or
    None) ends a night at sunrise where the rules say so; without it the hours' own end counts.
    """
    today = now.astimezone(local).date()
    yesterday = today - DAY
    hours = _to_utc(_stretches(rules.hours, yesterday), local)
    sunrise_at = sunrise_of(today) if sunrise_of and rules.finish == "sunrise" else None
    if sunrise_at is not None and not _is_daytime(hours, sunrise_at):
        hours = _until(hours, sunrise_at)
    return yesterday if hours and hours[-1][1] > now else today


def windows_for(
    *, rules: Rules, night: date, local: ZoneInfo, sunrise_at: datetime | None, now: datetime
) -> tuple[Window, ...]:
    """The windows of `night` from `now` on, in order, aware UTC, on whole minutes.

    `sunrise_at` is the sunrise of the morning after (`night` + 1 day), None at polar day or night.
    With `rules.finish` "sunrise" they end at it, unless all of the night's hours begin after it
    (day-time hours only): then they stay whole, and `window_notes` says so. Minutes whose local
    date is a forbidden weekday, of the wrong parity or blacked out are left out.
    """
    stretches = _stretches(rules.hours, night)
    allowed = _to_utc(_on_allowed_dates(stretches, rules), local)
    ends_by = sunrise_at if rules.finish == "sunrise" else None
    if ends_by is not None and not _is_daytime(_to_utc(stretches, local), ends_by):
        allowed = _until(allowed, ends_by)
    found = ((_up(max(a, now)), _down(b)) for a, b in allowed)
    return tuple(Window(a, b) for a, b in found if a < b)


def allowed_nights(
    *,
    rules: Rules,
    from_night: date,
    local: ZoneInfo,
    sunrise_of: SunriseOf,
    count: int,
    within_days: int = 60,
) -> tuple[NightWindows, ...]:
    """The next `count` nights from `from_night` on (itself included) that have any window.

    Fewer than `count` when `within_days` nights hold no more. `sunrise_of` is asked for the
    morning after each night, by local date.
    """
    found: list[NightWindows] = []
    for ahead in range(within_days):
        if len(found) >= count:
            break
        night = from_night + ahead * DAY
        start = datetime.combine(night - DAY, time(0), UTC)
        windows = windows_for(
            rules=rules, night=night, local=local, sunrise_at=sunrise_of(night + DAY), now=start
        )
        if windows:
            found.append(NightWindows(night, windows))
    return tuple(found)


def window_notes(
    *, rules: Rules, night: date, local: ZoneInfo, sunrise_at: datetime | None
) -> tuple[HoursNote, ...]:
    """What is not plain about a night's hours: no sunrise, day-time only, a change of the clock."""
    by_clock = _stretches(rules.hours, night)
    hours = _to_utc(by_clock, local)
    notes: list[HoursNote] = []
    if rules.finish == "sunrise" and sunrise_at is None:
        notes.append(HoursNote(kind=HoursNoteKind.NO_SUNRISE, day=night + DAY))
    elif rules.finish == "sunrise" and sunrise_at is not None and _is_daytime(hours, sunrise_at):
        notes.append(HoursNote(kind=HoursNoteKind.BY_DAY, at=sunrise_at))
    change = sum((b - a for a, b in hours), timedelta()) - sum((b - a for a, b in by_clock), timedelta())
    if change:
        notes.append(HoursNote(kind=HoursNoteKind.CLOCK_CHANGES, minutes=round(change / MINUTE)))
    return tuple(notes)


def closed_dates(rules: Rules, night: date) -> tuple[ClosedDate, ...]:
    """The dates of this night that the rules leave out, each with the rule that does."""
    days = sorted({day for a, b in _stretches(rules.hours, night) for day in _dates(a, b)})
    return tuple(found for day in days if (found := closed_date(day, rules)) is not None)


def local_hours(
    pairs: Sequence[tuple[time, time]], first: date, last: date, local: ZoneInfo
) -> tuple[Window, ...]:
    """The UTC stretches of daily local hours over the dates `first`–`last` (by where they begin)."""
    days = (first + i * DAY for i in range((last - first).days + 1))
    stretches = [_stretch(day, pair) for day in days for pair in pairs]
    return tuple(Window(a, b) for a, b in _to_utc(_joined(stretches), local))


def _stretch(day: date, pair: tuple[time, time]) -> Stretch:
    """One (start, end) pair on one date, naive local; end ≤ start crosses midnight."""
    start, end = pair
    return datetime.combine(day, start), datetime.combine(day + DAY if end <= start else day, end)


def _joined(stretches: Sequence[Stretch]) -> list[Stretch]:
    """Sorted, with those that touch or overlap made one."""
    joined: list[Stretch] = []
    for a, b in sorted(stretches):
        if joined and a <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(b, joined[-1][1]))
        else:
            joined.append((a, b))
    return joined


def _stretches(pairs: Sequence[tuple[time, time]], night: date) -> list[Stretch]:
    """The night's allowed hours as naive local stretches, dates not yet judged; no pairs: all day."""
    days = (night + i * DAY for i in range(-1, 3))
    found: list[Stretch] = []
    for a, b in _joined([_stretch(day, pair) for day in days for pair in pairs or WHOLE_DAY]):
        for day in (night + i * DAY for i in range(-1, 3)):
            noon = datetime.combine(day, NOON)
            if a < noon < b and b > datetime.combine(day, EVENING):
                found.append((a, noon))
                a = noon
        found.append((a, b))
    return [(a, b) for a, b in found if _belongs_to(a, b) == night]


def _belongs_to(a: datetime, b: datetime) -> date:
    evening = datetime.combine(a.date(), EVENING)
    return a.date() if a.time() >= NOON and b > evening else a.date() - DAY


def _dates(a: datetime, b: datetime) -> list[date]:
    """The local dates on which minutes of a naive stretch fall."""
    last = (b - MINUTE).date()
    return [a.date() + i * DAY for i in range((last - a.date()).days + 1)]


def _on_allowed_dates(stretches: Sequence[Stretch], rules: Rules) -> list[Stretch]:
    kept: list[Stretch] = []
    for a, b in stretches:
        for day in _dates(a, b):
            if closed_date(day, rules) is None:
                midnight = datetime.combine(day, time(0))
                kept.append((max(a, midnight), min(b, midnight + DAY)))
    return _joined(kept)


def closed_date(day: date, rules: Rules) -> ClosedDate | None:
    """The rule that lets no water run on a local date, None when it may."""
    if day.weekday() not in rules.weekdays:
        return ClosedDate(day=day, by=ClosedBy.WEEKDAY)
    if rules.parity != Parity.ANY and day.day % 2 != (rules.parity == Parity.ODD):
        return ClosedDate(day=day, by=ClosedBy.ODD if rules.parity == Parity.ODD else ClosedBy.EVEN)
    for span in rules.blackouts:
        if span.first <= day <= span.last:
            return ClosedDate(day=day, by=ClosedBy.BLACKOUT, why=span.why)
    return None


def _to_utc(stretches: Sequence[Stretch], local: ZoneInfo) -> list[Stretch]:
    """Naive local stretches as aware UTC ones, exact over any change of the zone's offset."""
    if not stretches:
        return []
    pieces = _offsets(local, stretches[0][0] - 2 * DAY, stretches[-1][1] + 2 * DAY)
    found: list[Stretch] = []
    for begins, ends, offset in pieces:
        for a, b in stretches:
            start, end = max(a - offset, begins), min(b - offset, ends)
            if start < end:
                found.append((start.replace(tzinfo=UTC), end.replace(tzinfo=UTC)))
    return _joined(found)


@lru_cache(maxsize=512)
def _offsets(
    local: ZoneInfo, begin: datetime, end: datetime
) -> tuple[tuple[datetime, datetime, timedelta], ...]:
    """The pieces of constant offset over a span of naive UTC: (from, to, offset)."""
    pieces: list[tuple[datetime, datetime, timedelta]] = []
    at, since, offset = begin, begin, _offset(local, begin)
    while at < end:
        step = min(at + DAY / 2, end)
        if (after := _offset(local, step)) != offset:
            low, high = at, step
            while high - low > timedelta(seconds=1):
                middle = (low + (high - low) / 2).replace(microsecond=0)
                low, high = (middle, high) if _offset(local, middle) == offset else (low, middle)
            pieces.append((since, high, offset))
            since, offset = high, after
        at = step
    pieces.append((since, end, offset))
    return tuple(pieces)


def _offset(local: ZoneInfo, utc: datetime) -> timedelta:
    return utc.replace(tzinfo=UTC).astimezone(local).utcoffset() or timedelta()


def _is_daytime(hours: Sequence[Stretch], sunrise_at: datetime) -> bool:
    return bool(hours) and hours[0][0] >= sunrise_at


def _until(hours: Sequence[Stretch], end: datetime) -> list[Stretch]:
    return [(a, min(b, end)) for a, b in hours if a < end]


def _down(when: datetime) -> datetime:
    return when.astimezone(UTC).replace(second=0, microsecond=0)


def _up(when: datetime) -> datetime:
    whole = _down(when)
    return whole if whole == when else whole + MINUTE
