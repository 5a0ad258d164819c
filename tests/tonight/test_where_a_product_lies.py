"""How deep the turf is refilled where a product lies that bears only so much."""

from __future__ import annotations

from datetime import timedelta

import pytest
from made import EVENING, made_site, made_weather, made_zone

from advisor.advice import Advice, ReasonKind
from advisor.lawn import Application, ProbeReading, Product, Records, Run
from advisor.lawn.tables import kind_table
from advisor.tonight import advise

PRODUCTS = {
    "Potash": Product("Potash", kind_table()["soil-liquid"]),
    "Feed": Product("Feed", kind_table()["granular-slow"]),
    "Leaf": Product("Leaf", kind_table()["foliar-fungicide"]),
}
POTASH_BEARS, FEED_BEARS = (PRODUCTS[name].kind.most_mm for name in ("Potash", "Feed"))
AN_HOUR_AGO = EVENING - timedelta(hours=1)


def advised(*names: str, used_mm: float = 26.0, runs: tuple[Run, ...] = ()) -> Advice:
    down = EVENING - timedelta(hours=4)
    applications = tuple(Application(n, ("Front",), down, down, "tank", id=i) for i, n in enumerate(names, 1))
    probes = (ProbeReading("Front", AN_HOUR_AGO, used_mm),)
    return advise(
        site=made_site(made_zone(uniformity=1.0), products=PRODUCTS),
        records=Records(applications=applications, probes=probes, runs=runs),
        weather=made_weather(),
        now=EVENING,
    )


def depth(advice: Advice) -> float:
    return sum(run.effective_mm for run in advice.runs)


def capped_by(advice: Advice) -> list[str]:
    reasons = advice.zones[0].reasons
    return [name for one in reasons if one.kind == ReasonKind.CAPPED for name in one.products]


def test_bare_turf_is_refilled_deeper_than_any_of_the_products_bears() -> None:
    bare = advised()
    assert depth(bare) > FEED_BEARS > POTASH_BEARS
    assert capped_by(bare) == []


def test_a_refill_is_no_deeper_than_the_product_bears_and_says_so() -> None:
    advice = advised("Potash")
    assert depth(advice) == pytest.approx(POTASH_BEARS, abs=0.3)
    assert capped_by(advice) == ["Potash"]


@pytest.mark.parametrize("names", [("Potash", "Feed"), ("Feed", "Potash")], ids=" then ".join)
def test_of_several_products_the_one_that_bears_least_cuts_the_refill(names: tuple[str, ...]) -> None:
    advice = advised(*names)
    assert depth(advice) == pytest.approx(POTASH_BEARS, abs=0.3)
    assert capped_by(advice) == ["Potash"]


def test_a_refill_that_the_product_bears_is_not_cut() -> None:
    shallow, bare = advised("Feed", used_mm=17.0), advised(used_mm=17.0)
    assert 0 < depth(bare) < FEED_BEARS
    assert depth(shallow) == pytest.approx(depth(bare))
    assert capped_by(shallow) == []


def test_what_the_product_had_counts_against_what_it_bears() -> None:
    began = EVENING - timedelta(hours=3)
    had = Run("Front", began, began + timedelta(minutes=10), minutes=10.0)
    advice = advised("Feed", runs=(had,))
    assert depth(advice) == pytest.approx(FEED_BEARS - 2.0, abs=0.3)
    assert capped_by(advice) == ["Feed"]
