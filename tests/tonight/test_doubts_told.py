"""Which doubts are told, each where it holds and nowhere else."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from made import EVENING, made_site, made_weather, made_zone

from advisor.advice import Advice, ReasonKind
from advisor.lawn import ProbeReading, Records
from advisor.lawn.site_values import Rate, Supply, Zone
from advisor.tonight import advise
from advisor.weather import Weather

GUESSED = Rate(12.0, "guess", 8.0, 18.0)


def doubts(
    *zones: Zone, supply: float | None = None, weather: Weather | None = None
) -> dict[ReasonKind, tuple[str, ...]]:
    site = made_site(*zones, supply=Supply(flow_l_min=supply))
    probes = tuple(ProbeReading(zone.name, EVENING - timedelta(hours=2), 3.0) for zone in zones)
    advice: Advice = advise(
        site=site, records=Records(probes=probes), weather=weather or made_weather(), now=EVENING
    )
    return {one.kind: one.zones for one in advice.unknown_reasons}


def test_only_a_rate_that_is_guessed_is_told_to_be() -> None:
    told = doubts(made_zone("Front"), made_zone("Back", rate=GUESSED))
    assert told[ReasonKind.RATE_GUESSED] == ("Back",)
    assert ReasonKind.RATE_GUESSED not in doubts(made_zone("Front"))


@pytest.mark.parametrize(
    ("supply", "zones"), [(None, None), (30.0, ("Front",)), (40.0, None), (50.0, None)], ids=str
)
def test_a_zone_that_draws_more_than_the_supply_is_told(
    supply: float | None, zones: tuple[str, ...] | None
) -> None:
    """12 mm/h on 200 m² is 40 L/min."""
    told = doubts(made_zone("Front"), made_zone("Small", area_m2=50.0), supply=supply)
    assert told.get(ReasonKind.DRAWS_MORE_THAN_SUPPLY) == zones


@pytest.mark.parametrize(
    ("kind", "changes"),
    [
        (ReasonKind.EVENNESS_NOT_MEASURED, {"uniformity_known": False}),
        (ReasonKind.ROOT_DEPTH_FROM_TABLE, {"root_depth_known": False}),
    ],
)
def test_what_was_not_measured_is_told_of_its_zone_alone(kind: ReasonKind, changes: dict[str, bool]) -> None:
    assert doubts(made_zone("Front"), made_zone("Back", **changes))[kind] == ("Back",)
    assert kind not in doubts(made_zone("Front"))


@pytest.mark.parametrize(
    ("hours_ago", "told"), [(None, True), (1, False), (72, False), (73, True)], ids="{} h ago".format
)
def test_without_a_reading_in_three_days_the_rain_is_the_models(hours_ago: int | None, told: bool) -> None:
    weather = made_weather()
    if hours_ago is not None:
        basis = weather.rain_basis.copy()
        basis[weather.index_at(EVENING) - hours_ago] = "gauge"
        weather = replace(weather, rain_basis=basis)
    assert (ReasonKind.RAIN_FROM_MODEL in doubts(made_zone(), weather=weather)) == told


def test_one_member_has_no_chances_to_be_tested() -> None:
    assert ReasonKind.CHANCES_NOT_TESTED in doubts(made_zone())
    alone = made_weather(np.zeros((1, 240)))
    assert ReasonKind.CHANCES_NOT_TESTED not in doubts(made_zone(), weather=alone)


def test_a_short_forecast_is_told() -> None:
    assert ReasonKind.FORECAST_SHORT in doubts(made_zone(), weather=made_weather(ahead_days=2))
    assert ReasonKind.FORECAST_SHORT not in doubts(made_zone(), weather=made_weather(ahead_days=4))
