"""The site: place, zones, watering rules, supply, equipment, products and preferences.

Frozen values that `load` builds from config/site.yaml; everything in SI. No tables are looked up
later: a zone carries the table rows it refers to.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, time, timedelta
from enum import StrEnum
from pathlib import Path
from zoneinfo import ZoneInfo

from advisor.lawn.judgement import Judgement, shipped_judgement
from advisor.lawn.products import Product


@dataclass(frozen=True, slots=True)
class Place:
    """Where the lawn is. `units` is "metric" or "us", what is shown; `country` an ISO code or ""."""

    name: str
    latitude_deg: float
    longitude_deg: float
    elevation_m: float
    zone: ZoneInfo
    units: str
    country: str = ""
    contact: str = ""


@dataclass(frozen=True, slots=True)
class Turf:
    """A row of data/turf.csv. `kc_month` January…December; `p` the depletion fraction at ETc 5 mm/d."""

    key: str
    name: str
    season: str
    kc_month: tuple[float, ...]
    p: float
    root_depth_m: float
    source: str


@dataclass(frozen=True, slots=True)
class Soil:
    """A row of data/soil.csv. Allowable surface accumulation by slope 0–3, 4–6, 7–12, ≥ 13 %."""

    key: str
    name: str
    available_mm_m: float
    available_low_mm_m: float
    available_high_mm_m: float
    intake_mm_h: float
    accumulation_mm: tuple[float, float, float, float]
    source: str


@dataclass(frozen=True, slots=True)
class Head:
    """A row of data/heads.csv: what a head type usually gives, with wide bounds."""

    key: str
    name: str
    rate_mm_h: float
    rate_low_mm_h: float
    rate_high_mm_h: float
    uniformity: float
    source: str


class RateBasis(StrEnum):
    """What a precipitation rate rests on: an audit in the records, or what the site file says."""

    AUDIT = "audit"
    MEASURED = "measured"
    FLOW = "flow"
    GUESS = "guess"


class Parity(StrEnum):
    """Which dates the rules allow: odd or even ones, or any."""

    ANY = "any"
    ODD = "odd"
    EVEN = "even"


@dataclass(frozen=True, slots=True)
class Rate:
    """A gross precipitation rate as the site file tells it: measured, from a flow, or guessed by head type.

    `low_mm_h`–`high_mm_h` is what it may honestly be; equal to the rate when measured.
    """

    rate_mm_h: float
    basis: RateBasis
    low_mm_h: float
    high_mm_h: float
    measured_on: date | None = None
    flow_l_min: float | None = None


@dataclass(frozen=True, slots=True)
class Zone:
    """One zone as declared. `exposure` is the fraction of open-sky demand it sees (sun 1.0).

    `uniformity` is low-quarter DU 0–1, `uniformity_known` False when taken from the head type.
    `allowed_depletion` overrides the turf row's p where the owner set it. `first_puddle_min` is
    the owner's own time to the first puddle, which wins over the intake tables.
    `mode` is "established", or "new", "seed" or "syringe" until `mode_until` (local date, inclusive).
    `by_hand`: a hose-end sprinkler without a valve, moved by a person who is awake.
    """

    name: str
    area_m2: float
    turf: Turf
    soil: Soil
    slope_pct: float
    exposure: float
    exposure_name: str
    root_depth_m: float
    root_depth_known: bool
    head: Head | None
    rate: Rate
    uniformity: float
    uniformity_known: bool
    allowed_depletion: float | None = None
    first_puddle_min: float | None = None
    mode: str = "established"
    mode_until: date | None = None
    by_hand: bool = False
    flow_l_min: float | None = None


@dataclass(frozen=True, slots=True)
class DateSpan:
    """A span of local dates, both ends included, and why."""

    first: date
    last: date
    why: str = ""


@dataclass(frozen=True, slots=True)
class Rules:
    """When watering is allowed. `hours` are local (start, end) pairs; end ≤ start crosses midnight.

    `weekdays` 0 Monday … 6 Sunday; `parity` of the date — both are judged on the local
    date on which a minute falls. `finish` is "sunrise" or "window". `least_temp_c`: no run below.
    `strict_uniformity`: run time by 1/DU instead of the scheduling multiplier.
    `minutes_a_night`: the most run time in one night, None for no limit. Blackouts stop water.
    `act_within_min`: how long the owner needs to act on an advice; nothing is planned sooner.
    `assume_made_after_min`: an advised run that is not recorded counts as made so long after its start,
    for the rest of its night; None: only what is recorded counts.
    """

    hours: tuple[tuple[time, time], ...]
    weekdays: frozenset[int] = frozenset(range(7))
    parity: Parity = Parity.ANY
    blackouts: tuple[DateSpan, ...] = ()
    finish: str = "sunrise"
    least_temp_c: float = 4.0
    minutes_a_night: float | None = None
    strict_uniformity: bool = False
    awake: tuple[time, time] = (time(6, 0), time(22, 30))
    act_within_min: float = 15.0
    assume_made_after_min: float | None = None

    @property
    def act_within(self) -> timedelta:
        """How long the owner needs to act on an advice."""
        return timedelta(minutes=self.act_within_min)


@dataclass(frozen=True, slots=True)
class Supply:
    """What the water supply carries; `flow_l_min` None: one zone at a time."""

    flow_l_min: float | None = None
    water_cost_per_m3: float = 0.0


@dataclass(frozen=True, slots=True)
class Sprayer:
    """One piece of equipment to apply with. `dilution` water : concentrate for a hose-end sprayer."""

    name: str
    method: str
    tank_l: float | None = None
    carrier_l_m2: float | None = None
    dilution: float | None = None


@dataclass(frozen=True, slots=True)
class Round:
    """A programme: which products go down together, how often, on which zones (empty: all)."""

    name: str
    products: tuple[str, ...]
    every_days: int
    zones: tuple[str, ...] = ()
    sprayer: str = ""
    blackouts: tuple[DateSpan, ...] = ()


@dataclass(frozen=True, slots=True)
class Decision:
    """How careful to be. `dial` is "thrifty", "balanced" or "cautious"; `costs` overrides by name."""

    dial: str = "balanced"
    costs: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class WeatherSettings:
    """Which services, in order (empty: by country), where they are, and how old is too old."""

    sources: tuple[str, ...] = ()
    base_urls: Mapping[str, str] = field(default_factory=dict)
    ensemble_models: tuple[str, ...] = ("gfs_seamless",)
    warn_after_h: float = 6.0
    refuse_after_h: float = 36.0
    csv: Path | None = None
    cache: Path | None = None


@dataclass(frozen=True, slots=True)
class Site:
    """Everything the owner declared in one file, and the numbers of data/judgement.csv to decide by."""

    path: Path
    place: Place
    zones: tuple[Zone, ...]
    rules: Rules
    supply: Supply
    sprayers: tuple[Sprayer, ...]
    products: Mapping[str, Product]
    rounds: tuple[Round, ...]
    decision: Decision
    weather: WeatherSettings
    records_path: Path
    settings: Mapping[str, Mapping[str, object]] = field(default_factory=dict)
    judgement: Judgement = field(default_factory=shipped_judgement)
