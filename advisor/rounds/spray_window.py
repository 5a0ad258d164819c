"""One hour of a coming day held against what a round asks: wind, heat, dry leaves, rain after, water in.

An hour is barred for reasons that keep their numbers, or it has a worth by which hours are ranked. The
limits are the strictest of the round's products; the thresholds of chance are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from math import ceil
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from advisor.advice import Bar, BarKind, Mind, Watering
from advisor.hours import Window
from advisor.lawn import Product, Round, Seedbed
from advisor.science.chance import share_of
from advisor.science.events import largest_event
from advisor.soil_water import RootZone
from advisor.watering_in import WaterInNeed
from advisor.weather import Array

RAIN_MM = 1.0  # rain in a dry time from here on
MAY_RAIN = 0.25  # the largest chance of it that is taken
MAY_WASH = 0.10  # the largest chance of heavy rain
MAY_BE_WET, WET_MM, DRIES_IN_H = 0.3, 0.5, 3  # leaves are wet for so long after so much rain
DEW_C = 1.0  # closer to the dew point than this the leaves are likely wet
SOAKED_MM, SOAKED_H = 5.0, 12  # so much drained below the roots not long ago: the ground is full
FROST_H = 12
MOIST_BEARS_H = 4.0  # a longer dry time does not go with seed that is watered twice a day
RAIN_DOES_IT = 0.6  # from this chance on the round is left to the rain


@dataclass(frozen=True, slots=True)
class Judged:
    """One hour in which a round would be put down.

    `bars` are why it will not do, none for a good hour; `worth` ranks hours. Wind at 10 m, m/s, and
    temperature, °C. Chances are 0–1, None where nothing asks: `rain_after` while it must stay dry,
    `waters_in` that rain alone waters all in, `too_much` that rain washes it away. `expected_mm` is the rain
    expected until it is due.
    """

    at: datetime
    bars: tuple[Bar, ...]
    worth: float
    wind_m_s: float
    temp_c: float
    rain_after: float | None
    waters_in: float | None
    too_much: float | None
    expected_mm: float
    watering: Watering
    mind: tuple[Mind, ...]


@dataclass(frozen=True, eq=False, slots=True)
class Job:
    """A round on some zones.

    `needs` by product, `zones` by number; `openings` when water may run, `run_time` how long watering in
    takes, `dry_until` when the last product on these zones need no longer stay dry and `dry_for` whose that
    is; `due_on` the local date before which it is not due; `beds` those of the zones on which grass comes up
    from seed.
    """

    round: Round
    products: tuple[Product, ...]
    needs: Mapping[str, WaterInNeed]
    zones: tuple[int, ...]
    openings: tuple[Window, ...]
    run_time: timedelta
    dry_until: datetime | None
    dry_for: str
    due_on: date | None
    beds: tuple[Seedbed, ...] = ()

    @property
    def asking(self) -> tuple[Product, ...]:
        """The products that are to be watered in."""
        return tuple(p for p in self.products if self.needs[p.name].target_mm > 0)

    @property
    def dry_h(self) -> float:
        """The longest time without rain that a product asks after it, h."""
        return max(max(p.kind.dry_h, p.kind.rain_free_h) for p in self.products)

    @property
    def wind_limit_m_s(self) -> float:
        """The most wind that all products bear, m/s at 10 m."""
        return min(p.kind.wind_most_m_s for p in self.products)


class Ahead:
    """Sums of the coming hours, made once: any stretch is two look-ups."""

    def __init__(self, ground: RootZone) -> None:
        self.ground, self.hours = ground, ground.hours_ahead
        first = ground.first
        weather = ground.weather
        self.first_at = weather.starts_at(first)
        self.wind = weather.wind10_m_s[first : first + self.hours]
        self.temp = weather.temp_c[first : first + self.hours]
        self.dew = weather.dew_c[first : first + self.hours]
        self._gross = _summed(ground.rain_ahead_mm)
        self._drained = _summed(ground.ahead_percolation_mm)

    def rain(self, a: int, b: int) -> Array:
        """Rain at the gauge of each member over the hours [a, b) from now, (m,); before now what fell."""
        water, first = self.ground.water.rain_mm, self.ground.first
        fell = float(np.nansum(water[max(0, first + a) : first + 1])) if a < 0 else 0.0
        low, high = (min(max(x, 0), self.hours) for x in (a, b))
        return np.asarray(self._gross[:, high] - self._gross[:, low] + fell)

    def net(self, zone: int, a: int, b: int) -> Array:
        """Water into the soil of a zone by hour, (m, hours)."""
        return self.ground.net_ahead_mm[zone, :, max(0, a) : b]

    def drained(self, zone: int, a: int, b: int) -> float:
        """Mean drainage below the roots of a zone over the hours [a, b)."""
        low, high = (min(max(x, 0), self.hours) for x in (a, b))
        return float((self._drained[zone, :, high] - self._drained[zone, :, low]).mean())

    def coldest(self, a: int, b: int) -> float:
        """The lowest temperature of the hours [a, b), also before now; NaN where unknown."""
        temps = self.ground.weather.temp_c[max(0, self.ground.first + a) : self.ground.first + b]
        return float(np.nanmin(temps)) if np.isfinite(temps).any() else float("nan")


def judge(ahead: Ahead, job: Job, hour: int) -> Judged:
    """The round put down in hour number `hour` from now on."""
    at = ahead.first_at + timedelta(hours=hour)
    wind, temp = float(ahead.wind[hour]), float(ahead.temp[hour])
    dry = _rain_after(ahead, job, hour + 1)
    washed = _washed(ahead, job, hour + 1)
    water = _water_in(ahead, job, at, hour + 1) if washed.known else _Water(None, 0.0, Watering.NONE_NEEDED)
    bars = (
        *_calendar(job, at, ahead),
        *_air(job, wind, temp),
        *_leaves(ahead, job, hour),
        *_soil(ahead, job, hour),
        *dry.bars,
        *washed.bars,
        *water.bars,
    )
    mind = tuple(_mind(ahead, job, hour, wind))
    # how the reasons weigh against each other: common practice, no source
    worth = (
        0.6 * (water.chance or 0.0)
        - 2.0 * (washed.chance or 0.0)
        - 1.5 * (dry.chance or 0.0)
        - 0.3 * (wind / job.wind_limit_m_s) ** 2
        - 0.1 * len(mind)
        - 0.02 * hour / 24.0
    )
    return Judged(
        at=at,
        bars=_each_once(bars),
        worth=worth if np.isfinite(worth) else -9.0,
        wind_m_s=wind,
        temp_c=temp,
        rain_after=dry.chance,
        waters_in=water.chance,
        too_much=washed.chance,
        expected_mm=water.expected_mm,
        watering=water.by,
        mind=mind,
    )


def _each_once(bars: Iterable[Bar]) -> tuple[Bar, ...]:
    """The bars without doubles; that the forecast is too short is told once, by the longer stretch."""
    kinds = {bar.kind for bar in bars}
    longer = BarKind.BEYOND_DAY_AFTER in kinds
    told = (bar for bar in bars if not (longer and bar.kind == BarKind.BEYOND_DRY_TIME))
    return tuple(dict.fromkeys(told))


def _calendar(job: Job, at: datetime, ahead: Ahead) -> Iterator[Bar]:
    """What the dates bar: blackouts, the interval, a label, a dry period, grass coming up."""
    day = at.astimezone(ahead.ground.site.place.zone).date()
    for span in job.round.blackouts:
        if span.first <= day <= span.last:
            yield Bar(kind=BarKind.BLACKOUT, first=span.first, day=span.last, why=span.why)
    if job.due_on is not None and day < job.due_on:
        yield Bar(kind=BarKind.NOT_DUE, day=job.due_on)
    for product in job.products:
        before = product.no_apply_before
        if before is not None and day < before:
            yield Bar(kind=BarKind.LABEL, products=(product.name,), day=before)
    if job.dry_until is not None and at < job.dry_until:
        yield Bar(kind=BarKind.DRY, products=(job.dry_for,), until=job.dry_until)
    yield from _seedlings(job, day)


def _seedlings(job: Job, day: date) -> Iterator[Bar]:
    """What seedlings do not bear: a weed killer, or a dry time while the seed is kept moist."""
    harming = tuple(p.name for p in job.products if p.kind.harms_seedlings)
    drying = tuple(p.name for p in job.products if max(p.kind.dry_h, p.kind.rain_free_h) > MOIST_BEARS_H)
    for bed in job.beds:
        if harming and day <= bed.young_until:
            yield Bar(kind=BarKind.SEEDLINGS, products=harming, zone=bed.zone, day=bed.young_until)
        if drying and day <= bed.moist_until:
            yield Bar(kind=BarKind.KEPT_MOIST, products=drying, zone=bed.zone, day=bed.moist_until)


def _air(job: Job, wind: float, temp: float) -> Iterator[Bar]:
    """What wind and temperature bar."""
    if not np.isfinite(wind) or not np.isfinite(temp):
        yield Bar(kind=BarKind.UNKNOWN)
        return
    coldest = max(p.kind.temp_least_c for p in job.products)
    hottest = min(p.kind.temp_most_c for p in job.products)
    if wind > job.wind_limit_m_s:
        yield Bar(kind=BarKind.WIND, wind_m_s=wind, wind_limit_m_s=job.wind_limit_m_s)
    if temp > hottest:
        yield Bar(kind=BarKind.HEAT, temp_c=temp, temp_limit_c=hottest)
    if temp < coldest:
        yield Bar(kind=BarKind.COLD, temp_c=temp, temp_limit_c=coldest)


def _leaves(ahead: Ahead, job: Job, hour: int) -> Iterator[Bar]:
    """Leaves that rain wets."""
    if all(p.kind.wet_foliage_first for p in job.products):
        return
    wet = share_of(ahead.rain(hour - DRIES_IN_H, hour + 1) >= WET_MM)
    if wet > MAY_BE_WET:
        yield Bar(kind=BarKind.WET_LEAVES, chance=wet)


def _soil(ahead: Ahead, job: Job, hour: int) -> Iterator[Bar]:
    """Ground that may be frozen, or is full."""
    coldest = ahead.coldest(hour - FROST_H, hour + 1)
    if coldest < 0.0:
        yield Bar(kind=BarKind.FROST, temp_c=coldest)
        return
    full = max(ahead.drained(z, hour - SOAKED_H, hour) for z in job.zones)
    if full >= SOAKED_MM:
        yield Bar(kind=BarKind.SOAKED, depth_mm=full, hours=SOAKED_H)


class _Chance(NamedTuple):
    """A chance, None where nothing asks or the forecast is too short (then not `known`), and its bars."""

    chance: float | None
    bars: tuple[Bar, ...] = ()
    known: bool = True


def _rain_after(ahead: Ahead, job: Job, done: int) -> _Chance:
    """The chance of rain while the leaves must stay dry."""
    if job.dry_h <= 0:
        return _Chance(None)
    until = done + ceil(job.dry_h)
    if until > ahead.hours:
        return _Chance(None, (Bar(kind=BarKind.BEYOND_DRY_TIME),), known=False)
    wet = share_of(ahead.rain(done, until) >= RAIN_MM)
    bar = Bar(kind=BarKind.RAIN_AFTER, hours=job.dry_h, chance=wet)
    return _Chance(wet, (bar,) if wet > MAY_RAIN else ())


def _washed(ahead: Ahead, job: Job, done: int) -> _Chance:
    """The chance of rain that washes a product away."""
    washing = [p for p in job.products if p.kind.washoff_mm > 0]
    if not washing:
        return _Chance(None)
    if max(done + ceil(p.kind.washoff_h) for p in washing) > ahead.hours:
        return _Chance(None, (Bar(kind=BarKind.BEYOND_DAY_AFTER),), known=False)
    heavy = [ahead.rain(done, done + ceil(p.kind.washoff_h)) >= p.kind.washoff_mm for p in washing]
    chance = share_of(np.any(heavy, axis=0))
    if chance <= MAY_WASH:
        return _Chance(chance)
    least = min(p.kind.washoff_mm for p in washing)
    return _Chance(chance, (Bar(kind=BarKind.HEAVY_RAIN, depth_mm=least, chance=chance),))


class _Water(NamedTuple):
    """The chance that rain waters all in, None where nothing asks; the rain expected; what waters."""

    chance: float | None
    expected_mm: float
    by: Watering
    bars: tuple[Bar, ...] = ()


def _water_in(ahead: Ahead, job: Job, at: datetime, done: int) -> _Water:
    """What waters the products in that ask it, put down in the hour `at`, done `done` hours from now."""
    if not job.asking:
        return _Water(None, 0.0, Watering.NONE_NEEDED)
    chances, can_run = [], True
    end = done
    for product in job.asking:
        begin = done + ceil(product.kind.dry_h)
        within = product.kind.due_h
        end = max(end, min(ahead.hours, begin + int(within)))
        need = job.needs[product.name]
        chances.append(
            np.stack([_enough(ahead.net(z, begin, begin + int(within)), product, need) for z in job.zones])
        )
        starts = at + timedelta(hours=1 + product.kind.dry_h)
        due = starts + timedelta(hours=within)
        can_run = can_run and _can_run(job, max(starts, job.dry_until or starts), due)
    chance = share_of(np.all(np.concatenate(chances), axis=0))
    expected = float(ahead.rain(done, end).mean())
    if chance >= RAIN_DOES_IT:
        return _Water(chance, expected, Watering.RAIN)
    bars = () if can_run else (Bar(kind=BarKind.NO_WATER, chance=chance),)
    return _Water(chance, expected, Watering.SPRINKLERS, bars)


def _enough(net_mm: Array, product: Product, need: WaterInNeed) -> npt.NDArray[np.bool_]:
    """Whether each member waters the product in and no more than it bears, (m,)."""
    total = net_mm.sum(axis=1)
    brought = largest_event(net_mm) if product.kind.single_event else total
    return np.asarray((brought >= need.least_mm) & (total <= need.most_mm))


def _can_run(job: Job, begin: datetime, due: datetime) -> bool:
    return any(min(w.ends_at, due) - max(w.starts_at, begin) >= job.run_time for w in job.openings)


def _mind(ahead: Ahead, job: Job, hour: int, wind: float) -> Iterator[Mind]:
    """What does not bar an hour and is to be minded in it."""
    wet_first = [p.kind.wet_foliage_first for p in job.products]
    if wind < max(p.kind.wind_least_m_s for p in job.products):
        yield Mind.INVERSION
    if ahead.temp[hour] - ahead.dew[hour] < DEW_C and not all(wet_first):
        yield Mind.DEW
    if any(wet_first):
        yield Mind.WET_LEAVES_FIRST


def _summed(hourly: Array) -> Array:
    """Running sums along the hours with a leading 0; (…, h) → (…, h + 1)."""
    return np.concatenate([np.zeros((*hourly.shape[:-1], 1)), np.cumsum(hourly, axis=-1)], axis=-1)
