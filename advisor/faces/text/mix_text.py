"""A mix in plain text: first what to pour, then what it means, then what to mind. Computes nothing."""

from __future__ import annotations

from advisor.advice import Item, Load, Mix, Pass
from advisor.faces.text.paragraphs import bullets, columns, wrapped
from advisor.units import show
from advisor.wording import INVENTED, listed, long_day


def mix_text(mix: Mix, units: str, *, width: int, demo: bool = False) -> str:
    """The whole mix for a terminal of `width` columns, in the owner's `units`."""
    title = f"Round of {long_day(mix.day, year=True)}: {show(mix.area_m2, 'area', units)}"
    if mix.zones:
        title += f" ({', '.join(mix.zones)})"
    lines = [title, "=" * min(len(title), width)]
    if demo:
        lines.append(INVENTED)
    lines += wrapped(mix.equipment_note, width)
    if mix.warnings:
        lines += ["", "Before anything else", *bullets(mix.warnings, width)]
    if mix.clashes:
        lines += ["", "Mind together", *bullets((f"{c.words}: {c.way_out}." for c in mix.clashes), width)]
    lines += ["", "How much", *columns([_amount(i) for i in mix.items])]
    for each in mix.passes:
        lines += ["", *_pass(each, mix, units, width)]
    lines += ["", "What it means for watering in"]
    lines += bullets(_needs(mix, units), width)
    if any(item.stock is not None for item in mix.items):
        lines += ["", "Stock", *bullets(_stock(mix), width)]
    lines += ["", "Take care", *bullets((c.text for c in mix.cautions), width)]
    return "\n".join(lines) + "\n"


def _both(amount: float, unit: str) -> tuple[str, str]:
    """An amount in metric and in US units, whichever the owner thinks in."""
    dimension = "small volume" if unit == "mL" else "mass"
    return show(amount, dimension, "metric"), show(amount, dimension, "us")


def _amount(item: Item) -> list[str]:
    rate = "liquid rate" if item.unit == "mL" else "granule rate"
    metric, us = _both(item.amount, item.unit)
    return [
        item.product,
        metric,
        us,
        f"at {show(item.rate, rate, 'metric')}",
        f"({show(item.rate, rate, 'us')})",
    ]


def _pass(each: Pass, mix: Mix, units: str, width: int) -> list[str]:
    number = f"{each.number}. " if len(mix.passes) > 1 else ""
    together = " together" if len(each.products) > 1 else ""
    by = f" with {each.sprayer}" if each.sprayer else " with a spreader"
    lines = wrapped(f"{number}{listed(each.products)}{together}{by}", width)
    if each.method == "spreader":
        return lines + bullets(each.filling, width)
    if each.water_l is not None and each.dilution is not None:
        brings = "the hose brings " if each.method == "hose-end" else ""
        count = f"{len(each.loads)} filling{'s' if len(each.loads) > 1 else ''}"
        lines.append(
            f"  {count}; {brings}{show(each.water_l, 'volume', units)} of water in all, "
            f"diluted {show(each.dilution, 'dilution', digits=1)}"
        )
    return lines + columns(_fillings(each, units)) + bullets(each.filling, width)


def _fillings(each: Pass, units: str) -> list[list[str]]:
    """A column for the full fillings, which are all alike, and one for a last one partly full."""
    full = [load for load in each.loads if load.volume_l >= each.loads[0].volume_l * (1 - 1e-9)]
    kinds = {_numbers(full): full[0]}
    if len(full) < len(each.loads):
        kinds[f"Filling {each.loads[-1].number}, partly full"] = each.loads[-1]
    rows = [["", *kinds], ["For", *(show(load.area_m2, "area", units) for load in kinds.values())]]
    if each.method != "hose-end":
        rows.append(
            ["Half with water", *(show(load.volume_l / 2, "volume", units) for load in kinds.values())]
        )
    for product in each.products:
        pours = [_both(load.amounts[product], "mL") for load in kinds.values()]
        rows.append([product, *(us if units == "us" else metric for metric, us in pours)])
    if each.method == "hose-end":
        cups = [show(load.volume_l * 1000, "small volume", units) for load in kinds.values()]
        return [*rows, ["In the cup", *cups]]
    return [*rows, ["Top up to", *(show(load.volume_l, "volume", units) for load in kinds.values())]]


def _numbers(loads: list[Load]) -> str:
    first, last = loads[0].number, loads[-1].number
    return f"Filling {first}" if first == last else f"Fillings {first}–{last}, each"


def _needs(mix: Mix, units: str) -> list[str]:
    """What each product asks of water, those that ask the same told once."""
    told: dict[str, list[str]] = {}
    for item in mix.items:
        told.setdefault(_need(item, units), []).append(item.product)
    return [f"{listed(products)}: {words}" for words, products in told.items()]


def _need(item: Item, units: str) -> str:
    need = item.need
    if need.target_mm <= 0.0:
        return f"{need.words} ({need.source})."
    within = f" within {need.within_h:g} h" if need.within_h else ""
    after = f" of the end of its dry period of {need.dry_h:g} h" if need.dry_h > 0 and within else ""
    depth, least, most = (show(mm, "depth", units) for mm in (need.target_mm, need.least_mm, need.most_mm))
    return (
        f"{depth}{within}{after}, at least {least}, at most {most}; {need.words} ({need.source}). "
        f"In minutes: advisor runtime --depth '{depth}'."
    )


def _stock(mix: Mix) -> list[str]:
    said = []
    for item in mix.items:
        if item.stock is None or item.rounds_left is None:
            continue
        rounds = (
            f"{item.rounds_left} round{'' if item.rounds_left == 1 else 's'} like this one, this included"
        )
        last = f", the last on {item.lasts_until.isoformat()}" if item.lasts_until else ""
        metric, us = _both(item.stock, item.unit)
        said.append(f"{item.product}: {metric} ({us}) is enough for {rounds}{last}.")
    if len(mix.runs_out_first) > 1:
        said.append(f"They run out together: {', '.join(mix.runs_out_first)}.")
    elif mix.runs_out_first and len(said) > 1:
        said.append(f"Runs out first: {mix.runs_out_first[0]}.")
    return said
