"""The turf's need at its edges: the end of the forecast, the dials, and what a usual year rests on."""

from __future__ import annotations

from calendar import monthrange
from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pytest
from made import CHICAGO, EVENING, made_site, made_weather, made_zone

from advisor.errors import CannotAdvise
from advisor.lawn import Decision, ProbeReading, Records
from advisor.soil_water import Requirement, survey, turf_requirement
from advisor.soil_water.usual_year import LEAST_DAYS, climate_of
from advisor.weather import Weather

RUN_AT = EVENING + timedelta(hours=9)


def need_of(
    used_mm: float, members: np.ndarray, *, next_at: datetime | None, dial: str = "balanced"
) -> Requirement:
    site = made_site(made_zone(), decision=Decision(dial))
    records = Records(probes=(ProbeReading("Front", EVENING - timedelta(hours=2), used_mm),))
    ground = survey(site=site, records=records, weather=made_weather(members), now=EVENING)
    return turf_requirement(
        root_zone=ground,
        zone=0,
        run_at=RUN_AT,
        next_at=next_at,
        decision=site.decision,
        judgement=site.judgement,
    )


@pytest.mark.parametrize("days", [None, 9, 30], ids=["no next night", "the last hours", "after the forecast"])
def test_without_a_next_night_the_forecast_is_looked_at_to_its_end(days: int | None) -> None:
    next_at = None if days is None else EVENING + timedelta(days=days)
    need = need_of(20.0, np.zeros((11, 240)), next_at=next_at)
    assert need.next_at == next_at
    sooner = need_of(20.0, np.zeros((11, 240)), next_at=RUN_AT + timedelta(days=1))
    assert need.next_mm > sooner.next_mm
    assert need.unmet_mm > sooner.unmet_mm > 0.0


def test_a_thrifty_owner_leaves_more_room_for_rain_than_a_cautious_one() -> None:
    """Members from dry to very wet after the run: the fuller the soil is taken to be, the less room is left."""
    members = np.zeros((21, 240))
    members[:, 20:26] = np.linspace(0.0, 4.0, 21)[:, None]
    room = {
        dial: need_of(22.0, members, next_at=RUN_AT + timedelta(days=1), dial=dial).room_mm
        for dial in ("thrifty", "balanced", "cautious")
    }
    assert 0.0 < room["thrifty"] < room["balanced"] < room["cautious"]


def test_the_months_of_a_usual_year_are_as_long_as_they_are() -> None:
    """Over a cycle of four years without a skipped leap day, 2021 to 2024."""
    climate = climate_of(past(365), CHICAGO, source="made")
    for month, eto_mm in zip(climate.months, climate.eto_month_mm(), strict=True):
        lengths = [monthrange(year, month.month)[1] for year in range(2021, 2025)]
        assert eto_mm == pytest.approx(month.eto_mm_d * sum(lengths) / 4)


def past(days: int) -> Weather:
    """So many days that end with May, and eleven whole months before them."""
    return made_weather(now=datetime(2026, 6, 1, tzinfo=CHICAGO), past_days=days, ahead_days=1)


def test_a_month_needs_twenty_known_days() -> None:
    """A year that ends on the last of May, with all but so many days of May unknown."""
    weather = past(365)
    begins = weather.index_at(datetime(2026, 5, 1, tzinfo=CHICAGO))

    def with_known(days: int) -> Weather:
        rain = weather.rain_mm.copy()
        rain[begins + 24 * days :] = np.nan
        return replace(weather, rain_mm=rain)

    assert climate_of(with_known(LEAST_DAYS), CHICAGO, source="made").months[4].month == 5
    with pytest.raises(CannotAdvise, match="at least 20 known days of every month; May has fewer"):
        climate_of(with_known(LEAST_DAYS - 1), CHICAGO, source="made")
