"""The daily water balance by which the standard test of weather-based irrigation scheduling judges what was run.

After the Irrigation Association's climatological test protocol, as the US EPA's WaterSense uses it: every rule here is
from memory of it, and where memory did not reach the reading is ours and says so. It is worked here on its own and
shares nothing with the balance that `advise` thinks in. Pure numbers, any unit of depth, time in hours.

A day of the balance:

    left    = storage at its start − ETc
    rain    = min(80 % of gross rain, room up to the whole storage)        what finds no room is nobody's fault
    left   += rain + (gross irrigation − runoff) × application efficiency
    surplus = what is above the storage, deficit = what is below nothing; neither is carried on

That the rain of a day comes before its irrigation is our reading, and the stricter one: who waters on a day with rain
answers for it. That runoff is lost before the efficiency is taken is our reading too. Adequacy = 1 − Σ deficit / Σ ETc;
excess = (Σ direct + Σ soak runoff + Σ surplus) / Σ gross irrigation, the surplus as the balance has it, net.

In a cycle water gathers on the surface at PR − IR. What passes the allowable accumulation runs off: directly, where the
cycle alone is longer than 60 ASA / (PR − IR) minutes; by a short soak, where it only does so because the surface still
held water of the cycle before, which enters the soil at IR.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

EFFECTIVE_RAIN = 0.8
LEAST_ADEQUACY = 0.80
MOST_EXCESS, MOST_MEAN_EXCESS = 0.10, 0.05
START_SHARE = 0.5
"""Of the storage, at the start: our choice. With a full one less of the month's demand would have to be watered."""


@dataclass(frozen=True, slots=True)
class JudgedZone:
    """Root-zone storage, precipitation rate, basic intake, allowable surface accumulation, application efficiency."""

    storage: float
    rate_h: float
    intake_h: float
    accumulation: float
    efficiency: float


@dataclass(frozen=True, slots=True)
class JudgedCycle:
    """A stretch of water: the number of its day, and when it begins and ends [h] from the start of the test."""

    day: int
    begins_h: float
    ends_h: float


@dataclass(frozen=True, slots=True)
class Day:
    """One day of the balance; `storage` is what is left at its end."""

    etc: float
    rain: float
    gross: float
    direct: float
    soak: float
    surplus: float
    deficit: float
    storage: float


@dataclass(frozen=True, slots=True)
class Judgement:
    """The sums of a test."""

    etc: float
    rain: float
    gross: float
    direct: float
    soak: float
    surplus: float
    deficit: float

    @property
    def adequacy(self) -> float:
        """The share of the demand that was met."""
        return 1.0 - self.deficit / self.etc

    @property
    def excess(self) -> float:
        """The share of the irrigation that ran off or found no room."""
        return (self.direct + self.soak + self.surplus) / self.gross if self.gross > 0.0 else 0.0


def runoff(zone: JudgedZone, cycles: Sequence[JudgedCycle]) -> list[tuple[float, float]]:
    """Direct runoff and soak runoff of each cycle; the cycles come in order."""
    found: list[tuple[float, float]] = []
    standing, over_h = 0.0, cycles[0].begins_h if cycles else 0.0
    for cycle in cycles:
        standing = max(0.0, standing - zone.intake_h * (cycle.begins_h - over_h))
        gathers = (zone.rate_h - zone.intake_h) * (cycle.ends_h - cycle.begins_h)
        direct = max(0.0, gathers - zone.accumulation)
        whole = max(0.0, standing + gathers - zone.accumulation)
        standing = min(max(0.0, standing + gathers), zone.accumulation)
        over_h = cycle.ends_h
        found.append((direct, whole - direct))
    return found


def balance(
    zone: JudgedZone,
    *,
    etc: Sequence[float],
    rain: Sequence[float],
    cycles: Sequence[JudgedCycle],
    start: float,
) -> list[Day]:
    """The days of the test: their demand and gross rain, and the cycles that were run, from a storage at the start."""
    gross, direct, soak = ([0.0] * len(etc) for _ in range(3))
    for cycle, (at_once, after_soak) in zip(cycles, runoff(zone, cycles), strict=True):
        gross[cycle.day] += zone.rate_h * (cycle.ends_h - cycle.begins_h)
        direct[cycle.day] += at_once
        soak[cycle.day] += after_soak
    days: list[Day] = []
    storage = start
    for day, demand in enumerate(etc):
        left = storage - demand
        entered = min(EFFECTIVE_RAIN * rain[day], zone.storage - left)
        left += entered + (gross[day] - direct[day] - soak[day]) * zone.efficiency
        storage = min(max(left, 0.0), zone.storage)
        surplus, deficit = max(left - zone.storage, 0.0), max(-left, 0.0)
        days.append(Day(demand, entered, gross[day], direct[day], soak[day], surplus, deficit, storage))
    return days


def judgement(days: Sequence[Day]) -> Judgement:
    """The sums of these days."""
    names = ("etc", "rain", "gross", "direct", "soak", "surplus", "deficit")
    return Judgement(*(sum(getattr(day, name) for day in days) for name in names))


def passes(zones: Sequence[Judgement]) -> bool:
    """Whether all zones of a test together pass, as WaterSense asks."""
    excess = [zone.excess for zone in zones]
    return (
        all(zone.adequacy >= LEAST_ADEQUACY for zone in zones)
        and max(excess) <= MOST_EXCESS
        and sum(excess) / len(excess) <= MOST_MEAN_EXCESS
    )
