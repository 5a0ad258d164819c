"""How single values of the site file are read: text in, a checked value in SI out.

Each reader raises `Refused` (what, found, allowed), which pydantic carries as a ValueError.
Bounds are wide: they catch slips of unit and sign, not taste.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from datetime import date, time
from typing import Annotated, Any, TypeVar
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pydantic import BaseModel, BeforeValidator, ConfigDict, PlainValidator

from advisor.errors import InputError
from advisor.lawn.products import Kind
from advisor.lawn.site_values import Head, Soil, Turf
from advisor.lawn.tables import exposure_table, head_table, kind_table, soil_table, turf_table
from advisor.units import DIMENSIONS, convert, parse, show

T = TypeVar("T")
WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")


class Refused(InputError, ValueError):
    """A value that may not stand where it stands."""


def plain(name: str) -> str:
    """A name for comparing: lower case, one space for dots, dashes and underscores."""
    return " ".join(re.sub(r"[-_.]", " ", name.casefold()).split())


def nearest_name(found: str, names: Iterable[str]) -> str | None:
    """The name that was probably meant, None where none is near."""
    from difflib import get_close_matches

    by_plain = {plain(name): name for name in names}
    word = plain(found)
    within = [name for name in by_plain if word and word in name.split()]  # ryegrass in perennial ryegrass
    near = within or get_close_matches(word, by_plain, n=1, cutoff=0.6)
    return by_plain[near[0]] if near else None


def close_to(found: str, names: Iterable[str]) -> str:
    """The names allowed, the nearest first as a question."""
    known = list(names)
    near = nearest_name(found, known)
    listed = ", ".join({plain(name): name for name in known}.values())
    return f"did you mean {near!r}? One of {listed}" if near is not None else f"one of {listed}"


def told(value: object) -> str:
    """What was found, short enough for a sentence."""
    if value is None:
        return "nothing"
    if isinstance(value, list):
        return f"a list of {len(value)}"
    if isinstance(value, dict):
        return f"a mapping of {', '.join(map(repr, list(value)[:5]))}" if value else "an empty mapping"
    text = str(value)
    return repr(text if len(text) <= 60 else text[:57] + "...")


def text_of(value: object, what: str = "text") -> str:
    """One line of text; raises Refused for nothing, lists and characters that do not print."""
    if not isinstance(value, str) or not value.strip():
        raise Refused(f"{what} is asked here", found=told(value), allowed="a word or a line of text")
    clean = re.sub(" +", " ", value.strip())
    if len(clean) > 200 or not clean.isprintable():
        raise Refused(f"{what} is one printable line", found=told(value), allowed="up to 200 characters")
    return clean


def number_of(value: object, low: float, high: float, what: str) -> float:
    """A plain number within [low, high]."""
    text = str(value).replace("\N{MINUS SIGN}", "-")
    if isinstance(value, dict | list) or not re.fullmatch(r"[-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)", text):
        raise Refused(f"{what} is a plain number", found=told(value), allowed=f"{low:g} to {high:g}")
    number = float(text)
    if not low <= number <= high:
        raise Refused(f"{what} is out of range", found=told(value), allowed=f"{low:g} to {high:g}")
    return number


def quantity_of(value: object, dimension: str, low: float, high: float, why: str = "out of range") -> float:
    """A quantity with its unit as SI within [low, high]; `why` says what is wrong outside."""
    if not isinstance(value, str) or not value.strip():
        kind = DIMENSIONS[dimension]
        raise Refused(f"{kind.noun} is asked here", found=told(value), allowed=kind.allowed)
    number = parse(value, dimension)
    if not low <= number <= high:
        bounds = f"{_bound(low, dimension)} to {_bound(high, dimension)}"
        raise Refused(why, found=told(value), allowed=bounds)
    return number


def one_of(value: object, names: Iterable[str], what: str) -> str:
    """One of `names`, whatever its case."""
    text = text_of(value, what)
    for name in names:
        if plain(name) == plain(text):
            return name
    raise Refused(f"{what} is not known", found=told(value), allowed=close_to(text, names))


def row_of(value: object, table: Mapping[str, T], what: str) -> T:
    """The table row whose key is `value`; no row is an error, never a default."""
    return table[one_of(value, table, what)]


def time_zone_of(value: object) -> ZoneInfo:
    """An IANA time zone."""
    name = text_of(value, "a time zone")
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        from difflib import get_close_matches
        from zoneinfo import available_timezones

        names = {plain(known): known for known in available_timezones()}
        near = get_close_matches(plain(name.replace(" ", "_")), names, n=1, cutoff=0.6)
        hint = f"did you mean {names[near[0]]!r}? " if near else ""
        raise Refused(
            "the time zone is not known",
            found=told(value),
            allowed=f"{hint}An IANA name such as America/Chicago or Europe/Lisbon",
        ) from None


def day_of(value: object) -> date:
    """A date written 2026-05-02."""
    text = str(value)
    try:
        if not re.fullmatch(r"(?:19|20|21)[0-9]{2}-[0-9]{2}-[0-9]{2}", text):
            raise ValueError
        return date.fromisoformat(text)
    except ValueError:
        raise Refused("a date is not understood", found=told(value), allowed="2026-05-02") from None


def hours_of(value: object) -> tuple[time, time]:
    """A span of local time written 21:00-08:00; 24:00 is midnight, 00:00-24:00 the whole day."""
    found = re.fullmatch(r"([0-9]{1,2}):([0-9]{2}) ?[-–] ?([0-9]{1,2}):([0-9]{2})", str(value).strip())
    allowed = '"21:00-08:00" (24 hours; the second may be after midnight)'
    if found is None:
        raise Refused("a span of hours is not understood", found=told(value), allowed=allowed)
    h1, m1, h2, m2 = map(int, found.groups())
    if h1 > 23 or m1 > 59 or m2 > 59 or h2 * 60 + m2 > 1440:
        raise Refused("there is no such time of day", found=told(value), allowed=allowed)
    if (h1, m1) == (h2, m2):
        raise Refused(
            "the span begins and ends at the same time",
            found=told(value),
            allowed='"00:00-24:00" for the whole day',
        )
    return time(h1, m1), time(h2 % 24, m2)


def truth_of(value: object) -> bool:
    """true or false (yes and no are taken too)."""
    return one_of(value, ("true", "false", "yes", "no"), "true or false") in ("true", "yes")


def exposure_of(value: object) -> tuple[float, str]:
    """The share of open-sky demand and how the owner called it."""
    text = text_of(value, "an exposure")
    if text[0].isdigit() or text[0] == ".":
        return quantity_of(text, "share", 0.1, 1.2), text
    name = one_of(text, exposure_table(), "the exposure")
    return exposure_table()[name], name


def weekday_of(value: object) -> int:
    """0 Monday … 6 Sunday, by name or its first three letters."""
    text = text_of(value, "a weekday").casefold()
    for index, name in enumerate(WEEKDAYS):
        if text in (name, name[:3]):
            return index
    raise Refused("the weekday is not known", found=told(value), allowed=close_to(text, WEEKDAYS))


def listed(value: object) -> list[Any]:
    """A list, or one value as a list of one."""
    if value is None:
        raise Refused(
            "a list is empty", found="nothing", allowed="a list such as [a, b], or leave the key out"
        )
    return value if isinstance(value, list) else [value]


def choice(names: tuple[str, ...], what: str) -> BeforeValidator:
    """Reads one of `names`."""
    return _reads(one_of, names, what)


def number(low: float, high: float, what: str) -> BeforeValidator:
    """Reads a plain number within [low, high]."""
    return _reads(number_of, low, high, what)


def _bound(value: float, dimension: str) -> str:
    shown = round(convert(value, dimension, "metric"), 6)
    return show(value, dimension, digits=0 if shown == int(shown) else 2)


def filled(value: object) -> list[Any]:
    """A list with something in it, or one value as a list of one."""
    entries = listed(value)
    if not entries:
        raise Refused(
            "at least one entry is asked here", found="an empty list", allowed="a list such as [a, b]"
        )
    return entries


def _reads(reader: Callable[..., Any], *more: Any) -> BeforeValidator:
    return BeforeValidator(lambda value: reader(value, *more))


def _makes(reader: Callable[..., Any], *more: Any) -> PlainValidator:
    return PlainValidator(lambda value: reader(value, *more))


def _row(table: Callable[[], Mapping[str, Any]], what: str) -> PlainValidator:
    return PlainValidator(lambda value: row_of(value, table(), what))


Text = Annotated[str, _reads(text_of)]
Truth = Annotated[bool, _reads(truth_of)]
Day = Annotated[date, _reads(day_of)]
Span24 = Annotated[tuple[time, time], _makes(hours_of)]
Zone24 = Annotated[ZoneInfo, _makes(time_zone_of)]
Grass = Annotated[Turf, _row(turf_table, "the grass")]
Texture = Annotated[Soil, _row(soil_table, "the soil texture")]
Sprinkler = Annotated[Head, _row(head_table, "the head type")]
ProductKind = Annotated[Kind, _row(kind_table, "the product kind")]
Exposure = Annotated[tuple[float, str], _makes(exposure_of)]
Weekday = Annotated[int, _makes(weekday_of)]
Area = Annotated[float, _reads(quantity_of, "area", 0.1, 50_000.0, "an area no lawn zone has")]
PrecipitationRate = Annotated[float, _reads(quantity_of, "rate", 1.0, 200.0, "a rate no sprinkler has")]
Flow = Annotated[float, _reads(quantity_of, "flow", 0.1, 1000.0, "a flow no lawn supply has")]
Slope = Annotated[float, _reads(quantity_of, "slope", 0.0, 60.0, "a slope no lawn is watered on")]
RootDepth = Annotated[float, _reads(quantity_of, "length", 0.02, 2.0, "a depth no turf roots to")]
Uniformity = Annotated[float, _reads(quantity_of, "share", 0.1, 1.0, "an evenness no sprinkler has")]
Depletion = Annotated[float, _reads(quantity_of, "share", 0.05, 0.95)]
Minutes = Annotated[float, _reads(quantity_of, "duration", 1.0, 1440.0)]
Margin = Annotated[float, _reads(quantity_of, "duration", 0.0, 720.0)]
HoursLong = Annotated[float, _reads(quantity_of, "duration", 0.0, 60.0 * 24 * 60)]
DaysLong = Annotated[float, _reads(quantity_of, "interval", 0.0, 365.0)]
Interval = Annotated[float, _reads(quantity_of, "interval", 1.0, 3650.0)]
Depth = Annotated[float, _reads(quantity_of, "depth", 0.0, 100.0)]
Wind = Annotated[float, _reads(quantity_of, "wind", 0.0, 20.0)]
Temperature = Annotated[float, _reads(quantity_of, "temperature", -20.0, 55.0)]
Volume = Annotated[float, _reads(quantity_of, "volume", 0.05, 5000.0)]
Carrier = Annotated[float, _reads(quantity_of, "carrier", 0.001, 20.0)]
Dilution = Annotated[float, _reads(quantity_of, "dilution", 0.5, 10_000.0)]
Elevation = Annotated[float, _reads(quantity_of, "length", -430.0, 5000.0, "an elevation no lawn has")]
AsList = BeforeValidator(listed)
Filled = BeforeValidator(filled)
Names = Annotated[tuple[Text, ...], AsList]


class Section(BaseModel):
    """A mapping whose keys are all known."""

    model_config = ConfigDict(extra="forbid", frozen=True, arbitrary_types_allowed=True)
