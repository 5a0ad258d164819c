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

from advisor.weather.weather import Array, Note, Weather

Mask = npt.NDArray[np.bool_]

SHORT_GAP_H = 3
FLAT_H = 24
WILD_MM = 5.0
WILD_RATIO = 3.0


@dataclass(frozen=True, slots=True)
class _Limits:
    """What one hourly variable may be.

    `spike`: how far one hour may leave both its neighbours; `flat`: a value that stands still for a day
    is dropped; `filled`: short gaps are filled; `below_is_zero`: how far under `low` is only rounding.
    """

    words: str
    unit: str
    low: float
    high: float
    spike: float | None = None
    flat: bool = False
    filled: bool = True
    below_is_zero: float = 0.0


# Ranges: the widest that weather stations on land have met, rounded outwards; spikes: common
# practice, no source. 5.04 MJ/m² an hour is 1400 W/m², just above the sun outside the air.
LIMITS = {
    "temp_c": _Limits("temperature", "°C", -60.0, 60.0, spike=12.0, flat=True),
    "dew_c": _Limits("dew point", "°C", -80.0, 40.0, spike=15.0, flat=True),
    "wind10_m_s": _Limits("wind", "m/s", 0.0, 60.0, spike=20.0, below_is_zero=0.05),
    "rs_mj_m2_h": _Limits("radiation", "MJ/m²", 0.0, 5.04, below_is_zero=0.0037),
    "cloud": _Limits("cloud cover", "", 0.0, 1.0),
    "rain_mm": _Limits("rain", "mm", 0.0, 150.0, flat=True, filled=False),
    "snow_mm": _Limits("snow", "mm", 0.0, 100.0, filled=False),
    "chance": _Limits("chance of rain", "", 0.0, 1.0, filled=False),
    "eto_source_mm": _Limits("the source's own ETo", "mm", 0.0, 2.5, filled=False, below_is_zero=0.05),
}


def screen(weather: Weather) -> Weather:
    """`weather` with impossible values dropped, short gaps filled and a note for each kind of repair.

    Checks, per variable: range; one hour that leaps away from both its neighbours (a step that lasts is
    kept with a warning); a temperature, dew point or rain above zero that stands still for a day (a
    stuck sensor or a filled-in series); dew point above temperature. Gaps of up to 3 hours in
    temperature, dew point, wind, radiation and cloud are filled by a straight line; longer ones stay
    unknown.
    """
    notes: list[Note] = []
    fixed: dict[str, Any] = {}

    def drop(name: str, values: Array, bad: Mask, why: str) -> Array:
        if not bad.any():
            return values
        notes.append(Note("dropped", f"{LIMITS[name].words}: {_hours(weather, bad)} dropped, {why}"))
        return np.where(bad, np.nan, values)

    for name, limits in LIMITS.items():
        series: Array = getattr(weather, name)
        values = series
        with np.errstate(invalid="ignore"):
            outside = (values < limits.low) | (values > limits.high) | np.isinf(values)
        if outside.any():
            near = outside & (values < limits.low) & (values >= limits.low - limits.below_is_zero)
            values = np.where(near, limits.low, values)
            span = f"outside {limits.low:g} to {limits.high:g} {limits.unit}".rstrip()
            values = drop(name, values, outside & ~near, span)
        if limits.spike is not None:
            values = drop(name, values, _spikes(values, limits.spike), "a leap away from both neighbours")
            leap: Mask = np.asarray(np.abs(np.diff(values, prepend=values[:1])) > limits.spike)
            if leap.any():
                step = f"a step of more than {limits.spike:g} {limits.unit} within an hour"
                notes.append(Note("warning", f"{limits.words}: {step}, {_hours(weather, leap)}, kept"))
        if limits.flat:
            flat = _flat(values, FLAT_H)
            if name == "rain_mm":
                flat &= values > 0
            values = drop(name, values, flat, f"the same value for {FLAT_H} h or more")
        if values is not series:
            fixed[name] = values
    temp = fixed.get("temp_c", weather.temp_c)
    dew = fixed.get("dew_c", weather.dew_c)
    over = np.asarray(dew > temp)
    if over.any():
        far = np.asarray(dew > temp + 1.0)
        if far.any():
            dew = drop("dew_c", dew, far, "above the temperature")
        fixed["dew_c"] = np.where(over & ~far, temp, dew)
    for name, limits in LIMITS.items():
        if limits.filled:
            values = fixed.get(name, getattr(weather, name))
            gap = _short_gaps(values, SHORT_GAP_H)
            if gap is not None:
                fixed[name] = _line(values, gap)
                text = f"{limits.words}: {_hours(weather, gap)} missing, filled by a straight line"
                notes.append(Note("repaired", text))
    members = _screened_members(weather, notes)
    if members is not None:
        fixed["members_mm"] = members
    rain = fixed.get("rain_mm")
    if rain is not None:
        fixed["rain_basis"] = np.where(np.isnan(rain), "", weather.rain_basis)
    notes = [note for note in notes if note not in weather.notes]  # screened before
    if not notes and not fixed:
        return weather
    return replace(weather, **fixed, notes=(*weather.notes, *notes))


def _screened_members(weather: Weather, notes: list[Note]) -> Array | None:
    """The members with impossible values made unknown, None where there are none."""
    members = weather.members_mm
    if members.size == 0:
        return None
    high = LIMITS["rain_mm"].high
    if not (np.fmin.reduce(members, axis=None) < 0.0 or np.fmax.reduce(members, axis=None) > high):
        return None
    bad = (members < 0.0) | (members > high)
    worst: Mask = np.asarray(bad.any(axis=0))
    notes.append(Note("dropped", f"rain members: {_hours(weather, worst)} dropped, outside 0 to {high:g} mm"))
    return np.where(bad, np.nan, members)


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


def _hours(weather: Weather, bad: Mask) -> str:
    """How many hours, and the first of them, for a note."""
    where = np.flatnonzero(bad)
    first = f"{weather.starts_at(int(where[0])):%Y-%m-%d %H:%M} UTC"
    return f"1 hour ({first})" if len(where) == 1 else f"{len(where)} hours (first {first})"


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


def disagreement(weathers: Sequence[Weather], first: datetime, last: datetime) -> Note | None:
    """A note where two sources disagree wildly about the rain from `first` to `last`, else None.

    Wildly: their expected amounts differ by at least 5 mm and the larger is at least three times the
    smaller (common practice, no source). A source that knows less than 80 % of the hours has no say.
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
    if most - least < WILD_MM or most < WILD_RATIO * least:
        return None
    return Note(
        "warning",
        f"the sources disagree about the rain until {last:%Y-%m-%d %H:%M} UTC: {dry} expects {least:.1f} mm, "
        f"{wet} {most:.1f} mm; both are counted",
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
        "warning",
        f"our ETo of {own:.1f} mm over {both.sum() / 24:.1f} days differs from the source's own "
        f"{other:.1f} mm by {100 * abs(own - other) / other:.0f} %",
    )
