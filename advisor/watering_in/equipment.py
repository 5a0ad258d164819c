"""With what something is put down where nobody says: one answer for every command.

Granules and seed take the spreader. A liquid takes the sprayer of its round, else the only sprayer of the
site file, else of several the one that asks the most water to water in: should it have been another, too
much was planned and not too little. An answer that takes equipment for granted says so.
"""

from __future__ import annotations

from collections.abc import Sequence

from advisor.advice import Equipment, EquipmentBasis
from advisor.lawn import NeedJudged, Product, Round, Site, Sprayer
from advisor.watering_in.water_need import WaterInNeed, label_sets_depth, water_in_need

LIQUID_METHODS = ("tank", "backpack", "hose-end")
"""The methods by which a liquid is sprayed."""


def usual_equipment(site: Site, products: Sequence[Product], round_: Round | None = None) -> Equipment:
    """With what `products` are put down where nobody says; for a mixed lot that of its liquids.

    `round_` is the programme they are put down for. Where the site file declares no sprayer a tank is
    taken, and the basis tells that.
    """
    by_name = {each.name: each for each in site.sprayers}
    rounds = by_name.get(round_.sprayer) if round_ is not None else None
    if all(product.kind.form != "liquid" for product in products):
        if rounds is not None and rounds.method not in LIQUID_METHODS:
            return _of(rounds, EquipmentBasis.ROUND)
        spreader = next((each.name for each in site.sprayers if each.method == "spreader"), "")
        return Equipment(method="spreader", name=spreader, basis=EquipmentBasis.SPREADER)
    if rounds is not None:
        return _of(rounds, EquipmentBasis.ROUND)
    fit = [each for each in site.sprayers if each.method in LIQUID_METHODS]
    if not fit:
        return Equipment(method="tank", basis=EquipmentBasis.NONE_DECLARED)
    if len(fit) == 1:
        return _of(fit[0], EquipmentBasis.ONLY_SPRAYER)
    depths = [_asked_mm(products, each, site.judgement.need) for each in fit]
    basis = EquipmentBasis.FIRST if len(set(depths)) == 1 else EquipmentBasis.MOST_WATER
    return _of(fit[depths.index(max(depths))], basis)


def equipment_said(site: Site, said: str) -> Equipment:
    """The equipment meant by the name of a declared piece, or by a method of `METHODS`.

    A method is the declared piece of that method; where there are several its dilution is known only if
    they share it.
    """
    meant = [each for each in site.sprayers if each.name == said]
    meant = meant or [each for each in site.sprayers if each.method == said]
    dilutions = {each.dilution for each in meant}
    return Equipment(
        method=meant[0].method if meant else said,
        dilution=dilutions.pop() if len(dilutions) == 1 else None,
        name=meant[0].name if len(meant) == 1 else "",
        basis=EquipmentBasis.SAID,
    )


def need_with(product: Product, equipment: Equipment, judged: NeedJudged) -> WaterInNeed:
    """What a product asks of water when put down with this; what is not liquid is spread."""
    liquid = product.kind.form == "liquid"
    return water_in_need(
        product.kind,
        equipment.method if liquid else "spreader",
        equipment.dilution if liquid else None,
        judged=judged,
        from_label=label_sets_depth(product),
    )


def _of(sprayer: Sprayer, basis: EquipmentBasis) -> Equipment:
    return Equipment(method=sprayer.method, dilution=sprayer.dilution, name=sprayer.name, basis=basis)


def _asked_mm(products: Sequence[Product], sprayer: Sprayer, judged: NeedJudged) -> tuple[float, float]:
    """What the products ask in all when put down with it, mm: the aims, and the least depths."""
    needs = [need_with(product, _of(sprayer, EquipmentBasis.SAID), judged) for product in products]
    return sum(need.target_mm for need in needs), sum(need.least_mm for need in needs)
