"""Today's round: how much of each product, in how much water, in how many loads, and what not to join.

Pure arithmetic on the owner's own rates. Conservation: the loads add up to the amounts, and
dilution × concentrate is the water.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from math import floor
from typing import Literal

from advisor.advice.cautions import Caution
from advisor.advice.frozen import Frozen
from advisor.errors import InputError, ManyProblems
from advisor.lawn.products import Product
from advisor.lawn.records import StockChange
from advisor.lawn.site_values import Span, Sprayer
from advisor.rounds.cautions import mix_cautions
from advisor.rounds.compatibility import Clash, find_clashes
from advisor.rounds.loads import Pass, plan_passes
from advisor.units import show
from advisor.watering_in.water_need import WaterInNeed, label_sets_depth, water_in_need

SCHEMA = "advisor.mix/1"
TINY = 1e-9


class Need(Frozen):
    """What one product, put down this way, asks of water; depths mm, 0 when none; `dry_h` hours."""

    least_mm: float
    target_mm: float
    most_mm: float
    within_h: float | None
    dry_h: float
    words: str
    source: str


class Item(Frozen):
    """One product of the round. `rate` and `amount` in `unit` ("mL" or "g") per m² and in all.

    `rounds_left` counts this round; None when the stock is not tracked. `short` is what is missing
    for this one round, `lasts_until` the local date of the last round that the stock covers.
    """

    product: str
    kind: str
    form: str
    unit: Literal["mL", "g"]
    rate: float
    amount: float
    need: Need
    stock: float | None
    rounds_left: int | None
    short: float
    lasts_until: date | None


class Mix(Frozen):
    """A round worked out for one area; schema `advisor.mix/1`, SI inside."""

    schema_version: Literal["advisor.mix/1"] = "advisor.mix/1"
    day: date
    area_m2: float
    zones: tuple[str, ...]
    items: tuple[Item, ...]
    passes: tuple[Pass, ...]
    clashes: tuple[Clash, ...]
    runs_out_first: tuple[str, ...]
    warnings: tuple[str, ...]
    cautions: tuple[Caution, ...]


def plan_mix(
    *,
    area_m2: float,
    products: Sequence[Product],
    sprayer: Sprayer | None,
    day: date,
    carrier_l_m2: float | None = None,
    stock: Mapping[str, float] | None = None,
    zones: Sequence[str] = (),
    blackouts: Sequence[Span] = (),
    units: str = "metric",
    beware: Sequence[str] = (),
) -> Mix:
    """Work out the round of `products` on `area_m2`, put down on the local date `day`.

    `carrier_l_m2` (L of spray per m², concentrates included) overrides the sprayer's. `stock` is
    what is on hand by product, mL or g; a product missing from it is not tracked. `units` is what
    the words show; `beware` is told before all else. Raises ManyProblems with all that is missing: rates, a sprayer, its carrier.
    """
    carrier = carrier_l_m2 if carrier_l_m2 is not None else sprayer.carrier_l_m2 if sprayer else None
    products = list({p.name: p for p in products}.values())
    _check(area_m2, products, sprayer, carrier)
    needs = {p.name: _need(p, sprayer, units) for p in products}
    found = find_clashes(
        products, needs, cup=sprayer is not None and sprayer.method == "hose-end", units=units
    )
    passes = plan_passes(area_m2, products, sprayer, carrier, found, units)
    items = tuple(_item(p, area_m2, needs[p.name], (stock or {}).get(p.name), day) for p in products)
    return Mix(
        day=day,
        area_m2=area_m2,
        zones=tuple(zones),
        items=items,
        passes=passes,
        clashes=found,
        runs_out_first=_runs_out_first(items),
        warnings=(*beware, *_warnings(products, items, passes, day, blackouts, units)),
        cautions=mix_cautions(products),
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


def _check(
    area_m2: float, products: Sequence[Product], sprayer: Sprayer | None, carrier: float | None
) -> None:
    problems = []
    if not products:
        problems.append(InputError("a mix needs at least one product", where="advisor mix"))
    if not area_m2 > 0.0:
        problems.append(InputError("the area is nothing", where="advisor mix", found=f"{area_m2:g} m²"))
    for product in products:
        if product.rate is None or product.rate <= 0.0:
            what = f"{product.name} has no rate, so its amount cannot be worked out"
            problems.append(InputError(what, where="products", allowed="`rate:` in the site file"))
    liquid = [p.name for p in products if p.kind.form == "liquid"]
    if liquid and sprayer is None:
        problems.append(
            InputError(f"{', '.join(liquid)}: a liquid needs a sprayer", where="--sprayer", found="none")
        )
    elif liquid and sprayer is not None:
        problems += _sprayer_problems(sprayer, carrier)
    if problems:
        raise ManyProblems(problems)


def _sprayer_problems(sprayer: Sprayer, carrier: float | None) -> list[InputError]:
    if sprayer.method not in ("tank", "backpack", "hose-end"):
        allowed = "one that is a tank, a backpack or a hose-end sprayer"
        found = f"{sprayer.name} ({sprayer.method})"
        return [InputError("liquids need a sprayer", where="--sprayer", found=found, allowed=allowed)]
    if sprayer.method != "hose-end" and not carrier:
        what = f"{sprayer.name} has no carrier rate, so its water cannot be worked out"
        allowed = "--carrier '1 gal/1000 sq ft' or the sprayer's `carrier:` in the site file"
        return [InputError(what, where="--carrier", allowed=allowed)]
    return []


def _need(product: Product, sprayer: Sprayer | None, units: str) -> WaterInNeed:
    liquid = product.kind.form == "liquid" and sprayer is not None
    method = sprayer.method if liquid and sprayer else "spreader"
    dilution = sprayer.dilution if liquid and sprayer else None
    return water_in_need(product.kind, method, dilution, from_label=label_sets_depth(product), units=units)


def _item(product: Product, area_m2: float, need: WaterInNeed, stock: float | None, day: date) -> Item:
    amount = area_m2 * (product.rate or 0.0)
    left = None if stock is None else floor(max(stock, 0.0) / amount + TINY)
    lasts = None
    if left and product.interval_days:
        lasts = day + timedelta(days=(left - 1) * product.interval_days)
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
            words=need.words,
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
    products: Sequence[Product],
    items: Sequence[Item],
    passes: Sequence[Pass],
    day: date,
    blackouts: Sequence[Span],
    units: str,
) -> tuple[str, ...]:
    said = [
        f"{i.product}: the stock of {amount_text(i.stock, i.unit, units)} "
        f"is {amount_text(i.short, i.unit, units)} short of this round"
        for i in items
        if i.short > TINY and i.stock is not None
    ]
    said += [
        f"{p.name} is not to go down before {p.no_apply_before.isoformat()}"
        for p in products
        if p.no_apply_before is not None and day < p.no_apply_before
    ]
    said += [
        f"{day.isoformat()} is in the blackout {s.first.isoformat()} to {s.last.isoformat()}"
        f"{f' ({s.why})' if s.why else ''}"
        for s in blackouts
        if s.first <= day <= s.last
    ]
    said += [
        f"{p.name} wants wet leaves at spreading: water lightly just before"
        for p in products
        if p.kind.wet_foliage_first
    ]
    unknown = [p.sprayer for p in passes if p.method == "hose-end" and p.dilution is None]
    if unknown:
        said.append(f"the dilution of {unknown[0]} is not known, so its water cannot be told")
    return tuple(said)


def amount_text(amount: float, unit: str, units: str) -> str:
    """An amount of product in mL or g in the owner's units."""
    return show(amount, "small volume" if unit == "mL" else "mass", units)
