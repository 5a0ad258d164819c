"""What happened on this lawn: applications, runs, gauge and probe readings, audits.

Frozen values with aware datetimes (UTC inside). The store reads and writes them; `advise`
takes them as one `Records`. `id` is 0 until the store has given one. The line under a field is its
description wherever records are handed out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from typing import Any

METHODS = ("tank", "backpack", "hose-end", "spreader", "by hand")
RUN_SOURCES = ("as advised", "by hand", "clock")


@dataclass(frozen=True, slots=True)
class Application:
    """One product put down on some zones; a mix is several of these with one `round_id`."""

    product: str
    """The product, as the site file names it."""
    zones: tuple[str, ...]
    """The zones that it went on."""
    started_at: datetime
    """When it was begun."""
    ended_at: datetime
    """When it was done."""
    method: str = "tank"
    """How: "tank", "backpack", "hose-end", "spreader" or "by hand"."""
    dilution: float | None = None
    """Water per concentrate, 16.0 for 16:1; null when unknown."""
    rate: float | None = None
    """How much per area: mL/m² of a liquid, g/m² of a granule; null when not said."""
    round_id: str = ""
    """What the products of one round share; "" where it went down alone."""
    note: str = ""
    """The owner's note."""
    id: int = 0
    """Its number among the applications; 0 until it is kept."""


@dataclass(frozen=True, slots=True)
class Run:
    """One zone watered: minutes of run time and/or the depth it gave."""

    zone: str
    """The zone that ran."""
    started_at: datetime
    """When the first water ran."""
    ended_at: datetime
    """When the last water ran."""
    minutes: float
    """How long water ran, soaks not counted; 0 for an advised run that was skipped."""
    depth_mm: float | None = None
    """The mean depth it gave, in mm: measured, or as advised; null where it follows from the minutes."""
    source: str = "by hand"
    """How it is known: "as advised", "by hand" or "clock"."""
    note: str = ""
    """The owner's note."""
    id: int = 0
    """Its number among the runs; 0 until it is kept."""


@dataclass(frozen=True, slots=True)
class GaugeReading:
    """Rain found in the owner's gauge."""

    read_at: datetime
    """When it was read."""
    depth_mm: float
    """What stood in it, in mm."""
    since: datetime | None = None
    """When it was emptied before; null: at the reading before."""
    note: str = ""
    """The owner's note."""
    id: int = 0
    """Its number among the gauge readings; 0 until it is kept."""


@dataclass(frozen=True, slots=True)
class ProbeReading:
    """What the owner's soil probe found."""

    zone: str
    """The zone."""
    read_at: datetime
    """When it was read."""
    depletion_mm: float
    """Root-zone depletion: how far below field capacity, in mm."""
    note: str = ""
    """The owner's note."""
    id: int = 0
    """Its number among the probe readings; 0 until it is kept."""


class AuditMethod(StrEnum):
    """How a zone was measured."""

    CATCH_CANS = "catch cans"
    FLOW_METER = "flow meter"
    SINGLE_CAN = "single can"


AUDIT_METHODS = tuple(method.value for method in AuditMethod)


@dataclass(frozen=True, slots=True)
class Audit:
    """A measured zone: gross precipitation rate and evenness; the newest measurement wins."""

    zone: str
    """The zone."""
    measured_at: datetime
    """When it was measured."""
    rate_mm_h: float
    """Gross precipitation rate, in mm/h."""
    uniformity: float | None = None
    """Low-quarter distribution uniformity, 0 to 1; null where the method cannot tell."""
    christiansen: float | None = None
    """Christiansen's coefficient of uniformity, at most 1; null where the method cannot tell."""
    cans: int = 0
    """How many cans stood out."""
    method: str = AuditMethod.CATCH_CANS.value
    """How: "catch cans", "flow meter" or "single can"."""
    note: str = ""
    """The owner's note."""
    id: int = 0
    """Its number among the audits; 0 until it is kept."""


@dataclass(frozen=True, slots=True)
class ArchivedHour:
    """One past hour as a source told it, kept nightly so that the past does not change unseen."""

    starts_at: datetime
    """The start of the hour."""
    rain_mm: float | None
    """Rain and snow as water, in mm; null when unknown."""
    temp_c: float | None = None
    """Temperature, in °C; null when unknown."""
    dew_c: float | None = None
    """Dew point, in °C; null when unknown."""
    wind10_m_s: float | None = None
    """Wind at 10 m, in m/s; null when unknown."""
    rs_mj_m2_h: float | None = None
    """Solar radiation, in MJ/m² in the hour; null when unknown."""
    snow_mm: float | None = None
    """The part of it that was snow, as water, in mm; null when unknown."""
    source: str = ""
    """The weather source that told it."""
    id: int = 0
    """Its number among the archived hours; 0 until it is kept."""


@dataclass(frozen=True, slots=True)
class RainPair:
    """A forecast day held against the gauge: what calibrates the chance of rain."""

    starts_at: datetime
    """The start of the period."""
    hours: int
    """How many hours both totals cover."""
    lead_h: float
    """The age of the forecast at the start of the period, in hours."""
    mean_mm: float
    """Mean of the rain members, in mm."""
    spread_mm: float
    """Standard deviation of the rain members, in mm."""
    observed_mm: float
    """What the gauge showed, in mm."""
    members: int = 0
    """How many rain members there were."""
    id: int = 0
    """Its number among the rain pairs; 0 until it is kept."""


@dataclass(frozen=True, slots=True)
class StockChange:
    """Product bought (positive) or used up (negative)."""

    product: str
    """The product, as the site file names it."""
    changed_at: datetime
    """When."""
    amount: float
    """How much: mL of a liquid, g of a granule; below 0 where it was used up."""
    why: str = ""
    """A word on it."""
    id: int = 0
    """Its number among the stock changes; 0 until it is kept."""


Record = Application | Run | GaugeReading | ProbeReading | Audit | ArchivedHour | RainPair | StockChange


@dataclass(frozen=True, slots=True)
class Wrong:
    """One thing wrong with a record: which field, what was found and what is allowed."""

    field: str
    found: str
    allowed: str

    def __str__(self) -> str:
        return f"{self.field} is {self.found}; allowed: {self.allowed}"


@dataclass(frozen=True, slots=True)
class Unusable:
    """What stands in the place of a record and makes no sense as one: a damaged cell, a value that cannot be.

    `values` are its fields as far as they were understood; what is wrong stands there as it was found.
    """

    kind: str
    id: int
    wrong: tuple[Wrong, ...]
    values: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Records:
    """Everything recorded, each tuple in the order of time."""

    applications: tuple[Application, ...] = ()
    """What was put down."""
    runs: tuple[Run, ...] = ()
    """What ran."""
    gauge: tuple[GaugeReading, ...] = ()
    """What the gauge showed."""
    probes: tuple[ProbeReading, ...] = ()
    """What the soil probe found."""
    audits: tuple[Audit, ...] = ()
    """What was measured of the zones."""
    archive: tuple[ArchivedHour, ...] = ()
    """Past hours as the weather sources told them."""
    pairs: tuple[RainPair, ...] = ()
    """Forecasts held against the gauge."""
    stock: tuple[StockChange, ...] = ()
    """What was bought and used up."""
    unusable: tuple[Unusable, ...] = field(default=(), repr=False)
    """What is there and makes no sense: left out of everything, and told."""
