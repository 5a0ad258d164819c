"""What is kept of the weather: past hours while they are new, and each forecast day to hold against the gauge."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from advisor.lawn import ArchivedHour, GaugeReading, RainPair
from advisor.science.chance import DAY_H, mean_and_spread, window_totals
from advisor.science.hour_shares import hour_shares
from advisor.weather.weather import Weather

SETTLED_AFTER_H = 6
"""Hours of a model's past still change while its next runs come in, which is every 6 h as a rule: common
practice, no source."""
SAME_TIME = timedelta(minutes=15)
"""A gauge emptied so shortly before still counts from that moment."""
RAIN_KNOWN = ("model", "archive")


@dataclass(frozen=True, slots=True)
class ForecastDay:
    """What was foretold for 24 hours: the members' mean and spread (mm), and how old the forecast was."""

    starts_at: datetime
    lead_h: float
    mean_mm: float
    spread_mm: float
    members: int


@dataclass(frozen=True, slots=True)
class RainSoFar:
    """Rain (mm) over a past time; `share_known` 0–1 of it is known; `basis` "gauge", "archive" or "model"."""

    mm: float
    share_known: float
    basis: str


def new_hours(weather: Weather, archive: Iterable[ArchivedHour], now: datetime) -> tuple[ArchivedHour, ...]:
    """The past hours of a source that are settled and not archived yet; not those from the gauge.

    What was archived first stays: the past does not change unseen.
    """
    there = {hour.starts_at for hour in archive}
    last = min(weather.hours, weather.index_at(now - timedelta(hours=SETTLED_AFTER_H)))
    source = weather.sources[0].name if weather.sources else ""
    found = []
    for index in range(max(0, last)):
        starts_at = weather.starts_at(index)
        if starts_at in there or weather.rain_basis[index] not in RAIN_KNOWN:
            continue
        rain = _number(weather.rain_mm[index])
        if rain is None:
            continue
        found.append(
            ArchivedHour(
                starts_at=starts_at,
                rain_mm=rain,
                temp_c=_number(weather.temp_c[index]),
                dew_c=_number(weather.dew_c[index]),
                wind10_m_s=_number(weather.wind10_m_s[index]),
                rs_mj_m2_h=_number(weather.rs_mj_m2_h[index]),
                snow_mm=_number(weather.snow_mm[index]),
                source=source,
            )
        )
    return tuple(found)


def _number(value: float) -> float | None:
    return round(float(value), 4) if math.isfinite(value) else None


def forecast_day(weather: Weather, now: datetime) -> ForecastDay | None:
    """The coming 24 hours from the hour of `now` on, as the members foretell them; None where they do not."""
    first = weather.index_at(now)
    totals = window_totals(weather.members_mm, first, first + DAY_H)
    known = int(np.isfinite(totals).sum())
    if not known:
        return None
    mean, spread = mean_and_spread(totals)
    starts_at = weather.starts_at(first)
    fetched_at = max((s.fetched_at for s in weather.sources), default=now)
    lead_h = max(0.0, round((starts_at - fetched_at) / timedelta(hours=1), 1))
    return ForecastDay(starts_at, lead_h, round(mean, 4), round(spread, 4), known)


def pairs_of(
    forecasts: Sequence[ForecastDay], known: Iterable[RainPair], settled: Weather
) -> tuple[RainPair, ...]:
    """Each forecast day that the gauge has covered since, with what it held; only new or changed ones.

    `settled` is the weather with the gauge's past. Where two readings meet within the day, the model
    shares each out over its hours.
    """
    there = {(pair.starts_at, pair.lead_h): pair.observed_mm for pair in known if pair.hours == DAY_H}
    found = []
    for day in forecasts:
        first = settled.index_at(day.starts_at)
        if first < 0 or first + DAY_H > settled.hours:
            continue
        if not (settled.rain_basis[first : first + DAY_H] == "gauge").all():
            continue
        observed = round(float(settled.rain_mm[first : first + DAY_H].sum()), 4)
        before = there.get((day.starts_at, day.lead_h))
        if before is None or abs(before - observed) > 1e-6:
            found.append(
                RainPair(
                    starts_at=day.starts_at,
                    hours=DAY_H,
                    lead_h=day.lead_h,
                    mean_mm=day.mean_mm,
                    spread_mm=day.spread_mm,
                    observed_mm=observed,
                    members=day.members,
                )
            )
    return tuple(found)


def rain_so_far(settled: Weather, gauge: Sequence[GaugeReading], since: datetime, now: datetime) -> RainSoFar:
    """Rain from `since` to `now`: what gauge readings of that time say, and the weather's for the rest.

    Of an hour that is only partly in the time its share counts; of the hour of `now`, which is running, what
    the gauge measured alone.
    """
    read, spans = 0.0, []
    before: datetime | None = None
    for reading in sorted(gauge, key=lambda r: r.read_at):
        begin = reading.since or before
        before = reading.read_at
        if begin is not None and since - SAME_TIME <= begin < reading.read_at <= now:
            read += reading.depth_mm
            spans.append((begin, reading.read_at))
    first = settled.starts_at(0)
    rest, rain = hour_shares(first, settled.hours, since, now), settled.rain_mm.copy()
    running = settled.index_at(now)
    if 0 <= running < settled.hours:
        covered = float(settled.gauge_share[running])
        rest[running] = min(rest[running], covered)
        rain[running] = settled.gauge_mm[running] / covered if covered > 0.0 else 0.0
    for begin, end in spans:
        rest = np.maximum(0.0, rest - hour_shares(first, settled.hours, begin, end))
    known = np.isfinite(rain)
    length = max((now - since) / timedelta(hours=1), 1e-9)
    share = 1.0 - float(rest[~known].sum()) / length
    bases = set(settled.rain_basis[rest > 0].tolist())
    basis = "gauge" if spans else next((name for name in ("gauge", "archive") if name in bases), "model")
    fell = read + float((rest * np.where(known, rain, 0.0)).sum())
    return RainSoFar(fell, min(1.0, max(0.0, share)), basis)
