"""The Advice: one object that the terminal, the page and the messages all show.

Frozen pydantic models, SI inside, aware UTC datetimes; `Advice.model_dump_json()` is the public
JSON under the versioned schema `advisor.advice/1`. Sentences (`headline`, `reason`, `words`) are
already in the owner's units and local time so that every face says the same thing.
"""

from __future__ import annotations

from datetime import date, datetime
from typing import Literal

from advisor.advice.cautions import Caution
from advisor.advice.frozen import Frozen

SCHEMA = "advisor.advice/1"


class Cycle(Frozen):
    """One stretch of water on one zone."""

    starts_at: datetime
    ends_at: datetime


class PlannedRun(Frozen):
    """One zone's run tonight: `minutes` is the sum of its cycles, `depth_mm` the mean depth over the
    zone, `effective_mm` what the plan counts on after unevenness. `only_if` is the condition of a run
    that waits for a look at the gauge, "" for a run that is to be made anyway."""

    zone: str
    depth_mm: float
    effective_mm: float
    minutes: float
    cycles: tuple[Cycle, ...]
    litres: float
    by_hand: bool
    why: str
    only_if: str = ""


class NotPlanned(Frozen):
    """Water that was wanted tonight and does not fit: all that a zone asked, or the rest where a part of it
    runs. `waits_for` is the local date on which it could run, None where no coming night has room."""

    zone: str
    depth_mm: float
    minutes: float
    why: str
    waits_for: date | None
    could_change: tuple[str, ...]


class RainChance(Frozen):
    """Rain over one period: mean, 10–90 % range, chance of at least 1, 5 and 10 mm."""

    label: str
    starts_at: datetime
    ends_at: datetime
    mean_mm: float
    low_mm: float
    high_mm: float
    chance_1mm: float
    chance_5mm: float
    chance_10mm: float
    members: int
    calibrated: bool
    pairs: int
    share_known: float


class Term(Frozen):
    """One day's balance of one zone, in the field's symbols, for `--explain`; depths in mm."""

    day: date
    eto_mm: float
    kc: float
    ks: float
    etc_mm: float
    rain_mm: float
    effective_rain_mm: float
    irrigation_mm: float
    deep_percolation_mm: float
    depletion_mm: float
    forecast: bool


class ZoneAdvice(Frozen):
    """One zone tonight. `verdict`: "run", "leave to rain", "wait", "not needed" or "cannot"."""

    zone: str
    verdict: str
    depth_mm: float
    minutes: float
    cycles: int
    starts_at: datetime | None
    reason: str
    depletion_mm: float
    depletion_low_mm: float
    depletion_high_mm: float
    allowed_mm: float
    total_available_mm: float
    rate_mm_h: float
    rate_basis: str
    rate_low_mm_h: float
    rate_high_mm_h: float
    multiplier: float
    minutes_low: float
    minutes_high: float
    terms: tuple[Term, ...]


class Option(Frozen):
    """One thing that could be done for an obligation and what it is expected to cost (relative).

    `starts_at` is when a run would start: as planned, or its first chance."""

    action: str
    cost: float
    top_up_mm: float
    look_at: datetime | None = None
    under_mm: float | None = None
    starts_at: datetime | None = None


class ApplicationAdvice(Frozen):
    """One application on one zone: what it asks, what it has had, what to do about it.

    `status`: "keep dry", "waiting", "watered in", "short", "overdue", "washed" or "nothing asked".
    `action`: "rain", "run", "wait", "keep dry", "keep moist" or "none". `notes` matter tonight;
    `sources_differ` says where published sources disagree about this kind and which was taken.
    `chance_wet` is that of rain while it must stay dry. `alarms` are stable words for what is or may go
    wrong with it: "harms seed", "may not grow", "washed", "wetted", "too much water", "too much rain",
    "rain on it".
    """

    application_id: int
    product: str
    kind: str
    zone: str
    status: str
    action: str
    words: str
    least_mm: float
    target_mm: float
    most_mm: float
    received_mm: float
    rain_received_mm: float
    irrigation_received_mm: float
    lost_mm: float
    applied_at: datetime
    dry_until: datetime | None
    due_at: datetime | None
    chance: float | None
    chance_too_much: float | None
    rain_mean_mm: float
    rain_low_mm: float
    rain_high_mm: float
    members: int
    calibrated: bool
    top_up_mm: float
    top_up_minutes: float
    options: tuple[Option, ...]
    notes: tuple[str, ...]
    sources_differ: tuple[str, ...]
    source: str
    chance_wet: float | None = None
    alarms: tuple[str, ...] = ()


class NextLook(Frozen):
    """When to look again, at what, and what to do then."""

    at: datetime
    zones: tuple[str, ...]
    under_mm: float | None
    minutes: dict[str, float]
    words: str


class SourceUsed(Frozen):
    """A weather source behind this advice."""

    name: str
    serves: str
    fetched_at: datetime
    reaches_until: datetime
    members: int
    attribution: str


class Check(Frozen):
    """A named check that this advice is sound: passed, or why not."""

    name: str
    passed: bool
    why: str


class Advice(Frozen):
    """Tonight's advice for one site.

    `headline` is what is wrong and what to do in one breath, `steps` the same sentence by sentence;
    `runs` are still to be made; `under_way` were advised earlier for the same night, have begun and
    are taken as made until the records say otherwise.
    """

    schema_version: Literal["advisor.advice/1"] = "advisor.advice/1"
    site: str
    time_zone: str
    units: str
    now: datetime
    night: date
    window_starts_at: datetime | None
    window_ends_at: datetime | None
    window_words: str
    headline: str
    steps: tuple[str, ...] = ()
    zones: tuple[ZoneAdvice, ...]
    obligations: tuple[ApplicationAdvice, ...]
    runs: tuple[PlannedRun, ...]
    under_way: tuple[PlannedRun, ...] = ()
    not_planned: tuple[NotPlanned, ...]
    next_looks: tuple[NextLook, ...]
    rain: tuple[RainChance, ...]
    unknowns: tuple[str, ...]
    changes: tuple[str, ...]
    cautions: tuple[Caution, ...]
    sources: tuple[SourceUsed, ...]
    provenance: tuple[str, ...]
    checks: tuple[Check, ...]
    inputs_digest: str
