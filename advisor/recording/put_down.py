"""What an owner says was put down: products, method, rate and what it took from the stock."""

from __future__ import annotations

from collections.abc import Sequence

from advisor.advice import Equipment, EquipmentBasis
from advisor.errors import InputError
from advisor.lawn import METHODS, Application, Round, Site, StockChange
from advisor.recording.said import dimension_of, named, quantity
from advisor.watering_in import equipment_said, usual_equipment

SAME = 1e-6


def products_of(found: Sequence[str], site: Site) -> tuple[list[str], Round | None]:
    """Products by their names in the site file; a round's name stands for its products."""
    rounds = {each.name: each for each in site.rounds}
    names: list[str] = []
    round_: Round | None = None
    for each in found:
        name = named(each, [*site.products, *rounds], what="product or round", field="products")
        if name in site.products:
            names.append(name)
        else:
            round_ = rounds[name]
            names += round_.products
    return list(dict.fromkeys(names)), round_


def said_equipment(said: str, site: Site) -> Equipment:
    """A method or a piece of the site's equipment as it is said."""
    known = [*METHODS, *(each.name for each in site.sprayers)]
    return equipment_said(site, named(said, known, what="method or equipment", field="method", known=""))


def equipment_of(said: str | None, names: Sequence[str], round_: Round | None, site: Site) -> Equipment:
    """With what it was put down: as it is said, or what is usual for these products.

    Raises InputError where nothing is said and the site file declares no sprayer: a record tells what
    was done, and nothing would be left to rest a guess on.
    """
    if said is not None:
        return said_equipment(said, site)
    usual = usual_equipment(site, [site.products[name] for name in names], round_)
    if usual.basis == EquipmentBasis.NONE_DECLARED:
        raise InputError(
            "it is not said how it was put down, and the site file declares no sprayer",
            field="method",
            allowed=f"{', '.join(METHODS)}; or declare it under `equipment:`",
        )
    return usual


def rate_of(name: str, said: str | None, site: Site) -> float | None:
    """The rate that was said, or that of the site file."""
    if said is not None:
        return quantity(said, dimension_of(name, site, rate=True), field="rate")
    return site.products[name].rate


def taken(application: Application, site: Site) -> StockChange | None:
    """What an application took from the stock: rate times area, where its rate is known."""
    if application.rate is None:
        return None
    area_m2 = sum(zone.area_m2 for zone in site.zones if zone.name in application.zones)
    return StockChange(application.product, application.ended_at, -application.rate * area_m2, "put down")


def taken_by(application: Application, stock: Sequence[StockChange], site: Site) -> StockChange | None:
    """The stock change that was recorded with an application: the use of its product when it was done.

    Where several are of that moment, the nearest to what it should have taken.
    """
    same = [
        each
        for each in stock
        if (each.product, each.changed_at) == (application.product, application.ended_at) and each.amount < 0
    ]
    expected = taken(application, site)
    amount = 0.0 if expected is None else expected.amount
    return min(same, key=lambda each: abs(each.amount - amount), default=None)


def is_worked_out(change: StockChange, application: Application, site: Site) -> bool:
    """Whether a stock change is what the application's rate and area come to, not a figure of the owner's."""
    expected = taken(application, site)
    return expected is not None and abs(change.amount - expected.amount) <= SAME * abs(expected.amount)
