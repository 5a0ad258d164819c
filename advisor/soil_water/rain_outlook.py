"""The rain that may come, told as chances over periods that matter to a reader."""

from __future__ import annotations

from datetime import datetime, timedelta

from advisor.advice import Period, RainChance
from advisor.science.chance import chance_at_least, quantile
from advisor.science.hour_shares import hour_shares, hours_after
from advisor.soil_water.root_zone import RootZone


def rain_outlook(
    root_zone: RootZone, periods: list[tuple[Period, datetime, datetime]]
) -> tuple[RainChance, ...]:
    """Mean, 10–90 % range and chances of each (label, from, to) period; a share is counted by hour.

    What is foretold of the hour of now is still to come, whatever part of it is over.
    """
    first = root_zone.weather.starts_at(root_zone.first)
    chances = []
    for label, begin, end in periods:
        since = _to_come_since(first, begin)
        weight = hour_shares(first, root_zone.hours_ahead, since, end)
        totals = root_zone.rain_ahead_mm @ weight
        length = max(hours_after(since, end), 1e-9)
        chances.append(
            RainChance(
                label=label,
                starts_at=begin,
                ends_at=end,
                mean_mm=float(totals.mean()),
                low_mm=quantile(totals, 0.1),
                high_mm=quantile(totals, 0.9),
                chance_1mm=chance_at_least(totals, 1.0),
                chance_5mm=chance_at_least(totals, 5.0),
                chance_10mm=chance_at_least(totals, 10.0),
                members=len(totals),
                calibrated=root_zone.calibration.pairs > 0,
                pairs=root_zone.calibration.pairs,
                share_known=min(1.0, float(weight.sum()) / length),
            )
        )
    return tuple(chances)


def coming_periods(now: datetime, window_end: datetime | None) -> list[tuple[Period, datetime, datetime]]:
    """Tonight (to the end of the window), the next 24 hours and the next three days."""
    end = window_end if window_end is not None else now + timedelta(hours=12)
    return [
        (Period.TONIGHT, now, end),
        (Period.DAY, now, now + timedelta(hours=24)),
        (Period.THREE_DAYS, now, now + timedelta(days=3)),
    ]


def chance_of(root_zone: RootZone, begin: datetime, end: datetime, mm: float) -> float:
    """The chance of at least `mm` of rain at the gauge from `begin` to `end`, 0–1."""
    first = root_zone.weather.starts_at(root_zone.first)
    weight = hour_shares(first, root_zone.hours_ahead, _to_come_since(first, begin), end)
    return chance_at_least(root_zone.rain_ahead_mm @ weight, mm)


def _to_come_since(first: datetime, begin: datetime) -> datetime:
    """From when on the members count for a period from `begin`: from the hour of now on, if it holds that."""
    return first if begin < first + timedelta(hours=1) else begin
