"""One hour of a coming day held against what a round asks: wind, heat, dry leaves, rain after, water in.

An hour is barred for reasons that are told with their numbers, or it has a worth by which hours are
ranked. The limits are the strictest of the round's products; the thresholds of chance are common
practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from math import ceil, floor

import numpy as np
import numpy.typing as npt

from advisor.hours.window import Window
from advisor.lawn.products import Product
from advisor.lawn.seedbeds import Seedbed
from advisor.lawn.site_values import Round
from advisor.science.events import largest_event
from advisor.soil_water.root_zone import RootZone
from advisor.units import convert, show, unit
from advisor.watering_in.water_need import WaterInNeed
from advisor.weather.weather import Array
from advisor.wording import Say, day_of_month, listed, short_day

RAIN_MM = 1.0  # rain in a dry time from here on
MAY_RAIN = 0.25  # the largest chance of it that is taken
MAY_WASH = 0.10  # the largest chance of heavy rain
MAY_BE_WET, WET_MM, DRIES_IN_H = 0.3, 0.5, 3  # leaves are wet for so long after so much rain
DEW_C = 1.0  # closer to the dew point than this the leaves are likely wet
SOAKED_MM, SOAKED_H = 5.0, 12  # so much drained below the roots not long ago: the ground is full
FROST_H = 12
ROUGH = 0.05  # of a tenth: published limits are rounded to a thousandth
MOIST_BEARS_H = 4.0  # a longer dry time does not go with seed that is watered twice a day
RAIN_DOES_IT = 0.6  # from this chance on the round is left to the rain


@dataclass(frozen=True, slots=True)
class Bar:
    """Why an hour will not do: a stable `topic` and a sentence part with its numbers."""

    topic: str
    words: str


@dataclass(frozen=True, slots=True)
class Judged:
    """One hour. `watering`: "rain", "sprinklers" or "none needed"; chances None where nothing asks."""

    at: datetime
    bars: tuple[Bar, ...]
    worth: float
    wind_m_s: float
    temp_c: float
    rain_after: float | None
    waters_in: float | None
    too_much: float | None
    expected_mm: float
    watering: str
    mind: tuple[str, ...]


@dataclass(frozen=True, eq=False, slots=True)
class Job:
    """A round on some zones: `openings` when water may run, `run_time` how long watering in takes,
    `dry_until` when the last product on these zones need no longer stay dry and whose that is; `beds`
    those of the zones on which grass comes up from seed."""

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
        fell = float(np.nansum(water[max(0, first + a) : first])) if a < 0 else 0.0
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


def judge(say: Say, ahead: Ahead, job: Job, hour: int) -> Judged:
    """The round put down in hour number `hour` from now on."""
    at = ahead.first_at + timedelta(hours=hour)
    wind, temp = float(ahead.wind[hour]), float(ahead.temp[hour])
    bars = [*_calendar(say, job, at), *_air(say, job, wind, temp), *_leaves(say, ahead, job, hour)]
    bars += _soil(say, ahead, job, hour)
    done = hour + 1
    rain_after, rain_bars = _rain_after(say, ahead, job, done)
    waters_in, too_much, expected, water_bars, watering = _water_in(say, ahead, job, at, done)
    mind = _mind(ahead, job, hour, wind)
    # how the reasons weigh against each other: common practice, no source
    worth = (
        0.6 * (waters_in or 0.0)
        - 2.0 * (too_much or 0.0)
        - 1.5 * (rain_after or 0.0)
        - 0.3 * (wind / min(p.kind.wind_most_m_s for p in job.products)) ** 2
        - 0.1 * len(mind)
        - 0.02 * hour / 24.0
    )
    return Judged(
        at=at,
        bars=tuple({bar.topic: bar for bar in (*bars, *rain_bars, *water_bars)}.values()),
        worth=worth if np.isfinite(worth) else -9.0,
        wind_m_s=wind,
        temp_c=temp,
        rain_after=rain_after,
        waters_in=waters_in,
        too_much=too_much,
        expected_mm=expected,
        watering=watering,
        mind=mind,
    )


def _calendar(say: Say, job: Job, at: datetime) -> list[Bar]:
    day = at.astimezone(say.zone).date()
    bars = [
        Bar(
            "blackout",
            f"no round from {day_of_month(s.first)} to {day_of_month(s.last)}{f' ({s.why})' if s.why else ''}",
        )
        for s in job.round.blackouts
        if s.first <= day <= s.last
    ]
    if job.due_on is not None and day < job.due_on:
        bars.append(Bar("not due", f"not due before {short_day(job.due_on)}"))
    for product in job.products:
        before = product.no_apply_before
        if before is not None and day < before:
            bars.append(
                Bar("label", f"{product.name} not before {day_of_month(before, year=True)}, by its label")
            )
    if job.dry_until is not None and at < job.dry_until:
        bars.append(Bar("dry", f"{job.dry_for} must stay dry until {say.clock(job.dry_until)}"))
    return [*bars, *_seedlings(job, day)]


def _seedlings(job: Job, day: date) -> list[Bar]:
    """What seedlings do not bear: a weed killer, or a dry time while the seed is kept moist."""
    bars: list[Bar] = []
    harming = listed(p.name for p in job.products if p.kind.harms_seedlings)
    drying = [p for p in job.products if max(p.kind.dry_h, p.kind.rain_free_h) > MOIST_BEARS_H]
    for bed in job.beds:
        if harming and day <= bed.young_until:
            bars.append(
                Bar(
                    "seedlings",
                    f"{harming} can stop or kill the seedlings on {bed.zone}, until {short_day(bed.young_until)}",
                )
            )
        if drying and day <= bed.moist_until:
            bars.append(
                Bar(
                    "kept moist",
                    f"the seed on {bed.zone} is kept moist until {short_day(bed.moist_until)}, and "
                    f"{listed(p.name for p in drying)} must stay dry",
                )
            )
    return bars


def _air(say: Say, job: Job, wind: float, temp: float) -> list[Bar]:
    bars: list[Bar] = []
    most = min(p.kind.wind_most_m_s for p in job.products)
    coldest, hottest = _temperatures(job)
    if not np.isfinite(wind) or not np.isfinite(temp):
        return [Bar("unknown", "wind or temperature is not known")]
    if wind > most:
        bars.append(Bar("wind", f"wind {_over(say, wind)}, over {wind_limit(say, most)}"))
    if temp > hottest:
        bars.append(Bar("heat", f"{_temp(say, temp)}, over {_temp(say, hottest)}"))
    if temp < coldest:
        bars.append(Bar("cold", f"{_temp(say, temp)}, under {_temp(say, coldest)}"))
    return bars


def _leaves(say: Say, ahead: Ahead, job: Job, hour: int) -> list[Bar]:
    if all(p.kind.wet_foliage_first for p in job.products):
        return []
    wet = float((ahead.rain(hour - DRIES_IN_H, hour + 1) >= WET_MM).mean())
    return [Bar("wet leaves", f"rain wets the leaves (chance {say.chance(wet)})")] if wet > MAY_BE_WET else []


def _soil(say: Say, ahead: Ahead, job: Job, hour: int) -> list[Bar]:
    coldest = ahead.coldest(hour - FROST_H, hour + 1)
    if coldest < 0.0:
        return [Bar("frost", f"the ground may be frozen ({_temp(say, coldest)} in the hours before)")]
    full = max(ahead.drained(z, hour - SOAKED_H, hour) for z in job.zones)
    if full >= SOAKED_MM:
        return [Bar("soaked", f"the ground is full ({say.depth(full)} drained in the {SOAKED_H} h before)")]
    return []


def _rain_after(say: Say, ahead: Ahead, job: Job, done: int) -> tuple[float | None, list[Bar]]:
    """The chance of rain while the leaves must stay dry."""
    dry_h = max(max(p.kind.dry_h, p.kind.rain_free_h) for p in job.products)
    if dry_h <= 0:
        return None, []
    until = done + int(np.ceil(dry_h))
    if until > ahead.hours:
        return None, [Bar("beyond", "the forecast does not reach over the dry time after it")]
    wet = float((ahead.rain(done, until) >= RAIN_MM).mean())
    words = f"chance of rain in the {dry_h:g} h after {say.chance(wet)}"
    return wet, [Bar("rain after", words)] if wet > MAY_RAIN else []


def _water_in(
    say: Say, ahead: Ahead, job: Job, at: datetime, done: int
) -> tuple[float | None, float | None, float, list[Bar], str]:
    """Chance that rain waters all in, that it is too much, the rain expected, bars, and what waters."""
    washing = [p for p in job.products if p.kind.washoff_mm > 0]
    bars: list[Bar] = []
    too_much: float | None = None
    if washing:
        reach = max(done + int(np.ceil(p.kind.washoff_h)) for p in washing)
        if reach > ahead.hours:
            return None, None, 0.0, [Bar("beyond", "the forecast does not reach over the day after it")], ""
        heavy = [
            ahead.rain(done, done + int(np.ceil(p.kind.washoff_h))) >= p.kind.washoff_mm for p in washing
        ]
        too_much = float(np.any(heavy, axis=0).mean())
        if too_much > MAY_WASH:
            worst = min(washing, key=lambda p: p.kind.washoff_mm)
            bars.append(
                Bar(
                    "heavy rain",
                    f"chance of {say.depth(worst.kind.washoff_mm)} or more, which would wash it away, "
                    f"{say.chance(too_much)}",
                )
            )
    if not job.asking:
        return None, too_much, 0.0, bars, "none needed"
    chances, runs = [], []
    end = done
    for product in job.asking:
        begin = done + int(np.ceil(product.kind.dry_h))
        within = product.kind.due_h
        end = max(end, min(ahead.hours, begin + int(within)))
        need = job.needs[product.name]
        chances.append(
            np.stack([_enough(ahead.net(z, begin, begin + int(within)), product, need) for z in job.zones])
        )
        starts = at + timedelta(hours=1 + product.kind.dry_h)
        runs.append(_can_run(job, max(starts, job.dry_until or starts), starts + timedelta(hours=within)))
    waters_in = float(np.all(np.concatenate(chances), axis=0).mean())
    expected = float(ahead.rain(done, end).mean())
    if waters_in >= RAIN_DOES_IT:
        return waters_in, too_much, expected, bars, "rain"
    if not all(runs):
        words = f"no allowed hour to water it in, and rain alone would only with {say.chance(waters_in)}"
        bars.append(Bar("no water", words))
    return waters_in, too_much, expected, bars, "sprinklers"


def _enough(net_mm: Array, product: Product, need: WaterInNeed) -> npt.NDArray[np.bool_]:
    """Whether each member waters the product in and no more than it bears, (m,)."""
    total = net_mm.sum(axis=1)
    brought = largest_event(net_mm) if product.kind.single_event else total
    return np.asarray((brought >= need.least_mm) & (total <= need.most_mm))


def _can_run(job: Job, begin: datetime, due: datetime) -> bool:
    return any(min(w.ends_at, due) - max(w.starts_at, begin) >= job.run_time for w in job.openings)


def _mind(ahead: Ahead, job: Job, hour: int, wind: float) -> tuple[str, ...]:
    mind: list[str] = []
    if wind < max(p.kind.wind_least_m_s for p in job.products):
        mind.append("so little wind that mist may hang and drift: look for an inversion")
    if ahead.temp[hour] - ahead.dew[hour] < DEW_C and not all(p.kind.wet_foliage_first for p in job.products):
        mind.append("dew is likely: wait until the leaves are dry")
    if any(p.kind.wet_foliage_first for p in job.products):
        mind.append("the leaves must be wet first")
    return tuple(mind)


def _temperatures(job: Job) -> tuple[float, float]:
    return max(p.kind.temp_least_c for p in job.products), min(p.kind.temp_most_c for p in job.products)


def wind_limit(say: Say, m_s: float) -> str:
    """A limit of wind that is never told higher than it is: 3.576 m/s as 3.5 m/s, or 8 mph."""
    return _tenths(floor(10 * convert(m_s, "wind", say.units) + ROUGH), say)


def _over(say: Say, m_s: float) -> str:
    """A wind over its limit, never told lower than it is."""
    return _tenths(ceil(10 * convert(m_s, "wind", say.units) - ROUGH), say)


def _tenths(tenths: int, say: Say) -> str:
    digits = ".1f" if say.units == "metric" else "g"
    return f"{tenths / 10:{digits}} {unit('wind', say.units)}"


def _temp(say: Say, deg_c: float) -> str:
    return show(deg_c, "temperature", say.units, digits=0)


def _summed(hourly: Array) -> Array:
    """Running sums along the hours with a leading 0; (…, h) → (…, h + 1)."""
    return np.concatenate([np.zeros((*hourly.shape[:-1], 1)), np.cumsum(hourly, axis=-1)], axis=-1)
