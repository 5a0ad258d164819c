"""The room that one night leaves: allowed minutes, freezes, waking hours, flow and wind.

Minutes are whole and counted from 1970 (UTC), so that the packing is plain integer arithmetic.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import accumulate
from math import inf, isnan
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from advisor.advice import ClosedDate
from advisor.hours import NightWindows, Window, waking_hours
from advisor.lawn import Rules, Supply
from advisor.schedule.cycles import Draw, MinuteSpan, Occupied, Placed, Room, Task, merged
from advisor.schedule.request import Request

Series = Sequence[float] | npt.NDArray[np.float64]
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
MINUTE = timedelta(minutes=1)
TINY = 1e-6


@dataclass(frozen=True, slots=True)
class Air:
    """Hourly wind at 10 m [m/s] and temperature [°C] from the hour that starts at `first` on.

    Series of shape (h,) each, NaN unknown; hours outside them are unknown too.
    """

    first: datetime
    wind10_m_s: Series
    temp_c: Series


@dataclass(frozen=True, slots=True)
class Running:
    """A stretch of water that is under way or sure to come and stays where it is; flow None when unknown."""

    zone: str
    starts_at: datetime
    ends_at: datetime
    flow_l_min: float | None = None
    by_hand: bool = False


@dataclass(frozen=True, slots=True)
class PlanInputs:
    """What a night's plan is made in.

    `windows` as `windows.windows_for` gives them; `air` hourly wind and temperature; `next_nights` the coming
    nights that have windows; `closed` the dates of this night that the rules leave out; `running` what draws
    water anyway; `local` the time zone and `units` ("metric" or "us") of the words.
    """

    windows: tuple[Window, ...]
    supply: Supply
    air: Air
    rules: Rules
    local: ZoneInfo
    now: datetime
    next_nights: tuple[NightWindows, ...] = ()
    closed: tuple[ClosedDate, ...] = ()
    running: tuple[Running, ...] = ()
    units: str = "metric"


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

    def mean_over(self, spans: Iterable[MinuteSpan]) -> float:
        """Mean wind [m/s] over the minutes of some stretches within the night."""
        total, minutes = 0.0, 0
        for a, b in spans:
            total += self._until(b) - self._until(a)
            minutes += b - a
        return total / minutes

    def mean(self, placed: Iterable[Placed]) -> float:
        """Mean wind [m/s] over all run minutes."""
        return self.mean_over(span for run in placed for span in run.spans)


@dataclass(frozen=True, slots=True)
class NightLimits:
    """What a plan has to fit into. `open` allowed stretches in order; `limit` run minutes in all; `fixed` what
    draws water anyway."""

    open: tuple[MinuteSpan, ...]
    freezes: tuple[MinuteSpan, ...]
    unknown_temp: tuple[MinuteSpan, ...]
    awake: tuple[MinuteSpan, ...]
    carries: float | None
    limit: float
    calm: Calm
    rules: Rules
    local: ZoneInfo
    fixed: tuple[Draw, ...] = ()

    def beside(self, placed: Sequence[Placed] = ()) -> Occupied:
        """The night with these runs and what is fixed in it, as one more zone meets it."""
        return Occupied(placed, self.carries, self.fixed)

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

    def share(self, request: Request) -> float:
        """The least part of the supply that a zone takes while it runs, 0–1."""
        if self.carries is None or request.flow_l_min is None:
            return 1.0
        return request.flow_l_min / self.carries

    def may_run(self, task: Task) -> bool:
        """Whether the supply carries this zone at all and its minutes are within the limit."""
        flow = task.request.flow_l_min
        carried = self.carries is None or flow is None or flow <= self.carries + TINY
        return carried and task.minutes <= self.limit

    def cannot_hold(self, tasks: Sequence[Task]) -> bool:
        """Whether these tasks together ask for more than the night has, by minutes or by volume.

        By volume no packing is tried: in the rooms of any group, and before any time by which a group has to
        be over, no more water can run than the supply carries.
        """
        if sum(task.minutes for task in tasks) > self.limit:
            return True
        volume = [(task.minutes * self.share(task.request), task) for task in tasks]
        if sum(v for v, _ in volume) > self.minutes + TINY:
            return True
        rooms = {task.rooms for task in tasks}
        if len(rooms) == 1:
            return False
        spans = {each: merged(span for room in each for span in room) for each in rooms}
        total: dict[tuple[Room, ...], float] = {}
        for v, task in volume:
            total[task.rooms] = total.get(task.rooms, 0.0) + v
        return any(
            sum(v for other, v in total.items() if _lies_in(spans[other], each)) > _length(each) + TINY
            for each in spans.values()
        )

    def rooms(self, request: Request, without: Collection[str] = ()) -> tuple[Room, ...]:
        """The rooms this request may use.

        `without` leaves out a limit to see whether it is the one that stops the request: "awake",
        "dry", "freeze", "latest" or "earliest".
        """
        allowed = self.open
        if request.by_hand and "awake" not in without:
            allowed = _overlap(allowed, self.awake)
        first = up(request.earliest) if request.earliest and "earliest" not in without else -inf
        last = down(request.latest) if request.latest and "latest" not in without else inf
        barriers = list(self.freezes) if "freeze" not in without else []
        if "dry" not in without:
            barriers += [(down(dry.starts_at), up(dry.ends_at)) for dry in request.dry]
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
    inputs: PlanInputs, windows: Sequence[Window], *, any_by_hand: bool, since: datetime | None = None
) -> NightLimits:
    """Put together what a plan has to fit into; waking hours only if something runs by hand.

    Nothing begins before `since`, by default now.
    """
    rules, air = inputs.rules, inputs.air
    soonest = up(inputs.now if since is None else since)
    spans = [(max(up(w.starts_at), soonest), down(w.ends_at)) for w in windows]
    allowed = tuple(sorted((a, b) for a, b in spans if a < b))
    first, hours = (allowed[0][0] // 60, -(-allowed[-1][1] // 60)) if allowed else (0, 0)
    skip = first - down(air.first) // 60
    wind = [_value(air.wind10_m_s, skip + i) for i in range(hours - first)]
    temp = [_value(air.temp_c, skip + i) for i in range(hours - first)]
    awake: tuple[MinuteSpan, ...] = ()
    if allowed and any_by_hand:
        night = [Window(from_minute(allowed[0][0]), from_minute(allowed[-1][1]))]
        waking = waking_hours(night, rules.awake, inputs.local)
        awake = tuple((up(w.starts_at), down(w.ends_at)) for w in waking)
    return NightLimits(
        open=allowed,
        freezes=_hours(first, [t < rules.least_temp_c for t in temp]),
        unknown_temp=_hours(first, [isnan(t) for t in temp]),
        awake=awake,
        carries=inputs.supply.flow_l_min,
        limit=inf if rules.minutes_a_night is None else rules.minutes_a_night + TINY,
        calm=Calm(first * 60, wind),
        rules=rules,
        local=inputs.local,
        fixed=tuple(Draw(down(r.starts_at), up(r.ends_at), r.flow_l_min, r.by_hand) for r in inputs.running),
    )


def from_minute(minute: int) -> datetime:
    """Whole minutes since 1970 as aware UTC."""
    return EPOCH + minute * MINUTE


def down(when: datetime) -> int:
    """The last whole minute up to a time."""
    return (when - EPOCH) // MINUTE


def up(when: datetime) -> int:
    """The first whole minute from a time on."""
    return -((EPOCH - when) // MINUTE)


def _value(series: Series, index: int) -> float:
    return float(series[index]) if 0 <= index < len(series) else float("nan")


def _hours(first: int, flags: Sequence[bool]) -> tuple[MinuteSpan, ...]:
    """Runs of hours for which a flag holds, as minute stretches."""
    return tuple(merged(((first + i) * 60, (first + i + 1) * 60) for i, flag in enumerate(flags) if flag))


def _overlap(some: Iterable[MinuteSpan], others: Sequence[MinuteSpan]) -> tuple[MinuteSpan, ...]:
    return tuple((max(a, c), min(b, d)) for a, b in some for c, d in others if max(a, c) < min(b, d))


def _lies_in(some: Sequence[MinuteSpan], others: Sequence[MinuteSpan]) -> bool:
    return all(any(c <= a and b <= d for c, d in others) for a, b in some)


def _length(spans: Iterable[MinuteSpan]) -> int:
    return sum(b - a for a, b in spans)
