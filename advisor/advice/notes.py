"""Notes as data: how the weather was made, and what was mended, left out or is missing in it.

A note is made where the thing happens, with its numbers in SI and its times in UTC; the sentence for it
is made in the owner's units and local time by `advisor.sentences.weather_notes`.
"""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum

from advisor.advice.frozen import Frozen


class NoteLevel(StrEnum):
    """How much a note matters to the reader."""

    TOLD = "told"
    """How something was made; nothing is wrong."""
    REPAIRED = "repaired"
    """Something was missing and has been filled in."""
    DROPPED = "dropped"
    """Something could not be and was left out."""
    WARNING = "warning"
    """Something is missing or doubtful, and the reader should know."""


class Variable(StrEnum):
    """What a note is about, in the words of the trade."""

    TEMPERATURE = "temperature"
    DEW_POINT = "dew point"
    HUMIDITY = "humidity"
    WIND = "wind"
    RADIATION = "radiation"
    CLOUD = "cloud cover"
    RAIN = "rain"
    SNOW = "snow"
    CHANCE = "chance of rain"
    MEMBERS = "rain members"
    SERVICE_ETO = "the source's own ETo"


class MembersFrom(StrEnum):
    """What rain members that a source does not give are built from."""

    AMOUNT = "amount"
    AMOUNT_AND_CHANCE = "amount and chance"
    AMOUNT_RANGE_AND_CHANCE = "amount, range and chance"


class NoteKind(StrEnum):
    """What a note says, and beside it the values that it carries."""

    # services, and which of them serves
    SERVICE_FAILED = "a service failed"
    """`source` failed for `reason`."""
    OLDER_ANSWER_USED = "an older answer is used"
    """`source` failed for `reason`; its answer of `at` is used."""
    ANSWER_NOT_KEPT = "the answer could not be kept"
    """The answer could not be kept in `file` for `reason`."""
    ASKED_FOR_LESS = "asked for less"
    """`source` refused for `reason`; only the columns `names` were asked for."""
    ASKED_ONE_MODEL = "asked one model"
    """`source` refused for `reason`; only the models `names` were asked for."""
    ANSWER_OLD = "the answer is old"
    """The answer of `source` is `age_h` old."""
    ISSUED_LONG_AGO = "issued long ago"
    """The forecast of `source` was `age_h` old when it was fetched."""
    PASSED_OVER = "passed over"
    """`source` knows `variable` in only the `share` of the coming day and is passed over."""
    MEMBERS_OLD = "the members are old"
    """The rain members are `age_h` old and are left out."""
    SOURCES_COMPARED = "sources compared"
    """Two sources `names` expect `depths_mm` of rain in the next `hours`; they agree well enough."""
    SOURCES_DISAGREE = "sources disagree"
    """Two sources `names` expect `depths_mm` of rain until `until`; both are counted."""
    PAST_FROM = "the past is from"
    """The hours up to `until` are from `source`."""
    AS_USUAL = "as usual"
    """No forecast: the coming hours are as usual over `count` past days."""
    MADE_UP = "made up"
    """The weather is the invented demo's."""

    # how it was made
    HOUR_STARTS = "moved to the start of the hour"
    """`source`: amounts were moved from the end of their hour to its start."""
    STAMPS_SET_BACK = "stamps set back"
    """`source`: stamps `minutes` past the UTC hour were set back to it."""
    SUMS_SPREAD = "sums spread over their hours"
    """`source`: hours are 3- or 6-hour sums split evenly."""
    SIX_HOURLY_AFTER = "six-hourly after"
    """After `at` the steps of `source` are six-hourly."""
    RAIN_REACHES = "the rain reaches until"
    """The rain of `source` reaches until `until`."""
    RADIATION_MADE = "radiation from cloud cover"
    """`source` gives no radiation: it is made from cloud cover."""
    MEMBERS_BUILT = "members built"
    """`count` rain members are built from what `source` says, by `members_from`."""
    MEMBERS_POOLED = "members pooled"
    """The members of the sources `names` are pooled with equal weight, `count` in all."""
    DEW_MADE = "dew point from humidity"
    """`source`: the dew point of `hours` (all of them where that is not set) is made from humidity."""

    # what a source sent
    LEFT_OUT = "left out"
    """`source`: the whole of `variable` is left out for `reason`."""
    NO_NUMBERS = "no numbers"
    """`source`: `count` values of `variable` that are no numbers are left out."""
    VALUES_OUTSIDE = "values outside"
    """`source`: `count` values of `variable` outside `low` to `high` (SI) are left out."""
    SERIES_MISSING = "a series is missing"
    """`source`: there is no `variable`, which is unknown for every hour."""
    HOURS_MISSING = "hours are missing"
    """`source`: `count` hours are missing in the middle and stay unknown."""
    MEMBERS_DEAD = "members dead"
    """`source`: `count` of `of` members of the model `names` are dead or full of gaps."""

    # the owner's own file
    ROWS_SORTED = "rows sorted"
    """`file`: the rows were not in the order of time."""
    ROWS_MISSING = "rows missing"
    """`file`: `count` hours have no row."""
    COLUMN_MISSING = "a column is missing"
    """`file`: has no `variable`."""
    FILE_ENDS = "the file ends"
    """`file`: ends at `until`."""

    # screening
    OUTSIDE_LIMITS = "outside the limits"
    """`variable`: `hours` from `at` on dropped, outside `low` to `high` (SI)."""
    SPIKE = "a leap away from both neighbours"
    """`variable`: `hours` from `at` on dropped."""
    STEP = "a step within an hour"
    """`variable`: a step of more than `high` (SI) within an hour, in `hours` from `at` on; kept."""
    STUCK = "the same value for long"
    """`variable`: `hours` from `at` on dropped, the same value for `of` hours or more."""
    DEW_TOO_HIGH = "above the temperature"
    """The dew point of `hours` from `at` on dropped."""
    GAP_FILLED = "a gap was filled"
    """`variable`: `hours` from `at` on missing, filled by a straight line."""

    # gauge and archive
    GAUGE_AHEAD = "a gauge reading lies ahead"
    """The reading of `at` lies ahead and is left out."""
    GAUGE_IMPOSSIBLE = "a gauge reading cannot be"
    """The reading of `at` shows `depth_mm`, which cannot be."""
    GAUGE_FIRST = "the first gauge reading"
    """It is taken to cover `hours`."""
    GAUGE_OVERLAPS = "a gauge reading overlaps"
    """The reading of `at` overlaps the one before and counts from that one on."""
    GAUGE_TWICE = "a gauge reading entered twice"
    """The reading of `at` was entered twice; the last entry counts."""
    GAUGE_NO_TIME = "a gauge reading of no time"
    """The reading of `at` covers no time."""
    GAUGE_SPREAD = "gauge readings spread by the model"
    """Past rain is from `count` readings, spread over the hours by the model."""
    GAUGE_SPREAD_EVENLY = "gauge readings spread evenly"
    """`count` readings are spread evenly: the model had no rain there."""
    PAST_ARCHIVED = "the past as archived"
    """`hours` of past rain are as archived when they were new."""
    PAST_OBSERVED = "the past as observed"
    """`hours` of past rain are as observed by `source`."""

    # evapotranspiration and the soil
    DAYS_IMPOSSIBLE = "daily values that cannot be"
    """The daily `variable` of `days` cannot be and is dropped."""
    ETO_DEW_FROM_MINIMUM = "the dew point is the night's minimum"
    """On `days` humidity is unknown and the dew point is taken as the minimum temperature."""
    ETO_WIND_ASSUMED = "the wind is assumed"
    """On `days` wind is unknown and taken as 2 m/s."""
    ETO_RADIATION_FROM_CLOUD = "radiation from cloud"
    """On `days` radiation is unknown and made from cloud cover."""
    ETO_RADIATION_FROM_RANGE = "radiation from the temperature range"
    """On `days` radiation is unknown and made from the temperature range."""
    ETO_UNKNOWN = "ETo unknown"
    """On `days` temperatures are missing and ETo is unknown."""
    ETO_FILLED = "ETo filled"
    """ETo of `days` up to today is taken as the mean of the known days."""
    ETO_DIFFERS = "ETo differs from the source's own"
    """Our ETo is `depth_mm` over `days`, the source's own `of_mm`; `share` apart."""
    NO_ENSEMBLE = "no ensemble"
    """There is one forecast of rain, so no chance can be told."""
    NOTHING_AHEAD = "nothing is known ahead"
    """The weather does not reach the coming hours."""
    NO_RAIN_AHEAD = "no rain is known ahead"
    """The rain of the coming hours cannot be told, for `reason`."""
    NO_PAST = "no past weather"
    """There is no past weather: the state of the soil is a guess."""
    PAST_RAIN_UNKNOWN = "past rain unknown"
    """Rain is unknown in `hours` of the past and counted as none."""


class Note(Frozen):
    """One thing to know about the weather. Only the values that its kind speaks of are set; SI, UTC."""

    level: NoteLevel
    """How much it matters."""
    kind: NoteKind
    """What it says."""
    source: str = ""
    """The service that it is about, as it is told to a reader."""
    reason: str = ""
    """What a service answered or what failed, in the words of the failure."""
    variable: Variable | None = None
    """The quantity that it is about."""
    members_from: MembersFrom | None = None
    """What rain members are built from."""
    names: tuple[str, ...] = ()
    """Further names: sources, models or columns."""
    file: str = ""
    """The owner's file, or the folder, that it is about."""
    count: int | None = None
    """How many: members, values, rows, readings, days."""
    of: int | None = None
    """Out of how many."""
    hours: int | None = None
    """How many hours."""
    minutes: int | None = None
    """How many minutes."""
    days: float | None = None
    """How many days."""
    age_h: float | None = None
    """An age, h."""
    share: float | None = None
    """A share, 0–1."""
    depth_mm: float | None = None
    """A depth of water, mm."""
    of_mm: float | None = None
    """The depth that it is held against, mm."""
    depths_mm: tuple[float, ...] = ()
    """A depth for each of `names`, mm."""
    low: float | None = None
    """The least that `variable` may be, in its SI unit."""
    high: float | None = None
    """The most that `variable` may be, or by how much it may change, in its SI unit."""
    at: datetime | None = None
    """When, or the first of several hours."""
    until: datetime | None = None
    """Until when."""
