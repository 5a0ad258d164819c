"""The weather day by day, behind and ahead: rain and its chances, ETo, wind and minimum temperature.

Every value says what it rests on. Days are civil days (23, 24 or 25 hours); what is unknown is None,
and a day of which less than 80 % of the hours are known has no value at all.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from advisor.advice import (
    DayIs,
    Note,
    NoteKind,
    NoteLevel,
    RainBasis,
    RainFrom,
    SourceUsed,
    WeatherDay,
    WeatherDays,
)
from advisor.errors import CannotAdvise
from advisor.lawn import Records, Site
from advisor.science.chance import Calibration, chance_at_least, quantile
from advisor.science.snow import split
from advisor.sentences import chance_source, eto_source, note_sentences, rain_source
from advisor.soil_water.calibration import calibration_from
from advisor.soil_water.rain_members import rain_members
from advisor.soil_water.reference_et import LEAST_SHARE, ReferenceET, daily_reference_et
from advisor.weather import RECORDS, Array, Weather, as_date
from advisor.wording import Say

LEAST_MM = (1.0, 5.0, 10.0)


@dataclass(frozen=True, eq=False, slots=True)
class _Hours:
    """What the rows are summed from. `first` is the hour of `now`, `part` how much of it gauge readings cover.

    `members` (m, k) start at `first`, those of the sources `members_from`, calibrated on `pairs`; `fell`
    (h,) is rain up to `now`, NaN unknown and after it, of the hour of `now` what the gauge measured: the rest
    of that hour is still to come. `air` (h,) whose temperature an hour has.
    """

    weather: Weather
    demand: ReferenceET
    first: int
    part: float
    members: Array
    fell: Array
    snow: Array
    air: npt.NDArray[np.str_]
    members_from: tuple[str, ...]
    pairs: int


def weather_days(
    *, site: Site, records: Records, weather: Weather, now: datetime, back: int = 7, ahead: int = 10
) -> WeatherDays:
    """The `back` days before the local day of `now`, that day, and up to `ahead` days after it.

    `weather` is settled, its past as gauge and archive tell it. Days without a single known hour of rain
    or temperature at either end are left out.
    """
    local = site.place.zone
    calibration = calibration_from(
        (pair for pair in records.pairs if pair.starts_at < now), site.judgement.rain
    )
    demand = daily_reference_et(weather, local)
    hours, told = _hours(weather, demand, calibration, now)
    today = np.datetime64(now.astimezone(local).date())
    wanted = [d for d, day in enumerate(demand.days) if -back <= (day - today).astype(int) <= ahead]
    rows = [_row(hours, d, as_date(today), local) for d in wanted]
    while rows and rows[-1].when == DayIs.AHEAD and _says_nothing(rows[-1]):
        rows.pop()
    while rows and rows[0].when == DayIs.PAST and _says_nothing(rows[0]):
        rows.pop(0)
    notes = tuple(dict.fromkeys((*weather.notes, *demand.notes, *told)))
    return WeatherDays(
        site=site.place.name,
        time_zone=local.key,
        units=site.place.units,
        now=now.astimezone(UTC),
        days=tuple(rows),
        members=len(hours.members),
        members_from=hours.members_from,
        calibrated=calibration.pairs > 0,
        pairs=calibration.pairs,
        sources=tuple(SourceUsed(**asdict(use)) for use in weather.sources),
        provenance=note_sentences(Say(site.place.units, local, now), notes),
        notes=notes,
    )


def _hours(
    weather: Weather, demand: ReferenceET, calibration: Calibration, now: datetime
) -> tuple[_Hours, tuple[Note, ...]]:
    """The series behind the rows, and what is to be told about them."""
    first = min(max(0, weather.index_at(now)), weather.hours)
    gone_h = (now - weather.starts_at(first)) / timedelta(hours=1)
    told: tuple[Note, ...] = ()
    members = np.zeros((0, 0))
    if 0.0 <= gone_h < 1.0 and first < weather.hours:
        try:
            members, told = rain_members(weather, first, calibration)
        except CannotAdvise as nothing:
            told = (Note(level=NoteLevel.WARNING, kind=NoteKind.NO_RAIN_AHEAD, reason=str(nothing)),)
    else:
        told = (Note(level=NoteLevel.WARNING, kind=NoteKind.NOTHING_AHEAD),)
        first = weather.hours if gone_h >= 1.0 else 0
    fell = np.where(np.arange(weather.hours) < first, weather.rain_mm, np.nan)
    part = float(weather.gauge_share[first]) if first < weather.hours else 0.0
    if part > 0.0:
        fell[first] = weather.gauge_mm[first]
    own = weather.sources[0].name if weather.sources else RECORDS
    having = [use.name for use in weather.sources if use.members]
    return _Hours(
        weather=weather,
        demand=demand,
        first=first,
        part=part,
        members=members,
        fell=fell,
        snow=np.where(
            np.isfinite(weather.snow_mm), weather.snow_mm, split(weather.rain_mm, weather.temp_c)[1]
        ),
        air=np.where(weather.air_from == "", own, weather.air_from),
        members_from=tuple(dict.fromkeys(having)) or (own,),
        pairs=calibration.pairs,
    ), told


def _row(hours: _Hours, d: int, today: date, local: tzinfo) -> WeatherDay:
    weather, demand = hours.weather, hours.demand
    where = np.flatnonzero(demand.day_index == d)
    a, b = int(where[0]), int(where[-1]) + 1
    day = as_date(demand.days[d])
    length = _length_h(day, local)
    rain = _rain(hours, a, b, length)
    rain_from = rain.rests_on if rain.mean_mm is not None else ()
    totals = rain.totals if rain.totals is not None and len(rain.totals) > 1 else None
    low, high = (quantile(totals, 0.1), quantile(totals, 0.9)) if totals is not None else (None, None)
    chance = [None if totals is None else chance_at_least(totals, least) for least in LEAST_MM]
    air = _most(hours.air[a:b][np.isfinite(weather.temp_c[a:b])])
    eto, tmin, wind = (_number(v[d]) for v in (demand.eto_day_mm, demand.tmin_c, demand.wind10_m_s))
    service = weather.eto_source_mm[a:b]
    return WeatherDay(
        day=day,
        when=DayIs.PAST if day < today else DayIs.TODAY if day == today else DayIs.AHEAD,
        hours=length,
        known_hours=min(length, round(rain.known_h, 3)),
        rain_mm=rain.mean_mm,
        fell_mm=None if day > today else rain.fell_mm if day == today else rain.mean_mm,
        rain_low_mm=low,
        rain_high_mm=high,
        snow_mm=_snow(hours, a, b, rain.mean_mm),
        rain_basis=_weightiest_first(rain_from),
        rain_source=rain_source(rain_from),
        rain_from=rain_from,
        chance_1mm=chance[0],
        chance_5mm=chance[1],
        chance_10mm=chance[2],
        chance_source=""
        if totals is None
        else chance_source(len(hours.members), hours.members_from, hours.pairs),
        eto_mm=eto,
        eto_source="" if eto is None else eto_source(demand.stand_ins[d], air),
        eto_stand_ins=demand.stand_ins[d],
        air_source=air,
        service_eto_mm=float(service.sum()) if b - a >= length and np.isfinite(service).all() else None,
        wind10_m_s=wind,
        wind_source=air if wind is not None else "",
        tmin_c=tmin,
        tmin_source=air if tmin is not None else "",
    )


def _length_h(day: date, local: tzinfo) -> float:
    """The hours of a civil day: 24, or what the change of the clock makes of it."""
    begin, end = (datetime.combine(d, time(0), local).astimezone(UTC) for d in (day, day + timedelta(days=1)))
    return (end - begin) / timedelta(hours=1)


class _Rain(NamedTuple):
    """The rain of one day: `totals` (m,) of the members with what fell, None where none reach it."""

    known_h: float
    mean_mm: float | None
    fell_mm: float | None
    totals: Array | None
    rests_on: tuple[RainFrom, ...]


def _rain(hours: _Hours, a: int, b: int, length: float) -> _Rain:
    """What fell in the hours a to b before now, and what the members bring in the rest of them."""
    fallen = hours.fell[a:b]
    weight = np.where(np.arange(a, b) == hours.first, hours.part, 1.0) * np.isfinite(fallen)
    fell_h = float(weight.sum())
    fell = float(np.nansum(fallen)) if fell_h > 0.0 else None
    begin = max(a, hours.first) - hours.first
    end = min(b - hours.first, hours.members.shape[1])
    coming = np.where(np.arange(begin, max(begin, end)) == 0, 1.0 - hours.part, 1.0)
    known_h = fell_h + float(coming.sum())
    rests_on = _rain_from(hours, slice(a, min(b, hours.first + 1)), float(coming.sum()))
    if known_h < LEAST_SHARE * length:
        return _Rain(known_h, None, fell, None, rests_on)
    if not len(coming):
        return _Rain(known_h, fell, fell, None, rests_on)
    totals = hours.members[:, begin:end].sum(axis=1) + (fell or 0.0)
    return _Rain(known_h, float(totals.mean()), fell, totals, rests_on)


def _rain_from(hours: _Hours, past: slice, coming_h: float) -> tuple[RainFrom, ...]:
    """What a day's rain rests on: gauge, archive and model in the `past` hours, then what is to come."""
    found = []
    for basis in (RainBasis.GAUGE, RainBasis.ARCHIVE, RainBasis.MODEL):
        here = (hours.weather.rain_basis[past] == str(basis)) & np.isfinite(hours.fell[past])
        if here.any():
            sources = () if basis == RainBasis.GAUGE else (_most(hours.air[past][here]),)
            found.append(RainFrom(basis=basis, sources=sources, hours=float(here.sum())))
    if coming_h > 0.0:
        basis = RainBasis.MODEL if len(hours.members) == 1 else RainBasis.MEMBERS
        found.append(RainFrom(basis=basis, sources=hours.members_from, hours=coming_h))
    return tuple(found)


def _weightiest_first(rain_from: Iterable[RainFrom]) -> tuple[RainBasis, ...]:
    """Each basis once, that of the most hours first."""
    count: dict[RainBasis, float] = {}
    for each in rain_from:
        count[each.basis] = count.get(each.basis, 0.0) + each.hours
    return tuple(sorted(count, key=lambda basis: -count[basis]))


def _snow(hours: _Hours, a: int, b: int, rain: float | None) -> float | None:
    """The part of the day's precipitation that falls as snow, by the hours' own share of it."""
    if rain is None:
        return None
    total = float(np.nansum(hours.weather.rain_mm[a:b]))
    share = min(1.0, float(np.nansum(hours.snow[a:b])) / total) if total > 0.0 else 0.0
    return rain * share


def _most(names: Iterable[str]) -> str:
    """The name that stands at most hours, "" where there is none."""
    found, count = np.unique(np.array(list(names), dtype=np.str_), return_counts=True)
    return str(found[np.argmax(count)]) if len(found) else ""


def _number(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def _says_nothing(row: WeatherDay) -> bool:
    return row.rain_mm is None and row.tmin_c is None
