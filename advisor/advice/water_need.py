"""Why an application asks as much water as it does, and with what it was put down: as data."""

from __future__ import annotations

from enum import StrEnum

from advisor.advice.frozen import Frozen


class NeedBasis(StrEnum):
    """What the depth to water in with rests on."""

    NOT_ASKED = "no watering in asked"
    KEPT_MOIST = "kept moist"
    STAYS_DRY = "stays dry"
    NIGHT_AFTER = "watered the night after"
    LABEL = "label"
    KIND = "kind"
    PUBLISHED = "published depth"
    DILUTED = "diluted enough"
    MINUTES = "minutes of common practice"


class NeedReason(Frozen):
    """Why so much water, with the numbers of its basis; none where they play no part."""

    basis: NeedBasis
    """What the depth rests on."""
    method: str = ""
    """How it is put down: "tank", "backpack" or "hose-end"."""
    dilution: float | None = None
    """Water per concentrate, 20.0 for 20:1; none when unknown or not asked about."""
    enough_dilution: float | None = None
    """The dilution from which a hose-end sprayer brings the water itself."""
    low_minutes: float | None = None
    """The fewest minutes that common practice names, min."""
    high_minutes: float | None = None
    """The most minutes that it names, min."""
    rate_mm_h: float | None = None
    """The precipitation rate at which the minutes are read, that of fixed spray heads, mm/h."""
    kind_least_mm: float | None = None
    """The least depth of its kind alone, mm."""
    kind_most_mm: float | None = None
    """The most depth of its kind alone, mm."""
    dry_h: float | None = None
    """How long it must stay dry first, h."""
    light_runs_per_day: int | None = None
    """How many light runs a day keep it moist."""


class EquipmentBasis(StrEnum):
    """How it is known with what something is put down."""

    SAID = "said"
    ROUND = "the round's"
    ONLY_SPRAYER = "the only sprayer"
    MOST_WATER = "of several, the one that asks the most water"
    FIRST = "of several that ask the same, the first"
    SPREADER = "a spreader, as nothing is liquid"
    NONE_DECLARED = "no sprayer is declared"


class Equipment(Frozen):
    """With what something is or was put down."""

    method: str
    """How: "tank", "backpack", "hose-end", "spreader" or "by hand"."""
    dilution: float | None = None
    """Water per concentrate of a hose-end sprayer, 20.0 for 20:1; none when unknown."""
    name: str = ""
    """The piece of equipment, as the site file names it; empty where none is meant."""
    basis: EquipmentBasis
    """How it is known."""

    @property
    def is_sure(self) -> bool:
        """Whether it was said, or follows from what the owner declared for this."""
        return self.basis in (EquipmentBasis.SAID, EquipmentBasis.ROUND, EquipmentBasis.SPREADER)
