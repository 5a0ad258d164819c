"""Cautions as data: what to mind, about which products and zones, and who asks for them."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from enum import StrEnum

from advisor.advice.frozen import Frozen
from advisor.lawn import CautionKind

__all__ = ["TOPIC", "Asking", "Caution", "CautionKind", "CautionTopic", "concerns"]


class Asking(StrEnum):
    """Which answer asks: what is minded, and how it is said, hangs on the moment."""

    TONIGHT = "tonight"
    RAIN = "rain"
    MIX = "mix"
    NEXT_ROUND = "next round"
    RECORD = "record"
    AUDIT = "audit"
    RUN_TIME = "run time"
    CLOCK_SHEET = "clock sheet"


class CautionTopic(StrEnum):
    """What a caution is about."""

    SEED = "seed"
    LABEL = "label"
    RE_ENTRY = "re-entry"
    CLOTHING = "clothing"
    HEAVY_RAIN = "heavy rain"
    HARD_SURFACES = "hard surfaces"
    WATER = "water"
    PRODUCT = "product"
    RUNOFF = "runoff"
    BACKFLOW = "backflow"
    ICE = "ice"
    LOCAL_RULES = "local rules"
    CLOCK = "clock"


TOPIC: Mapping[CautionKind, CautionTopic] = {
    CautionKind.LABEL: CautionTopic.LABEL,
    CautionKind.STAY_OFF: CautionTopic.RE_ENTRY,
    CautionKind.GLOVES: CautionTopic.CLOTHING,
    CautionKind.HARD_SURFACES: CautionTopic.HARD_SURFACES,
    CautionKind.BUFFER: CautionTopic.WATER,
    CautionKind.MONTHS: CautionTopic.WATER,
    CautionKind.AIR_GAP: CautionTopic.BACKFLOW,
    CautionKind.SWEEP: CautionTopic.HARD_SURFACES,
    CautionKind.HEAVY_RAIN: CautionTopic.HEAVY_RAIN,
    CautionKind.DRY_LEAVES: CautionTopic.PRODUCT,
    CautionKind.LIGHT_SHOWERS: CautionTopic.PRODUCT,
    CautionKind.WET_LEAVES: CautionTopic.PRODUCT,
    CautionKind.IRON: CautionTopic.PRODUCT,
    CautionKind.BEES: CautionTopic.PRODUCT,
    CautionKind.MOW_FIRST: CautionTopic.PRODUCT,
    CautionKind.NO_BAG: CautionTopic.PRODUCT,
    CautionKind.NO_SEED: CautionTopic.PRODUCT,
    CautionKind.BURNS: CautionTopic.PRODUCT,
    CautionKind.SEED_LABEL: CautionTopic.PRODUCT,
    CautionKind.KEEP_OFF: CautionTopic.PRODUCT,
    CautionKind.SHORTEN: CautionTopic.PRODUCT,
    CautionKind.OWN: CautionTopic.PRODUCT,
    CautionKind.HARMS_SEED: CautionTopic.SEED,
    CautionKind.MAY_NOT_GROW: CautionTopic.SEED,
    CautionKind.RAN_OFF: CautionTopic.RUNOFF,
    CautionKind.BACKFLOW: CautionTopic.BACKFLOW,
    CautionKind.STANDING_WATER: CautionTopic.RUNOFF,
    CautionKind.FREEZING: CautionTopic.ICE,
    CautionKind.WET_PAVING: CautionTopic.ICE,
    CautionKind.CLEAN_CANS: CautionTopic.CLOTHING,
    CautionKind.LOCAL_RULES: CautionTopic.LOCAL_RULES,
    CautionKind.CLOCK_OFF: CautionTopic.CLOCK,
    CautionKind.KEPT_BEFORE: CautionTopic.PRODUCT,
}
"""What each caution is about."""


class Caution(Frozen):
    """One caution: what it says, whom it concerns, and the sentence for it."""

    topic: CautionTopic
    """What it is about."""
    kind: CautionKind
    """What it says; "own" for the owner's own words about a product."""
    products: tuple[str, ...] = ()
    """The products that it goes with; none where it holds for all."""
    zones: tuple[str, ...] = ()
    """The zones that it goes with; none where it holds for all."""
    text: str = ""
    """The caution in a sentence."""


def concerns(caution: Caution, products: Collection[str]) -> bool:
    """Whether a caution matters to who asks about some products.

    It does unless it is about others alone; what ran off matters to whoever thinks of putting down again.
    """
    alone = caution.products and caution.kind != CautionKind.RAN_OFF
    return not alone or not set(products).isdisjoint(caution.products)
