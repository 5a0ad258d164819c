"""The sentences of the weather's notes: one for each kind, in the owner's units and on their clock.

A note may lie days back or, in a long file, months away, so its times bear their date and year.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from datetime import datetime

from advisor.advice import MembersFrom, Note, NoteKind, Variable
from advisor.units import convert, unit
from advisor.wording import Say, listed, short_day

Kind = NoteKind
DIMENSION = {
    Variable.TEMPERATURE: "temperature",
    Variable.DEW_POINT: "temperature",
    Variable.WIND: "wind",
    Variable.RAIN: "depth",
    Variable.SNOW: "depth",
    Variable.MEMBERS: "depth",
    Variable.SERVICE_ETO: "depth",
}
"""In what the owner's units measure a variable; the others are told as they are."""


def note_sentence(say: Say, note: Note) -> str:
    """A note in one sentence.

    >>> from datetime import UTC, datetime
    >>> from zoneinfo import ZoneInfo
    >>> from advisor.advice.notes import NoteLevel
    >>> say = Say("us", ZoneInfo("America/Chicago"), datetime(2026, 6, 18, 1, tzinfo=UTC))
    >>> at = datetime(2026, 6, 18, 2, tzinfo=UTC)
    >>> note_sentence(say, Note(level=NoteLevel.WARNING, kind=NoteKind.GAUGE_IMPOSSIBLE, at=at, depth_mm=-5.08))
    'The gauge reading of Wed 17 Jun 2026 21:00, -0.20 in, cannot be and is left out.'
    """
    return f"{SENTENCES[note.kind](say, note).rstrip('.')}."


def note_sentences(say: Say, notes: Iterable[Note]) -> tuple[str, ...]:
    """The sentences of several notes in their order, each once."""
    return tuple(dict.fromkeys(note_sentence(say, note) for note in notes))


def _time(say: Say, when: datetime | None) -> str:
    if when is None:
        return "an unknown time"
    there = when.astimezone(say.zone)
    return f"{short_day(there, year=True)} {there:%H:%M}"


def _depth(say: Say, mm: float | None) -> str:
    if mm is None or not math.isfinite(mm):
        return f"{mm} mm"
    return say.depth(mm)


def _plural(count: float | None, one: str) -> str:
    """1 hour, 3 hours, 2.5 days."""
    return f"{count or 0:g} {one}" if count == 1 else f"{count or 0:g} {one}s"


def _what(note: Note) -> str:
    """The variable at the head of a sentence."""
    words = "the weather" if note.variable is None else str(note.variable)
    return words[:1].upper() + words[1:]


def _hours(say: Say, note: Note) -> str:
    """How many hours, and the first of them."""
    if note.hours == 1:
        return f"1 hour ({_time(say, note.at)})"
    return f"{_plural(note.hours, 'hour')} (first {_time(say, note.at)})"


def _bare(value: float | None, dimension: str, units: str) -> str:
    """A bound in the owner's units without its unit, as short as it is."""
    if value is None:
        return "?"
    shown = convert(value, dimension, units) if dimension else value
    return f"{round(shown, 2) + 0.0:g}"


def _bounds(say: Say, note: Note) -> str:
    """The bounds of a variable: 0 to 5.91 in."""
    dimension = DIMENSION.get(note.variable, "") if note.variable else ""
    low, high = (_bare(value, dimension, say.units) for value in (note.low, note.high))
    name = unit(dimension, say.units) if dimension else "MJ/m² an hour" if _is_light(note) else ""
    return f"{low} to {high} {name}".rstrip()


def _is_light(note: Note) -> bool:
    return note.variable == Variable.RADIATION


# --- services ------------------------------------------------------------------------------------


def _service_failed(_: Say, n: Note) -> str:
    return f"{n.source}: {n.reason}"


def _older_answer_used(say: Say, n: Note) -> str:
    return f"{n.source}: {n.reason}; its answer of {_time(say, n.at)} is used"


def _answer_not_kept(_: Say, n: Note) -> str:
    return f"The answer could not be kept in {n.file} ({n.reason})"


def _asked_for_less(_: Say, n: Note) -> str:
    return f"{n.source}: {n.reason}; only {', '.join(n.names)} were asked for"


def _asked_one_model(_: Say, n: Note) -> str:
    return f"{n.source}: {n.reason}; only the model {', '.join(n.names)} was asked for"


def _answer_old(_: Say, n: Note) -> str:
    return f"{n.source}: its answer is {n.age_h or 0.0:.1f} h old"


def _issued_long_ago(_: Say, n: Note) -> str:
    return f"{n.source}: its forecast was {n.age_h or 0.0:.0f} h old when it was fetched"


def _passed_over(_: Say, n: Note) -> str:
    return (
        f"{n.source}: knows the {n.variable} of only {100 * (n.share or 0.0):.0f} % of the coming day and is "
        "passed over"
    )


def _members_old(_: Say, n: Note) -> str:
    return f"The rain members are {n.age_h or 0.0:.0f} h old and are left out"


def _each(say: Say, n: Note, verb: str = "") -> str:
    """Each source and its depth, the verb once: A expects 0.5 mm, B 6.6 mm."""
    leads = [f" {verb} " if verb else " ", *[" "] * len(n.names)]
    each = zip(n.names, leads, n.depths_mm, strict=False)
    return ", ".join(f"{name}{lead}{_depth(say, mm)}" for name, lead, mm in each)


def _sources_compared(say: Say, n: Note) -> str:
    return f"Rain of the next {n.hours} h: {_each(say, n)}"


def _sources_disagree(say: Say, n: Note) -> str:
    return (
        f"The sources disagree about the rain until {_time(say, n.until)}: {_each(say, n, 'expects')}; "
        "both are counted"
    )


def _past_from(say: Say, n: Note) -> str:
    return f"Past hours up to {_time(say, n.until)} are from {n.source}"


def _as_usual(_: Say, n: Note) -> str:
    return (
        f"No forecast stands behind the coming hours: they are as usual over {_plural(n.count, 'past day')}, "
        "which knows nothing of tonight"
    )


def _made_up(_: Say, __: Note) -> str:
    return "Invented demo weather in the true shape of an open service's answers"


# --- how it was made -----------------------------------------------------------------------------


def _hour_starts(_: Say, n: Note) -> str:
    return f"{n.source}: amounts moved from the end of their hour to its start"


def _stamps_set_back(_: Say, n: Note) -> str:
    return f"{n.source}: stamps {n.minutes} min past the UTC hour were set back to it"


def _sums_spread(_: Say, n: Note) -> str:
    return f"{n.source}: hours are 3- or 6-hour sums split evenly; judge by longer totals"


def _six_hourly_after(say: Say, n: Note) -> str:
    return f"{n.source}: after {_time(say, n.at)} its steps are six-hourly"


def _rain_reaches(say: Say, n: Note) -> str:
    return f"{n.source}: its rain reaches until {_time(say, n.until)}; unknown beyond"


def _radiation_made(_: Say, n: Note) -> str:
    return f"{n.source}: gives no radiation, so it is made from cloud cover (Kasten and Czeplak)"


BUILT_FROM = {
    MembersFrom.AMOUNT: "amount alone, the spread assumed: there is no chance of rain",
    MembersFrom.AMOUNT_AND_CHANCE: "amount and chance",
    MembersFrom.AMOUNT_RANGE_AND_CHANCE: "amount, range and chance",
}


def _members_built(_: Say, n: Note) -> str:
    basis = BUILT_FROM[n.members_from or MembersFrom.AMOUNT]
    return f"{n.source or 'The forecast'}: {n.count} rain members are built from its {basis}"


def _members_pooled(_: Say, n: Note) -> str:
    return f"The rain members of {listed(n.names)} are pooled with equal weight, {n.count} in all"


def _dew_made(_: Say, n: Note) -> str:
    of = "" if n.hours is None else f" of {n.hours} h"
    return f"{n.source or n.file}: dew point{of} made from humidity"


# --- what a source sent --------------------------------------------------------------------------


def _left_out(_: Say, n: Note) -> str:
    return f"{n.source}: left out {n.variable} ({n.reason})"


def _no_numbers(_: Say, n: Note) -> str:
    return f"{n.source}: left out {_plural(n.count, 'value')} of {n.variable}, no numbers"


def _values_outside(say: Say, n: Note) -> str:
    return f"{n.source}: left out {_plural(n.count, 'value')} of {n.variable} outside {_bounds(say, n)}"


def _series_missing(_: Say, n: Note) -> str:
    return f"{n.source}: there is no {n.variable}; it is unknown for every hour"


def _hours_missing(_: Say, n: Note) -> str:
    verb = "is missing in the middle and stays" if n.count == 1 else "are missing in the middle and stay"
    return f"{n.source}: {_plural(n.count, 'hour')} {verb} unknown"


def _members_dead(_: Say, n: Note) -> str:
    are = "is" if n.count == 1 else "are"
    return f"{n.source}: {n.count} of {n.of} members of {listed(n.names)} {are} dead or full of gaps"


# --- the owner's own file ------------------------------------------------------------------------


def _rows_sorted(_: Say, n: Note) -> str:
    return f"{n.file}: the rows were not in the order of time and have been sorted"


def _rows_missing(_: Say, n: Note) -> str:
    have = "has no row and stays" if n.count == 1 else "have no row and stay"
    return f"{n.file}: {_plural(n.count, 'hour')} {have} unknown"


def _column_missing(_: Say, n: Note) -> str:
    return f"{n.file}: has no {n.variable}"


def _file_ends(say: Say, n: Note) -> str:
    return f"{n.file}: ends at {_time(say, n.until)}; what follows is unknown"


# --- screening -----------------------------------------------------------------------------------


def _outside_limits(say: Say, n: Note) -> str:
    return f"{_what(n)}: {_hours(say, n)} dropped, outside {_bounds(say, n)}"


def _spike(say: Say, n: Note) -> str:
    return f"{_what(n)}: {_hours(say, n)} dropped, a leap away from both neighbours"


def _step(say: Say, n: Note) -> str:
    dimension = DIMENSION.get(n.variable, "") if n.variable else ""
    if dimension == "temperature":
        dimension = "temperature difference"
    name = unit(dimension, say.units) if dimension else ""
    limit = f"{_bare(n.high, dimension, say.units)} {name}".rstrip()
    return f"{_what(n)}: a step of more than {limit} within an hour, {_hours(say, n)}, kept"


def _stuck(say: Say, n: Note) -> str:
    return f"{_what(n)}: {_hours(say, n)} dropped, the same value for {n.of} h or more"


def _dew_too_high(say: Say, n: Note) -> str:
    return f"{_what(n)}: {_hours(say, n)} dropped, above the temperature"


def _gap_filled(say: Say, n: Note) -> str:
    return f"{_what(n)}: {_hours(say, n)} missing, filled by a straight line"


# --- gauge and archive ---------------------------------------------------------------------------


def _reading(say: Say, n: Note) -> str:
    return f"The gauge reading of {_time(say, n.at)}"


def _gauge_ahead(say: Say, n: Note) -> str:
    return f"{_reading(say, n)} lies ahead and is left out"


def _gauge_impossible(say: Say, n: Note) -> str:
    return f"{_reading(say, n)}, {_depth(say, n.depth_mm)}, cannot be and is left out"


def _gauge_first(_: Say, n: Note) -> str:
    return f"The first gauge reading is taken to cover {_plural(n.hours, 'hour')}"


def _gauge_overlaps(say: Say, n: Note) -> str:
    return f"{_reading(say, n)} overlaps the one before and counts from that one on"


def _gauge_twice(say: Say, n: Note) -> str:
    return f"{_reading(say, n)} was entered twice; the last entry counts"


def _gauge_no_time(say: Say, n: Note) -> str:
    return f"{_reading(say, n)} covers no time and is left out"


def _gauge_spread(_: Say, n: Note) -> str:
    return f"Past rain is from {_plural(n.count, 'gauge reading')}, spread over the hours by the model"


def _gauge_spread_evenly(_: Say, n: Note) -> str:
    are = "is" if n.count == 1 else "are"
    return f"{_plural(n.count, 'gauge reading')} {are} spread evenly: the model had no rain there"


def _past_rain(n: Note) -> str:
    return f"{_plural(n.hours, 'past hour')} of rain {'is' if n.hours == 1 else 'are'}"


def _past_archived(_: Say, n: Note) -> str:
    return f"{_past_rain(n)} as archived when {'it was' if n.hours == 1 else 'they were'} new"


def _past_observed(_: Say, n: Note) -> str:
    return f"{_past_rain(n)} as observed by {n.source}"


# --- evapotranspiration and the soil -------------------------------------------------------------


IMPOSSIBLE = {
    Variable.HUMIDITY: "More vapour than the air can hold",
    Variable.RADIATION: "More radiation than the sun gives, or less than none,",
    Variable.WIND: "No daily mean wind",
}


def _days_impossible(_: Say, n: Note) -> str:
    what = IMPOSSIBLE[n.variable or Variable.WIND]
    return f"{what} on {_plural(n.days, 'day')}: dropped"


def _eto_dew(_: Say, n: Note) -> str:
    return (
        "Humidity unknown: dew point taken as the night's minimum (FAO-56 eq. 48) on "
        f"{_plural(n.days, 'day')}"
    )


def _eto_wind(_: Say, n: Note) -> str:
    return f"Wind unknown: taken as 2 m/s (FAO-56 ch. 3) on {_plural(n.days, 'day')}"


def _eto_cloud(_: Say, n: Note) -> str:
    return f"Radiation unknown: from cloud cover (Kasten and Czeplak) on {_plural(n.days, 'day')}"


def _eto_range(_: Say, n: Note) -> str:
    return f"Radiation unknown: from the temperature range (Hargreaves) on {_plural(n.days, 'day')}"


def _eto_unknown(_: Say, n: Note) -> str:
    return f"ETo unknown: temperatures missing on {_plural(n.days, 'day')}"


def _eto_filled(_: Say, n: Note) -> str:
    return f"ETo of {_plural(n.days, 'day')} up to today unknown, taken as the mean of the known days"


def _eto_differs(say: Say, n: Note) -> str:
    return (
        f"Our ETo of {_depth(say, n.depth_mm)} over {n.days or 0.0:.1f} days differs from the source's own "
        f"{_depth(say, n.of_mm)} by {100 * (n.share or 0.0):.0f} %"
    )


def _no_ensemble(_: Say, __: Note) -> str:
    return "No ensemble: one forecast of rain, so no chance can be told from it"


def _nothing_ahead(_: Say, __: Note) -> str:
    return "The weather does not reach the coming hours: nothing is known about them"


def _no_rain_ahead(_: Say, n: Note) -> str:
    return f"{n.reason[:1].upper()}{n.reason[1:]}"


def _no_past(_: Say, __: Note) -> str:
    return "No past weather: the state of the soil is a guess"


def _past_rain_unknown(_: Say, n: Note) -> str:
    return f"Rain unknown in {_plural(n.hours, 'past hour')}, counted as none"


SENTENCES: Mapping[NoteKind, Callable[[Say, Note], str]] = {
    Kind.SERVICE_FAILED: _service_failed,
    Kind.OLDER_ANSWER_USED: _older_answer_used,
    Kind.ANSWER_NOT_KEPT: _answer_not_kept,
    Kind.ASKED_FOR_LESS: _asked_for_less,
    Kind.ASKED_ONE_MODEL: _asked_one_model,
    Kind.ANSWER_OLD: _answer_old,
    Kind.ISSUED_LONG_AGO: _issued_long_ago,
    Kind.PASSED_OVER: _passed_over,
    Kind.MEMBERS_OLD: _members_old,
    Kind.SOURCES_COMPARED: _sources_compared,
    Kind.SOURCES_DISAGREE: _sources_disagree,
    Kind.PAST_FROM: _past_from,
    Kind.AS_USUAL: _as_usual,
    Kind.MADE_UP: _made_up,
    Kind.HOUR_STARTS: _hour_starts,
    Kind.STAMPS_SET_BACK: _stamps_set_back,
    Kind.SUMS_SPREAD: _sums_spread,
    Kind.SIX_HOURLY_AFTER: _six_hourly_after,
    Kind.RAIN_REACHES: _rain_reaches,
    Kind.RADIATION_MADE: _radiation_made,
    Kind.MEMBERS_BUILT: _members_built,
    Kind.MEMBERS_POOLED: _members_pooled,
    Kind.DEW_MADE: _dew_made,
    Kind.LEFT_OUT: _left_out,
    Kind.NO_NUMBERS: _no_numbers,
    Kind.VALUES_OUTSIDE: _values_outside,
    Kind.SERIES_MISSING: _series_missing,
    Kind.HOURS_MISSING: _hours_missing,
    Kind.MEMBERS_DEAD: _members_dead,
    Kind.ROWS_SORTED: _rows_sorted,
    Kind.ROWS_MISSING: _rows_missing,
    Kind.COLUMN_MISSING: _column_missing,
    Kind.FILE_ENDS: _file_ends,
    Kind.OUTSIDE_LIMITS: _outside_limits,
    Kind.SPIKE: _spike,
    Kind.STEP: _step,
    Kind.STUCK: _stuck,
    Kind.DEW_TOO_HIGH: _dew_too_high,
    Kind.GAP_FILLED: _gap_filled,
    Kind.GAUGE_AHEAD: _gauge_ahead,
    Kind.GAUGE_IMPOSSIBLE: _gauge_impossible,
    Kind.GAUGE_FIRST: _gauge_first,
    Kind.GAUGE_OVERLAPS: _gauge_overlaps,
    Kind.GAUGE_TWICE: _gauge_twice,
    Kind.GAUGE_NO_TIME: _gauge_no_time,
    Kind.GAUGE_SPREAD: _gauge_spread,
    Kind.GAUGE_SPREAD_EVENLY: _gauge_spread_evenly,
    Kind.PAST_ARCHIVED: _past_archived,
    Kind.PAST_OBSERVED: _past_observed,
    Kind.DAYS_IMPOSSIBLE: _days_impossible,
    Kind.ETO_DEW_FROM_MINIMUM: _eto_dew,
    Kind.ETO_WIND_ASSUMED: _eto_wind,
    Kind.ETO_RADIATION_FROM_CLOUD: _eto_cloud,
    Kind.ETO_RADIATION_FROM_RANGE: _eto_range,
    Kind.ETO_UNKNOWN: _eto_unknown,
    Kind.ETO_FILLED: _eto_filled,
    Kind.ETO_DIFFERS: _eto_differs,
    Kind.NO_ENSEMBLE: _no_ensemble,
    Kind.NOTHING_AHEAD: _nothing_ahead,
    Kind.NO_RAIN_AHEAD: _no_rain_ahead,
    Kind.NO_PAST: _no_past,
    Kind.PAST_RAIN_UNKNOWN: _past_rain_unknown,
}
