"""What is decided for a night as a whole, zone beside zone."""

from __future__ import annotations

from dataclasses import replace
from datetime import time, timedelta

import pytest
from made import EVENING, made_site, made_weather, made_zone

from advisor.advice import Action, ReasonKind, ZoneVerdict
from advisor.lawn import Application, ProbeReading, Product, Records, Rules
from advisor.lawn.site_values import Rate
from advisor.lawn.tables import kind_table
from advisor.tonight import advise


def test_a_zone_whose_due_run_does_not_fit_gets_what_its_turf_can_have() -> None:
    """Grub granules on Front come first; beside them Bank's soaks leave no room for all that is due there."""
    granules, liquid = (Product(name, kind_table()[name]) for name in ("soil-insecticide", "soil-liquid"))
    slow = Rate(12.0, "measured", 12.0, 12.0)
    zones = (
        made_zone("Front", rate=slow, uniformity=1.0),
        made_zone(
            "Bank", rate=Rate(7.3, "measured", 7.3, 7.3), uniformity=1.0, first_puddle_min=4.0, by_hand=True
        ),
    )
    rules = Rules(hours=((time(18), time(23)),), finish="window", awake=(time(6), time(23)))
    site = made_site(*zones, rules=rules, products={"Granules": granules, "Liquid": liquid})
    now = EVENING.replace(hour=17, minute=30)
    down = now - timedelta(hours=1)
    applications = (
        Application("Granules", ("Front",), down, down, "spreader", id=1),
        Application("Liquid", ("Bank",), down, down, "tank", id=2),
    )
    probes = tuple(ProbeReading(zone.name, now - timedelta(hours=2), 18.0) for zone in zones)
    records = Records(applications=applications, probes=probes)
    advice = advise(site=site, records=records, weather=made_weather(now=now), now=now)
    front, bank = advice.zones
    assert (front.verdict, bank.verdict) == (ZoneVerdict.RUN, ZoneVerdict.RUN)
    left = next(one for one in advice.obligations if one.zone == "Bank")
    (run,) = (run for run in advice.runs if run.zone == "Bank")
    assert 0.0 < run.effective_mm < left.least_mm
    assert left.action == Action.RAIN
    assert ReasonKind.RUN_BRINGS_A_PART in [reason.kind for reason in left.reasons]
    alone = advise(
        site=site,
        records=replace(records, applications=applications[1:], probes=probes[1:]),
        weather=made_weather(now=now),
        now=now,
    )
    assert next(one for one in alone.obligations if one.zone == "Bank").action == Action.RUN


@pytest.mark.parametrize(
    ("target_mm", "until_min", "runs"),
    [
        (3.4, 34, {17.0: 2}),
        (3.4, 33, {17.0: 1, 15.0: 1}),
        (3.4, 31, {17.0: 1}),
        (3.9, 40, {20.0: 2}),
        (3.9, 39, {20.0: 1, 15.0: 1}),
        (3.9, 35, {20.0: 1, 15.0: 1}),
        (3.9, 34, {20.0: 1}),
        (5.0, 40, {25.0: 1, 15.0: 1}),
        (5.0, 39, {25.0: 1}),
    ],
)
def test_where_two_due_runs_do_not_fit_whole_the_later_is_as_shallow_as_it_may_be(
    target_mm: float, until_min: int, runs: dict[float, int]
) -> None:
    """At 12 mm/h the least 3 mm take 15 min; what is left of the hours beside the whole of one decides."""
    kind = replace(kind_table()["granular-slow"], least_mm=3.0, target_mm=target_mm, within_h=3.0)
    names = ("Front", "Back")
    site = made_site(
        *(made_zone(name, uniformity=1.0) for name in names),
        rules=Rules(
            hours=((time(21), (EVENING.replace(hour=21, minute=0) + timedelta(minutes=until_min)).time()),),
            finish="window",
        ),
        products={"Feed": Product("Feed", kind)},
    )
    down = EVENING - timedelta(hours=1)
    records = Records(
        applications=(Application("Feed", names, down, down, "spreader", id=1),),
        probes=tuple(ProbeReading(name, EVENING - timedelta(hours=2), 2.0) for name in names),
    )
    advice = advise(site=site, records=records, weather=made_weather(), now=EVENING)
    minutes = [run.minutes for run in advice.runs]
    assert {each: minutes.count(each) for each in minutes} == runs
