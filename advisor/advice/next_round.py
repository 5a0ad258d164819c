"""The next round of each programme, as it is handed out; schema `advisor.next-round/1`, SI inside."""

from __future__ import annotations

from datetime import date, datetime
from enum import StrEnum
from typing import Literal

from advisor.advice.cautions import Caution
from advisor.advice.frozen import Frozen
from advisor.advice.tank_mix import Incompatibility
from advisor.advice.water_need import Equipment


class BarKind(StrEnum):
    """What bars an hour."""

    BLACKOUT = "blackout"
    NOT_DUE = "not due"
    LABEL = "label"
    DRY = "dry"
    SEEDLINGS = "seedlings"
    KEPT_MOIST = "kept moist"
    UNKNOWN = "unknown"
    WIND = "wind"
    HEAT = "heat"
    COLD = "cold"
    WET_LEAVES = "wet leaves"
    FROST = "frost"
    SOAKED = "soaked"
    RAIN_AFTER = "rain after"
    HEAVY_RAIN = "heavy rain"
    BEYOND_DRY_TIME = "beyond the dry time"
    BEYOND_DAY_AFTER = "beyond the day after"
    NO_WATER = "no water"


class Bar(Frozen):
    """Why an hour will not do; only the numbers that its kind speaks of are set."""

    kind: BarKind
    """What bars it."""
    products: tuple[str, ...] = ()
    """The products it is about."""
    zone: str = ""
    """The seedbed it is about."""
    first: date | None = None
    """The first local date of a blackout."""
    day: date | None = None
    """The local date before which, or until which, it holds."""
    until: datetime | None = None
    """Until when it holds."""
    why: str = ""
    """What the owner wrote beside a blackout."""
    wind_m_s: float | None = None
    """The wind at 10 m, m/s."""
    wind_limit_m_s: float | None = None
    """The most wind it may be, m/s."""
    temp_c: float | None = None
    """The temperature, °C."""
    temp_limit_c: float | None = None
    """The limit that it breaks, °C."""
    depth_mm: float | None = None
    """Rain that would wash it away, or water that drained below the roots, mm."""
    hours: float | None = None
    """The stretch before or after that it is about, h."""
    chance: float | None = None
    """The chance of it, 0–1."""


class Watering(StrEnum):
    """What waters a round in."""

    RAIN = "rain"
    SPRINKLERS = "sprinklers"
    NONE_NEEDED = "none needed"


class Mind(StrEnum):
    """What to mind at a good hour."""

    INVERSION = "inversion"
    DEW = "dew"
    WET_LEAVES_FIRST = "wet leaves first"


class Slot(Frozen):
    """A good stretch of one day."""

    rank: int
    """Its place among the good stretches, the best first."""
    starts_at: datetime
    """When it begins."""
    ends_at: datetime
    """When it ends."""
    wind_low_m_s: float
    """The least wind at 10 m of its hours, m/s."""
    wind_high_m_s: float
    """The most, m/s."""
    wind_limit_m_s: float
    """The limit of the strictest product, m/s."""
    temp_low_c: float
    """The lowest temperature of its hours, °C."""
    temp_high_c: float
    """The highest, °C."""
    watering: Watering
    """What waters it in."""
    chance_waters_in: float | None
    """The chance that rain waters all in, 0–1; none where nothing asks."""
    chance_too_much: float | None
    """The chance of rain that washes it away, 0–1; none where no rain would."""
    chance_rain_while_dry: float | None
    """The chance of rain while it must stay dry, 0–1; none where it need not."""
    rain_expected_mm: float
    """The rain expected until it is due, mm."""
    mind: tuple[Mind, ...]
    """What to mind."""
    words: str
    """What it rests on, in sentences."""


class NotThenReason(StrEnum):
    """Why a day has no good hour."""

    NO_DAYLIGHT_LEFT = "no daylight left"
    NO_DAYLIGHT_KNOWN = "no daylight in the forecast"
    BARRED = "barred"


class NotThen(Frozen):
    """A day of the forecast on which it does not come together, and what stands in the way."""

    day: date
    """The local date."""
    reason: NotThenReason
    """Why."""
    bars: tuple[Bar, ...]
    """What bars the hour that comes closest."""
    closest_at: datetime | None
    """That hour; none where every hour of the day is barred alike."""
    why: str
    """Why, in words."""


class ProductDue(Frozen):
    """One product of the round: when it last went down on these zones and when it is due again."""

    product: str
    """The product."""
    last_at: datetime | None
    """When it last went down there; none where it was never recorded."""
    every_days: int
    """How often it goes down, days."""
    due_on: date | None
    """The local date on which it is due again; none where it was never recorded."""


class RoundState(StrEnum):
    """What the forecast has for a round."""

    BEYOND = "due beyond the forecast"
    NO_DAY = "no day will do"
    SLOTS = "there are good hours"


class RoundNoteKind(StrEnum):
    """What else matters for a round."""

    SEEDBED = "seedbed"
    INCOMPATIBLE = "incompatible"
    MOWING = "mowing"
    EQUIPMENT = "equipment"


class RoundNote(Frozen):
    """Something else that matters for a round; only what its kind speaks of is set."""

    kind: RoundNoteKind
    """What it is."""
    zone: str = ""
    """The zone that is a seedbed."""
    seed: str = ""
    """The seed that was sown there; empty where the zone is in seed mode."""
    sown_on: date | None = None
    """The local date on which it was sown."""
    until: date | None = None
    """The last local date of its seed mode."""
    clash: Incompatibility | None = None
    """Two products that must not go down in one pass."""
    mow_before_d: float = 0.0
    """For so many days before it no mowing."""
    mow_after_d: float = 0.0
    """For so many days after it no mowing."""
    equipment: Equipment | None = None
    """With what it is taken as put down."""


class NextRound(Frozen):
    """One programme on the zones that share a due date, seedbeds apart from the others."""

    round: str
    """The programme."""
    zones: tuple[str, ...]
    """The zones."""
    products: tuple[ProductDue, ...]
    """Its products."""
    equipment: Equipment
    """With what it is taken as put down, and how that is known."""
    due_on: date | None
    """The local date on which it is due; none where it was never recorded there."""
    overdue_days: int
    """By how many days it is overdue."""
    state: RoundState
    """What the forecast has for it."""
    ask_from: date | None
    """The local date from which to ask again; only where it is due beyond the forecast."""
    headline: str
    """When it is due and the best time for it, in sentences."""
    slots: tuple[Slot, ...]
    """The good stretches, the best first."""
    also_possible: tuple[date, ...]
    """Days that would do but are not among the best, which have a slot."""
    not_then: tuple[NotThen, ...]
    """Days that will not do."""
    notes: tuple[str, ...]
    """What else matters, in sentences."""
    note_facts: tuple[RoundNote, ...]
    """The same as data, in the order of the sentences."""


class NextRounds(Frozen):
    """The next round of every programme of one site."""

    schema_version: Literal["advisor.next-round/1"] = "advisor.next-round/1"
    """The version of this form."""
    site: str
    """The site's name."""
    time_zone: str
    """Its time zone (IANA)."""
    units: str
    """The owner's units: "metric" or "us"."""
    now: datetime
    """When it was asked."""
    forecast_until: datetime
    """How far the forecast is known."""
    members: int
    """How many members of the ensemble the chances are counted over."""
    calibrated: bool
    """Whether the chances are fitted to this lawn's own gauge readings."""
    rounds: tuple[NextRound, ...]
    """Round by round."""
    cautions: tuple[Caution, ...]
    """What to mind."""
    attribution: tuple[str, ...]
    """Whom to credit for the weather, and the licences."""
