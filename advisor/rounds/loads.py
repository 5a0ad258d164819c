"""The walks over the lawn that a round takes: what goes into each filling, in which order.

Conservation: the loads of a pass add up to its amounts, and dilution × concentrate is its water.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import ceil

from advisor.advice import Filling, Incompatibility, Load, Pass
from advisor.errors import InputError
from advisor.lawn import Product, Sprayer
from advisor.rounds.compatibility import fewest_passes
from advisor.sentences import filling_words
from advisor.units import show

TINY = 1e-9


def plan_passes(
    area_m2: float,
    products: Sequence[Product],
    sprayer: Sprayer | None,
    carrier: float | None,
    found: Sequence[Incompatibility],
    units: str,
) -> tuple[Pass, ...]:
    """The walks over the lawn: liquids joined as far as they may, what must stay dry longest first."""
    groups = fewest_passes([p for p in products if p.kind.form == "liquid"], found)
    groups += [[p] for p in products if p.kind.form != "liquid"]
    groups.sort(key=lambda group: -max(p.kind.dry_h for p in group))
    passes = []
    for number, group in enumerate(groups, start=1):
        if group[0].kind.form == "liquid" and sprayer is not None:
            passes.append(_spray(number, group, area_m2, sprayer, carrier, units))
        else:
            passes.append(_spread(number, group[0], area_m2))
    return tuple(passes)


def _spread(number: int, product: Product, area_m2: float) -> Pass:
    amount = area_m2 * (product.rate or 0.0)
    load = Load(number=1, volume_l=0.0, water_l=None, area_m2=area_m2, amounts={product.name: amount})
    return Pass(
        number=number,
        products=(product.name,),
        method="spreader",
        sprayer="",
        water_l=None,
        dilution=None,
        loads=(load,),
        filled=Filling.SPREAD,
        filling=filling_words(Filling.SPREAD, [product.name]),
    )


def _spray(
    number: int, group: Sequence[Product], area_m2: float, sprayer: Sprayer, carrier: float | None, units: str
) -> Pass:
    """One pass of liquids. A tank's spray is carrier × area, concentrates included, as a sprayer is
    calibrated; a hose-end cup holds the concentrates and the hose brings dilution × concentrate."""
    ordered = sorted(group, key=lambda p: (p.fill_order, p.name))
    amounts = {p.name: area_m2 * (p.rate or 0.0) for p in ordered}
    concentrate_l = sum(amounts.values()) / 1000.0
    in_cup = sprayer.method == "hose-end"
    if in_cup:
        volume_l = concentrate_l
        dilution = sprayer.dilution
        water_l = None if dilution is None else dilution * concentrate_l
    else:
        volume_l = area_m2 * (carrier or 0.0)
        water_l = volume_l - concentrate_l
        if water_l <= 0.0:
            raise InputError(
                "the concentrates alone are more than the carrier",
                where="--carrier",
                found=f"{show(concentrate_l, 'volume', units)} in {show(volume_l, 'volume', units)} of spray",
                allowed="a larger carrier rate or fewer products at once",
            )
        dilution = water_l / concentrate_l
    filled = Filling.CUP if in_cup else Filling.TANK
    loads = _loads(volume_l, water_l, area_m2, amounts, sprayer.tank_l)
    return Pass(
        number=number,
        products=tuple(amounts),
        method=sprayer.method,
        sprayer=sprayer.name,
        water_l=water_l,
        dilution=dilution,
        loads=loads,
        filled=filled,
        filling=filling_words(filled, list(amounts)),
    )


def _loads(
    volume_l: float, water_l: float | None, area_m2: float, amounts: Mapping[str, float], tank_l: float | None
) -> tuple[Load, ...]:
    """Full loads and a last one partly full; every load has the same strength."""
    tank = tank_l or volume_l
    count = max(1, ceil(volume_l / tank - TINY))
    shares = [tank / volume_l] * (count - 1)
    shares.append(1.0 - sum(shares))
    return tuple(
        Load(
            number=number,
            volume_l=volume_l * share,
            water_l=None if water_l is None else water_l * share,
            area_m2=area_m2 * share,
            amounts={name: amount * share for name, amount in amounts.items()},
        )
        for number, share in enumerate(shares, start=1)
    )
