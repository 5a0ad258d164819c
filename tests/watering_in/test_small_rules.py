"""Rules of a line or two, each at its edge: what is shared, what washes off, what is still shown."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from made import EVENING, made_site, made_weather, made_zone

from advisor.advice import Status
from advisor.lawn import Application, Decision, Product, Records
from advisor.lawn.tables import kind_table
from advisor.soil_water import survey
from advisor.watering_in import ZoneApplication, costs_of, zone_applications
from advisor.watering_in.applications import CAUGHT_SHORT_MM

KINDS = kind_table()


@pytest.mark.parametrize("own", [{}, {"water": 0.2, "run": 0.3, "look": 0.4}], ids=["usual", "the owner's"])
def test_products_that_ask_the_same_share_water_run_and_look_and_nothing_else(own: dict[str, float]) -> None:
    alone, three = (costs_of(Decision("balanced", own), KINDS["soil-liquid"], sharing=n) for n in (1, 3))
    assert alone.run > 0
    assert (three.water, three.run, three.look) == pytest.approx(
        (alone.water / 3, alone.run / 3, alone.look / 3)
    )
    assert (three.shortfall, three.loss) == (alone.shortfall, alone.loss)
    assert {name: getattr(alone, name) for name in own} == own


def on_front(product: Product, rain_mm: float, *, ended_h_ago: float, rained_h_ago: int) -> ZoneApplication:
    """What it is of a product after rain in one hour of the past."""
    ended = EVENING - timedelta(hours=ended_h_ago)
    weather = made_weather()
    rain = weather.rain_mm.copy()
    rain[weather.index_at(EVENING) - rained_h_ago] = rain_mm
    weather = replace(weather, rain_mm=rain)
    site = made_site(made_zone(uniformity=1.0), products={product.name: product})
    records = Records(applications=(Application(product.name, ("Front",), ended, ended, "tank", id=1),))
    water = survey(site=site, records=records, weather=weather, now=EVENING).water
    (one,), _ = zone_applications(site=site, records=records, weather=weather, water=water, now=EVENING)
    return one


@pytest.mark.parametrize(
    ("rain_mm", "washed"),
    [(0.0, False), (CAUGHT_SHORT_MM - 0.1, False), (CAUGHT_SHORT_MM, True)],
    ids="{} mm".format,
)
def test_where_the_kind_names_no_depth_the_usual_one_washes_off_in_the_dry_period(
    rain_mm: float, washed: bool
) -> None:
    leaf = Product("Leaf", replace(KINDS["foliar-fungicide"], washoff_mm=0.0))
    one = on_front(leaf, rain_mm, ended_h_ago=6.0, rained_h_ago=3)
    assert one.status == (Status.WASHED if washed else Status.KEEP_DRY)
    assert one.in_dry_period_mm == pytest.approx(rain_mm)


def test_rain_too_light_to_disturb_a_dry_period_is_not_told() -> None:
    leaf = Product("Leaf", KINDS["foliar-fungicide"])
    light, more = (on_front(leaf, mm, ended_h_ago=6.0, rained_h_ago=3) for mm in (0.4, 0.6))
    assert (light.in_dry_period_mm, more.in_dry_period_mm) == (0.0, pytest.approx(0.6))
