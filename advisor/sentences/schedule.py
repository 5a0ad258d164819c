"""The schedule in sentences: why water is not planned, what would help, what is worth knowing about a plan."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime
from typing import Protocol

from advisor.advice import (
    ChangeKind,
    CheckFailure,
    CheckName,
    ClosedBy,
    ClosedDate,
    HoursNote,
    HoursNoteKind,
    NoLaterNight,
    NotPlannedKind,
    NotPlannedReason,
    PlanNote,
    PlanNoteKind,
    PlanWind,
    PossibleChange,
)
from advisor.wording import Say, listed, long_day, verb


class Stretch(Protocol):
    """A stretch of time."""

    @property
    def starts_at(self) -> datetime:
        """Its beginning."""

    @property
    def ends_at(self) -> datetime:
        """Its end."""


# --- why not, and what would help -----------------------------------------------------------------

NO_LATER = {
    NoLaterNight.DUE_BEFORE: " It is due before the next allowed night.",
    NoLaterNight.NO_ROOM: " No coming night has room for it either.",
}


def not_planned_words(say: Say, zone: str, reason: NotPlannedReason) -> str:
    """Why water that a zone wants is not in the plan."""
    why = _WHY[reason.kind](say, zone, reason)
    if reason.runs_minutes:
        why = f"{reason.runs_minutes} of its {reason.minutes} min run tonight. {why}"
    return f"{why}{NO_LATER[reason.no_later] if reason.no_later is not None else ''}"


def _water(r: NotPlannedReason) -> str:
    soak = f" and {r.soak_minutes} min of soaking" if r.soak_minutes else ""
    return f"{r.minutes} min of water{soak}"


def _come_first(r: NotPlannedReason) -> str:
    return f"{listed(r.before)} {verb(r.before, 'comes', 'come')} first"


def _supply(say: Say, zone: str, r: NotPlannedReason) -> str:
    draws, carries = say.flow(r.flow_l_min or 0.0), say.flow(r.supply_l_min or 0.0)
    return f"{zone} draws {draws}; the supply carries {carries}."


def _minutes(_: Say, zone: str, r: NotPlannedReason) -> str:
    return f"{zone} needs {r.minutes} min; the rules allow {r.limit_minutes} min of run time a night."


def _taken(_: Say, zone: str, r: NotPlannedReason) -> str:
    return (
        f"{_come_first(r)} with {r.taken_minutes} min; with the {r.minutes} min of {zone} that is more than "
        f"the {r.limit_minutes} min of run time allowed a night."
    )


def _nobody_awake(_: Say, zone: str, r: NotPlannedReason) -> str:
    hours = "" if r.awake is None else f" ({r.awake[0]:%H:%M}–{r.awake[1]:%H:%M})"
    return (
        f"{zone} is moved by hand, and {_water(r)} do not fit into the allowed hours in which somebody "
        f"is awake{hours}."
    )


def _frost(say: Say, _: str, r: NotPlannedReason) -> str:
    least = "freezing" if r.least_temp_c is None else say.temperature(r.least_temp_c)
    return f"It is forecast to be below {least} in the allowed hours: no run when it may freeze."


_WHY: Mapping[NotPlannedKind, Callable[[Say, str, NotPlannedReason], str]] = {
    NotPlannedKind.CLOSED: lambda _, __, r: closed_words(r.closed),
    NotPlannedKind.NO_HOURS: lambda *_: "No allowed hours are left tonight.",
    NotPlannedKind.SUPPLY: _supply,
    NotPlannedKind.MINUTES: _minutes,
    NotPlannedKind.MINUTES_TAKEN: _taken,
    NotPlannedKind.NOBODY_AWAKE: _nobody_awake,
    NotPlannedKind.DRY: lambda say, zone, r: f"{zone} has to stay dry until {_when(say, r.until)}.",
    NotPlannedKind.FROST: _frost,
    NotPlannedKind.DUE: lambda say, zone, r: f"{zone} needs {_water(r)} and is due by {_when(say, r.until)}.",
    NotPlannedKind.NOT_BEFORE: lambda say, zone, r: (
        f"{zone} needs {_water(r)} and may not begin before {_when(say, r.until)}."
    ),
    NotPlannedKind.SEVERAL: lambda _, zone, r: (
        f"{zone} needs {_water(r)}; what the rules, dry periods, frost and times due leave is too short."
    ),
    NotPlannedKind.TOO_LONG: lambda _, zone, r: (
        f"{zone} needs {_water(r)}; the longest allowed stretch tonight has {r.limit_minutes} min."
    ),
    NotPlannedKind.CROWDED: lambda _, zone, r: (
        f"{_come_first(r)}; {_water(r)} for {zone} do not fit beside that in the allowed hours."
    ),
}

IF_RULES = ", if local rules allow it"


def change_words(say: Say, change: PossibleChange) -> str:
    """One thing the owner could change, after "You could"."""
    more = "" if change.minutes is None else f"allow {change.minutes} min a night"
    if change.kind == ChangeKind.MINUTES:
        return f"{more}{IF_RULES}"
    also = f"{more}, and " if more else ""
    if change.kind == ChangeKind.HOURS_FROM:
        return f"{also}allow watering from {change.since:%H:%M}{IF_RULES}"
    if change.kind == ChangeKind.RAISE_SUPPLY:
        flow = say.flow(change.flow_l_min or 0.0)
        return f"raise the supply's flow to {flow}, so that two zones run at once"
    if change.kind == ChangeKind.ENTER_FLOWS and change.zones:
        flows = verb(change.zones, "flow", "flows")
        return f"enter the {flows} of {listed(change.zones)}, so that zones run at once where the supply carries them"
    return f"{also}{_CHANGES[change.kind]}"


_CHANGES = {
    ChangeKind.MORE_HOURS: f"allow more hours, weekdays or dates in the watering rules{IF_RULES}",
    ChangeKind.HOURS_BY_DAY: f"allow hours by day or in the evening{IF_RULES}",
    ChangeKind.PAST_SUNRISE: f"let runs go on after sunrise (finish_by: window){IF_RULES}",
    ChangeKind.MEASURE_FLOWS: "measure both flows and correct the site file",
    ChangeKind.DIVIDE_ZONE: "divide the zone into two that the supply carries",
    ChangeKind.ENTER_FLOWS: (
        "enter the supply's flow and each zone's, so that zones can run at once where it carries them"
    ),
    ChangeKind.FIT_VALVE: "fit a valve or a tap timer",
    ChangeKind.WAIT_NO_FROST: "wait for a night without frost",
    ChangeKind.SPLIT_DEPTH: "split the depth over two nights",
    ChangeKind.SPLIT_RUNS: "split the runs over two nights",
}


# --- the hours of a night -------------------------------------------------------------------------

_CLOSED = {
    ClosedBy.WEEKDAY: "not an allowed weekday",
    ClosedBy.ODD: "not an odd date",
    ClosedBy.EVEN: "not an even date",
    ClosedBy.BLACKOUT: "blackout",
}


def closed_words(closed: Sequence[ClosedDate]) -> str:
    """Which dates the rules leave out; "" when none."""
    told = [f"{_day(c.day)}: {_CLOSED[c.by]}{f' ({c.why})' if c.why else ''}" for c in closed]
    return f"The rules allow no watering on {'; '.join(told)}." if told else ""


def hours_note_words(say: Say, note: HoursNote) -> str:
    """What is not plain about a night's hours."""
    if note.kind == HoursNoteKind.NO_SUNRISE and note.day is not None:
        return f"There is no sunrise on {_day(note.day)}; the end of the allowed hours is used instead."
    if note.kind == HoursNoteKind.BY_DAY and note.at is not None:
        return (
            f"All allowed hours come after sunrise ({note.at.astimezone(say.zone):%H:%M}); they are used as the "
            "rules give them, though more of the water is lost to sun and wind by day."
        )
    word = "longer" if note.minutes > 0 else "shorter"
    return f"The clock changes: the allowed hours are {abs(note.minutes)} min {word} than the clock says."


def hours_words(say: Say, windows: Sequence[Stretch]) -> str:
    """Some hours by the dates on which they begin: "Wednesday 14 January, 04:00–05:49"."""
    told: list[str] = []
    before = None
    for window in windows:
        a, b = window.starts_at.astimezone(say.zone), window.ends_at.astimezone(say.zone)
        hours = f"{a:%H:%M}–{b:%H:%M}"
        told.append(hours if a.date() == before else f"{_day(a.date())}, {hours}")
        before = a.date()
    return listed(told)


# --- the plan -------------------------------------------------------------------------------------


def plan_note_words(say: Say, note: PlanNote) -> str:
    """What is worth knowing about a plan."""
    zones = listed(note.zones)
    if note.kind == PlanNoteKind.PUDDLES_SOONER:
        return (
            f"{zones}: the soil takes only {note.soil_minutes:.1f} min at a time; the plan has "
            f"{note.minutes} min. Stop when it puddles and go on after a soak."
        )
    if note.kind == PlanNoteKind.SEED_DRIES:
        return f"{zones}: the rules hold no daytime hours, so the seed may dry at midday; look at it then."
    if note.kind == PlanNoteKind.NO_COOLING and note.reason is not None:
        return f"No cooling of {zones} at midday: {not_planned_words(say, zones, note.reason)}"
    return _NOTES[note.kind]


_NOTES = {
    PlanNoteKind.TEMPERATURE_UNKNOWN: (
        "The temperature is not known for all of the planned hours: run nothing if there is frost."
    ),
    PlanNoteKind.WIND_UNKNOWN: "The wind is not known for the allowed hours: the latest hours are taken.",
    PlanNoteKind.WIND_GAPS: (
        "The wind is not known for all of the allowed hours: gaps count as the others' mean."
    ),
}


def wind_words(say: Say, wind: PlanWind | None) -> str:
    """The mean wind of the run minutes beside that of all allowed hours; "" when unknown."""
    if wind is None:
        return ""
    during, overall = say.wind(wind.during_m_s), say.wind(wind.allowed_m_s)
    return f"Mean wind while water runs {during}; over all allowed hours {overall}."


# --- checks ---------------------------------------------------------------------------------------


def check_words(say: Say, failure: CheckFailure) -> str:
    """What a check found wrong."""
    return _FAILURES[failure.check](say, failure)


def _flow_failure(say: Say, f: CheckFailure) -> str:
    names = " and ".join(f.zones)
    if not f.flows_known:
        return f"{names} run at once though their flows or the supply's are not known"
    if f.at is not None:
        return f"{names} are moved by hand and run at once at {say.clock(f.at)}"
    return f"{names} together draw more than the supply carries"


def _depth_failure(say: Say, f: CheckFailure) -> str:
    zone = listed(f.zones)
    if f.depth_mm is not None:
        return f"{zone}: {say.depth(f.depth_mm)} is not what {f.minutes:g} min deliver"
    if f.is_cut:
        return f"{zone} is cut to {f.minutes:g} of {f.of_minutes:g} min"
    return f"{zone} runs {f.minutes:g} min, {f.of_minutes:g} wanted"


def _says(words: str) -> Callable[[Say, CheckFailure], str]:
    return lambda _, f: f"{listed(f.zones)} {words}"


_FAILURES: Mapping[CheckName, Callable[[Say, CheckFailure], str]] = {
    CheckName.ANSWERED: lambda _, f: f"wanted: {listed(f.zones)}; answered: {listed(f.answered)}",
    CheckName.ALLOWED_HOURS: _says("runs outside the allowed hours"),
    CheckName.SUNRISE: _says("runs after sunrise"),
    CheckName.IN_TIME: _says("runs before it may or after it is due"),
    CheckName.DRY: _says("runs while it has to stay dry"),
    CheckName.FROST: lambda say, f: (
        f"{listed(f.zones)} runs while it is below {say.temperature(f.least_temp_c or 0.0)}"
    ),
    CheckName.SOAKS: _says("soaks too short"),
    CheckName.FLOW: _flow_failure,
    CheckName.MINUTES: lambda _, f: f"{f.minutes:g} min planned, {f.of_minutes:g} allowed",
    CheckName.AWAKE: lambda say, f: (
        f"{listed(f.zones)} is moved by hand"
        f"{'' if f.at is None else f' at {f.at.astimezone(say.zone):%H:%M}'}, outside the waking hours"
    ),
    CheckName.DEPTH: _depth_failure,
    CheckName.LITRES: lambda say, f: (
        f"{listed(f.zones)}: {f.litres:g} L is not {say.depth(f.depth_mm or 0.0)} on {f.area_m2:g} m²"
    ),
}


def _day(day: date) -> str:
    return long_day(day)


def _when(say: Say, when: datetime | None) -> str:
    if when is None:
        return ""
    local = when.astimezone(say.zone)
    return f"{local:%H:%M} on {long_day(local.date())}"
