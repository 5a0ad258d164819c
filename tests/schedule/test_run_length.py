"""How long a run takes: once, for the planner and for everyone who asks whether a run fits."""

from __future__ import annotations

from datetime import datetime, time, timedelta

import pytest
from made import CHICAGO, made_site, made_weather, made_zone

from advisor.lawn.products import Product
from advisor.lawn.records import Application, ProbeReading, Records
from advisor.lawn.site_values import Rate, Rules
from advisor.lawn.tables import kind_table
from advisor.schedule.run_length import run_length
from advisor.tonight.advise import advise


@pytest.mark.parametrize(
    ("minutes", "cycle_min", "soak_min", "by_hand", "cycles", "elapsed"),
    [
        pytest.param(20.2, None, 30.0, False, (21,), 21, id="no limit, rounded up"),
        pytest.param(20.2, 7.9, 9.2, False, (7, 7, 7), 41, id="whole minutes, soaks rounded up"),
        pytest.param(10.0, 3.5, 10.0, False, (3, 3, 2, 2), 40, id="a part of a minute is no stretch"),
        pytest.param(25.0, 6.0, 5.0, True, (9, 8, 8), 35, id="by hand ten minutes at least"),
        pytest.param(25.0, 14.0, 5.0, True, (13, 12), 30, id="by hand, longer where the soil takes it"),
        pytest.param(0.4, 0.5, 5.0, False, (1,), 1, id="less than a minute"),
        pytest.param(0.0, 5.0, 5.0, False, (), 0, id="nothing"),
    ],
)
def test_a_run_is_whole_minutes_in_cycles_with_soaks_between(
    minutes: float,
    cycle_min: float | None,
    soak_min: float,
    by_hand: bool,
    cycles: tuple[int, ...],
    elapsed: int,
) -> None:
    found = run_length(minutes, cycle_min, soak_min, by_hand=by_hand)
    assert (found.cycles, found.elapsed) == (cycles, elapsed)
    assert found.takes == timedelta(minutes=elapsed)


def test_what_the_planner_has_a_place_for_is_not_said_to_fit_into_no_night() -> None:
    """A hose moved by hand on soil that puddles after 4 min stands 10 min at a time, so its run fits."""
    now = datetime(2026, 6, 17, 17, 30, tzinfo=CHICAGO)
    zone = made_zone(by_hand=True, first_puddle_min=4.0, rate=Rate(11.0, "measured", 11.0, 11.0))
    site = made_site(
        zone,
        rules=Rules(hours=((time(18), time(23)),), finish="window"),
        products={"Feed": Product("Feed", kind_table()["granular-quick"])},
    )
    at = now - timedelta(hours=1)
    records = Records(
        applications=(Application("Feed", ("Front",), at, at, "spreader", id=1),),
        probes=(ProbeReading("Front", at, 1.0),),
    )
    advice = advise(site=site, records=records, weather=made_weather(now=now), now=now)
    assert "no allowed hours" not in advice.zones[0].reason
    assert "Rain is the only way" not in advice.obligations[0].words
    assert [run.zone for run in advice.runs] == ["Front"]
    run = advice.runs[0]
    assert min((c.ends_at - c.starts_at) / timedelta(minutes=1) for c in run.cycles) >= 8
    assert (run.cycles[-1].ends_at - run.cycles[0].starts_at) / timedelta(minutes=1) <= 270
