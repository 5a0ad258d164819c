"""A round worked out for the tank or the spreader, as it is handed out; schema `advisor.mix/1`, SI inside."""

from __future__ import annotations

from datetime import date
from enum import StrEnum
from typing import Literal

from advisor.advice.cautions import Caution
from advisor.advice.frozen import Frozen
from advisor.advice.water_need import Equipment, NeedReason

SCHEMA = "advisor.mix/1"


class Over(StrEnum):
    """What two products do not share."""

    UNDILUTED = "undiluted"
    DILUTED = "diluted"
    WATER = "water"


class IncompatibilityKind(StrEnum):
    """Why two products do not go together."""

    NOT_EVEN_DILUTED = "not even diluted"
    REACTS_UNDILUTED = "reacts undiluted"
    DUE_BEFORE_DRY_ENDS = "due before the dry period ends"
    BEST_BEFORE_DRY_ENDS = "best before the dry period ends"
    NO_ONE_DEPTH = "no one depth for both"


class Incompatibility(Frozen):
    """Two products that do not go together, why, and the way out."""

    products: tuple[str, str]
    """The two; of a clash over water the one that is watered in, or asks more, comes first."""
    over: Over
    """What they do not share: the concentrate, the tank, or the water after."""
    separate: bool
    """Whether they must not go down in one pass; otherwise it is a warning that can be met."""
    kind: IncompatibilityKind
    """Why."""
    in_cup: bool = False
    """Whether the concentrates meet undiluted, in the cup of a hose-end sprayer."""
    within_h: float | None = None
    """Within how long the first is to be, or is best, watered in, h."""
    dry_h: float | None = None
    """How long the second must stay dry, h."""
    least_mm: float | None = None
    """The least depth that the first asks, mm."""
    most_mm: float | None = None
    """The most that the second bears, mm."""
    words: str = ""
    """Why, in words."""
    way_out: str = ""
    """The way out in words."""


class Need(Frozen):
    """What one product, put down this way, asks of water."""

    least_mm: float
    """The least depth that waters it in, mm; 0 when none is asked."""
    target_mm: float
    """The depth to aim at, mm."""
    most_mm: float
    """The most that it bears, mm."""
    within_h: float | None
    """Within how long it is due, h; none when it is not watered in."""
    dry_h: float
    """How long it must stay dry first, h."""
    reason: NeedReason
    """Why so much."""
    words: str
    """Why so much, in words."""
    source: str
    """On whose word."""


class Item(Frozen):
    """One product of the round."""

    product: str
    """Its name."""
    kind: str
    """Its kind."""
    form: str
    """Its form: "liquid", "granule" or "seed"."""
    unit: Literal["mL", "g"]
    """The unit of its rate, amount and stock."""
    rate: float
    """How much per m²."""
    amount: float
    """How much in all."""
    need: Need
    """What it asks of water."""
    stock: float | None
    """What is on hand; none when it is not tracked."""
    rounds_left: int | None
    """How many rounds like this one the stock covers, this included; none when it is not tracked."""
    short: float
    """What is missing for this one round."""
    lasts_until: date | None
    """The local date of the last round that the stock covers."""


class Load(Frozen):
    """One filling; every load of a pass has the same strength."""

    number: int
    """Which filling, from 1 on."""
    volume_l: float
    """The whole mix, L; what stands in the cup of a hose-end sprayer; 0 for what is spread."""
    water_l: float | None
    """The water in it, or that the hose brings, L; none where it cannot be told."""
    area_m2: float
    """The area it is for, m²."""
    amounts: dict[str, float]
    """By product what goes into it, mL (g for what is spread)."""


class Filling(StrEnum):
    """How a pass is prepared."""

    SPREAD = "spread crosswise"
    CUP = "cup of a hose-end sprayer"
    TANK = "tank"


class Pass(Frozen):
    """One walk over the lawn: what goes down together."""

    number: int
    """Which pass, from 1 on."""
    products: tuple[str, ...]
    """What goes down, in the order of filling."""
    method: str
    """How: "tank", "backpack", "hose-end" or "spreader"."""
    sprayer: str
    """The sprayer, as the site file names it; empty for what is spread."""
    water_l: float | None
    """The water of all its loads, L; none where it cannot be told."""
    dilution: float | None
    """Water per all concentrates; none where it cannot be told."""
    loads: tuple[Load, ...]
    """Its fillings."""
    filled: Filling
    """How it is prepared."""
    filling: tuple[str, ...]
    """The same step by step, in sentences."""


class WarningKind(StrEnum):
    """What stands against a round today, or is to be done before it."""

    SEED = "seed"
    STOCK_SHORT = "stock short"
    TOO_EARLY = "too early"
    BLACKOUT = "blackout"
    WET_LEAVES_FIRST = "wet leaves first"
    DILUTION_UNKNOWN = "dilution unknown"


class MixWarning(Frozen):
    """Something to know before anything else; only what its kind speaks of is set."""

    kind: WarningKind
    """What it is."""
    product: str = ""
    """The product, or the sprayer whose dilution is unknown."""
    zone: str = ""
    """The zone on which seed is met."""
    amount: float | None = None
    """What is on hand, in `unit`."""
    short: float | None = None
    """What is missing of it, in `unit`."""
    unit: Literal["mL", "g"] | None = None
    """The unit of the two."""
    day: date | None = None
    """The local date of the round, or before which the product is not to go down."""
    first: date | None = None
    """The first local date of the blackout."""
    last: date | None = None
    """Its last local date."""
    why: str = ""
    """What the owner wrote beside it."""
    text: str = ""
    """The same in words."""


class Mix(Frozen):
    """A round worked out for one area."""

    schema_version: Literal["advisor.mix/1"] = "advisor.mix/1"
    """The version of this form."""
    day: date
    """The local date on which it is put down."""
    area_m2: float
    """The area, m²."""
    zones: tuple[str, ...]
    """The zones; none where only an area was given."""
    equipment: Equipment
    """With what it is put down, and how that is known."""
    equipment_note: str
    """What is taken for granted about that, in a sentence; empty where nothing is."""
    items: tuple[Item, ...]
    """Product by product."""
    passes: tuple[Pass, ...]
    """The walks over the lawn, in their order."""
    clashes: tuple[Incompatibility, ...]
    """What does not go together."""
    runs_out_first: tuple[str, ...]
    """The tracked products with the fewest rounds left; several when they run out together."""
    warnings: tuple[str, ...]
    """What to know before anything else, in words."""
    warning_facts: tuple[MixWarning, ...]
    """The same as data, in the order of the words."""
    cautions: tuple[Caution, ...]
    """What to mind."""
