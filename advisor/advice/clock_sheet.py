"""A clock sheet as it is handed out: what to set a clock to by month, what that asks of it and assumes."""

from __future__ import annotations

from datetime import date
from enum import StrEnum
from typing import Literal

from advisor.advice.cautions import Caution
from advisor.advice.frozen import Frozen
from advisor.lawn import Parity


class DaysKind(StrEnum):
    """How the days of a program are set on a clock."""

    EVERY_DAY = "every day"
    WEEKDAYS = "weekdays"
    INTERVAL = "interval"
    DATES = "odd or even dates"
    WEEKDAYS_ON_DATES = "weekdays that are odd or even dates"


class OffReason(StrEnum):
    """Why zones stay off in a month."""

    FROST = "frost"
    RAIN = "rain and dew are enough"


class ClimateKind(StrEnum):
    """What a usual year is worked out from."""

    HOURS = "hours of past years"
    MONTHS = "monthly means"


class CountedRain(StrEnum):
    """How the part of the rain that counts is found."""

    BY_DAY = "day by day"
    BY_MONTH = "four years of five"
    AS_GIVEN = "as given"


class AssumptionKind(StrEnum):
    """What a sheet assumes or leaves out."""

    USUAL_YEAR_ONLY = "the usual year only"
    CLIMATE = "climate"
    ESTABLISHED_TURF = "established turf"
    GUESSED_RATE = "guessed rate"
    BY_HAND = "watered by hand"
    MODES_LEFT_OUT = "modes with an end date"
    BLACKOUTS_LEFT_OUT = "blackout dates"


class ClimateBasis(Frozen):
    """What a usual year rests on."""

    kind: ClimateKind
    """What it is worked out from."""
    counted_rain: CountedRain
    """Which part of its rain counts."""
    file: str = ""
    """The file with the monthly means."""
    days: int | None = None
    """How many days of the past years are known."""
    first: date | None = None
    """The first of them."""
    last: date | None = None
    """The last of them."""


class Assumption(Frozen):
    """One thing that the sheet assumes or leaves out."""

    kind: AssumptionKind
    """What it is."""
    text: str = ""
    """The same in sentences."""
    zones: tuple[str, ...] = ()
    """The zones that it is about."""
    climate: ClimateBasis | None = None
    """What the usual year rests on."""


class ClockDays(Frozen):
    """The days of a program, as they are set on a clock."""

    kind: DaysKind
    """How they are set."""
    weekdays: tuple[int, ...] = ()
    """The days of the week, 0 Monday … 6 Sunday; empty for an interval and for odd or even dates."""
    every_days: int | None = None
    """The interval, days."""
    parity: Parity = Parity.ANY
    """Odd or even dates; any where the date plays no part."""


class ClockNeeds(Frozen):
    """What a clock must hold for this sheet."""

    programs: int
    """How many programs."""
    starts: int
    """How many start times a program."""
    days: tuple[DaysKind, ...]
    """The ways in which its days are set."""


class SheetZone(Frozen):
    """One zone in one program and month."""

    zone: str
    """The zone."""
    minutes: int
    """Run time at each start, min."""
    use_mm_d: float
    """What the turf uses, mm/d."""
    rain_mm_d: float
    """The rain that counts, mm/d."""
    need_mm_d: float
    """What the clock has to bring, mm/d."""
    effective_mm: float
    """What a watering day gives the drier part, mm."""
    depth_mm: float
    """What a watering day gives on average, mm."""
    litres: float
    """The water that takes, L."""
    soak_min: int
    """The least pause between two of its runs, min; 0 where it runs once a day."""
    short_mm: float
    """How far the allowed days let the root zone pass its allowance, mm; 0 where they do not."""


class SheetProgram(Frozen):
    """One program of the clock in one month: at each start its zones run in order, one after another."""

    name: str
    """Its letter."""
    days: str
    """Its days, in the words of a clock."""
    set_days: ClockDays
    """The same as data."""
    days_a_week: float
    """How many watering days that makes a week."""
    starts: tuple[str, ...]
    """Its start times by the local clock, 04:30."""
    ends: str
    """When the last zone of the last start ends, by the local clock."""
    minutes: int
    """Run time of a watering day, min."""
    zones: tuple[SheetZone, ...]
    """Its zones in the order they run."""


class SheetMonth(Frozen):
    """One month: its programs, the zones that stay off, those that do not fit, and its water."""

    month: int
    """The month, 1–12."""
    programs: tuple[SheetProgram, ...]
    """The programs that run."""
    off: tuple[str, ...]
    """The zones that stay off."""
    why_off: OffReason
    """Why zones that stay off do so in this month."""
    not_fitting: tuple[str, ...]
    """The zones for which the allowed hours, days and minutes are too few."""
    litres: float
    """The water of the month, L."""


class ClockSheet(Frozen):
    """What to set the clock to through the year."""

    schema_version: Literal["advisor.clock-sheet/1"] = "advisor.clock-sheet/1"
    """The version of this form."""
    site: str
    """The site's name."""
    units: str
    """The owner's units: "metric" or "us"."""
    made_on: date
    """The local date on which it was made."""
    climate_source: str
    """Where the usual year is from, and whom to credit."""
    clock: str
    """What the clock must hold, in a sentence."""
    needs: ClockNeeds | None = None
    """The same as data; none where nothing here is for a clock."""
    months: tuple[SheetMonth, ...]
    """January to December."""
    assumptions: tuple[str, ...]
    """What it assumes and leaves out, in sentences."""
    assumed: tuple[Assumption, ...] = ()
    """The same as data, in the order of the sentences."""
    cautions: tuple[str, ...]
    """What to mind, in sentences."""
    caution_kinds: tuple[Caution, ...] = ()
    """The same as data, in the order of the sentences."""
