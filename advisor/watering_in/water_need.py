"""What the way a product was put down means for watering it in.

Common practice, no source: through a hose-end sprayer that dilutes 20:1 or more a soil-applied
liquid needs no watering in; below that, or with the dilution unknown, 5–15 minutes; from a tank or
a backpack 10–15 minutes whatever the dilution. Granules and seed go by their kind.

A minute is not a depth. The minutes are read as those of fixed spray heads at `REFERENCE_MM_H`,
the quickest common sprinkler: the reading that asks for the most water.
"""

from __future__ import annotations

from typing import NamedTuple

from advisor.advice import NeedBasis, NeedReason
from advisor.lawn import Kind, NeedJudged, Product

COMMON = "common practice, no source"
REFERENCE_MM_H = 43.18
"""What fixed spray heads usually give, 1.7 in/h: California State University, Fresno (data/heads.csv)."""

LABEL_DEPTHS = frozenset({"least_mm", "target_mm", "most_mm", "least", "target", "most", "label_minutes"})
"""Names in `Product.overrides` that say the depth comes from the label."""


class WaterInNeed(NamedTuple):
    """Depth to water in with, mm (enough, aim, before loss; all 0: none), why, and on whose word."""

    least_mm: float
    target_mm: float
    most_mm: float
    reason: NeedReason
    source: str


def guidance_minutes(method: str, dilution: float | None, judged: NeedJudged) -> tuple[float, float] | None:
    """Common practice's minutes (from, to) for a soil-applied liquid; None where it names none.

    (0, 0) is "none needed". `dilution` is water : concentrate, None when unknown. No source.
    """
    if method == "hose-end":
        enough = dilution is not None and dilution >= judged.enough_dilution
        return (0.0, 0.0) if enough else (judged.hose_end_low_min, judged.hose_end_high_min)
    return (judged.tank_low_min, judged.tank_high_min) if method in ("tank", "backpack") else None


def label_sets_depth(product: Product) -> bool:
    """Whether the product's label, not its kind, says how much water."""
    return not LABEL_DEPTHS.isdisjoint(product.overrides)


def water_in_need(
    kind: Kind, method: str, dilution: float | None, *, judged: NeedJudged, from_label: bool = False
) -> WaterInNeed:
    """What `kind` put down by `method` at `dilution` asks of water, mm.

    The minutes of common practice move only a soil-applied liquid whose own depths are common
    practice too: a published depth, or the label's (`from_label`), stands. Where the minutes ask for
    more than the kind, more is taken: least up to the kind's target, target up to the kind's most.
    """
    least, target, most = kind.least_mm, kind.target_mm, kind.most_mm
    if target <= 0.0:
        return WaterInNeed(least, target, most, _no_water(kind), kind.source)
    if from_label:
        return WaterInNeed(least, target, most, NeedReason(basis=NeedBasis.LABEL), "the label")
    minutes = guidance_minutes(method, dilution, judged)
    if minutes is None or kind.form != "liquid":
        return WaterInNeed(least, target, most, NeedReason(basis=NeedBasis.KIND), kind.source)
    if kind.source != COMMON:
        return WaterInNeed(least, target, most, NeedReason(basis=NeedBasis.PUBLISHED), kind.source)
    if minutes[1] == 0.0:
        enough = NeedReason(
            basis=NeedBasis.DILUTED, method=method, dilution=dilution, enough_dilution=judged.enough_dilution
        )
        return WaterInNeed(0.0, 0.0, 0.0, enough, COMMON)
    reason = NeedReason(
        basis=NeedBasis.MINUTES,
        method=method,
        dilution=dilution,
        enough_dilution=judged.enough_dilution,
        low_minutes=minutes[0],
        high_minutes=minutes[1],
        rate_mm_h=REFERENCE_MM_H,
        kind_least_mm=least,
        kind_most_mm=most,
    )
    low, high = (REFERENCE_MM_H * m / 60.0 for m in minutes)
    aim = min(max(target, (low + high) / 2.0), most)
    return WaterInNeed(max(least, min(low, target)), aim, most, reason, COMMON)


def _no_water(kind: Kind) -> NeedReason:
    if kind.light_runs_per_day:
        return NeedReason(basis=NeedBasis.KEPT_MOIST, light_runs_per_day=kind.light_runs_per_day)
    if kind.water_night_after:
        return NeedReason(basis=NeedBasis.NIGHT_AFTER, dry_h=kind.dry_h)
    if kind.dry_h > 0.0:
        return NeedReason(basis=NeedBasis.STAYS_DRY, dry_h=kind.dry_h)
    return NeedReason(basis=NeedBasis.NOT_ASKED)
