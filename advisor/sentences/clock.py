"""Sentences of a clock sheet: days, what a clock must hold, what is off, what is assumed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from advisor.advice import (
    Assumption,
    AssumptionKind,
    ClimateBasis,
    ClimateKind,
    ClockDays,
    ClockNeeds,
    ClockSheet,
    CountedRain,
    DaysKind,
    OffReason,
    SheetMonth,
)
from advisor.units import show
from advisor.wording import MONTHS, count_words, listed, verb, weekdays_words

Kind = AssumptionKind

SET_BY: Sequence[tuple[str, frozenset[DaysKind]]] = (
    ("weekdays", frozenset({DaysKind.WEEKDAYS, DaysKind.WEEKDAYS_ON_DATES})),
    ("intervals of days", frozenset({DaysKind.INTERVAL})),
    ("odd or even dates", frozenset({DaysKind.DATES, DaysKind.WEEKDAYS_ON_DATES})),
)
OFF: Mapping[OffReason, str] = {OffReason.FROST: "frost", OffReason.RAIN: "rain and dew are enough"}
COUNTED: Mapping[CountedRain, str] = {
    CountedRain.BY_DAY: (
        "Of a day's rain the first 2.5 mm (0.1 in) count for nothing, two thirds above 25 mm (1 in), nothing "
        "above 51 mm (2 in) (Texas A&M AgriLife Extension)."
    ),
    CountedRain.BY_MONTH: (
        "Of a month's rain the part counts that comes in four years of five (FAO, dependable rain)."
    ),
    CountedRain.AS_GIVEN: "The rain that counts is as the file says.",
}
TOLD_SHORT_MM = 0.5
"""From here on it is told that the allowed days let the root zone pass its allowance."""


def days_words(days: ClockDays) -> str:
    """The days of a program, as they are set on a clock.

    >>> days_words(ClockDays(kind=DaysKind.INTERVAL, every_days=3))
    'every 3 days'
    """
    if days.kind == DaysKind.INTERVAL:
        return f"every {days.every_days} days"
    if days.kind == DaysKind.DATES:
        return f"{days.parity} dates"
    words = weekdays_words(days.weekdays)
    return f"{words}, on {days.parity} dates only" if days.kind == DaysKind.WEEKDAYS_ON_DATES else words


def needs_words(needs: ClockNeeds | None) -> str:
    """What the clock must hold."""
    if needs is None:
        return "Nothing here is for a clock."
    used = [word for word, kinds in SET_BY if not kinds.isdisjoint(needs.days)]
    told = f"It needs a clock with {count_words(needs.programs, 'program')} of up to "
    told += count_words(needs.starts, "start time") + (f", set by {listed(used)}" if used else "")
    told += ", that runs the zones of a program one after another at each start."
    if DaysKind.WEEKDAYS_ON_DATES in needs.days:
        told += " Weekdays and dates have to hold together: set the other weekdays off."
    return told


def assumption_words(assumption: Assumption) -> str:
    """What the sheet assumes or leaves out."""
    zones = listed(assumption.zones)
    if assumption.kind == Kind.CLIMATE and assumption.climate is not None:
        return climate_words(assumption.climate)
    if assumption.kind == Kind.GUESSED_RATE:
        return f"The rate of {zones} is a guess from the head type: measure it with `advisor audit`."
    if assumption.kind == Kind.BY_HAND:
        are = verb(assumption.zones)
        return (
            f"{zones} {are} watered by hand and not on a clock: `advisor tonight` says when, "
            "`advisor runtime` how long."
        )
    return ASSUMPTIONS[assumption.kind]


ASSUMPTIONS: Mapping[AssumptionKind, str] = {
    Kind.USUAL_YEAR_ONLY: (
        "A clock cannot see the weather: this sheet is a fallback for the usual year. In a dry week it is too "
        "little, in a wet one too much; `advisor tonight` does better."
    ),
    Kind.ESTABLISHED_TURF: (
        "Established turf; seed, new turf and products that want water or want to stay dry go their own ways."
    ),
    Kind.MODES_LEFT_OUT: "Modes with an end date (seed, new, syringe) are not on this sheet.",
    Kind.BLACKOUTS_LEFT_OUT: "Blackout dates are not on this sheet: turn the clock off on them.",
}


def climate_words(basis: ClimateBasis) -> str:
    """What a usual year rests on, and which part of its rain counts."""
    made = (
        f"Means of {basis.days} days from {basis.first} to {basis.last}."
        if basis.kind == ClimateKind.HOURS
        else f"Monthly means as written in {basis.file}."
    )
    return f"{made} {COUNTED[basis.counted_rain]}"


def off_words(sheet: ClockSheet) -> str:
    """Which zones are off in which months, and why."""
    by_why: dict[tuple[OffReason, tuple[str, ...]], list[str]] = {}
    for month in sheet.months:
        if month.off:
            zones = month.off if month.programs or month.not_fitting else ()
            by_why.setdefault((month.why_off, zones), []).append(MONTHS[month.month - 1])
    told = [
        f"{listed(zones) if zones else 'all zones'} in {listed(months)} ({OFF[why]})"
        for (why, zones), months in by_why.items()
    ]
    return f"Off: {'; '.join(told)}." if told else "On all year."


def notes(sheet: ClockSheet) -> tuple[str, ...]:
    """How the table is read, and what does not go as it should."""
    all_zones = [zone for month in sheet.months for program in month.programs for zone in program.zones]
    worst = max((zone.short_mm for zone in all_zones), default=0.0)
    told = [
        "Min: minutes at each start; at a start the zones run in this order. Depth is what a day's "
        "starts give the drier part of a zone."
    ]
    if worst > TOLD_SHORT_MM:
        short = show(worst, "depth", sheet.units)
        told.append(
            f"* The allowed days leave the root zone up to {short} past its allowance: expect some stress."
        )
    soaks = {zone.zone: zone.soak_min for zone in all_zones if zone.soak_min}
    if soaks:
        least = listed(f"{name} {soak} min" for name, soak in soaks.items())
        told.append(
            f"Where starts are moved, leave time to soak between two runs of a zone: at least {least}."
        )
    return (*told, *_unfit(sheet.months))


def _unfit(months: Sequence[SheetMonth]) -> list[str]:
    by_zones: dict[tuple[str, ...], list[str]] = {}
    for month in months:
        if month.not_fitting:
            by_zones.setdefault(month.not_fitting, []).append(MONTHS[month.month - 1])
    return [
        f"DOES NOT FIT: {listed(zones)} in {listed(names)}. The allowed hours, days and minutes are too few; "
        "allow more, or let zones run at once where the supply carries them."
        for zones, names in by_zones.items()
    ]
