"""What can be put down: product kinds (shipped defaults) and the owner's own products.

A kind says what its products need of water; an owner's product refers to a kind and overrides
anything from its label. The label always wins.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

WITHIN_H = 24.0  # due so long after, where a kind names no time (common practice, no source)
FORMS = ("liquid", "granule", "seed")


class CautionKind(StrEnum):
    """What there is to mind; those in `OF_KINDS` may stand in `cautions` of data/product_kinds.toml."""

    LABEL = "label"
    STAY_OFF = "stay off until dry"
    GLOVES = "clothing and gloves"
    HARD_SURFACES = "hard surfaces"
    BUFFER = "buffer to water"
    MONTHS = "closed months"
    AIR_GAP = "air gap and vacuum breaker"
    SWEEP = "sweep granules"
    HEAVY_RAIN = "heavy rain"
    DRY_LEAVES = "spread on dry leaves"
    LIGHT_SHOWERS = "light showers"
    WET_LEAVES = "wet leaves first"
    IRON = "iron stains"
    BEES = "bees and flowering weeds"
    MOW_FIRST = "mow and dethatch first"
    NO_BAG = "no mowing with the bag"
    NO_SEED = "do not seed"
    BURNS = "burns leaves in heat"
    SEED_LABEL = "seed label and pre-emergent"
    KEEP_OFF = "keep off until it is up"
    SHORTEN = "shorten runs on standing water"
    # the owner's own, about a product
    OWN = "own"
    # what goes with seed, with runs, with measuring and with a clock
    HARMS_SEED = "harms seed"
    MAY_NOT_GROW = "may not grow"
    RAN_OFF = "ran off"
    BACKFLOW = "backflow preventer"
    STANDING_WATER = "standing water"
    FREEZING = "may freeze"
    WET_PAVING = "wet paving"
    CLEAN_CANS = "clean cans"
    LOCAL_RULES = "local watering rules"
    CLOCK_OFF = "turn the clock off"
    # a sentence of an advice that was kept before cautions had codes
    KEPT_BEFORE = "kept by an earlier version"


OF_KINDS = frozenset(CautionKind) - {
    CautionKind.OWN,
    CautionKind.HARMS_SEED,
    CautionKind.MAY_NOT_GROW,
    CautionKind.RAN_OFF,
    CautionKind.BACKFLOW,
    CautionKind.STANDING_WATER,
    CautionKind.FREEZING,
    CautionKind.WET_PAVING,
    CautionKind.CLEAN_CANS,
    CautionKind.LOCAL_RULES,
    CautionKind.CLOCK_OFF,
    CautionKind.KEPT_BEFORE,
}
"""The cautions that a kind of product may name."""


@dataclass(frozen=True, slots=True)
class Disagreement:
    """Two published sources differ; the stricter was taken."""

    on: str
    taken: str
    other: str
    source: str


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of product, a row of data/product_kinds.toml. Depths in mm of water.

    `least_mm`–`target_mm`–`most_mm`: enough, aim, before loss; all 0 when it is not watered in.
    `within_h`: due so long after the end of application (or of the dry period); None: no water-in.
    `hurry_h`: best done by then. `dry_h`: no rain or irrigation for so long after application.
    `single_event`: light showers do not add up, the least depth must come in one event.
    `wet_foliage_first`: leaves must be wet before spreading. `water_night_after`: dry for the day,
    then watered the night after (within `within_h` of the end of the dry period).
    `washoff_mm`: rain within `washoff_h` h of application that would carry it away.
    Spraying limits at 10 m wind, NaN-free: `wind_least_m_s`, `wind_most_m_s`, `temp_most_c`,
    `temp_least_c`, `rain_free_h` (hours after that must be without rain).
    `light_runs_per_day`, `light_run_mm`, `for_days`: seed kept moist.
    `harms_seedlings`: it stops or hurts grass coming up from seed; `seed_after_d`: so many days after
    it before seed can grow there.
    Costs are relative to losing the whole application (1.0): `shortfall_cost` when nothing waters
    it in, `loss_cost` when it is washed out. `source` is that of the watering in and the dry period,
    `limits_source` that of spraying weather, mowing and wash-off.
    """

    key: str
    name: str
    form: str
    least_mm: float
    target_mm: float
    most_mm: float
    within_h: float | None
    hurry_h: float | None
    dry_h: float
    single_event: bool
    wet_foliage_first: bool
    water_night_after: bool
    washoff_mm: float
    washoff_h: float
    wind_least_m_s: float
    wind_most_m_s: float
    temp_least_c: float
    temp_most_c: float
    rain_free_h: float
    mow_before_d: float
    mow_after_d: float
    light_runs_per_day: int
    light_run_mm: float
    for_days: int
    shortfall_cost: float
    loss_cost: float
    cautions: tuple[CautionKind, ...]
    disagreements: tuple[Disagreement, ...]
    source: str
    limits_source: str = ""
    harms_seedlings: bool = False
    seed_after_d: float = 0.0

    @property
    def due_h(self) -> float:
        """Hours from the end of application (or of the dry period) to when it is due, if it is to be watered in."""
        return WITHIN_H if self.within_h is None else self.within_h


@dataclass(frozen=True, slots=True)
class Product:
    """One of the owner's products with its label's numbers already put over its kind's.

    `rate` per area for one round: mL/m² (liquid) or g/m² (granule, seed). `stock` in mL or g, None
    when not tracked. `apart_undiluted` / `apart_diluted`: names that may not share a hose-end cup /
    a tank with it. `label_minutes`: the label's guidance in minutes for `label_rate_mm_h`, already
    turned into `kind.target_mm`. `overrides`: the field names taken from the label, for telling.
    `cautions` are the owner's own, in the owner's words; they come on top of the kind's.
    """

    name: str
    kind: Kind
    rate: float | None = None
    stock: float | None = None
    interval_days: int | None = None
    apart_undiluted: tuple[str, ...] = ()
    apart_diluted: tuple[str, ...] = ()
    label_minutes: float | None = None
    label_rate_mm_h: float | None = None
    fill_order: int = 50
    no_apply_before: date | None = None
    overrides: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
