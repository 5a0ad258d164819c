"""From the weather to daily reference evapotranspiration by civil day, and its share for every hour."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import tzinfo

import numpy as np
import numpy.typing as npt

from advisor.advice import Note, NoteKind, NoteLevel, Variable
from advisor.science.evapotranspiration import (
    DailyEto,
    actual_vapour_pressure,
    daily_eto,
    saturation_vapour_pressure,
    spread_over_hours,
    wind_at_2m,
)
from advisor.science.radiation import (
    clear_sky_radiation,
    day_of_year,
    extraterrestrial_radiation,
    extraterrestrial_radiation_hourly,
    radiation_from_cloud,
)
from advisor.science.stand_in import StandIn
from advisor.weather import Array, Weather, civil_days, eto_difference

LEAST_SHARE = 0.8  # of a day's hours must be known for its extremes to be believed


@dataclass(frozen=True, eq=False, slots=True)
class ReferenceET:
    """Reference evapotranspiration. Shapes: per day (d,), per hour (h,); mm; NaN unknown.

    `day_index` says which of `days` an hour belongs to; `stand_ins` (d) what stood in on each day for
    what was missing.
    """

    days: npt.NDArray[np.datetime64]
    day_index: npt.NDArray[np.int64]
    eto_day_mm: Array
    eto_mm: Array
    stand_ins: tuple[tuple[StandIn, ...], ...]
    tmin_c: Array
    tmax_c: Array
    wind10_m_s: Array
    notes: tuple[Note, ...]


def daily_reference_et(weather: Weather, local: tzinfo) -> ReferenceET:
    """Daily ETo for each civil day of the weather, spread over its hours by radiation.

    A day with less than 80 % of its temperatures known has no ETo (NaN): the ends of the series
    are such days. Radiation is scaled from the known hours only when that share is reached. Where it is
    unknown, cloud dims the sun hour by hour, for the cloud of a night dims nothing; an hour with neither
    takes its share of the day's demand by the clear sky.
    """
    days, index = civil_days(weather.starts, local)
    begins = np.flatnonzero(np.diff(index, prepend=-1))
    length = np.full(len(days), 24.0)
    length[1:-1] = np.diff(begins)[1:]

    def by_day(values: Array, how: np.ufunc, empty: float) -> tuple[Array, npt.NDArray[np.bool_]]:
        known = np.isfinite(values)
        share = np.add.reduceat(known.astype(np.float64), begins) / length
        return how.reduceat(np.where(known, values, empty), begins), share >= LEAST_SHARE

    def mean(values: Array) -> Array:
        total, good = by_day(values, np.add, 0.0)
        count = np.add.reduceat(np.isfinite(values).astype(np.float64), begins)
        return np.where(good, total / np.maximum(count, 1.0), np.nan)

    tmax, good = by_day(weather.temp_c, np.maximum, -np.inf)
    tmin, _ = by_day(weather.temp_c, np.minimum, np.inf)
    tmax, tmin = np.where(good, tmax, np.nan), np.where(good, tmin, np.nan)
    wind10 = mean(weather.wind10_m_s)
    ea = mean(np.asarray(actual_vapour_pressure(weather.dew_c)))
    light = mean(weather.rs_mj_m2_h) * length
    clear, clouded = _skies(weather)
    ea, light, wind10, doubts = _believable(weather.latitude_deg, days, tmax, ea, light, wind10)
    made = daily_eto(
        days=days,
        latitude_deg=weather.latitude_deg,
        elevation_m=weather.elevation_m,
        tmax_c=tmax,
        tmin_c=tmin,
        ea_kpa=ea,
        u2_m_s=np.asarray(wind_at_2m(wind_m_s=wind10, height_m=10.0)),
        rs_mj_m2_d=light,
        rs_by_cloud_mj_m2_d=mean(clouded) * length,
    )
    weight = np.where(np.isfinite(weather.rs_mj_m2_h), weather.rs_mj_m2_h, clouded)
    weight = np.where(np.isfinite(weight), weight, clear)
    eto_mm = spread_over_hours(eto_mm=made.eto_mm, day_index=index, weight=weight)
    apart = eto_difference(eto_mm, weather.eto_source_mm)
    return ReferenceET(
        days=days,
        day_index=index,
        eto_day_mm=made.eto_mm,
        eto_mm=eto_mm,
        stand_ins=made.stand_ins,
        tmin_c=tmin,
        tmax_c=tmax,
        wind10_m_s=wind10,
        notes=(*doubts, *_stand_in_notes(made), *((apart,) if apart else ())),
    )


def _skies(weather: Weather) -> tuple[Array, Array]:
    """Radiation of each hour under a clear sky and under the clouds that are told, (h,) MJ/m²/h."""
    sun = extraterrestrial_radiation_hourly(
        latitude_deg=weather.latitude_deg, longitude_deg=weather.longitude_deg, starts=weather.starts
    )
    clear = clear_sky_radiation(ra=sun, elevation_m=weather.elevation_m)
    cloud = np.where(sun > 0.0, np.clip(weather.cloud, 0.0, 1.0), 0.0)  # by night there is nothing to dim
    return clear, radiation_from_cloud(cloud=cloud, rso=clear)


def _believable(
    latitude_deg: float, days: npt.NDArray[np.datetime64], tmax: Array, ea: Array, light: Array, wind10: Array
) -> tuple[Array, Array, Array, tuple[Note, ...]]:
    """Daily vapour pressure, radiation and wind without the values that cannot be, and what was dropped."""
    sun = extraterrestrial_radiation(latitude_deg=latitude_deg, day_of_year=day_of_year(days))
    checks = (
        (ea > np.asarray(saturation_vapour_pressure(tmax)), Variable.HUMIDITY),
        ((light > sun + 1.0) | (light < 0.0), Variable.RADIATION),
        ((wind10 > 30.0) | (wind10 < 0.0), Variable.WIND),
    )
    notes = tuple(
        Note(
            level=NoteLevel.DROPPED,
            kind=NoteKind.DAYS_IMPOSSIBLE,
            variable=variable,
            days=int(wrong.sum()),
        )
        for wrong, variable in checks
        if wrong.any()
    )
    ea, light, wind10 = (
        np.where(wrong, np.nan, values)
        for (wrong, _), values in zip(checks, (ea, light, wind10), strict=True)
    )
    return ea, light, wind10, notes


def filled_past(demand: ReferenceET, now_hour: int) -> ReferenceET:
    """The same demand with unknown hours up to the end of today taken from the mean of the known days.

    The balance needs every past hour, and the day of hour `now_hour` is cut off where the weather has no
    past; what was filled is told. Nothing changes where all is known.
    """
    until = int(np.searchsorted(demand.day_index, demand.day_index[now_hour], side="right"))
    gaps = ~np.isfinite(demand.eto_mm[:until])
    if not gaps.any():
        return demand
    known = demand.eto_day_mm[np.isfinite(demand.eto_day_mm)]
    if len(known) == 0:
        return demand
    eto_mm = demand.eto_mm.copy()
    eto_mm[:until][gaps] = known.mean() / 24.0
    days = len(np.unique(demand.day_index[:until][gaps]))
    note = Note(level=NoteLevel.REPAIRED, kind=NoteKind.ETO_FILLED, days=days)
    return replace(demand, eto_mm=eto_mm, notes=(*demand.notes, note))


STOOD_IN = {
    StandIn.DEW_FROM_TMIN: NoteKind.ETO_DEW_FROM_MINIMUM,
    StandIn.WIND_2_M_S: NoteKind.ETO_WIND_ASSUMED,
    StandIn.RS_FROM_CLOUD: NoteKind.ETO_RADIATION_FROM_CLOUD,
    StandIn.RS_FROM_TEMPERATURE: NoteKind.ETO_RADIATION_FROM_RANGE,
}


def _stand_in_notes(made: DailyEto) -> tuple[Note, ...]:
    """How often each stand-in served and ETo was unknown, over the whole days (the cut-off ends are left out)."""
    counts: dict[NoteKind, int] = {}
    for eto, stand_ins in zip(made.eto_mm[1:-1], made.stand_ins[1:-1], strict=True):
        kinds = [STOOD_IN[each] for each in stand_ins] if np.isfinite(eto) else [NoteKind.ETO_UNKNOWN]
        for kind in kinds:
            counts[kind] = counts.get(kind, 0) + 1
    return tuple(Note(level=NoteLevel.TOLD, kind=kind, days=count) for kind, count in counts.items())
