"""The bound: what one who knows the whole season's weather would do, by dynamic programming, zone by zone.

Backwards from the last night, the cheapest course of a night and all after it is worked out for every
depletion on a grid, over all depths that may be put on; then the season is lived forward by it. Water costs
1 a mm, demand unmet `unmet_price` a mm, and so over several prices the whole frontier of what can be had is seen:
by default from 0.9, at which nothing is watered, as a mm that counts takes a mm or more, to 60, at which nothing
goes unmet that can be met. What the soil is left short of at the end has to be paid for as water.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from advisor.replay.nights import SeasonNight, season_nights
from advisor.replay.rivals import Point, points
from advisor.replay.season import Season
from advisor.replay.true_lawn import TrueLawn, gross
from advisor.science.balance import Balance, root_zone_balance
from advisor.weather import Array

UNMET_PRICES = (0.9, 1.15, 1.25, 1.35, 1.5, 1.8, 2.2, 3.0, 5.0, 15.0, 60.0)
STATES = 41
STEP_MM = 1.5
RUN_PRICE = 0.2  # so that of courses that cost the same the one with fewer runs is taken


def foresight(season: Season, unmet_prices: Sequence[float] = UNMET_PRICES) -> tuple[Point, ...]:
    """What can be had at each price of unmet demand by one who knows the weather to come."""
    lawn, nights = season.lawn, season_nights(season)
    zones = len(lawn.taw_mm)
    irrigation = np.zeros((zones, len(unmet_prices), season.judged.stop))
    for zone in range(zones):
        one = _Zone(lawn, zone, nights)
        one.forwards(unmet_prices, irrigation[zone])
    runs = (irrigation > 0).sum(axis=2).mean(axis=0)
    names = tuple(f"an unmet mm at {price:g}" for price in unmet_prices)
    return points(season, names, irrigation, runs)


class _Zone:
    """The nights of one zone: where each depth leads from each state of the grid, and what goes unmet."""

    def __init__(self, lawn: TrueLawn, zone: int, nights: Sequence[SeasonNight]) -> None:
        self.lawn, self.zone, self.nights = lawn, zone, nights
        self.takes = float(gross(lawn)[zone])
        self.grid = np.linspace(0.0, float(lawn.taw_mm[zone]), STATES)
        self.depths = np.arange(0.0, float(lawn.taw_mm[zone]), STEP_MM)
        self.steps = [self.step(night, self.grid) for night in nights]

    def step(self, night: SeasonNight, states: Array) -> tuple[Array, Array]:
        """Depletion after the night and demand unmet in it, by state and depth (s, d)."""
        depths = self.depths if night.run is not None else self.depths[:1]
        shape = (len(states), len(depths))
        water = np.zeros((1, len(states) * len(depths), night.until - night.asked))
        if night.run is not None:
            water[0, :, night.run - night.asked] = np.tile(depths, len(states))
        course = _course_of(self.lawn, self.zone, water, np.repeat(states, len(depths)), night)
        hours = slice(night.asked, night.until)
        unmet = (self.lawn.etc_mm[self.zone, hours] - course.etc_actual_mm[0]).sum(axis=1)
        return course.depletion_mm[0, :, -1].reshape(shape), unmet.reshape(shape)

    def price(self, night: SeasonNight) -> Array:
        """What each depth costs, (d,)."""
        depths = self.depths if night.run is not None else self.depths[:1]
        return np.asarray(self.takes * depths + RUN_PRICE * (depths > 0))

    def backwards(self, unmet_price: float) -> Array:
        """The least cost from each night on by state, (nights + 1, s)."""
        value = np.empty((len(self.nights) + 1, len(self.grid)))
        value[-1] = self.takes * self.grid
        for n in range(len(self.nights) - 1, -1, -1):
            after, unmet = self.steps[n]
            whole = (
                self.price(self.nights[n]) + unmet_price * unmet + np.interp(after, self.grid, value[n + 1])
            )
            value[n] = whole.min(axis=1)
        return value

    def forwards(self, unmet_prices: Sequence[float], irrigation: Array) -> None:
        """Live by it from a full root zone on, at all prices at once; the water put on is written into
        `irrigation` (m, h)."""
        values = [self.backwards(price) for price in unmet_prices]
        states = np.zeros(len(values))
        for n, night in enumerate(self.nights):
            after, unmet = self.step(night, states)
            for m, price in enumerate(unmet_prices):
                to_go = np.interp(after[m], self.grid, values[m][n + 1])
                best = int(np.argmin(self.price(night) + price * unmet[m] + to_go))
                if night.run is not None:
                    irrigation[m, night.run] += self.depths[best]
                states[m] = after[m, best]


def _course_of(lawn: TrueLawn, zone: int, water: Array, states: Array, night: SeasonNight) -> Balance:
    """One night of one zone from many states at once."""
    hours = slice(night.asked, night.until)
    return root_zone_balance(
        depletion_start_mm=states[None, :],
        etc_mm=lawn.etc_mm[zone : zone + 1, None, hours],
        water_mm=lawn.net_mm[zone : zone + 1, None, hours] + water,
        taw_mm=lawn.taw_mm[zone : zone + 1],
        p=lawn.p[zone : zone + 1, None, hours],
    )
