"""The room that one night leaves: allowed minutes, freezes, waking hours, flow and wind.

Minutes are whole and counted from 1970 (UTC), so that the packing is plain integer arithmetic.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import accumulate
from math import ceil, inf, isnan
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from advisor.hours.window import Window
from advisor.hours.windows import local_hours
from advisor.lawn.site_values import Rules, Supply
from advisor.schedule.cycles import Placed, Room, Span, Task
from advisor.schedule.request import Request

Series = Sequence[float] | npt.NDArray[np.float64]
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
MINUTE, DAY = timedelta(minutes=1), timedelta(days=1)
TINY = 1e-6


@dataclass(frozen=True, slots=True)
class Air:
    """Hourly wind at 10 m [m/s] and temperature [°C] from the hour that starts at `first` on.

    Series of shape (h,) each, NaN unknown; hours outside them are unknown too.
    """

    first: datetime
    wind10_m_s: Series
    temp_c: Series


class Calm:
    """The wind of the night, summed once so that any stretch's mean is two look-ups."""

    def __init__(self, first: int, wind_m_s: Sequence[float]) -> None:
        """`first` the minute at which hour 0 begins; unknown hours count as the known ones' mean."""
        known = [w for w in wind_m_s if not isnan(w)]
        self.known = bool(known)
        self.gaps = len(known) < len(wind_m_s)
        usual = sum(known) / len(known) if known else 0.0
        self._first = first
        self._wind = [usual if isnan(w) else w for w in wind_m_s]
        self._sums = [0.0, *accumulate(60.0 * w for w in self._wind)]

    def _until(self, minute: int) -> float:
        hour, part = divmod(minute - self._first, 60)
        return self._sums[hour] + (part * self._wind[hour] if part else 0.0)

    def mean_over(self, spans: Iterable[Span]) -> float:
        """Mean wind [m/s] over the minutes of some stretches within the night."""
        total, minutes = 0.0, 0
        for a, b in spans:
            total += self._until(b) - self._until(a)
            minutes += b - a
        return total / minutes

    def mean(self, placed: Iterable[Placed], later: int = 0) -> float:
        """Mean wind [m/s] over all run minutes, each run `later` minutes after where it stands."""
        return self.mean_over((a + later, b + later) for run in placed for a, b in run.spans)


@dataclass(frozen=True, slots=True)
class NightLimits:
    """What a plan has to fit into. `open` allowed stretches in order; `limit` run minutes in all."""

    open: tuple[Span, ...]
    freezes: tuple[Span, ...]
    unknown_temp: tuple[Span, ...]
    awake: tuple[Span, ...]
    carries: float | None
    limit: float
    calm: Calm
    rules: Rules
    zone: ZoneInfo
    units: str

    @property
    def begin(self) -> int:
        """The first allowed minute."""
        return self.open[0][0]

    @property
    def end(self) -> int:
        """The end of the last allowed stretch."""
        return self.open[-1][1]

    @property
    def minutes(self) -> int:
        """All allowed minutes."""
        return sum(b - a for a, b in self.open)

    def soak(self, want: Request) -> int:
        """The least whole minutes between two cycles."""
        return max(0, ceil(want.soak_min - TINY))

    def may_run(self, task: Task) -> bool:
        """Whether the supply carries this zone at all and its minutes are within the limit."""
        flow = task.want.flow_l_min
        carried = self.carries is None or flow is None or flow <= self.carries + TINY
        return carried and task.minutes <= self.limit

    def rooms(self, want: Request, without: Collection[str] = ()) -> tuple[Room, ...]:
        """The rooms this want may use.

        `without` leaves out a limit to see whether it is the one that stops the want: "awake",
        "dry", "freeze", "latest" or "earliest".
        """
        allowed = self.open
        if want.by_hand and "awake" not in without:
            allowed = _overlap(allowed, self.awake)
        first = _up(want.earliest) if want.earliest and "earliest" not in without else -inf
        last = _down(want.latest) if want.latest and "latest" not in without else inf
        barriers = list(self.freezes) if "freeze" not in without else []
        if "dry" not in without:
            barriers += [(_down(dry.starts_at), _up(dry.ends_at)) for dry in want.dry]
        rooms: list[Room] = []
        begin = first
        for a, b in [*sorted(barriers), (last, last)]:
            room = tuple(
                (int(max(c, begin)), int(min(d, a, last)))
                for c, d in allowed
                if max(c, begin) < min(d, a, last)
            )
            if room:
                rooms.append(room)
            begin = max(begin, b)
        return tuple(rooms)

    def temperature_unknown(self, placed: Iterable[Placed]) -> bool:
        """Whether any cycle runs in an hour of unknown temperature."""
        spans = [span for run in placed for span in run.spans]
        return bool(_overlap(spans, self.unknown_temp))


def night_limits(
    windows: Sequence[Window],
    air: Air,
    rules: Rules,
    supply: Supply,
    zone: ZoneInfo,
    now: datetime,
    units: str,
    any_by_hand: bool,
) -> NightLimits:
    """Put together what a plan has to fit into; waking hours only if something runs by hand."""
    since = _up(now)
    spans = [(max(_up(w.starts_at), since), _down(w.ends_at)) for w in windows]
    allowed = tuple(sorted((a, b) for a, b in spans if a < b))
    first, hours = (allowed[0][0] // 60, -(-allowed[-1][1] // 60)) if allowed else (0, 0)
    skip = first - _down(air.first) // 60
    wind = [_value(air.wind10_m_s, skip + i) for i in range(hours - first)]
    temp = [_value(air.temp_c, skip + i) for i in range(hours - first)]
    awake: tuple[Span, ...] = ()
    if allowed and any_by_hand:
        days = [from_minute(m).astimezone(zone).date() for m in (allowed[0][0], allowed[-1][1])]
        waking = local_hours([rules.awake], days[0] - DAY, days[1], zone)
        awake = tuple((_up(w.starts_at), _down(w.ends_at)) for w in waking)
    return NightLimits(
        open=allowed,
        freezes=_hours(first, [t < rules.least_temp_c for t in temp]),
        unknown_temp=_hours(first, [isnan(t) for t in temp]),
        awake=awake,
        carries=supply.flow_l_min,
        limit=inf if rules.minutes_a_night is None else rules.minutes_a_night + TINY,
        calm=Calm(first * 60, wind),
        rules=rules,
        zone=zone,
        units=units,
    )


def from_minute(minute: int) -> datetime:
    """Whole minutes since 1970 as aware UTC."""
    return EPOCH + minute * MINUTE


def _down(when: datetime) -> int:
    return (when - EPOCH) // MINUTE


def _up(when: datetime) -> int:
    return -((EPOCH - when) // MINUTE)


def _value(series: Series, index: int) -> float:
    return float(series[index]) if 0 <= index < len(series) else float("nan")


def _hours(first: int, flags: Sequence[bool]) -> tuple[Span, ...]:
    """Runs of hours for which a flag holds, as minute stretches."""
    spans: list[Span] = []
    for i, flag in enumerate(flags):
        a, b = (first + i) * 60, (first + i + 1) * 60
        if flag and spans and spans[-1][1] == a:
            spans[-1] = (spans[-1][0], b)
        elif flag:
            spans.append((a, b))
    return tuple(spans)


def _overlap(some: Iterable[Span], others: Sequence[Span]) -> tuple[Span, ...]:
    return tuple((max(a, c), min(b, d)) for a, b in some for c, d in others if max(a, c) < min(b, d))
