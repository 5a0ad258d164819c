"""The round: amounts, loads, dilution, what may not meet, stock.

The worked numbers (3 fl oz on 1,000 sq ft, 15 for 5,000, loads of 12 and 3 from a 4 gal tank, 20:1) are rules of
thumb of the trade, check values without a source; the product names are neutral.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.advice.tank_mix import IncompatibilityKind, Mix, WarningKind
from advisor.advice.water_need import Equipment, EquipmentBasis
from advisor.errors import AdvisorError
from advisor.lawn.products import CautionKind, Kind, Product
from advisor.lawn.site_values import DateSpan, Sprayer
from advisor.rounds.tank_mix import MixAsked, plan_mix
from advisor.units import parse, show

DAY = date(2026, 6, 17)
RATE = parse("3 fl oz/1000 sq ft", "liquid rate")
AREA = parse("5000 sq ft", "area")
GALLON = parse("1 gal", "volume")
BACKPACK = Sprayer("Pack", "backpack", tank_l=4 * GALLON, carrier_l_m2=parse("1 gal/1000 sq ft", "carrier"))
HOSE_END = Sprayer("Cup", "hose-end", tank_l=1.0, dilution=20.0)


def kind(**changes: object) -> Kind:
    values: dict[str, object] = {
        f.name: {"str": "", "float": 0.0, "bool": False, "int": 0}.get(str(f.type), ()) for f in fields(Kind)
    }
    values |= {"name": "soil-applied liquid", "form": "liquid", "within_h": 24.0, "hurry_h": 12.0}
    values |= {"least_mm": 3.0, "target_mm": 6.0, "most_mm": 12.0, "source": "common practice, no source"}
    return Kind(**(values | changes))  # type: ignore[arg-type]


SOIL = kind()
FOLIAR = kind(name="foliar liquid", least_mm=0.0, target_mm=0.0, most_mm=0.0, within_h=None, dry_h=12.0)
LEAF = kind(name="post-emergent", least_mm=0.0, target_mm=0.0, most_mm=0.0, within_h=None, dry_h=36.0)
GRUBS = kind(name="soil insecticide", least_mm=13.0, target_mm=15.0, most_mm=25.0, source="a handbook")
GRANULE = kind(name="granules", form="granule")


def product(name: str, what: Kind = SOIL, **changes: object) -> Product:
    return Product(name, what, **({"rate": RATE} | changes))  # type: ignore[arg-type]


def mix(*products: Product, sprayer: Sprayer | None = BACKPACK, area: float = AREA, **more: object) -> Mix:
    equipment = Equipment(method="spreader", basis=EquipmentBasis.SPREADER)
    if sprayer is not None:
        equipment = Equipment(
            method=sprayer.method, dilution=sprayer.dilution, name=sprayer.name, basis=EquipmentBasis.SAID
        )
    return plan_mix(
        MixAsked(area_m2=area, products=products, equipment=equipment, sprayer=sprayer, day=DAY, **more)  # type: ignore[arg-type]
    )


def test_three_fluid_ounces_on_a_thousand_square_feet_is_0_955_ml_on_a_square_metre() -> None:
    assert pytest.approx(0.955, abs=5e-4) == RATE


def test_five_thousand_square_feet_take_fifteen_fluid_ounces() -> None:
    item = mix(product("Liquid A")).items[0]
    assert show(item.amount, "small volume", "us") == "15.0 fl oz"
    assert item.unit == "mL"


def test_a_four_gallon_backpack_at_a_gallon_on_a_thousand_takes_a_full_and_a_quarter_load() -> None:
    # by hand: 5 gal of spray: a load of 4 gal for 4,000 sq ft with 12 fl oz, one of 1 gal with 3 fl oz;
    # 5 gal = 640 fl oz, less 15 is 625 of water, 625 / 15 = 41.67 : 1
    spray = mix(product("Liquid A")).passes[0]
    assert [load.volume_l / GALLON for load in spray.loads] == pytest.approx([4.0, 1.0])
    assert [show(load.amounts["Liquid A"], "small volume", "us") for load in spray.loads] == [
        "12.0 fl oz",
        "3.0 fl oz",
    ]
    assert [show(load.area_m2, "area", "us") for load in spray.loads] == ["4,000 sq ft", "1,000 sq ft"]
    assert spray.dilution == pytest.approx(41.67, abs=5e-3)


def test_four_thousand_square_feet_fill_the_backpack_exactly_once() -> None:
    assert len(mix(product("Liquid A"), area=parse("4000 sq ft", "area")).passes[0].loads) == 1


def test_a_hose_end_sprayer_at_twenty_to_one_brings_twenty_times_the_concentrate() -> None:
    worked = mix(product("Liquid A"), product("Liquid B"), sprayer=HOSE_END)
    spray = worked.passes[0]
    # by hand: 2 × 15 fl oz = 887 mL in the cup, 20 × that = 17.74 L of water
    assert spray.loads[0].volume_l == pytest.approx(0.887, abs=5e-4)
    assert spray.water_l == pytest.approx(17.74, abs=5e-3)
    assert all(item.need.target_mm == 0.0 for item in worked.items)


def test_a_tank_needs_watering_in_whatever_its_dilution() -> None:
    assert mix(product("Liquid A")).items[0].need.target_mm > 6.0


def test_the_tank_is_filled_half_with_water_then_concentrates_in_their_order_then_topped_up() -> None:
    filling = mix(product("Late", fill_order=70), product("Early", fill_order=10)).passes[0].filling
    assert filling[0] == "Fill the tank half with water."
    assert filling[1].startswith("Then the concentrates: Early, then Late")
    assert filling[2].startswith("Top up")


def test_a_hose_end_sprayer_of_unknown_dilution_says_that_its_water_is_unknown() -> None:
    worked = mix(product("Liquid A"), sprayer=Sprayer("Cup", "hose-end"))
    assert worked.passes[0].water_l is None
    assert worked.passes[0].dilution is None
    assert any("dilution of Cup is not known" in w for w in worked.warnings)
    assert worked.items[0].need.target_mm > 0.0


@pytest.mark.parametrize(
    ("sprayer", "passes"), [pytest.param(BACKPACK, 1, id="tank"), pytest.param(HOSE_END, 2, id="cup")]
)
def test_apart_undiluted_may_share_a_tank_but_not_a_cup(sprayer: Sprayer, passes: int) -> None:
    worked = mix(product("A", apart_undiluted=("B",)), product("B"), sprayer=sprayer)
    assert len(worked.passes) == passes
    assert [c.over for c in worked.clashes] == ["undiluted"]


@pytest.mark.parametrize("sprayer", [BACKPACK, HOSE_END], ids=["tank", "cup"])
@pytest.mark.parametrize("who", [("A", "B"), ("B", "A")], ids=["said by the first", "said by the second"])
def test_apart_diluted_are_kept_in_separate_passes(sprayer: Sprayer, who: tuple[str, str]) -> None:
    pair = {"A": product("A"), "B": product("B")} | {who[0]: product(who[0], apart_diluted=(who[1],))}
    worked = mix(*pair.values(), sprayer=sprayer)
    assert [p.products for p in worked.passes] == [("A",), ("B",)]


def test_three_products_of_which_two_clash_take_two_passes_not_three() -> None:
    worked = mix(product("A", apart_diluted=("C",)), product("B"), product("C"))
    assert [p.products for p in worked.passes] == [("A", "B"), ("C",)]


def test_one_to_water_in_and_one_to_keep_dry_is_told_before_the_round() -> None:
    worked = mix(product("Liquid A"), product("Weeds", LEAF))
    assert [p.products for p in worked.passes] == [("Weeds",), ("Liquid A",)]
    clash = worked.clashes[0]
    assert (clash.over, clash.separate) == ("water", True)
    assert clash.words == "Liquid A is to be watered in within 24 h, but Weeds must stay dry for 36 h"
    assert clash.way_out == "put Weeds down first, Liquid A no sooner than 36 h later"
    assert clash.kind == IncompatibilityKind.DUE_BEFORE_DRY_ENDS
    assert (clash.products, clash.within_h, clash.dry_h) == (("Liquid A", "Weeds"), 24.0, 36.0)


def test_what_can_wait_for_its_water_may_share_the_tank_with_a_warning() -> None:
    hurried = product("Surfactant", kind(hurry_h=0.0))
    worked = mix(hurried, product("Iron", FOLIAR))
    assert len(worked.passes) == 1
    assert [(c.over, c.separate) for c in worked.clashes] == [("water", False)]
    assert "best watered in at once" in worked.clashes[0].words


def test_products_whose_waters_combine_do_not_clash() -> None:
    assert mix(product("Liquid A"), product("Iron", FOLIAR)).clashes == ()


def test_no_single_depth_for_both_is_a_clash() -> None:
    clash = mix(product("Grubs", GRUBS), product("Liquid A")).clashes[0]
    assert clash.separate
    assert "at least 13.0 mm" in clash.words


def test_a_granule_is_spread_in_a_pass_of_its_own_and_needs_no_sprayer() -> None:
    worked = mix(product("Feed", GRANULE, rate=15.0), sprayer=None, area=100.0)
    assert worked.passes[0].method == "spreader"
    assert (worked.items[0].amount, worked.items[0].unit) == (1500.0, "g")
    topics = {c.topic for c in worked.cautions}
    assert "hard surfaces" in topics
    assert "backflow" not in topics


def test_equal_bottles_at_equal_rates_run_out_together() -> None:
    quart = parse("1 qt", "small volume")
    worked = mix(product("A"), product("B"), stock={"A": quart, "B": quart})
    assert [i.rounds_left for i in worked.items] == [2, 2]  # 32 fl oz is two rounds of 15
    assert worked.runs_out_first == ("A", "B")


def test_the_smaller_bottle_runs_out_first_and_dates_follow_the_interval() -> None:
    worked = mix(product("A", interval_days=30), product("B"), product("C"), stock={"A": 1400.0, "B": 5000.0})
    assert worked.runs_out_first == ("A",)
    assert worked.items[0].rounds_left == 3  # by hand: 1400 / 443.6
    assert worked.items[0].lasts_until == date(2026, 8, 16)
    assert worked.items[2].rounds_left is None


def test_too_little_stock_for_this_round_is_told_with_what_is_short() -> None:
    worked = mix(product("A"), stock={"A": 400.0})
    assert worked.items[0].rounds_left == 0
    assert worked.items[0].short == pytest.approx(43.6, abs=0.05)
    assert worked.warnings == ("A: the stock of 400 mL is 44 mL short of this round",)
    (short,) = worked.warning_facts
    assert (short.kind, short.product, short.amount, short.unit) == (
        WarningKind.STOCK_SHORT,
        "A",
        400.0,
        "mL",
    )
    assert short.short == pytest.approx(43.6, abs=0.05)


def test_dates_that_forbid_the_round_are_told() -> None:
    worked = mix(
        product("A", no_apply_before=date(2026, 7, 1)),
        blackouts=(DateSpan(date(2026, 6, 1), date(2026, 6, 30), "summer fertilizer ban"),),
    )
    assert worked.warnings == (
        "A is not to go down before 2026-07-01",
        "2026-06-17 is in the blackout 2026-06-01 to 2026-06-30 (summer fertilizer ban)",
    )


def test_the_usual_cautions_go_with_every_spraying_and_the_products_own_are_named() -> None:
    worked = mix(product("A", cautions=("stains concrete",)))
    assert {c.topic for c in worked.cautions} == {
        "label",
        "clothing",
        "re-entry",
        "backflow",
        "hard surfaces",
        "water",
        "product",
    }
    own = worked.cautions[-1]
    assert (own.kind, own.products, own.text) == (CautionKind.OWN, ("A",), "A: stains concrete.")


def test_a_kinds_caution_that_the_general_ones_cover_is_not_repeated_and_shared_ones_are_joined() -> None:
    burns = kind(cautions=(CautionKind.STAY_OFF, CautionKind.BURNS))
    cautions = mix(product("A", burns), product("B", burns)).cautions
    assert [c.text for c in cautions if c.kind == CautionKind.BURNS] == [
        "A and B: left on the leaves in heat it can burn them."
    ]
    assert [c.products for c in cautions if c.kind == CautionKind.STAY_OFF] == [()]


@pytest.mark.parametrize(
    ("products", "sprayer", "area", "said"),
    [
        pytest.param((), BACKPACK, AREA, "at least one product", id="nothing to mix"),
        pytest.param((product("A"),), BACKPACK, 0.0, "the area is nothing", id="no area"),
        pytest.param((product("A", rate=None),), BACKPACK, AREA, "A has no rate", id="no rate"),
        pytest.param((product("A"),), None, AREA, "a liquid needs a sprayer", id="no sprayer"),
        pytest.param(
            (product("A"),), Sprayer("S", "spreader"), AREA, "liquids need a sprayer", id="spreader"
        ),
        pytest.param((product("A"),), Sprayer("S", "tank"), AREA, "no carrier rate", id="no carrier"),
        pytest.param(
            (product("A", rate=50.0),), BACKPACK, AREA, "more than the carrier", id="more than the carrier"
        ),
    ],
)
def test_what_is_missing_is_said(
    products: Sequence[Product], sprayer: Sprayer | None, area: float, said: str
) -> None:
    with pytest.raises(AdvisorError, match=said):
        mix(*products, sprayer=sprayer, area=area)


@settings(max_examples=60)
@given(
    area=st.floats(1.0, 20000.0),
    rates=st.lists(st.floats(0.05, 5.0), min_size=1, max_size=5),
    tank=st.none() | st.floats(1.0, 200.0),
    carrier=st.floats(0.03, 0.25),
    dilution=st.floats(5.0, 60.0),
    hose=st.booleans(),
)
def test_loads_add_up_and_dilution_times_concentrate_is_the_water(
    area: float, rates: list[float], tank: float | None, carrier: float, dilution: float, hose: bool
) -> None:
    sprayer = Sprayer("S", "hose-end" if hose else "tank", tank, carrier, dilution if hose else None)
    worked = mix(*(product(f"P{i}", rate=r) for i, r in enumerate(rates)), sprayer=sprayer, area=area)
    spray = worked.passes[0]
    assert spray.water_l is not None
    assert spray.dilution is not None
    for item in worked.items:
        assert sum(load.amounts[item.product] for load in spray.loads) == pytest.approx(area * item.rate)
    concentrate_l = sum(i.amount for i in worked.items) / 1000
    assert spray.dilution * concentrate_l == pytest.approx(spray.water_l)
    assert sum(load.water_l or 0.0 for load in spray.loads) == pytest.approx(spray.water_l)
    assert sum(load.area_m2 for load in spray.loads) == pytest.approx(area)
    for load in spray.loads:
        assert tank is None or load.volume_l <= tank * (1 + 1e-9)


@settings(max_examples=60)
@given(
    pairs=st.sets(st.tuples(st.integers(0, 5), st.integers(0, 5)).filter(lambda p: p[0] != p[1]), max_size=10)
)
def test_no_pass_ever_joins_what_must_be_apart_and_nothing_is_lost(pairs: set[tuple[int, int]]) -> None:
    products = [
        product(f"P{i}", apart_diluted=tuple(f"P{b}" for a, b in sorted(pairs) if a == i)) for i in range(6)
    ]
    passes = mix(*products, area=50.0).passes
    assert sorted(name for p in passes for name in p.products) == [p.name for p in products]
    for spray in passes:
        assert not any({f"P{a}", f"P{b}"} <= set(spray.products) for a, b in pairs)
