"""What happened on this lawn: applications, runs, gauge and probe readings, audits.

Frozen values with aware datetimes (UTC inside). The store reads and writes them; `advise`
takes them as one `Records`. `id` is 0 until the store has given one.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

METHODS = ("tank", "backpack", "hose-end", "spreader", "by hand")
RUN_SOURCES = ("as advised", "by hand", "clock")
AUDIT_METHODS = ("catch cans", "flow meter", "single can")


@dataclass(frozen=True, slots=True)
class Application:
    """One product put down on some zones; a mix is several of these with one `round_id`.

    `rate` is per area: mL/m² for a liquid, g/m² for a granule, None when not said.
    `dilution` is water : concentrate (16.0 means 16:1), None when unknown.
    """

    product: str
    zones: tuple[str, ...]
    started_at: datetime
    ended_at: datetime
    method: str = "tank"
    dilution: float | None = None
    rate: float | None = None
    round_id: str = ""
    note: str = ""
    id: int = 0


@dataclass(frozen=True, slots=True)
class Run:
    """One zone watered: `minutes` of run time (soaks not counted) and/or the depth it gave.

    `source` is "as advised", "by hand" or "clock"; a skipped advised run has minutes 0.
    """

    zone: str
    started_at: datetime
    ended_at: datetime
    minutes: float
    depth_mm: float | None = None
    source: str = "by hand"
    note: str = ""
    id: int = 0


@dataclass(frozen=True, slots=True)
class GaugeReading:
    """Rain found in the owner's gauge at `read_at`, fallen since `since` (None: the last reading)."""

    read_at: datetime
    depth_mm: float
    since: datetime | None = None
    note: str = ""
    id: int = 0


@dataclass(frozen=True, slots=True)
class ProbeReading:
    """A soil-moisture reading: root-zone depletion in mm below field capacity, by the owner's probe."""

    zone: str
    read_at: datetime
    depletion_mm: float
    note: str = ""
    id: int = 0


@dataclass(frozen=True, slots=True)
class Audit:
    """A measured zone: gross precipitation rate and evenness; the newest measurement wins.

    `method` is "catch cans", "flow meter" or "single can"; `uniformity` is the low-quarter
    distribution uniformity 0–1 or None where the method cannot tell.
    """

    zone: str
    measured_at: datetime
    rate_mm_h: float
    uniformity: float | None = None
    christiansen: float | None = None
    cans: int = 0
    method: str = "catch cans"
    note: str = ""
    id: int = 0


@dataclass(frozen=True, slots=True)
class ArchivedHour:
    """One past hour as a source told it, kept nightly so that the past does not change unseen."""

    starts_at: datetime
    rain_mm: float | None
    temp_c: float | None = None
    dew_c: float | None = None
    wind10_m_s: float | None = None
    rs_mj_m2_h: float | None = None
    snow_mm: float | None = None
    source: str = ""
    id: int = 0


@dataclass(frozen=True, slots=True)
class RainPair:
    """A forecast day held against the gauge: what calibrates the chance of rain.

    Both totals cover the same `hours` hours from `starts_at`; `lead_h` is the age of the forecast
    at the start of that period.
    """

    starts_at: datetime
    hours: int
    lead_h: float
    mean_mm: float
    spread_mm: float
    observed_mm: float
    members: int = 0
    id: int = 0


@dataclass(frozen=True, slots=True)
class StockChange:
    """Product bought (positive) or used up (negative): mL for liquids, g for granules."""

    product: str
    changed_at: datetime
    amount: float
    why: str = ""
    id: int = 0


Record = Application | Run | GaugeReading | ProbeReading | Audit | ArchivedHour | RainPair | StockChange


@dataclass(frozen=True, slots=True)
class Records:
    """Everything recorded, each tuple in the order of time."""

    applications: tuple[Application, ...] = ()
    runs: tuple[Run, ...] = ()
    gauge: tuple[GaugeReading, ...] = ()
    probes: tuple[ProbeReading, ...] = ()
    audits: tuple[Audit, ...] = ()
    archive: tuple[ArchivedHour, ...] = ()
    pairs: tuple[RainPair, ...] = ()
    stock: tuple[StockChange, ...] = ()
