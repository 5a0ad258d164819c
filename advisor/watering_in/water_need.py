"""What the way a product was put down means for watering it in.

Common practice, no source: through a hose-end sprayer that dilutes 20:1 or more a soil-applied
liquid needs no watering in; below that, or with the dilution unknown, 5–15 minutes; from a tank or
a backpack 10–15 minutes whatever the dilution. Granules and seed go by their kind.

A minute is not a depth. The minutes are read as those of fixed spray heads at `REFERENCE_MM_H`,
the quickest common sprinkler: the reading that asks for the most water.
"""

from __future__ import annotations

from typing import NamedTuple

from advisor.lawn.products import Kind, Product
from advisor.units import show

COMMON = "common practice, no source"
REFERENCE_HEAD = "fixed spray heads"
REFERENCE_MM_H = 43.18
"""What fixed spray heads usually give, 1.7 in/h: California State University, Fresno (data/heads.csv)."""

ENOUGH_DILUTION = 20.0
HOSE_END_MIN = (5.0, 15.0)
TANK_MIN = (10.0, 15.0)

LABEL_DEPTHS = frozenset({"least_mm", "target_mm", "most_mm", "least", "target", "most", "label_minutes"})
"""Names in `Product.overrides` that say the depth comes from the label."""


class WaterInNeed(NamedTuple):
    """Depth to water in with, mm (enough, aim, before loss; all 0: none), why, and on whose word."""

    least_mm: float
    target_mm: float
    most_mm: float
    words: str
    source: str


def guidance_minutes(method: str, dilution: float | None) -> tuple[float, float] | None:
    """Common practice's minutes (from, to) for a soil-applied liquid; None where it names none.

    (0, 0) is "none needed". `dilution` is water : concentrate, None when unknown. No source.
    """
    if method == "hose-end":
        return (0.0, 0.0) if dilution is not None and dilution >= ENOUGH_DILUTION else HOSE_END_MIN
    return TANK_MIN if method in ("tank", "backpack") else None


def label_sets_depth(product: Product) -> bool:
    """Whether the product's label, not its kind, says how much water."""
    return not LABEL_DEPTHS.isdisjoint(product.overrides)


def water_in_need(
    kind: Kind, method: str, dilution: float | None, *, from_label: bool = False, units: str = "metric"
) -> WaterInNeed:
    """What `kind` put down by `method` at `dilution` asks of water, mm.

    The minutes of common practice move only a soil-applied liquid whose own depths are common
    practice too: a published depth, or the label's (`from_label`), stands. Where the minutes ask for
    more than the kind, more is taken: least up to the kind's target, target up to the kind's most.
    `units` ("metric" or "us") is what the words show.
    """
    least, target, most = kind.least_mm, kind.target_mm, kind.most_mm
    if target <= 0.0:
        return WaterInNeed(least, target, most, _no_water(kind), kind.source)
    if from_label:
        return WaterInNeed(least, target, most, "the label's depth stands", "the label")
    minutes = guidance_minutes(method, dilution)
    if minutes is None or kind.form != "liquid":
        return WaterInNeed(least, target, most, "by its kind, however it is put down", kind.source)
    if kind.source != COMMON:
        words = "its kind's published depth stands, however it is put down or diluted"
        return WaterInNeed(least, target, most, words, kind.source)
    how = _how(method, dilution)
    if minutes[1] == 0.0:
        return WaterInNeed(0.0, 0.0, 0.0, f"{how}: no watering in needed", COMMON)
    low, high = (REFERENCE_MM_H * m / 60.0 for m in minutes)
    words = (
        f"{how}: {minutes[0]:g}–{minutes[1]:g} minutes of {REFERENCE_HEAD} at "
        f"{show(REFERENCE_MM_H, 'rate', units)}, which is {_range(low, high, units)}; "
        f"the kind alone asks {_range(least, most, units)}"
    )
    return WaterInNeed(
        max(least, min(low, target)), min(max(target, (low + high) / 2.0), most), most, words, COMMON
    )


def _no_water(kind: Kind) -> str:
    if kind.light_runs_per_day:
        return f"kept moist with {kind.light_runs_per_day} light runs a day"
    if kind.water_night_after:
        return f"to stay dry for {kind.dry_h:g} h, then watered the night after"
    return f"to stay dry for {kind.dry_h:g} h" if kind.dry_h > 0.0 else "no watering in asked"


def _how(method: str, dilution: float | None) -> str:
    if method != "hose-end":
        return f"from a {method}{' sprayer' if method == 'backpack' else ''}, whatever the dilution"
    if dilution is None:
        return "through a hose-end sprayer of unknown dilution"
    side = "or more" if dilution >= ENOUGH_DILUTION else "is not reached"
    return f"through a hose-end sprayer at {dilution:g}:1 ({ENOUGH_DILUTION:g}:1 {side})"


def _range(low_mm: float, high_mm: float, units: str) -> str:
    return f"{show(low_mm, 'depth', units)} to {show(high_mm, 'depth', units)}"
