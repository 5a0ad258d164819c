"""Products made for tests to lie on an invented lawn, and what is decided for them in weather without rain."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from functools import cache

import numpy as np
from made import EVENING, JUDGED, made_site, made_weather, made_zone

from advisor.hours import Window
from advisor.lawn import Application, Decision, Product, Records
from advisor.lawn.tables import kind_table
from advisor.soil_water import survey
from advisor.watering_in import Choice, Question, Rain, ZoneApplication, costs_of, decide, zone_applications

KIND = replace(kind_table()["granular-slow"], least_mm=3.0, target_mm=6.0, most_mm=12.0)
"""Granules that ask for 3 mm, at best 6, and bear 12."""
DOWN = EVENING - timedelta(hours=1)
HOURS = Window(EVENING + timedelta(hours=1), EVENING + timedelta(hours=9))


@cache
def _plain() -> ZoneApplication:
    site = made_site(made_zone(uniformity=1.0), products={"A": Product("A", KIND)})
    records = Records(applications=(Application("A", ("Front",), DOWN, DOWN, "spreader", id=1),))
    weather = made_weather()
    water = survey(site=site, records=records, weather=weather, now=EVENING).water
    (one,), _ = zone_applications(site=site, records=records, weather=weather, water=water, now=EVENING)
    return one


def put_down(name: str = "A", **changes: object) -> ZoneApplication:
    """Granules put down an hour ago on Front, which have had nothing; with these fields instead."""
    return replace(_plain(), **{"product": Product(name, KIND), **changes})  # type: ignore[arg-type]


def chosen(one: ZoneApplication, **changes: object) -> Choice:
    """What is decided for it in three dry members, with hours from 21:15 to 5:15 and runs of half an hour."""
    members = np.zeros((3, 60))
    choice = decide(
        Question(
            application=one,
            rain=Rain(EVENING.replace(minute=0), members, members),
            openings=(HOURS,),
            costs=costs_of(Decision(), JUDGED, KIND),
            judgement=JUDGED,
            run_time=timedelta(minutes=30),
            now=EVENING,
        )
    )
    return replace(choice, **changes)  # type: ignore[arg-type]
