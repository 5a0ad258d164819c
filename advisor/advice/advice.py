"""The Advice: one object that the terminal, the page and the messages all show.

Frozen pydantic models, SI inside, aware UTC datetimes; `Advice.model_dump_json()` is the public
JSON under the versioned schema `advisor.advice/2`. Verdicts, actions and reasons are data; beside them
stand their sentences (`headline`, `reason`, `words`, `text`), made once, in the owner's units and
local time, so that every face says the same thing.
"""

from __future__ import annotations

from datetime import UTC, date, datetime
from enum import StrEnum
from typing import Annotated, Literal

from pydantic import AfterValidator

from advisor.advice.cautions import Caution
from advisor.advice.frozen import Frozen
from advisor.advice.not_kept import NotKept
from advisor.advice.notes import Note
from advisor.advice.reasons import Reason
from advisor.advice.schedule import CheckFailure, CheckName, NotPlannedReason, PossibleChange
from advisor.advice.unusable import UnusableRecord
from advisor.lawn import RateBasis

SCHEMA = "advisor.advice/2"

Moment = Annotated[datetime, AfterValidator(lambda at: at.astimezone(UTC))]
"""An aware time, always given in UTC."""


class ZoneVerdict(StrEnum):
    """What tonight is for one zone."""

    RUN = "run"
    LEAVE_TO_RAIN = "leave to rain"
    WAIT = "wait"
    NOT_NEEDED = "not needed"
    CANNOT = "cannot"


class Status(StrEnum):
    """How one application stands on one zone."""

    KEEP_DRY = "keep dry"
    WAITING = "waiting"
    WATERED_IN = "watered in"
    SHORT = "short"
    OVERDUE = "overdue"
    WASHED = "washed"
    NOTHING_ASKED = "nothing asked"


class Action(StrEnum):
    """What to do about one application on one zone."""

    RAIN = "rain"
    RUN = "run"
    WAIT = "wait"
    KEEP_DRY = "keep dry"
    KEEP_MOIST = "keep moist"
    NONE = "none"


class Alarm(StrEnum):
    """What is or may go wrong with one application."""

    HARMS_SEED = "harms seed"
    MAY_NOT_GROW = "may not grow"
    WASHED = "washed"
    WETTED = "wetted"
    TOO_MUCH_WATER = "too much water"
    TOO_MUCH_RAIN = "too much rain"
    RAIN_ON_IT = "rain on it"


class RunPurpose(StrEnum):
    """What a run is made for."""

    WATER_IN = "water in"
    TURF = "turf"
    SEED = "seed kept moist"
    COOL = "cool the grass"


class LookKind(StrEnum):
    """What a next look is for."""

    GAUGE = "gauge"
    SKIP = "skip"
    EVENING = "evening"


class Period(StrEnum):
    """A stretch of time for which rain is told."""

    TONIGHT = "tonight"
    DAY = "next 24 hours"
    THREE_DAYS = "next 3 days"


class Cycle(Frozen):
    """One stretch of water on one zone."""

    starts_at: Moment
    """When the water goes on."""
    ends_at: Moment
    """When it goes off."""


class GaugeCondition(Frozen):
    """The condition of a run that waits: it is made only if the gauge shows less than so much then."""

    look_at: Moment
    """When to look at the gauge."""
    under_mm: float
    """Run only if the gauge shows less than this since the advice was given, mm."""


class PlannedRun(Frozen):
    """One zone's run tonight. With a `condition` it must not be made before the gauge has been read."""

    zone: str
    """The zone, as the site file names it."""
    depth_mm: float
    """The mean depth over the zone, mm."""
    effective_mm: float
    """What the plan counts on after unevenness, mm."""
    minutes: float
    """Run time, the sum of its cycles, min."""
    cycles: tuple[Cycle, ...]
    """The stretches of water, with soaks between them."""
    litres: float
    """The water it takes, L."""
    by_hand: bool
    """Whether a person moves the sprinkler."""
    why: RunPurpose
    """What it is made for."""
    condition: GaugeCondition | None = None
    """The condition it waits for; none for a run that is to be made anyway."""
    only_if: str = ""
    """The condition in words; empty for a run that is to be made anyway."""
    night: date | None = None
    """The local date of the evening that it was advised for; none: that of its advice."""


class NotPlanned(Frozen):
    """Water that was wanted tonight and does not fit: all that a zone asked, or the rest of it."""

    zone: str
    """The zone."""
    depth_mm: float
    """The mean depth that is left out, mm."""
    minutes: float
    """The run time that is left out, min."""
    why: str
    """Why it does not fit, in a sentence."""
    waits_for: date | None
    """The local date on which it could run; none where no coming night has room."""
    could_change: tuple[str, ...]
    """What the owner could change so that it fits."""
    reason: NotPlannedReason | None = None
    """Why it does not fit, as data."""
    changes: tuple[PossibleChange, ...] = ()
    """What the owner could change, as data, in the order of `could_change`."""


class RainChance(Frozen):
    """Rain over one period."""

    label: Period
    """Which period."""
    starts_at: Moment
    """Where it begins."""
    ends_at: Moment
    """Where it ends."""
    mean_mm: float
    """The rain expected, mm."""
    low_mm: float
    """One case in ten brings less, mm."""
    high_mm: float
    """One case in ten brings more, mm."""
    chance_1mm: float
    """The chance of at least 1 mm, 0–1."""
    chance_5mm: float
    """The chance of at least 5 mm, 0–1."""
    chance_10mm: float
    """The chance of at least 10 mm, 0–1."""
    members: int
    """How many members of the ensemble it is counted over."""
    calibrated: bool
    """Whether the chances are fitted to this lawn's own gauge readings."""
    pairs: int
    """How many pairs of forecast and gauge they are fitted on."""
    share_known: float
    """The share of the period that the forecast covers, 0–1."""


class Term(Frozen):
    """One day's balance of one zone, in the field's symbols (FAO-56), for `--explain`."""

    day: date
    """The local date."""
    eto_mm: float
    """Reference evapotranspiration, mm."""
    kc: float
    """The crop coefficient with the zone's exposure."""
    ks: float
    """The stress coefficient, 0–1."""
    etc_mm: float
    """What the turf used, mm."""
    rain_mm: float
    """Rain, mm."""
    effective_rain_mm: float
    """Rain that entered the soil, mm."""
    irrigation_mm: float
    """Irrigation that counts, mm."""
    deep_percolation_mm: float
    """Water lost below the roots, mm."""
    depletion_mm: float
    """Root-zone depletion at the end of the day, mm."""
    forecast: bool
    """Whether the day or a part of it is forecast."""


class ZoneAdvice(Frozen):
    """One zone tonight. What is to run anyway and what waits for the gauge are kept apart."""

    zone: str
    """The zone."""
    verdict: ZoneVerdict
    """What tonight is for it."""
    minutes_firm: float
    """Run time that is to be made in any case, min."""
    minutes_conditional: float
    """Run time only if the gauge shows too little (see the run's condition), min."""
    depth_firm_mm: float
    """Mean depth of what is to run in any case, mm."""
    depth_conditional_mm: float
    """Mean depth of what waits for the gauge, mm."""
    cycles: int
    """In how many stretches, firm or conditional."""
    starts_at: Moment | None
    """When its first stretch begins, firm or conditional."""
    reason: str
    """Why, in sentences."""
    reasons: tuple[Reason, ...]
    """Why, as data, in the order of the sentences."""
    depletion_mm: float
    """Root-zone depletion now, mm."""
    depletion_low_mm: float
    """The same by the wet reading of what is not known, mm."""
    depletion_high_mm: float
    """The same by the dry reading of what is not known, mm."""
    allowed_mm: float
    """The allowed depletion (readily available water), mm."""
    total_available_mm: float
    """Total available water of the root zone, mm."""
    rate_mm_h: float
    """The precipitation rate, mm/h."""
    rate_basis: RateBasis
    """What the rate rests on."""
    rate_low_mm_h: float
    """The least that the rate may be, mm/h."""
    rate_high_mm_h: float
    """The most that the rate may be, mm/h."""
    multiplier: float
    """The scheduling multiplier: mean depth over the depth of the drier part."""
    minutes_low: float
    """The run time (firm or conditional) if the rate were at its high end, min."""
    minutes_high: float
    """The run time (firm or conditional) if the rate were at its low end, min."""
    terms: tuple[Term, ...]
    """The balance day by day."""


class Option(Frozen):
    """One thing that could be done for an application, and what it is expected to cost."""

    action: Action
    """What is done."""
    cost: float
    """The expected cost, in shares of the application's worth."""
    top_up_mm: float
    """The effective depth of the run that is or may be made, mm."""
    minutes: float
    """Its run time, min."""
    chosen: bool
    """Whether it is the answer."""
    look_at: Moment | None = None
    """When to look at the gauge, where it waits for that."""
    under_mm: float | None = None
    """Run only if the gauge shows less, mm."""
    starts_at: Moment | None = None
    """When a run would start: as planned, or its first chance; none where it does not fit tonight."""
    words: str = ""
    """The same in words, where the ways are asked for (`rain`)."""


class ApplicationAdvice(Frozen):
    """One application on one zone: what it asks, what it has had, what to do about it."""

    application_id: int
    """The number of the record."""
    product: str
    """The product."""
    kind: str
    """Its kind."""
    zone: str
    """The zone."""
    status: Status
    """How it stands."""
    action: Action
    """What to do."""
    words: str
    """The verdict in sentences."""
    reasons: tuple[Reason, ...]
    """The verdict as data, in the order of the sentences."""
    least_mm: float
    """The least depth that waters it in, mm."""
    target_mm: float
    """The depth to aim at, mm."""
    most_mm: float
    """The most that it bears, mm."""
    received_mm: float
    """What counts towards the least depth so far, mm."""
    rain_received_mm: float
    """The rain in it, mm."""
    irrigation_received_mm: float
    """The irrigation in it, mm."""
    lost_mm: float
    """What it has had beyond the most it bears, mm."""
    applied_at: Moment
    """When it was put down."""
    dry_until: Moment | None
    """Until when it must stay dry."""
    due_at: Moment | None
    """When it is due to be watered in."""
    chance: float | None
    """The chance that rain alone brings the least depth in time, 0–1."""
    chance_too_much: float | None
    """The chance of more rain than it bears, 0–1."""
    rain_mean_mm: float
    """The rain expected until then, mm."""
    rain_low_mm: float
    """One case in ten brings less, mm."""
    rain_high_mm: float
    """One case in ten brings more, mm."""
    members: int
    """How many members of the ensemble the chances are counted over."""
    calibrated: bool
    """Whether the chances are fitted to this lawn's own gauge readings."""
    top_up_mm: float
    """The effective depth of the run that may be due, mm."""
    top_up_minutes: float
    """Its run time, min."""
    options: tuple[Option, ...]
    """The ways that were weighed."""
    notes: tuple[str, ...]
    """What else matters tonight, in sentences."""
    note_reasons: tuple[Reason, ...]
    """The same as data, in the order of the sentences."""
    sources_differ: tuple[str, ...]
    """Where published sources disagree about this kind, and which was taken."""
    source: str
    """On whose word the depths rest."""
    chance_wet: float | None = None
    """The chance of rain while it must stay dry, 0–1."""
    alarms: tuple[Alarm, ...] = ()
    """What is or may go wrong with it."""


class NextLook(Frozen):
    """When to look again, at what, and what to do then."""

    kind: LookKind
    """What it is for: to decide runs by the gauge, to skip runs after rain, or the next evening."""
    at: Moment
    """When."""
    zones: tuple[str, ...]
    """The zones it is about."""
    under_mm: float | None
    """Run if the gauge shows less than this, mm."""
    over_mm: float | None
    """Skip if more than this has fallen, mm."""
    minutes: dict[str, float]
    """The run time by zone that follows from it, min."""
    words: str
    """The rule in words."""


class SourceUsed(Frozen):
    """A weather source behind this advice."""

    name: str
    """Its name."""
    serves: str
    """What it serves for."""
    fetched_at: Moment
    """When it was fetched."""
    reaches_until: Moment
    """How far it reaches."""
    members: int
    """How many rain members it gives."""
    attribution: str
    """Whom to credit, and the licence."""


class Check(Frozen):
    """A named check that this advice is sound."""

    name: CheckName
    """What is checked."""
    passed: bool
    """Whether it passed."""
    why: str
    """Why not; empty where it passed."""
    failure: CheckFailure | None = None
    """What was found, as data; none where it passed."""
    for_midday: bool = False
    """Whether it is about the cooling runs at midday."""


class Advice(Frozen):
    """Tonight's advice for one site."""

    schema_version: Literal["advisor.advice/2"] = "advisor.advice/2"
    """The version of this form."""
    site: str
    """The site's name."""
    time_zone: str
    """Its time zone (IANA)."""
    units: str
    """The owner's units: "metric" or "us"."""
    now: Moment
    """When it was given."""
    night: date
    """The local date of its evening."""
    window_starts_at: Moment | None
    """When water may first run tonight; none where it may not."""
    window_ends_at: Moment | None
    """When the last allowed stretch ends."""
    window_words: str
    """When water may run, and what is not plain about it."""
    headline: str
    """What is wrong and what to do, in one breath."""
    steps: tuple[str, ...] = ()
    """The same sentence by sentence."""
    step_reasons: tuple[Reason, ...] = ()
    """The same as data, in the order of the steps."""
    zones: tuple[ZoneAdvice, ...]
    """Zone by zone, in the order of the site file."""
    obligations: tuple[ApplicationAdvice, ...]
    """What was put down, by application and zone."""
    runs: tuple[PlannedRun, ...]
    """The runs that are still to be made; those with a condition only if it holds."""
    under_way: tuple[PlannedRun, ...] = ()
    """Runs advised earlier that are not over and are to be left alone: recorded ones and, where the site file
    says that runs are made without the owner, those that go on or begin too soon to be changed."""
    taken_as_made: tuple[PlannedRun, ...] = ()
    """Runs advised earlier, tonight or in the last 31 nights, that are over, not recorded, and count as made
    because the site file says that runs are made without the owner."""
    unrecorded: tuple[PlannedRun, ...] = ()
    """Runs advised earlier for this night or the one before that should have begun by now, are not recorded
    and count as not made; those with a condition only if it held."""
    recorded: tuple[PlannedRun, ...] = ()
    """Runs advised earlier of which a record is kept, whole, shortened or skipped: as they were advised. They
    are remembered for the case that the record is taken back."""
    not_planned: tuple[NotPlanned, ...]
    """Water that was wanted and does not fit."""
    next_looks: tuple[NextLook, ...]
    """When to look again, earliest first."""
    rain: tuple[RainChance, ...]
    """The rain that may come."""
    unknowns: tuple[str, ...]
    """What is not known or only guessed, in sentences."""
    unknown_reasons: tuple[Reason, ...] = ()
    """The same as data, in the order of the sentences."""
    changes: tuple[str, ...]
    """What changed since the advice before for the same night, in sentences."""
    change_reasons: tuple[Reason, ...] = ()
    """The same as data, in the order of the sentences."""
    cautions: tuple[Caution, ...]
    """What to mind."""
    sources: tuple[SourceUsed, ...]
    """The weather sources behind it."""
    provenance: tuple[str, ...]
    """How the weather was made, in sentences."""
    notes: tuple[Note, ...] = ()
    """The same, and what the weather lacks, as data."""
    checks: tuple[Check, ...]
    """Checks that the plan keeps every rule."""
    inputs_digest: str
    """A fingerprint of everything it was made from."""
    left_out: tuple[UnusableRecord, ...] = ()
    """Records that make no sense and are left out of this advice."""
    asked_since: Moment | None = None
    """Since when advice has been asked for here, pauses of more than 31 days aside. Before it, watering that
    nobody recorded may be guessed; since then only what is recorded counts."""
    not_kept: NotKept | None = None
    """Why it could not be kept in the records; none for an advice that is kept, or that nobody meant to keep."""
