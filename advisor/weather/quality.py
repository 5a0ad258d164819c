"""Trust, but check: what a source sent is screened before anything rests on it.

Values that cannot be are dropped (they become unknown), short gaps in the states are filled by a
straight line, and each of these is one line of provenance per variable. Rain is never filled in.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

import numpy as np
import numpy.typing as npt

from advisor.advice import Note, NoteKind, NoteLevel, Variable
from advisor.lawn import RainJudged
from advisor.weather.weather import Array, Weather

Mask = npt.NDArray[np.bool_]
Kind = NoteKind

SHORT_GAP_H = 3
FLAT_H = 24
DEW_SLACK_C = 1.0


@dataclass(frozen=True, slots=True)
class _Limits:
    """What one hourly variable may be, in its SI unit.

    `spike`: how far one hour may leave both its neighbours; `flat`: a value that stands still for a day
    is dropped; `filled`: short gaps are filled; `below_is_zero`: how far under `low` is only rounding.
    """

    variable: Variable
    low: float
    high: float
    spike: float | None = None
    flat: bool = False
    filled: bool = True
    below_is_zero: float = 0.0


# Ranges: the widest that weather stations on land have met, rounded outwards; spikes: common
# practice, no source. 5.04 MJ/m² an hour is 1400 W/m², just above the sun outside the air.
LIMITS = {
    "temp_c": _Limits(Variable.TEMPERATURE, -60.0, 60.0, spike=12.0, flat=True),
    "dew_c": _Limits(Variable.DEW_POINT, -80.0, 40.0, spike=15.0, flat=True),
    "wind10_m_s": _Limits(Variable.WIND, 0.0, 60.0, spike=20.0, below_is_zero=0.05),
    "rs_mj_m2_h": _Limits(Variable.RADIATION, 0.0, 5.04, below_is_zero=0.0037),
    "cloud": _Limits(Variable.CLOUD, 0.0, 1.0),
    "rain_mm": _Limits(Variable.RAIN, 0.0, 150.0, flat=True, filled=False),
    "snow_mm": _Limits(Variable.SNOW, 0.0, 100.0, filled=False),
    "chance": _Limits(Variable.CHANCE, 0.0, 1.0, filled=False),
    "eto_source_mm": _Limits(Variable.SERVICE_ETO, 0.0, 2.5, filled=False, below_is_zero=0.05),
}


def screen(weather: Weather) -> Weather:
    """`weather` with impossible values dropped, short gaps filled and a note for each kind of repair.

    Checks, per variable: range; one hour that leaps away from both its neighbours (a step that lasts is
    kept with a warning); a temperature, dew point or rain above zero that stands still for a day (a
    stuck sensor or a filled-in series); dew point above temperature. Gaps of up to 3 hours in
    temperature, dew point, wind, radiation and cloud are filled by a straight line; longer ones stay
    unknown.
    """
    screening = _Screening(weather)
    for name, limits in LIMITS.items():
        screening.check(name, limits)
    screening.check_dew_point()
    for name, limits in LIMITS.items():
        if limits.filled:
            screening.fill(name, limits)
    screening.check_members()
    return screening.screened()


class _Screening:
    """One weather under screening: the series as far as they are mended, and the notes so far."""

    def __init__(self, weather: Weather) -> None:
        self.weather = weather
        self.fixed: dict[str, Any] = {}
        self.notes: list[Note] = []

    def series(self, name: str) -> Array:
        """A series as it stands now."""
        found: Array = self.fixed.get(name, getattr(self.weather, name))
        return found

    def note(self, level: NoteLevel, kind: NoteKind, variable: Variable, bad: Mask, **values: Any) -> None:
        """Note what was found in the `bad` hours of a variable."""
        where = np.flatnonzero(bad)
        first = self.weather.starts_at(int(where[0]))
        found = Note(level=level, kind=kind, variable=variable, hours=len(where), at=first, **values)
        self.notes.append(found)

    def drop(self, name: str, kind: NoteKind, bad: Mask, **values: Any) -> None:
        """Make the `bad` hours of a series unknown, and note it."""
        if bad.any():
            self.note(NoteLevel.DROPPED, kind, LIMITS[name].variable, bad, **values)
            self.fixed[name] = np.where(bad, np.nan, self.series(name))

    def check(self, name: str, limits: _Limits) -> None:
        """The checks that look at one series alone."""
        self._check_range(name, limits)
        if limits.spike is not None:
            self._check_leaps(name, limits.variable, limits.spike)
        if limits.flat:
            values = self.series(name)
            flat = _flat(values, FLAT_H)
            if name == "rain_mm":
                flat &= values > 0
            self.drop(name, Kind.STUCK, flat, of=FLAT_H)

    def _check_range(self, name: str, limits: _Limits) -> None:
        values = self.series(name)
        with np.errstate(invalid="ignore"):
            outside = (values < limits.low) | (values > limits.high) | np.isinf(values)
        if not outside.any():
            return
        near = outside & (values < limits.low) & (values >= limits.low - limits.below_is_zero)
        self.fixed[name] = np.where(near, limits.low, values)
        self.drop(name, Kind.OUTSIDE_LIMITS, outside & ~near, low=limits.low, high=limits.high)

    def _check_leaps(self, name: str, variable: Variable, most: float) -> None:
        self.drop(name, Kind.SPIKE, _spikes(self.series(name), most))
        values = self.series(name)
        leap: Mask = np.asarray(np.abs(np.diff(values, prepend=values[:1])) > most)
        if leap.any():
            self.note(NoteLevel.WARNING, Kind.STEP, variable, leap, high=most)

    def check_dew_point(self) -> None:
        """A dew point above the temperature: rounding is cut off, more is dropped."""
        temp, dew = self.series("temp_c"), self.series("dew_c")
        over = np.asarray(dew > temp)
        if not over.any():
            return
        far = np.asarray(dew > temp + DEW_SLACK_C)
        self.drop("dew_c", Kind.DEW_TOO_HIGH, far)
        self.fixed["dew_c"] = np.where(over & ~far, temp, self.series("dew_c"))

    def fill(self, name: str, limits: _Limits) -> None:
        """Fill the short gaps of a series."""
        values = self.series(name)
        gap = _short_gaps(values, SHORT_GAP_H)
        if gap is not None:
            self.fixed[name] = _line(values, gap)
            self.note(NoteLevel.REPAIRED, Kind.GAP_FILLED, limits.variable, gap)

    def check_members(self) -> None:
        """Make impossible values of the members unknown."""
        members = self.weather.members_mm
        if members.size == 0:
            return
        high = LIMITS["rain_mm"].high
        if not (np.fmin.reduce(members, axis=None) < 0.0 or np.fmax.reduce(members, axis=None) > high):
            return
        bad = (members < 0.0) | (members > high)
        worst: Mask = np.asarray(bad.any(axis=0))
        self.note(NoteLevel.DROPPED, Kind.OUTSIDE_LIMITS, Variable.MEMBERS, worst, low=0.0, high=high)
        self.fixed["members_mm"] = np.where(bad, np.nan, members)

    def screened(self) -> Weather:
        """The mended weather; the same object where nothing was to be done."""
        if "rain_mm" in self.fixed:
            unknown = np.isnan(self.fixed["rain_mm"])
            self.fixed["rain_basis"] = np.where(unknown, "", self.weather.rain_basis)
        notes = [note for note in self.notes if note not in self.weather.notes]  # screened before
        if not notes and not self.fixed:
            return self.weather
        return replace(self.weather, **self.fixed, notes=(*self.weather.notes, *notes))


def _spikes(values: Array, limit: float) -> Mask:
    """Hours that differ from both neighbours by more than `limit` in the same direction."""
    bad = np.zeros(len(values), dtype=bool)
    if len(values) >= 3:
        step = np.diff(values)
        bad[1:-1] = ((step[:-1] > limit) & (step[1:] < -limit)) | ((step[:-1] < -limit) & (step[1:] > limit))
    return bad


def _flat(values: Array, least: int) -> Mask:
    """Hours in runs of at least `least` identical values."""
    flat = np.zeros(len(values), dtype=bool)
    if len(values) >= least:
        for first, last in _runs(np.diff(values) == 0.0):
            if last - first + 1 >= least:
                flat[first : last + 1] = True
    return flat


def _runs(mask: Mask) -> npt.NDArray[np.int64]:
    """The half-open ranges in which `mask` is true, shape (r, 2)."""
    edge = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(np.int8)))
    return edge.reshape(-1, 2)


def _short_gaps(values: Array, longest: int) -> Mask | None:
    """The unknown hours in gaps of up to `longest` between two known hours; None where there are none."""
    unknown = np.isnan(values)
    if not unknown.any():
        return None
    short = np.zeros(len(values), dtype=bool)
    for first, last in _runs(unknown):
        if last - first <= longest and first > 0 and last < len(values):
            short[first:last] = True
    return short if short.any() else None


def _line(values: Array, gap: Mask) -> Array:
    known = np.flatnonzero(~np.isnan(values))
    out = values.copy()
    out[gap] = np.interp(np.flatnonzero(gap), known, values[known])
    return out


def expected_rain(weather: Weather, first: datetime, last: datetime) -> tuple[float, float]:
    """Expected rain (mm) in the hours from `first` to `last`, and how many of them are known (0–1).

    The mean of the members' totals, or the source's own amount where it has no members.
    """
    a, b = max(0, weather.index_at(first)), min(weather.hours, weather.index_at(last))
    wanted = max(1, weather.index_at(last) - weather.index_at(first))
    if b <= a:
        return float("nan"), 0.0
    members = weather.members_mm[:, a:b]
    known = np.isfinite(members)
    if known.any():
        counted = np.maximum(known.sum(axis=0), 1)
        hourly = np.where(known.any(axis=0), np.where(known, members, 0.0).sum(axis=0) / counted, np.nan)
    else:
        hourly = weather.rain_mm[a:b]
    told = np.isfinite(hourly)
    return (float(hourly[told].sum()) if told.any() else float("nan")), float(told.sum()) / wanted


def disagreement(
    weathers: Sequence[Weather], first: datetime, last: datetime, judged: RainJudged
) -> Note | None:
    """A note where two sources disagree wildly about the rain from `first` to `last`, else None.

    Wildly: their expected amounts differ by at least `wild_mm` and the larger is at least `wild_ratio` times
    the smaller. A source that knows less than 80 % of the hours has no say.
    """
    said: list[tuple[float, str]] = []
    for weather in weathers:
        amount, known = expected_rain(weather, first, last)
        if np.isfinite(amount) and known >= 0.8:
            said.append((amount, weather.sources[0].name if weather.sources else "a source"))
    if len(said) < 2:
        return None
    said.sort()
    (least, dry), (most, wet) = said[0], said[-1]
    if most - least < judged.wild_mm or most < judged.wild_ratio * least:
        return None
    return Note(
        level=NoteLevel.WARNING,
        kind=Kind.SOURCES_DISAGREE,
        until=last,
        names=(dry, wet),
        depths_mm=(least, most),
    )


def eto_difference(own_mm: Array, source_mm: Array) -> Note | None:
    """A note where our ETo differs from the source's own by more than 15 % in sum, else None.

    Both hourly, (h,), over the same hours; only hours known to both count, at least a day of them.
    """
    both = np.isfinite(own_mm) & np.isfinite(source_mm)
    if both.sum() < 24:
        return None
    own, other = float(own_mm[both].sum()), float(source_mm[both].sum())
    if other <= 0.0 or abs(own - other) <= 0.15 * other:
        return None
    return Note(
        level=NoteLevel.WARNING,
        kind=Kind.ETO_DIFFERS,
        depth_mm=own,
        of_mm=other,
        days=float(both.sum()) / 24.0,
        share=abs(own - other) / other,
    )
