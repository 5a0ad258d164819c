"""What the schedule has to tell, as data: why water is not planned and what would help, notes and wind.

The sentences for these are made in `sentences.schedule`.
"""

from __future__ import annotations

from datetime import date, datetime, time
from enum import StrEnum

from advisor.advice.frozen import Frozen


class ClosedBy(StrEnum):
    """Which rule lets no water run on a date."""

    WEEKDAY = "weekday"
    ODD = "odd dates only"
    EVEN = "even dates only"
    BLACKOUT = "blackout"


class ClosedDate(Frozen):
    """A local date on which the rules let no water run."""

    day: date
    """The local date."""
    by: ClosedBy
    """The rule that closes it."""
    why: str = ""
    """What the owner wrote beside a blackout."""


class HoursNoteKind(StrEnum):
    """What is not plain about a night's hours."""

    NO_SUNRISE = "no sunrise"
    BY_DAY = "all hours come after sunrise"
    CLOCK_CHANGES = "the clock changes"


class HoursNote(Frozen):
    """Something that is not plain about a night's hours."""

    kind: HoursNoteKind
    """What it is."""
    day: date | None = None
    """The date without a sunrise."""
    at: datetime | None = None
    """The sunrise before all hours."""
    minutes: int = 0
    """By how much the hours are longer (or, below 0, shorter) than the clock says [min]."""


class NotPlannedKind(StrEnum):
    """What keeps wanted water out of tonight's plan."""

    CLOSED = "the rules close the night"
    NO_HOURS = "no allowed hours are left"
    SUPPLY = "more than the supply carries"
    MINUTES = "more minutes than a night has"
    MINUTES_TAKEN = "the minutes are taken"
    NOBODY_AWAKE = "nobody is awake"
    DRY = "has to stay dry"
    FROST = "frost"
    DUE = "due too soon"
    NOT_BEFORE = "may not begin in time"
    SEVERAL = "several limits at once"
    TOO_LONG = "longer than the allowed hours"
    CROWDED = "others come first"


class NoLaterNight(StrEnum):
    """Why no coming night is named for water that is not planned."""

    DUE_BEFORE = "due before the next allowed night"
    NO_ROOM = "no coming night has room"


class NotPlannedReason(Frozen):
    """Why water is not planned, with the numbers of its kind; None or empty where they play no part."""

    kind: NotPlannedKind
    """What stops it."""
    minutes: int
    """Run time of the whole that is wanted [min]."""
    soak_minutes: int = 0
    """Soaks between its cycles [min]."""
    runs_minutes: int = 0
    """Run time of the part that does run tonight [min]."""
    limit_minutes: int | None = None
    """The run time that the rules allow a night, or the longest allowed stretch [min]."""
    taken_minutes: int = 0
    """Run time of the zones that come first [min]."""
    before: tuple[str, ...] = ()
    """The zones that come first."""
    flow_l_min: float | None = None
    """What the zone draws [L/min]."""
    supply_l_min: float | None = None
    """What the supply carries [L/min]."""
    until: datetime | None = None
    """The end of the dry period, the time it is due, or the time before which it may not begin."""
    awake: tuple[time, time] | None = None
    """The local waking hours of who moves a hose."""
    least_temp_c: float | None = None
    """The temperature below which nothing runs [°C]."""
    closed: tuple[ClosedDate, ...] = ()
    """The dates that the rules close."""
    no_later: NoLaterNight | None = None
    """Why no coming night is named."""


class ChangeKind(StrEnum):
    """What the owner could change so that wanted water fits."""

    MORE_HOURS = "allow more hours, weekdays or dates"
    HOURS_BY_DAY = "allow hours by day or in the evening"
    HOURS_FROM = "allow watering from an earlier hour"
    PAST_SUNRISE = "let runs go on after sunrise"
    MINUTES = "allow more minutes a night"
    MEASURE_FLOWS = "measure the flows"
    DIVIDE_ZONE = "divide the zone"
    ENTER_FLOWS = "enter the flows"
    RAISE_SUPPLY = "raise the supply's flow"
    FIT_VALVE = "fit a valve or a tap timer"
    WAIT_NO_FROST = "wait for a night without frost"
    SPLIT_DEPTH = "split the depth over two nights"
    SPLIT_RUNS = "split the runs over two nights"


class PossibleChange(Frozen):
    """One thing the owner could change, enough by itself."""

    kind: ChangeKind
    """What to change."""
    since: time | None = None
    """The local hour from which watering would have to be allowed."""
    minutes: int | None = None
    """The run time a night that would have to be allowed, alone or together with the hours [min]."""
    flow_l_min: float | None = None
    """The flow that the supply would need [L/min]."""
    zones: tuple[str, ...] = ()
    """The zones whose flow is to be entered; none where the supply's is not known either."""


class PlanNoteKind(StrEnum):
    """What is worth knowing about a plan."""

    TEMPERATURE_UNKNOWN = "temperature unknown"
    WIND_UNKNOWN = "wind unknown"
    WIND_GAPS = "wind known in part"
    PUDDLES_SOONER = "the soil takes less at a time"
    SEED_DRIES = "seed may dry by day"
    NO_COOLING = "no cooling at midday"


class PlanNote(Frozen):
    """Something worth knowing about a plan."""

    kind: PlanNoteKind
    """What it is."""
    zones: tuple[str, ...] = ()
    """The zones it is about."""
    minutes: int | None = None
    """The longest stretch of the plan [min]."""
    soil_minutes: float | None = None
    """The longest stretch that the soil takes [min]."""
    reason: NotPlannedReason | None = None
    """Why a cooling run is left out."""


class PlanWind(Frozen):
    """The wind that the plan meets."""

    during_m_s: float
    """Mean wind at 10 m while water runs [m/s]."""
    allowed_m_s: float
    """Mean wind at 10 m over all allowed hours [m/s]."""


class CheckName(StrEnum):
    """The checks that a plan keeps every rule."""

    ANSWERED = "every want answered"
    ALLOWED_HOURS = "inside the allowed hours"
    SUNRISE = "ends by sunrise"
    IN_TIME = "in time"
    DRY = "dry periods kept"
    FROST = "no run in frost"
    SOAKS = "soaks kept"
    FLOW = "flow carried"
    MINUTES = "minutes a night kept"
    AWAKE = "by hand while awake"
    DEPTH = "depth delivered"
    LITRES = "litres add up"


class CheckFailure(Frozen):
    """What a check found wrong; only the numbers that the check is about are set."""

    check: CheckName
    """The check."""
    zones: tuple[str, ...] = ()
    """The zones it found."""
    answered: tuple[str, ...] = ()
    """The zones that were answered, where not all were."""
    minutes: float | None = None
    """The run time found [min]."""
    of_minutes: float | None = None
    """The run time wanted or allowed [min]."""
    depth_mm: float | None = None
    """The depth that is printed [mm]."""
    litres: float | None = None
    """The litres that are printed [L]."""
    area_m2: float | None = None
    """The area of the zone [m²]."""
    at: datetime | None = None
    """When."""
    least_temp_c: float | None = None
    """The temperature below which nothing runs [°C]."""
    flows_known: bool = True
    """Whether the flows of what runs at once are known."""
    is_cut: bool = False
    """Whether the run was cut."""
