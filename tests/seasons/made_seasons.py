"""Short invented seasons for tests: a dry sunny month with one rain, lived in an instant or two."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime

from made import CHICAGO, made_site, made_weather

from advisor.errors import CannotAdvise
from advisor.lawn.site_values import Site
from advisor.replay.job import Job, Part
from advisor.replay.made_forecast import RECIPES
from advisor.weather.weather import Weather

FIRST, LAST = date(2026, 6, 1), date(2026, 6, 4)
NOON = datetime(2026, 6, 1, 0, 0, tzinfo=CHICAGO)


def made_truth(
    *, past_days: int = 20, ahead_days: int = 8, rain: Mapping[int, float] | None = None
) -> Weather:
    """Hours from 20 days before 1 June on, all known; `rain` mm by hour after 1 June."""
    weather = made_weather(now=NOON, past_days=past_days, ahead_days=ahead_days)
    fell = weather.rain_mm.copy()
    for day in range(0, past_days, 3):
        fell[24 * day + 5] = 4.0
    for hour, mm in (rain or {}).items():
        fell[24 * past_days + hour] = mm
    return replace(weather, rain_mm=fell, members_mm=weather.members_mm[:0], sources=(), notes=())


def made_job(key: str = "one", *, site: Site | None = None, **changes: object) -> Job:
    """Four evenings by one recipe."""
    job = Job(
        key=key,
        site=site or made_site(),
        truth=made_truth(rain={30: 3.0, 31: 2.0}),
        first=FIRST,
        last=LAST,
        recipe=RECIPES["honest"],
        seed=1,
        parts=(Part.OURS, Part.RULES),
    )
    return replace(job, **changes)  # type: ignore[arg-type]


@dataclass(frozen=True)
class NoSky:
    """A sky that breaks off."""

    why: str = "the sky fell"

    def told_at(self, now: datetime) -> Weather:
        raise CannotAdvise(self.why)


class DeadlySky:
    """A sky that ends the process that looks up, as a lack of memory would."""

    def told_at(self, now: datetime) -> Weather:
        os._exit(9)
