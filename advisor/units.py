"""Quantities as people write them, to SI and back: "0.25 in" → 6.35 mm.

A number without its unit is an error wherever a unit matters. Gallons, quarts, pints and fluid
ounces are US ones; others are not known here. Conversions are exact, from the international
definitions (1 ft = 0.3048 m, 1 lb = 453.59237 g, 1 US gal = 3.785411784 L, 1 US fl oz = gal/128).
A comma stands between thousands ("5,000 sq ft"), never before decimals.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, time
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from functools import cache

from advisor.errors import QuantityError

Table = Mapping[str, Fraction]


def _table(**units: tuple[str, str]) -> Table:
    """Each unit as (its size in the base unit, its other spellings separated by commas)."""
    return {
        spelling: Fraction(size)
        for name, (size, others) in units.items()
        for spelling in (name, *filter(None, others.split(",")))
    }


LENGTH = _table(
    m=("1", "meter,meters,metre,metres"),
    cm=("0.01", ""),
    mm=("0.001", ""),
    km=("1000", ""),
    inch=("0.0254", 'in,inches,"'),
    ft=("0.3048", "foot,feet,'"),
    yd=("0.9144", "yard,yards"),
    mi=("1609.344", "mile,miles"),
)
AREA = _table(
    m2=("1", "sq m,square meters,square metres"),
    ft2=("0.09290304", "sq ft,sqft,square feet,square foot"),
    yd2=("0.83612736", "sq yd,square yards"),
    acre=("4046.8564224", "acres"),
    ha=("10000", ""),
    cm2=("0.0001", "sq cm,square centimeters,square centimetres"),
    in2=("0.00064516", "sq in,square inches,square inch"),
)
VOLUME = _table(
    l=("1", "liter,liters,litre,litres"),
    ml=("0.001", ""),
    m3=("1000", ""),
    ft3=("28.316846592", "cu ft,cubic feet,cubic foot"),
    gal=("3.785411784", "gallon,gallons,us gal,gals"),
    qt=("0.946352946", "quart,quarts"),
    pt=("0.473176473", "pint,pints"),
    floz=("0.0295735295625", "fl oz,fluid ounce,fluid ounces"),
)
MASS = _table(
    g=("1", "gram,grams"),
    kg=("1000", ""),
    lb=("453.59237", "lbs,pound,pounds"),
    oz=("28.349523125", "ounce,ounces"),
)
TIME = _table(
    min=("1", "mins,minute,minutes"),
    h=("60", "hr,hrs,hour,hours"),
    s=("1/60", "sec,second,seconds"),
    d=("1440", "day,days"),
    week=("10080", "weeks"),
)
PERCENT: Table = {"%": Fraction(1), "percent": Fraction(1)}
WHOLE = {"gpm": "gal/min", "gph": "gal/h", "mph": "mi/h", "kph": "km/h", "psf": "lb/ft2"}


@dataclass(frozen=True, slots=True)
class Dimension:
    """How one kind of quantity is read and shown.

    `over` / `under`: unit tables of the numerator and denominator (None: no denominator); `scale`
    takes their base units to SI inside; `metric` and `us` are (unit shown, digits).
    """

    noun: str
    over: Table
    under: Table | None
    scale: Fraction
    metric: tuple[str, int]
    us: tuple[str, int]
    allowed: str


def _d(
    noun: str,
    over: Table,
    under: Table | None,
    scale: str,
    metric: tuple[str, int],
    us: tuple[str, int],
    allowed: str,
) -> Dimension:
    return Dimension(noun, over, under, Fraction(scale), metric, us, allowed)


_GAL = "gallons are US gallons"
DIMENSIONS: Mapping[str, Dimension] = {
    "depth": _d("a depth", LENGTH, None, "1000", ("mm", 1), ("in", 2), '"6 mm", "0.25 in"'),
    "length": _d("a length", LENGTH, None, "1", ("m", 2), ("ft", 1), '"0.2 m", "8 in", "1250 ft"'),
    "area": _d("an area", AREA, None, "1", ("m2", 0), ("sq ft", 0), '"465 m2", "5,000 sq ft"'),
    "flow": _d(
        "a flow", VOLUME, TIME, "1", ("L/min", 1), ("gal/min", 1), f'"23 L/min", "6 gal/min" ({_GAL})'
    ),
    "rate": _d(
        "a precipitation rate", LENGTH, TIME, "60000", ("mm/h", 1), ("in/h", 2), '"13 mm/h", "0.5 in/h"'
    ),
    "wind": _d("a wind speed", LENGTH, TIME, "1/60", ("m/s", 1), ("mph", 0), '"3.5 m/s", "8 mph"'),
    "volume": _d("a volume", VOLUME, None, "1", ("L", 1), ("gal", 1), f'"15 L", "4 gal" ({_GAL})'),
    "small volume": _d(
        "a volume", VOLUME, None, "1000", ("mL", 0), ("fl oz", 1), f'"500 mL", "32 fl oz", "1 gal" ({_GAL})'
    ),
    "mass": _d("a mass", MASS, None, "1", ("g", 0), ("lb", 2), '"900 g", "20 kg", "50 lb"'),
    "duration": _d("a duration", TIME, None, "1", ("min", 0), ("min", 0), '"12 min", "24 h", "2 days"'),
    "interval": _d("an interval", TIME, None, "1/1440", ("days", 0), ("days", 0), '"30 days", "4 weeks"'),
    "liquid rate": _d(
        "a liquid's rate",
        VOLUME,
        AREA,
        "1000",
        ("mL/m2", 2),
        ("fl oz/1,000 sq ft", 1),
        '"1 mL/m2", "4 fl oz/1000 sq ft"',
    ),
    "granule rate": _d(
        "a granule's rate",
        MASS,
        AREA,
        "1",
        ("g/m2", 1),
        ("lb/1,000 sq ft", 2),
        '"15 g/m2", "3 lb/1000 sq ft"',
    ),
    "carrier": _d(
        "a carrier volume",
        VOLUME,
        AREA,
        "1",
        ("L/m2", 3),
        ("gal/1,000 sq ft", 1),
        f'"4 L/100 m2", "1 gal/1000 sq ft" ({_GAL})',
    ),
    "slope": _d("a slope", PERCENT, None, "1", ("%", 0), ("%", 0), '"3 %", "1:20"'),
    "share": _d("a share", PERCENT, None, "1/100", ("%", 0), ("%", 0), '"65 %", 0.65'),
    "temperature": _d("a temperature", {}, None, "1", ("°C", 1), ("°F", 0), '"4 °C", "40 °F"'),
    "temperature difference": _d(
        "a temperature difference", {}, None, "1", ("°C", 1), ("°F", 0), '"5 °C", "9 °F"'
    ),
    "dilution": _d("a dilution", {}, None, "1", (":1", 0), (":1", 0), '"16:1" (water : concentrate)'),
}
_PLAIN = r"[-+]?(?:[0-9]{1,3}(?:,[0-9]{3})+(?:\.[0-9]+)?|[0-9]+(?:\.[0-9]*)?|\.[0-9]+)"
_QUANTITY = re.compile(
    rf"(?P<mixed>[-+]?[0-9]+ [0-9]+/[1-9][0-9]*)|(?P<part>[-+]?[0-9]+/[1-9][0-9]*)|(?P<plain>{_PLAIN})"
)
_CLOCK = re.compile(r"([0-9]{1,2}):([0-9]{2})")
_PER_AREA = re.compile(r"(?P<count>[0-9][0-9,]*)? ?(?P<unit>.+)")
_RATIO = re.compile(rf"({_PLAIN}) ?(?::|in) ?({_PLAIN})")


def parse(text: object, dimension: str) -> float:
    """`text` as SI inside: mm, m, m2, L/min, mm/h, m/s, L, mL, g, min, days, mL/m2, g/m2, L/m2, °C,
    percent of slope, share 0–1, water per concentrate, by `dimension` (a key of DIMENSIONS).

    Raises QuantityError with what was found and what is allowed.

    >>> parse("0.25 in", "depth"), parse("1 1/2 in", "depth"), parse("65 %", "share")
    (6.35, 38.1, 0.65)
    """
    kind = DIMENSIONS[dimension]
    clean = " ".join(str(text).replace("\N{MINUS SIGN}", "-").split())
    if dimension in ("dilution", "slope") and (ratio := _RATIO.fullmatch(clean)):
        return _ratio(kind, text, dimension, Fraction(_bare(ratio[1])), Fraction(_bare(ratio[2])))
    found = _QUANTITY.match(clean) if len(clean) <= 80 else None
    if found is None or isinstance(text, bool):
        raise QuantityError(f"{kind.noun} is a number and its unit", found=_told(text), allowed=kind.allowed)
    number, unit = _number(found), _plain_unit(clean[found.end() :])
    if re.match(r"[,.0-9]", unit):
        raise QuantityError(
            "a comma stands between thousands and a point before decimals",
            found=_told(text),
            allowed=kind.allowed,
        )
    if not unit and dimension == "share" and 0 <= number <= 1:
        return float(number)
    if not unit:
        raise QuantityError(f"{kind.noun} needs its unit", found=_told(text), allowed=kind.allowed)
    if dimension.startswith("temperature"):
        return _temperature(kind, text, number, unit)
    factor = _factor(kind, unit)
    if factor is None:
        hint = "; a liquid's ounce is written 'fl oz'" if unit.split("/")[0] == "oz" else ""
        raise QuantityError(
            f"{kind.noun} cannot be given in {unit!r}{hint}", found=_told(text), allowed=kind.allowed
        )
    return float(number * factor * kind.scale)


def show(value: float, dimension: str, system: str = "metric", digits: int | None = None) -> str:
    """An SI `value` in the owner's units ("metric" or "us"), rounded half up; NaN is "unknown".

    >>> show(6.35, "depth"), show(6.35, "depth", "us"), show(222.967296, "area", "us")
    ('6.4 mm', '0.25 in', '2,400 sq ft')
    """
    if math.isnan(value):
        return "unknown"
    name = unit(dimension, system)
    rounded = show_number(value, dimension, system, digits)
    return f"{rounded}{name}" if dimension == "dilution" else f"{rounded} {name}"


def show_number(value: float, dimension: str, system: str = "metric", digits: int | None = None) -> str:
    """The same without its unit, for a range or a column.

    >>> show_number(6.35, "depth"), show_number(6.35, "depth", "us")
    ('6.4', '0.25')
    """
    if math.isnan(value):
        return "unknown"
    _, usual = _display(dimension, system)
    return _round(convert(value, dimension, system), usual if digits is None else digits)


def show_amount(value: float, *, liquid: bool, system: str = "metric") -> str:
    """An amount of a product, mL or g, as one writes it on a shelf.

    >>> show_amount(10000, liquid=False), show_amount(1250, liquid=True), show_amount(800, liquid=True)
    ('10 kg', '1.25 L', '800 mL')
    """
    if system == "metric" and abs(value) >= 1000:
        return f"{_round(value / 1000, 2).rstrip('0').rstrip('.')} {'L' if liquid else 'kg'}"
    return show(value, "small volume" if liquid else "mass", system)


def convert(value: float, dimension: str, system: str) -> float:
    """An SI `value` as a number of the unit that `unit(dimension, system)` names."""
    name, _ = _display(dimension, system)
    if dimension == "dilution":
        return value
    if dimension.startswith("temperature"):
        offset = 32.0 if dimension == "temperature" else 0.0
        return value * 9 / 5 + offset if name == "°F" else value
    return value / _size(dimension, name)


@cache
def _size(dimension: str, name: str) -> float:
    """One unit of this name in the SI unit of its dimension."""
    factor = _factor(DIMENSIONS[dimension], _plain_unit(name))
    assert factor is not None, name
    return float(factor * DIMENSIONS[dimension].scale)


def unit(dimension: str, system: str) -> str:
    """The name of the unit in which a dimension is shown: "mm" or "in"."""
    return _display(dimension, system)[0]


def _display(dimension: str, system: str) -> tuple[str, int]:
    kind = DIMENSIONS[dimension]
    return kind.us if system == "us" else kind.metric


BEYOND_DIGITS = 1e15
"""No amount of this world is so large; its digits would say nothing."""


def _round(value: float, digits: int) -> str:
    if not abs(value) < BEYOND_DIGITS:
        return f"{value:.3g}"
    rounded = Decimal(repr(float(value))).quantize(Decimal(1).scaleb(-digits), ROUND_HALF_UP)
    return f"{abs(rounded) if rounded == 0 else rounded:,f}"


def _told(text: object) -> str:
    written = str(text)
    return repr(written if len(written) <= 60 else written[:57] + "...")


def _bare(number: str) -> str:
    return number.replace(",", "")


def _number(found: re.Match[str]) -> Fraction:
    if found["mixed"]:
        whole, part = found["mixed"].split(" ")
        return Fraction(whole) + (-Fraction(part) if whole.startswith("-") else Fraction(part))
    return Fraction(_bare(found["part"] or found["plain"]))


def _plain_unit(text: str) -> str:
    """A unit in one spelling: lower case, "/" for per, no dots, no degree signs."""
    clean = text.lower().replace("²", "2").replace("³", "3").replace("°", "").strip()
    clean = re.sub(r"\.(?![0-9])", "", clean)
    clean = re.sub(r"\s*/\s*|\s+per\s+", "/", clean).strip()
    return WHOLE.get(clean, clean)


def _factor(kind: Dimension, unit: str) -> Fraction | None:
    """How much of `kind`'s base units one `unit` is, or None where it does not fit."""
    over, slash, under = unit.partition("/")
    top = kind.over.get(over)
    if kind.under is None or not slash:
        return top if kind.under is None and not slash else None
    found = _PER_AREA.fullmatch(under)
    bottom = kind.under.get(found["unit"]) if found else None
    if top is None or bottom is None or found is None:
        return None
    count = Fraction(_bare(found["count"])) if found["count"] else Fraction(1)
    return top / (count * bottom) if count else None


def _temperature(kind: Dimension, text: object, number: Fraction, unit: str) -> float:
    name = unit.removeprefix("deg ").strip()
    if name in ("c", "celsius"):
        return float(number)
    if name in ("f", "fahrenheit"):
        offset = 0 if kind.noun.endswith("difference") else 32
        return float((number - offset) * Fraction(5, 9))
    raise QuantityError(f"{kind.noun} cannot be given in {unit!r}", found=_told(text), allowed=kind.allowed)


def _ratio(kind: Dimension, text: object, dimension: str, first: Fraction, second: Fraction) -> float:
    """A ratio: "16:1" of water to concentrate as 16.0; "1:20" of rise to run as a slope of 5 %."""
    if dimension == "slope" and second > 0 and first >= 0:
        return float(100 * first / second)
    if dimension == "dilution" and second == 1 and first > 0:
        return float(first)
    raise QuantityError(f"{kind.noun} is not understood", found=_told(text), allowed=kind.allowed)


def clock_time(text: str) -> time | None:
    """A local time of day written 16:30 or 6:05; None for anything else.

    >>> clock_time(" 6:05 "), clock_time("24:10"), clock_time("noon")
    (datetime.time(6, 5), None, None)
    """
    found = _CLOCK.fullmatch(text.strip())
    if found is None or int(found[1]) > 23 or int(found[2]) > 59:
        return None
    return time(int(found[1]), int(found[2]))


YEARS = "1900 to 2200"


def known_year(when: date) -> bool:
    """Whether a date or a time is no slip of the pen by centuries, near which no calendar can be reckoned.

    >>> known_year(date(2026, 6, 17)), known_year(date(1, 1, 1))
    (True, False)
    """
    return 1900 <= when.year <= 2200
