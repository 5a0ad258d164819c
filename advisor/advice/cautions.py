"""Cautions as data: what to mind, about which products and zones."""

from __future__ import annotations

from enum import StrEnum

from advisor.advice.frozen import Frozen


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


class Caution(Frozen):
    """One caution: what it is about, whom it concerns, and the sentence for it."""

    topic: CautionTopic
    """What it is about."""
    text: str
    """The caution in a sentence."""
    products: tuple[str, ...] = ()
    """The products that it goes with; none where it holds for all."""
    zones: tuple[str, ...] = ()
    """The zones that it goes with; none where it holds for all."""
