"""A place's usual year: mean demand and rain by month, from hourly weather of past years or from
monthly means. Pure.

Of the rain only a part can be counted on. Day by day: nothing of the first 2.54 mm (0.1 in), all from
there to 25.4 mm, two thirds from there to 50.8 mm, nothing above (Texas A&M AgriLife Extension). Where
only monthly totals are known, the rain that comes in four years of five: 0.6 P − 10 mm, or 0.8 P − 24 mm
above 70 mm a month (FAO, "dependable rain", from memory of the CROPWAT manual, FAO Irrigation and
Drainage Paper 46).
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import tzinfo

import numpy as np

from advisor.advice import ClimateBasis, ClimateKind, CountedRain, Frozen
from advisor.errors import CannotAdvise
from advisor.lawn import MonthWritten
from advisor.soil_water.reference_et import daily_reference_et
from advisor.weather import Array, Weather
from advisor.wording import MONTHS, listed

LEAST_DAYS = 20  # of a month must be known, over all its years, for its means to be believed
LENGTHS = (31.0, 28.25, 31.0, 30.0, 31.0, 30.0, 31.0, 31.0, 30.0, 31.0, 30.0, 31.0)


class Month(Frozen):
    """One month as usual: reference ET [mm/d], rain and the rain that counts [mm a month], and the mean
    nightly minimum [°C], None where it is not known."""

    month: int
    eto_mm_d: float
    rain_mm: float
    counted_mm: float
    tmin_c: float | None = None


class Climate(Frozen):
    """January…December, and what they rest on; `source` is to be named beside them."""

    months: tuple[Month, ...]
    source: str
    basis: ClimateBasis

    def eto_month_mm(self) -> tuple[float, ...]:
        """Reference evapotranspiration by month, mm a month."""
        return tuple(m.eto_mm_d * days for m, days in zip(self.months, LENGTHS, strict=True))


def counted_by_day(rain_mm: Array) -> Array:
    """The part of each day's rain (…) that can be counted on, mm.

    >>> counted_by_day(np.array([2.0, 12.54, 25.4, 50.8, 90.0])).round(2).tolist()
    [0.0, 10.0, 22.86, 39.79, 39.79]
    """
    whole = np.clip(rain_mm, 2.54, 25.4) - 2.54
    return np.asarray(whole + (np.clip(rain_mm, 25.4, 50.8) - 25.4) * 2.0 / 3.0)


def counted_by_month(rain_mm: float) -> float:
    """The part of a month's rain that can be counted on, mm.

    >>> [round(counted_by_month(mm), 1) for mm in (10.0, 50.0, 70.0, 100.0)]
    [0.0, 20.0, 32.0, 56.0]
    """
    return max(0.0, 0.6 * rain_mm - 10.0 if rain_mm <= 70.0 else 0.8 * rain_mm - 24.0)


def climate_of(weather: Weather, zone: tzinfo, *, source: str) -> Climate:
    """The usual year in some years of hourly weather, by local civil days.

    Raises CannotAdvise naming the months with fewer than 20 days known.
    """
    demand = daily_reference_et(weather, zone)
    begins = np.flatnonzero(np.diff(demand.day_index, prepend=-1))
    known = np.add.reduceat(np.isfinite(weather.rain_mm).astype(np.float64), begins) >= 23.0
    rain = np.add.reduceat(np.nan_to_num(weather.rain_mm), begins)
    known &= np.isfinite(demand.eto_day_mm)
    month = demand.days.astype("datetime64[M]").astype(np.int64) % 12
    in_month = [known & (month == i) for i in range(12)]
    missing = [MONTHS[i] for i in range(12) if in_month[i].sum() < LEAST_DAYS]
    if missing:
        raise CannotAdvise(
            f"a usual year needs at least {LEAST_DAYS} known days of every month; {listed(missing)} "
            f"{'has' if len(missing) == 1 else 'have'} fewer in {source}"
        )
    months = []
    for i, (these, length) in enumerate(zip(in_month, LENGTHS, strict=True)):
        months.append(
            Month(
                month=i + 1,
                eto_mm_d=float(demand.eto_day_mm[these].mean()),
                rain_mm=float(rain[these].mean()) * length,
                counted_mm=float(counted_by_day(rain[these]).mean()) * length,
                tmin_c=float(demand.tmin_c[these].mean()),
            )
        )
    days = demand.days[known]
    return Climate(
        months=tuple(months),
        source=source,
        basis=ClimateBasis(
            kind=ClimateKind.HOURS,
            counted_rain=CountedRain.BY_DAY,
            days=int(known.sum()),
            first=days[0].item(),
            last=days[-1].item(),
        ),
    )


def climate_of_months(months: Sequence[MonthWritten], *, file: str) -> Climate:
    """The usual year by monthly means, as the owner wrote them down in a file of that name."""
    is_given = any(each.counted_mm is not None for each in months)
    return Climate(
        months=tuple(
            Month(
                month=each.month,
                eto_mm_d=each.eto_mm_d,
                rain_mm=each.rain_mm,
                counted_mm=counted_by_month(each.rain_mm) if each.counted_mm is None else each.counted_mm,
                tmin_c=each.tmin_c,
            )
            for each in months
        ),
        source="; ".join(dict.fromkeys(each.source for each in months if each.source)) or file,
        basis=ClimateBasis(
            kind=ClimateKind.MONTHS,
            counted_rain=CountedRain.AS_GIVEN if is_given else CountedRain.BY_MONTH,
            file=file,
        ),
    )
