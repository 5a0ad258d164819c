"""Which products of a round may not meet, and the fewest passes that keep them apart.

What may not share a tank or a cup is what the owner's product entries say; what clashes over water
follows from what each product asks of it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations

from advisor.advice import Incompatibility, IncompatibilityKind, Over
from advisor.lawn import Product
from advisor.watering_in import WaterInNeed


def incompatibilities(
    products: Sequence[Product], needs: Mapping[str, WaterInNeed], *, cup: bool
) -> tuple[Incompatibility, ...]:
    """What among `products` does not go together, in their order, without words.

    `needs` by product; `cup`: the concentrates meet undiluted (hose-end).
    """
    found: list[Incompatibility] = []
    for one, other in combinations(products, 2):
        found += _joining(one, other, cup)
        found += _water(one, other, needs) or _water(other, one, needs)
        found += _depth(one, other, needs)
    return tuple(found)


def _joining(one: Product, other: Product, cup: bool) -> list[Incompatibility]:
    if one.kind.form != "liquid" or other.kind.form != "liquid":
        return []
    pair = (one.name, other.name)
    if other.name in one.apart_diluted or one.name in other.apart_diluted:
        return [
            Incompatibility(
                products=pair,
                over=Over.DILUTED,
                separate=True,
                kind=IncompatibilityKind.NOT_EVEN_DILUTED,
                in_cup=cup,
            )
        ]
    if other.name in one.apart_undiluted or one.name in other.apart_undiluted:
        return [
            Incompatibility(
                products=pair,
                over=Over.UNDILUTED,
                separate=cup,
                kind=IncompatibilityKind.REACTS_UNDILUTED,
                in_cup=cup,
            )
        ]
    return []


def _water(wet: Product, dry: Product, needs: Mapping[str, WaterInNeed]) -> list[Incompatibility]:
    """`wet` is due for water before `dry` may have any."""
    if needs[wet.name].target_mm <= 0.0 or dry.kind.dry_h <= 0.0:
        return []
    due_h = wet.kind.dry_h + wet.kind.due_h
    best_h = due_h if wet.kind.hurry_h is None else wet.kind.dry_h + wet.kind.hurry_h
    must = dry.kind.dry_h > due_h
    if not must and dry.kind.dry_h <= best_h:
        return []
    kind = IncompatibilityKind.DUE_BEFORE_DRY_ENDS if must else IncompatibilityKind.BEST_BEFORE_DRY_ENDS
    return [
        Incompatibility(
            products=(wet.name, dry.name),
            over=Over.WATER,
            separate=must,
            kind=kind,
            within_h=due_h if must else best_h,
            dry_h=dry.kind.dry_h,
        )
    ]


def _depth(one: Product, other: Product, needs: Mapping[str, WaterInNeed]) -> list[Incompatibility]:
    """No one depth waters both in: the least of one is above the most of the other."""
    less, more = sorted((one, other), key=lambda p: needs[p.name].most_mm)
    most, least = needs[less.name].most_mm, needs[more.name].least_mm
    if needs[less.name].target_mm <= 0.0 or least <= most:
        return []
    return [
        Incompatibility(
            products=(more.name, less.name),
            over=Over.WATER,
            separate=True,
            kind=IncompatibilityKind.NO_ONE_DEPTH,
            least_mm=least,
            most_mm=most,
        )
    ]


def fewest_passes(products: Sequence[Product], found: Sequence[Incompatibility]) -> list[list[Product]]:
    """`products` in as few groups as keep apart what must be separate (exact, by trying 1, 2, …)."""
    apart = {frozenset(c.products) for c in found if c.separate}
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
