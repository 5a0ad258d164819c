"""What an owner says was put down: products, method, rate and what it took from the stock."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from advisor.advice.water_need import Equipment, EquipmentBasis
from advisor.errors import InputError
from advisor.faces.cli.asked import quantity
from advisor.lawn.records import METHODS, Application, StockChange
from advisor.lawn.site_values import Round, Site
from advisor.recording.entry import dimension_of, in_words, named
from advisor.watering_in.equipment import equipment_said, usual_equipment
from advisor.wording import listed


def put_down_words(put_down: Sequence[Application], site: Site) -> str:
    """Several products put down together in one sentence; they share zones, method and times."""
    if len(put_down) == 1:
        return f"application {put_down[0].id}: {in_words(put_down[0], site)}"
    together = replace(put_down[0], product=listed(each.product for each in put_down), rate=None)
    return f"applications {put_down[0].id}–{put_down[-1].id}: {in_words(together, site)}"


def products_of(found: Sequence[str], site: Site) -> tuple[list[str], Round | None]:
    """Products by their names in the site file; a round's name stands for its products."""
    rounds = {each.name: each for each in site.rounds}
    names: list[str] = []
    round_: Round | None = None
    for each in found:
        name = named(each, [*site.products, *rounds], what="product or round", where="PRODUCT")
        if name in site.products:
            names.append(name)
        else:
            round_ = rounds[name]
            names += round_.products
    return list(dict.fromkeys(names)), round_


def equipment_of(said: str | None, names: Sequence[str], round_: Round | None, site: Site) -> Equipment:
    """With what it was put down: as it is said, or what is usual for these products.

    Raises InputError where nothing is said and the site file declares no sprayer: a record tells what
    was done, and nothing would be left to rest a guess on.
    """
    if said is not None:
        known = [*METHODS, *(each.name for each in site.sprayers)]
        how = named(said, known, what="method or equipment", where="--method", known="")
        return equipment_said(site, how)
    usual = usual_equipment(site, [site.products[name] for name in names], round_)
    if usual.basis == EquipmentBasis.NONE_DECLARED:
        raise InputError(
            "it is not said how it was put down, and the site file declares no sprayer",
            where="--method",
            allowed=f"{', '.join(METHODS)}; or declare it under `equipment:`",
        )
    return usual


def rate_of(name: str, said: str | None, site: Site) -> float | None:
    """The rate that was said, or that of the site file."""
    return (
        quantity(said, dimension_of(name, site, " rate"), where="--rate")
        if said
        else site.products[name].rate
    )


def used_up(put_down: Sequence[Application], site: Site) -> list[StockChange]:
    """What the round took from the stock, where its rate is known."""
    area = sum(zone.area_m2 for zone in site.zones if zone.name in put_down[0].zones)
    return [
        StockChange(each.product, each.ended_at, -each.rate * area, "put down")
        for each in put_down
        if each.rate is not None
    ]
