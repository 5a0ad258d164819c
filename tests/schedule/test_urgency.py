"""Which of two runs comes first when the night holds only one: the drier turf, and what is due sooner."""

from __future__ import annotations

from datetime import datetime, time, timedelta

import pytest
from made import EVENING, made_site, made_weather, made_zone

from advisor.advice import Advice
from advisor.lawn import Application, ProbeReading, Product, Records, Rules
from advisor.lawn.site_values import Rate
from advisor.lawn.tables import kind_table
from advisor.tonight import advise

SLOW = Rate(4.0, "measured", 4.0, 4.0)
"""At 4 mm/h a refill takes hours, so a short night does not hold two."""
SHORT = Rules(hours=((time(22), time(23, 30)),), finish="window")


def advised(
    names: tuple[str, str],
    *,
    used_mm: dict[str, float],
    applications: tuple[Application, ...] = (),
    products: dict[str, Product] | None = None,
) -> Advice:
    zones = (made_zone(name, rate=SLOW, uniformity=1.0, first_puddle_min=None) for name in names)
    site = made_site(*zones, rules=SHORT, products=products or {})
    probes = tuple(ProbeReading(name, EVENING - timedelta(hours=1), mm) for name, mm in used_mm.items())
    return advise(
        site=site,
        records=Records(probes=probes, applications=applications),
        weather=made_weather(),
        now=EVENING,
    )


def ran(advice: Advice) -> dict[str, float]:
    return {run.zone: run.minutes for run in advice.runs}


@pytest.mark.parametrize("names", [("Dry", "Damp"), ("Damp", "Dry")], ids=" before ".join)
def test_the_drier_turf_runs_where_the_night_is_too_short_for_both(names: tuple[str, str]) -> None:
    got = ran(advised(names, used_mm={"Dry": 26.0, "Damp": 20.0}))
    alone = ran(advised(names, used_mm={"Dry": 0.0, "Damp": 20.0}))
    assert [*alone] == ["Damp"]
    assert [*got] == ["Dry"]


def _granules(zone: str, due_in: timedelta, number: int) -> Application:
    """Quick granules, due a day after they went down."""
    down: datetime = EVENING + due_in - timedelta(hours=24)
    return Application("Granules", (zone,), down, down, "spreader", id=number)


@pytest.mark.parametrize("names", [("Soon", "Later"), ("Later", "Soon")], ids=" before ".join)
def test_what_is_due_sooner_runs_where_the_night_is_too_short_for_both(names: tuple[str, str]) -> None:
    applications = (
        _granules("Soon", timedelta(hours=4), 1),
        _granules("Later", timedelta(hours=16), 2),
    )
    got = advised(
        names,
        used_mm={"Soon": 0.0, "Later": 0.0},
        applications=applications,
        products={"Granules": Product("Granules", kind_table()["granular-quick"])},
    )
    assert list(ran(got)) == ["Soon"]
    assert [left.zone for left in got.not_planned] == ["Later"]
