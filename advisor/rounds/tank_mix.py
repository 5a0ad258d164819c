"""Today's round: how much of each product, in how much water, in how many loads, and what not to join.

Pure arithmetic on the owner's own rates. Conservation: the loads add up to the amounts, and
dilution × concentrate is the water.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from math import floor

from advisor.advice import Asking, Equipment, Item, Mix, MixWarning, Need, Pass, WarningKind
from advisor.errors import InputError, ManyProblems
from advisor.lawn import (
    DateSpan,
    Judgement,
    Product,
    SeedConflict,
    Sprayer,
    StockChange,
    shipped_judgement,
)
from advisor.rounds.compatibility import incompatibilities
from advisor.rounds.loads import plan_passes
from advisor.sentences import (
    equipment_words,
    incompatibilities_told,
    need_words,
    seed_conflict_words,
    warning_words,
)
from advisor.watering_in import LIQUID_METHODS, PutDown, WaterInNeed, cautions_for, need_with

TINY = 1e-9


@dataclass(frozen=True, slots=True)
class MixAsked:
    """A round to be worked out on `area_m2`, put down on the local date `day`.

    `equipment` is what it is put down with, `sprayer` the declared piece that this names, None where
    nothing is sprayed or none is declared. `carrier_l_m2` (L of spray per m², concentrates included)
    overrides the sprayer's. `stock` is what is on hand by product, mL or g; a product missing from it is
    not tracked. `seed` is what of it does not go with seed, `units` what the words show.
    """

    area_m2: float
    products: tuple[Product, ...]
    equipment: Equipment
    sprayer: Sprayer | None
    day: date
    carrier_l_m2: float | None = None
    stock: Mapping[str, float] = field(default_factory=dict)
    zones: tuple[str, ...] = ()
    blackouts: tuple[DateSpan, ...] = ()
    units: str = "metric"
    seed: tuple[SeedConflict, ...] = ()
    judgement: Judgement = field(default_factory=shipped_judgement)

    @property
    def carrier(self) -> float | None:
        """The carrier rate that counts, L/m²."""
        if self.carrier_l_m2 is not None:
            return self.carrier_l_m2
        return None if self.sprayer is None else self.sprayer.carrier_l_m2


def plan_mix(asked: MixAsked) -> Mix:
    """Work out a round. Raises ManyProblems with all that is missing: rates, a sprayer, its carrier."""
    products = list({p.name: p for p in asked.products}.values())
    _check(asked, products)
    needs = {p.name: need_with(p, asked.equipment, asked.judgement.need) for p in products}
    found = incompatibilities(products, needs, cup=asked.equipment.method == "hose-end")
    passes = plan_passes(asked.area_m2, products, asked.sprayer, asked.carrier, found, asked.units)
    items = tuple(_item(asked, p, needs[p.name]) for p in products)
    warnings = tuple(
        warning.model_copy(update={"text": warning_words(warning, asked.units)})
        for warning in _warnings(asked, products, items, passes)
    )
    return Mix(
        day=asked.day,
        area_m2=asked.area_m2,
        zones=asked.zones,
        equipment=asked.equipment,
        equipment_note=equipment_words(asked.equipment, Asking.MIX),
        items=items,
        passes=passes,
        clashes=incompatibilities_told(found, asked.units),
        runs_out_first=_runs_out_first(items),
        warnings=tuple(warning.text for warning in warnings),
        warning_facts=warnings,
        cautions=cautions_for(Asking.MIX, [PutDown(p, asked.zones) for p in products]),
    )


def on_hand(products: Sequence[Product], changes: Sequence[StockChange]) -> dict[str, float]:
    """What is left of each product, mL or g: the site file's stock and every recorded change to it.

    A product with neither is not tracked and is left out.
    """
    left: dict[str, float] = {}
    for product in products:
        moved = [c.amount for c in changes if c.product == product.name]
        if product.stock is not None or moved:
            left[product.name] = max((product.stock or 0.0) + sum(moved), 0.0)
    return left


def _check(asked: MixAsked, products: Sequence[Product]) -> None:
    problems = []
    if not products:
        problems.append(InputError("a mix needs at least one product", where="advisor mix"))
    if not asked.area_m2 > 0.0:
        problems.append(InputError("the area is nothing", where="advisor mix", found=f"{asked.area_m2:g} m²"))
    for product in products:
        if product.rate is None or product.rate <= 0.0:
            what = f"{product.name} has no rate, so its amount cannot be worked out"
            problems.append(InputError(what, where="products", allowed="`rate:` in the site file"))
    liquid = [p.name for p in products if p.kind.form == "liquid"]
    if liquid and asked.sprayer is None:
        problems.append(
            InputError(f"{', '.join(liquid)}: a liquid needs a sprayer", where="--sprayer", found="none")
        )
    elif liquid and asked.sprayer is not None:
        problems += _sprayer_problems(asked.sprayer, asked.carrier)
    if problems:
        raise ManyProblems(problems)


def _sprayer_problems(sprayer: Sprayer, carrier: float | None) -> list[InputError]:
    if sprayer.method not in LIQUID_METHODS:
        allowed = "one that is a tank, a backpack or a hose-end sprayer"
        found = f"{sprayer.name} ({sprayer.method})"
        return [InputError("liquids need a sprayer", where="--sprayer", found=found, allowed=allowed)]
    if sprayer.method != "hose-end" and not carrier:
        what = f"{sprayer.name} has no carrier rate, so its water cannot be worked out"
        allowed = "--carrier '1 gal/1000 sq ft' or the sprayer's `carrier:` in the site file"
        return [InputError(what, where="--carrier", allowed=allowed)]
    return []


def _item(asked: MixAsked, product: Product, need: WaterInNeed) -> Item:
    stock = asked.stock.get(product.name)
    amount = asked.area_m2 * (product.rate or 0.0)
    left = None if stock is None else floor(max(stock, 0.0) / amount + TINY)
    lasts = None
    if left and product.interval_days:
        lasts = asked.day + timedelta(days=(left - 1) * product.interval_days)
    return Item(
        product=product.name,
        kind=product.kind.name,
        form=product.kind.form,
        unit="mL" if product.kind.form == "liquid" else "g",
        rate=product.rate or 0.0,
        amount=amount,
        need=Need(
            least_mm=need.least_mm,
            target_mm=need.target_mm,
            most_mm=need.most_mm,
            within_h=product.kind.within_h if need.target_mm > 0.0 else None,
            dry_h=product.kind.dry_h,
            reason=need.reason,
            words=need_words(need.reason, asked.units),
            source=need.source,
        ),
        stock=stock,
        rounds_left=left,
        short=0.0 if stock is None else max(0.0, amount - stock),
        lasts_until=lasts,
    )


def _runs_out_first(items: Sequence[Item]) -> tuple[str, ...]:
    """The tracked products with the fewest whole rounds left; several when they run out together."""
    tracked = [(i.rounds_left, i.product) for i in items if i.rounds_left is not None]
    fewest = min((left for left, _ in tracked), default=0)
    return tuple(name for left, name in tracked if left == fewest)


def _warnings(
    asked: MixAsked, products: Sequence[Product], items: Sequence[Item], passes: Sequence[Pass]
) -> Iterable[MixWarning]:
    """What to know before anything else, the gravest first."""
    for met in asked.seed:
        yield MixWarning(
            kind=WarningKind.SEED, product=met.product, zone=met.zone, text=seed_conflict_words(met)
        )
    for item in items:
        if item.stock is not None and item.short > TINY:
            yield MixWarning(
                kind=WarningKind.STOCK_SHORT,
                product=item.product,
                amount=item.stock,
                short=item.short,
                unit=item.unit,
            )
    for product in products:
        if product.no_apply_before is not None and asked.day < product.no_apply_before:
            yield MixWarning(kind=WarningKind.TOO_EARLY, product=product.name, day=product.no_apply_before)
    for span in asked.blackouts:
        if span.first <= asked.day <= span.last:
            yield MixWarning(
                kind=WarningKind.BLACKOUT, day=asked.day, first=span.first, last=span.last, why=span.why
            )
    for product in products:
        if product.kind.wet_foliage_first:
            yield MixWarning(kind=WarningKind.WET_LEAVES_FIRST, product=product.name)
    unknown = next((p.sprayer for p in passes if p.method == "hose-end" and p.dilution is None), None)
    if unknown is not None:
        yield MixWarning(kind=WarningKind.DILUTION_UNKNOWN, product=unknown)
