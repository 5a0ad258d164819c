"""Seed and weed killers on one zone: what is a seedbed, and what is warned about."""

from __future__ import annotations

import sys
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1]))

from made import EVENING, made_site, made_zone

from advisor.lawn.products import Product
from advisor.lawn.records import Application
from advisor.lawn.seedbeds import seedbed
from advisor.lawn.site_values import Site
from advisor.lawn.tables import kind_table
from advisor.sentences.cautions import seed_warnings

SEED_MODE = {"mode": "seed", "mode_until": date(2026, 6, 30)}


def site_with(**zone: object) -> Site:
    kinds = kind_table()
    products = {key: Product(key, kinds[key]) for key in kinds}
    return made_site(made_zone(**zone), made_zone("Back"), products=products)  # type: ignore[arg-type]


def put_down(kind: str, days_ago: float = 0.0, zone: str = "Front") -> Application:
    at: datetime = EVENING - timedelta(days=days_ago)
    return Application(kind, (zone,), at, at)


@pytest.mark.parametrize("kind", ["pre-emergent", "post-emergent-liquid", "post-emergent-granular"])
@pytest.mark.parametrize(
    ("zone", "earlier"),
    [
        pytest.param(SEED_MODE, [], id="in seed mode"),
        pytest.param({}, [put_down("seed", 40)], id="seed recorded"),
    ],
)
def test_a_weed_killer_on_a_seedbed_is_warned_about(
    kind: str, zone: dict[str, object], earlier: list[Application]
) -> None:
    told = seed_warnings([put_down(kind)], earlier, site_with(**zone))
    assert len(told) == 1
    assert told[0].startswith(f"{kind} on Front can stop or kill grass that comes up from seed")


@pytest.mark.parametrize(
    ("now", "earlier", "zone"),
    [
        pytest.param(put_down("soil-liquid"), [], SEED_MODE, id="no weed killer"),
        pytest.param(put_down("pre-emergent", zone="Back"), [], SEED_MODE, id="another zone"),
        pytest.param(put_down("pre-emergent"), [put_down("seed", 61)], {}, id="old enough"),
        pytest.param(put_down("seed"), [put_down("post-emergent-liquid", 28)], {}, id="waited"),
        pytest.param(put_down("seed"), [put_down("soil-insecticide", 1)], {}, id="no herbicide before"),
    ],
)
def test_nothing_is_warned_about_without_a_reason(
    now: Application, earlier: list[Application], zone: dict[str, object]
) -> None:
    assert seed_warnings([now], earlier, site_with(**zone)) == ()


def test_seed_where_a_pre_emergent_lies_is_warned_about_with_the_day_it_may_grow() -> None:
    told = seed_warnings([put_down("seed")], [put_down("pre-emergent", 10)], site_with())
    assert told == (
        "seed may not grow on Front: pre-emergent went there on Sun 7 Jun 2026, and seed usually waits "
        "120 days, until Mon 5 Oct 2026; its label decides",
    )


def test_seed_and_a_pre_emergent_together_are_warned_about_once() -> None:
    assert len(seed_warnings([put_down("pre-emergent"), put_down("seed")], [], site_with())) == 1


def test_a_label_may_say_that_a_product_spares_seedlings() -> None:
    site = site_with(**SEED_MODE)
    spares = replace(kind_table()["pre-emergent"], harms_seedlings=False)
    site = replace(site, products={**site.products, "pre-emergent": Product("pre-emergent", spares)})
    assert seed_warnings([put_down("pre-emergent")], [], site) == ()


def test_the_latest_of_two_reasons_makes_the_seedbed() -> None:
    site = site_with(**SEED_MODE)
    bed = seedbed(site.zones[0], [put_down("seed", 5)], site, EVENING)
    assert bed is not None
    assert (bed.moist_until, bed.young_until) == (date(2026, 7, 3), date(2026, 8, 11))
    assert seedbed(site.zones[1], [put_down("seed", 5)], site, EVENING) is None
