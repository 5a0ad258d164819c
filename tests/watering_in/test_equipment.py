"""With what something is put down where nobody says: one answer, and it is said."""

from __future__ import annotations

from dataclasses import replace

import pytest
from made import JUDGED, made_site

from advisor.advice.cautions import Asking
from advisor.advice.water_need import Equipment, EquipmentBasis
from advisor.lawn.products import Product
from advisor.lawn.records import METHODS
from advisor.lawn.site_values import Round, Sprayer
from advisor.lawn.tables import kind_table
from advisor.sentences.watering_in import equipment_words
from advisor.watering_in.equipment import (
    LIQUID_METHODS,
    equipment_said,
    need_with,
    usual_equipment,
)

PACK = Sprayer("Pack", "backpack", 15.0, 0.04)
CUP = Sprayer("Cup", "hose-end", 1.0, dilution=20.0)
WEAK = Sprayer("Weak cup", "hose-end", 1.0, dilution=10.0)
DROP = Sprayer("Drop spreader", "spreader")
SOIL = Product("Potash", kind_table()["soil-liquid"])
FUNGUS = Product("Fungus", kind_table()["root-zone-fungicide"])  # its depth is published: no method moves it
DEEP = Product("Deep", replace(SOIL.kind, target_mm=20.0, most_mm=30.0), overrides=("target_mm", "most_mm"))
GRUBS = Product("Grubs", kind_table()["soil-insecticide"])


def usual(*sprayers: Sprayer, products: tuple[Product, ...] = (SOIL,), of: str | None = None) -> Equipment:
    round_ = None if of is None else Round("Programme", tuple(p.name for p in products), 30, sprayer=of)
    return usual_equipment(made_site(sprayers=sprayers), products, round_)


@pytest.mark.parametrize(
    ("sprayers", "products", "of", "name", "basis"),
    [
        pytest.param((CUP, PACK), (SOIL,), "Cup", "Cup", EquipmentBasis.ROUND, id="its round's"),
        pytest.param((DROP, CUP), (SOIL,), None, "Cup", EquipmentBasis.ONLY_SPRAYER, id="the only one"),
        pytest.param((CUP, PACK), (SOIL,), None, "Pack", EquipmentBasis.MOST_WATER, id="hose-end first"),
        pytest.param((PACK, CUP), (SOIL,), None, "Pack", EquipmentBasis.MOST_WATER, id="backpack first"),
        pytest.param((CUP, WEAK), (SOIL,), None, "Weak cup", EquipmentBasis.MOST_WATER, id="weaker"),
        pytest.param((CUP, PACK), (FUNGUS,), None, "Cup", EquipmentBasis.FIRST, id="all the same"),
        pytest.param((DROP,), (SOIL,), None, "", EquipmentBasis.NONE_DECLARED, id="none for liquids"),
        pytest.param((CUP, DROP), (GRUBS,), None, "Drop spreader", EquipmentBasis.SPREADER, id="granules"),
        pytest.param(
            (CUP,), (GRUBS,), "Cup", "", EquipmentBasis.SPREADER, id="granules in a sprayer's round"
        ),
        pytest.param((DROP,), (GRUBS,), "Drop spreader", "Drop spreader", EquipmentBasis.ROUND, id="spread"),
        pytest.param((CUP, PACK), (GRUBS, SOIL), None, "Pack", EquipmentBasis.MOST_WATER, id="mixed"),
        pytest.param((CUP, PACK), (DEEP, SOIL), None, "Pack", EquipmentBasis.MOST_WATER, id="one of two"),
        pytest.param((CUP, PACK), (SOIL,), "", "Pack", EquipmentBasis.MOST_WATER, id="a round without one"),
    ],
)
def test_the_usual_equipment(
    sprayers: tuple[Sprayer, ...],
    products: tuple[Product, ...],
    of: str | None,
    name: str,
    basis: EquipmentBasis,
) -> None:
    found = usual(*sprayers, products=products, of=of)
    assert (found.name, found.basis) == (name, basis)


def test_of_several_none_would_ask_more_water() -> None:
    """The sprayer that is taken asks the most: what is planned is never too little."""
    for sprayers in ((CUP, PACK), (PACK, CUP), (WEAK, CUP), (CUP, WEAK, PACK)):
        taken = need_with(SOIL, usual(*sprayers), JUDGED.need)
        for each in sprayers:
            other = need_with(SOIL, equipment_said(made_site(sprayers=sprayers), each.name), JUDGED.need)
            assert (taken.target_mm, taken.least_mm) >= (other.target_mm, other.least_mm)


def test_without_a_sprayer_a_tank_is_taken_which_asks_as_much_as_any() -> None:
    none = usual()
    assert (none.method, none.dilution) == ("tank", None)
    assert need_with(SOIL, none, JUDGED.need)[:3] == need_with(SOIL, usual(PACK), JUDGED.need)[:3]


@pytest.mark.parametrize(
    ("said", "method", "dilution", "name"),
    [
        ("Cup", "hose-end", 20.0, "Cup"),
        ("backpack", "backpack", None, "Pack"),
        ("hose-end", "hose-end", None, ""),
        ("by hand", "by hand", None, ""),
    ],
    ids=["a piece", "the only one of a method", "two with other dilutions", "not declared"],
)
def test_what_is_said(said: str, method: str, dilution: float | None, name: str) -> None:
    found = equipment_said(made_site(sprayers=(PACK, CUP, WEAK)), said)
    assert (found.method, found.dilution, found.name) == (method, dilution, name)
    assert found.basis == EquipmentBasis.SAID


def test_a_method_has_the_dilution_of_the_one_piece_that_has_it() -> None:
    assert equipment_said(made_site(sprayers=(PACK, CUP)), "hose-end").dilution == 20.0


def test_what_is_not_liquid_is_spread_whatever_the_round_takes() -> None:
    assert need_with(GRUBS, usual(CUP), JUDGED.need)[:3] == (13.0, 15.0, 25.0)


@pytest.mark.parametrize(
    ("found", "told"),
    [
        (usual(PACK), "Taken as put down with Pack, your only sprayer; if not, say --method."),
        (
            usual(CUP, PACK),
            "Taken as put down with Pack, of your sprayers the one that asks the most water; if not, say --method.",
        ),
        (
            usual(CUP, PACK, products=(FUNGUS,)),
            "Taken as put down with Cup, the first of your sprayers, which ask the same water; "
            "if not, say --method.",
        ),
        (
            usual(),
            "Taken as put down with a tank, as the site file declares no sprayer; if not, say --method.",
        ),
        (usual(CUP, of="Cup"), ""),
        (usual(CUP, products=(GRUBS,)), ""),
    ],
    ids=["only", "most water", "first", "none", "the round's", "granules"],
)
def test_what_is_taken_for_granted_is_said(found: Equipment, told: str) -> None:
    assert equipment_words(found, Asking.RAIN) == told


def test_the_methods_for_liquids_are_methods() -> None:
    assert set(LIQUID_METHODS) < set(METHODS)
