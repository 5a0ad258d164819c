"""How often the lawn is walked over and how often the tank is filled: never more than it takes, never less."""

from __future__ import annotations

from datetime import date
from itertools import combinations
from math import ceil, floor

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.advice import Equipment, EquipmentBasis, Filling, Mix
from advisor.lawn import Product
from advisor.lawn.site_values import Sprayer
from advisor.lawn.tables import kind_table
from advisor.rounds import MixAsked, plan_mix

DAY = date(2026, 6, 17)
KINDS = kind_table()


def product(name: str, kind: str = "soil-liquid", **changes: object) -> Product:
    return Product(name, KINDS[kind], **({"rate": 1.0} | changes))  # type: ignore[arg-type]


def mix(*products: Product, area_m2: float = 400.0, tank_l: float | None = None) -> Mix:
    sprayer = Sprayer("Pack", "backpack", tank_l=tank_l, carrier_l_m2=0.05)
    equipment = Equipment(method="backpack", name="Pack", basis=EquipmentBasis.SAID)
    asked = MixAsked(area_m2=area_m2, products=products, equipment=equipment, sprayer=sprayer, day=DAY)
    return plan_mix(asked)


def apart(pairs: set[tuple[int, int]], count: int = 5) -> list[Product]:
    return [
        product(f"P{i}", apart_diluted=tuple(f"P{b}" for a, b in sorted(pairs) if a == i))
        for i in range(count)
    ]


def fewest(pairs: set[tuple[int, int]], count: int = 5) -> int:
    """The fewest groups, by trying every way to share the products out."""
    clash = {frozenset(pair) for pair in pairs}

    def shares(i: int, groups: list[list[int]]) -> int:
        if i == count:
            return len(groups)
        joined = [
            shares(i + 1, [[*g, i] if g is group else g for g in groups])
            for group in groups
            if not any(frozenset((i, one)) in clash for one in group)
        ]
        return min([*joined, shares(i + 1, [*groups, [i]])])

    return shares(0, [])


@settings(max_examples=60, deadline=None)
@given(pairs=st.sets(st.sampled_from(list(combinations(range(5), 2)))))
def test_there_are_as_many_passes_as_it_takes_and_no_more(pairs: set[tuple[int, int]]) -> None:
    passes = mix(*apart(pairs)).passes
    assert len(passes) == fewest(pairs)
    assert [one.number for one in passes] == list(range(1, len(passes) + 1))
    assert sorted(name for one in passes for name in one.products) == [f"P{i}" for i in range(5)]


@pytest.mark.parametrize("count", [1, 2, 3, 4])
def test_all_at_odds_take_a_pass_each(count: int) -> None:
    passes = mix(*apart(set(combinations(range(count), 2)), count)).passes
    assert [one.products for one in passes] == [(f"P{i}",) for i in range(count)]


def test_a_middle_product_at_odds_with_both_others_takes_a_second_pass_not_a_third() -> None:
    """Joined in their order alone, the first two apart, the last would not find its way back to the first."""
    passes = mix(*apart({(0, 1), (1, 2)}, 3)).passes
    assert sorted(one.products for one in passes) == [("P0", "P2"), ("P1",)]


def test_every_granule_is_a_pass_of_its_own_beside_the_liquids() -> None:
    passes = mix(
        product("Feed", "granular-slow"), product("A"), product("Grubs", "soil-insecticide"), product("B")
    ).passes
    assert [(one.products, one.filled) for one in passes] == [
        (("A", "B"), Filling.TANK),
        (("Feed",), Filling.SPREAD),
        (("Grubs",), Filling.SPREAD),
    ]
    assert [len(one.loads) for one in passes] == [1, 1, 1]


def test_what_must_stay_dry_longest_comes_first() -> None:
    pair = product("Soil", apart_diluted=("Leaf",)), product("Leaf", "foliar-fungicide")
    assert [one.products for one in mix(*pair).passes] == [("Leaf",), ("Soil",)]


@pytest.mark.parametrize(
    ("area_m2", "volumes"),
    [
        (100.0, [5.0]),
        (199.0, [9.95]),
        (200.0, [10.0]),
        (201.0, [10.0, 0.05]),
        (400.0, [10.0, 10.0]),
        (450.0, [10.0, 10.0, 2.5]),
    ],
)
def test_a_tank_of_ten_litres_is_filled_whole_and_the_last_time_with_the_rest(
    area_m2: float, volumes: list[float]
) -> None:
    """At 0.05 L/m² ten litres go over 200 m²."""
    (spray,) = mix(product("A"), area_m2=area_m2, tank_l=10.0).passes
    assert [load.volume_l for load in spray.loads] == pytest.approx(volumes)
    assert [load.number for load in spray.loads] == list(range(1, len(volumes) + 1))
    assert [load.area_m2 for load in spray.loads] == pytest.approx([v / 0.05 for v in volumes])


@settings(max_examples=60, deadline=None)
@given(area_m2=st.floats(1.0, 5000.0), tank_l=st.floats(1.0, 300.0))
def test_no_filling_more_than_the_spray_needs(area_m2: float, tank_l: float) -> None:
    (spray,) = mix(product("A"), area_m2=area_m2, tank_l=tank_l).passes
    fillings = area_m2 * 0.05 / tank_l
    assert floor(fillings) <= len(spray.loads) <= ceil(fillings)
    assert all(load.volume_l > 0 for load in spray.loads)
    strength = [load.amounts["A"] / load.volume_l for load in spray.loads]
    assert strength == pytest.approx([1.0 / 0.05] * len(strength))
