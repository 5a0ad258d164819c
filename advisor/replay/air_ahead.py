"""Temperature, dew point, wind, radiation and cloud of made forecasts: the truth, blurred more day by day."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from advisor.replay.block_rain import BLOCK_H, YEAR_DAYS, Ints
from advisor.replay.sharpening import issue_errors, issued
from advisor.weather import Array, Weather

CLIMATE_DAYS = 15
LOST_A_DAY = 0.05  # of the truth's departure from the climate
FIRST_DAY_C, SEVENTH_DAY_C, MOST_C = 1.0, 3.0, 3.5
KEPT = 0.9  # of an error from one block ahead to the next
WIND_SHARE, LIGHT_SHARE, CLOUD_SHARE = 0.15, 0.08, 0.08  # error a °C of that of the temperature


@dataclass(frozen=True, eq=False, slots=True)
class AirAhead:
    """`usual` are the climate's hours (h,) of each series and `most_rs` the most radiation of its hours.

    `errors` (3, n, k): of temperature, wind and light, by block and lead, of variance 1 each.
    """

    truth: Weather
    first: int
    usual: dict[str, Array]
    most_rs: Array
    errors: Array
    usual_departure_c: float

    NAMES: ClassVar[tuple[str, ...]] = ("temp_c", "dew_c", "wind10_m_s", "rs_mj_m2_h", "cloud")

    @classmethod
    def of(cls, truth: Weather, year_day: Ints, first: int, ahead: int, rng: np.random.Generator) -> AirAhead:
        """From the truth, the day of the year of its hours (h,), and where its blocks begin."""
        hour = truth.starts.astype("datetime64[h]").astype(np.int64) % 24
        usual = {name: _usual(getattr(truth, name), year_day, hour) for name in cls.NAMES}
        count = (truth.hours - first) // BLOCK_H + ahead
        apart = np.abs(np.subtract.outer(np.arange(ahead), np.arange(ahead)))
        root = np.linalg.cholesky(KEPT**apart)
        variance = _whole_error_c(np.asarray(BLOCK_H * (np.arange(ahead) + 0.5) / 24.0)) ** 2
        errors = np.stack(
            [
                issue_errors(rng.standard_normal((count + ahead, ahead)) @ root.T, variance, count)
                for _ in range(3)
            ]
        )
        departure = truth.temp_c - usual["temp_c"]
        return cls(
            truth=truth,
            first=first,
            usual=usual,
            most_rs=_most(truth.rs_mj_m2_h, year_day, hour),
            errors=errors / np.sqrt(variance),
            usual_departure_c=float(np.nanstd(departure)) if np.isfinite(departure).any() else 0.0,
        )

    def told(self, begin: int, end: int, error: float) -> dict[str, Array]:
        """Each series from hour `begin` to `end` as foretold at `begin`; `error` is a factor on what is wrong."""
        days = np.arange(end - begin) / 24.0
        issue = (begin - self.first) // BLOCK_H
        middle = self.first + BLOCK_H * (issue + np.arange(self.errors.shape[2]) + 0.5)
        hours = np.arange(begin, end) + 0.5
        warmer, windier, lighter = (np.interp(hours, middle, issued(each, issue)) for each in self.errors)
        lost = np.minimum(1.0, LOST_A_DAY * days) * min(1.0, error)
        kept = {
            name: (1.0 - lost) * getattr(self.truth, name)[begin:end] + lost * self.usual[name][begin:end]
            for name in self.NAMES
        }
        size = error * _whole_error_c(days)
        by_chance = np.sqrt(np.maximum(size**2 - (lost * self.usual_departure_c) ** 2, 0.25 * size**2))
        temp = kept["temp_c"] + by_chance * warmer
        wind = kept["wind10_m_s"] * np.exp(WIND_SHARE * size * windier - 0.5 * (WIND_SHARE * size) ** 2)
        light = kept["rs_mj_m2_h"] * np.maximum(0.1, 1.0 + LIGHT_SHARE * size * lighter)
        most = np.maximum(self.most_rs, self.truth.rs_mj_m2_h)[begin:end]
        return {
            "temp_c": temp,
            "dew_c": np.minimum(kept["dew_c"] + 0.7 * by_chance * warmer, temp),
            "wind10_m_s": wind,
            "rs_mj_m2_h": np.minimum(light, most),
            "cloud": np.clip(kept["cloud"] - CLOUD_SHARE * size * lighter, 0.0, 1.0),
        }


def _whole_error_c(days: Array) -> Array:
    """The deviation (°C) of a forecast of the temperature so many days ahead, its day's middle at ½."""
    rise = (SEVENTH_DAY_C - FIRST_DAY_C) / 6.0
    return np.minimum(MOST_C, FIRST_DAY_C + rise * np.maximum(days - 0.5, 0.0))


def _by_day_of_year(values: Array, year_day: Ints, hour: Ints, how: np.ufunc, empty: float) -> Array:
    """`values` (h,) gathered by day of the year and hour, (366, 24)."""
    out = np.full((YEAR_DAYS, 24), empty)
    how.at(out, (year_day, hour), values)
    return out


def _usual(values: Array, year_day: Ints, hour: Ints) -> Array:
    """The mean of the known values of the same hour of the day within 15 days of any year, (h,)."""
    known = np.isfinite(values)
    totals = _by_day_of_year(np.where(known, values, 0.0), year_day, hour, np.add, 0.0)
    counts = _by_day_of_year(known.astype(np.float64), year_day, hour, np.add, 0.0)
    around = range(-CLIMATE_DAYS, CLIMATE_DAYS + 1)
    total, count = (sum(np.roll(each, shift, axis=0) for shift in around) for each in (totals, counts))
    mean = np.where(count > 0.0, total / np.maximum(count, 1.0), np.nan)
    return np.asarray(mean[year_day, hour])


def _most(values: Array, year_day: Ints, hour: Ints) -> Array:
    """The greatest of the known values of the same hour of the day within 15 days of any year, (h,)."""
    known = np.where(np.isfinite(values), values, -np.inf)
    most = _by_day_of_year(known, year_day, hour, np.maximum, -np.inf)
    around = [np.roll(most, shift, axis=0) for shift in range(-CLIMATE_DAYS, CLIMATE_DAYS + 1)]
    greatest = np.max(around, axis=0)[year_day, hour]
    return np.where(np.isfinite(greatest), greatest, np.nan)
