"""Sentences about watering in: why so much water is asked, and what equipment an answer takes for granted."""

from __future__ import annotations

from advisor.advice import Asking, Equipment, EquipmentBasis, NeedBasis, NeedReason
from advisor.units import show


def need_words(reason: NeedReason, units: str) -> str:
    """Why an application asks so much water, as a part of a sentence; `units` "metric" or "us"."""
    match reason.basis:
        case NeedBasis.NOT_ASKED:
            return "no watering in asked"
        case NeedBasis.KEPT_MOIST:
            return f"kept moist with {reason.light_runs_per_day} light runs a day"
        case NeedBasis.NIGHT_AFTER:
            return f"to stay dry for {reason.dry_h:g} h, then watered the night after"
        case NeedBasis.STAYS_DRY:
            return f"to stay dry for {reason.dry_h:g} h"
        case NeedBasis.LABEL:
            return "the label's depth stands"
        case NeedBasis.KIND:
            return "by its kind, however it is put down"
        case NeedBasis.PUBLISHED:
            return "its kind's published depth stands, however it is put down or diluted"
        case NeedBasis.DILUTED:
            return f"{_how(reason)}: no watering in needed"
        case NeedBasis.MINUTES:
            return _minutes(reason, units)


def _minutes(reason: NeedReason, units: str) -> str:
    low, high, rate = reason.low_minutes or 0.0, reason.high_minutes or 0.0, reason.rate_mm_h or 0.0
    return (
        f"{_how(reason)}: {low:g}–{high:g} minutes of fixed spray heads at {show(rate, 'rate', units)}, "
        f"which is {_range(rate * low / 60.0, rate * high / 60.0, units)}; "
        f"the kind alone asks {_range(reason.kind_least_mm or 0.0, reason.kind_most_mm or 0.0, units)}"
    )


def _how(reason: NeedReason) -> str:
    if reason.method != "hose-end":
        sprayer = " sprayer" if reason.method == "backpack" else ""
        return f"from a {reason.method}{sprayer}, whatever the dilution"
    if reason.dilution is None:
        return "through a hose-end sprayer of unknown dilution"
    side = "or more" if reason.basis == NeedBasis.DILUTED else "is not reached"
    return f"through a hose-end sprayer at {reason.dilution:g}:1 ({reason.enough_dilution:g}:1 {side})"


def _range(low_mm: float, high_mm: float, units: str) -> str:
    return f"{show(low_mm, 'depth', units)} to {show(high_mm, 'depth', units)}"


_OTHERWISE = {
    Asking.RAIN: "if not, say --method",
    Asking.RECORD: "if not, say --method",
    Asking.MIX: "if not, say --sprayer",
    Asking.NEXT_ROUND: "if not, give the round its sprayer in the site file",
}
_WHY = {
    EquipmentBasis.ONLY_SPRAYER: "your only sprayer",
    EquipmentBasis.MOST_WATER: "of your sprayers the one that asks the most water",
    EquipmentBasis.FIRST: "the first of your sprayers, which ask the same water",
    EquipmentBasis.NONE_DECLARED: "as the site file declares no sprayer",
}


def equipment_words(equipment: Equipment, asking: Asking) -> str:
    """What an answer takes for granted about the equipment, and how to say otherwise; "" when nothing."""
    if equipment.is_sure:
        return ""
    by = equipment.name or f"a {equipment.method}"
    return f"Taken as put down with {by}, {_WHY[equipment.basis]}; {_OTHERWISE[asking]}."
