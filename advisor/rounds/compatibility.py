"""Which products of a round may not meet, and the fewest passes that keep them apart.

What may not share a tank or a cup is what the owner's product entries say; what clashes over water
follows from what each product asks of it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations
from typing import Literal

from advisor.advice.frozen import Frozen
from advisor.lawn.products import Product
from advisor.units import show
from advisor.watering_in.water_need import WaterInNeed


class Clash(Frozen):
    """Two products that do not go together. `over`: "undiluted", "diluted" or "water".

    `separate` says that they must not go down in one pass; False is a warning that can be met.
    """

    products: tuple[str, str]
    over: Literal["undiluted", "diluted", "water"]
    separate: bool
    words: str
    way_out: str


def find_clashes(
    products: Sequence[Product], needs: Mapping[str, WaterInNeed], *, cup: bool, units: str = "metric"
) -> tuple[Clash, ...]:
    """All clashes among `products`, in their order; `cup`: concentrates meet undiluted (hose-end).

    `units` is what the words show.
    """
    found: list[Clash] = []
    for one, other in combinations(products, 2):
        found += _joining(one, other, cup)
        found += _water(one, other, needs) or _water(other, one, needs)
        found += _depth(one, other, needs, units)
    return tuple(found)


def _joining(one: Product, other: Product, cup: bool) -> list[Clash]:
    if one.kind.form != "liquid" or other.kind.form != "liquid":
        return []
    pair, names = (one.name, other.name), f"{one.name} and {other.name}"
    if other.name in one.apart_diluted or one.name in other.apart_diluted:
        words = f"{names} may not share a tank, even diluted"
        way_out = "spray them in separate passes and rinse the sprayer between"
        return [Clash(products=pair, over="diluted", separate=True, words=words, way_out=way_out)]
    if other.name in one.apart_undiluted or one.name in other.apart_undiluted:
        words = f"{names} may clog or react undiluted, so they may not share a hose-end cup"
        way_out = (
            "one after the other, with a rinsed cup" if cup else "let water come between them in the tank"
        )
        return [Clash(products=pair, over="undiluted", separate=cup, words=words, way_out=way_out)]
    return []


def _water(wet: Product, dry: Product, needs: Mapping[str, WaterInNeed]) -> list[Clash]:
    """`wet` is due for water before `dry` may have any."""
    if needs[wet.name].target_mm <= 0.0 or dry.kind.dry_h <= 0.0:
        return []
    due_h = wet.kind.dry_h + wet.kind.due_h
    if dry.kind.dry_h > due_h:
        return [
            Clash(
                products=(wet.name, dry.name),
                over="water",
                separate=True,
                words=f"{wet.name} is to be watered in within {due_h:g} h, "
                f"but {dry.name} must stay dry for {dry.kind.dry_h:g} h",
                way_out=f"put {dry.name} down first, {wet.name} no sooner than {dry.kind.dry_h:g} h later",
            )
        ]
    best_h = None if wet.kind.hurry_h is None else wet.kind.dry_h + wet.kind.hurry_h
    if best_h is not None and dry.kind.dry_h > best_h:
        when = "at once" if best_h == 0.0 else f"within {best_h:g} h"
        return [
            Clash(
                products=(wet.name, dry.name),
                over="water",
                separate=False,
                words=f"{wet.name} is best watered in {when}, "
                f"but {dry.name} must stay dry for {dry.kind.dry_h:g} h",
                way_out=f"together only if {wet.name} can wait {dry.kind.dry_h:g} h for its water",
            )
        ]
    return []


def _depth(one: Product, other: Product, needs: Mapping[str, WaterInNeed], units: str) -> list[Clash]:
    """No one depth waters both in: the least of one is above the most of the other."""
    less, more = sorted((one, other), key=lambda p: needs[p.name].most_mm)
    most, least = needs[less.name].most_mm, needs[more.name].least_mm
    if needs[less.name].target_mm <= 0.0 or least <= most:
        return []
    return [
        Clash(
            products=(more.name, less.name),
            over="water",
            separate=True,
            words=f"{more.name} asks for at least {show(least, 'depth', units)} of water, "
            f"more than the {show(most, 'depth', units)} that {less.name} bears",
            way_out=f"put {more.name} down and water it in first, {less.name} on another day",
        )
    ]


def fewest_passes(products: Sequence[Product], clashes: Sequence[Clash]) -> list[list[Product]]:
    """`products` in as few groups as keep every separating clash apart (exact, by trying 1, 2, …)."""
    apart = {frozenset(c.products) for c in clashes if c.separate}
    groups: list[list[Product]] = []

    def place(i: int, most: int) -> bool:
        if i == len(products):
            return True
        for group in groups:
            if all(frozenset((products[i].name, p.name)) not in apart for p in group):
                group.append(products[i])
                if place(i + 1, most):
                    return True
                group.pop()
        if len(groups) < most:
            groups.append([products[i]])
            if place(i + 1, most):
                return True
            groups.pop()
        return False

    for most in range(len(products) + 1):
        if place(0, most):
            return groups
    raise AssertionError("one group each always keeps them apart")
