from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.errors import QuantityError
from advisor.units import DIMENSIONS, convert, parse, show, unit

# Exact sizes from the international yard and pound agreement (1959) and the US gallon of 231 in³.
EXACT = [
    ("0.25 in", "depth", 6.35),
    ("1/4 in", "depth", 6.35),
    ("1 1/2 in", "depth", 38.1),
    ('0.25"', "depth", 6.35),
    ("6 mm", "depth", 6.0),
    ("2 cm", "depth", 20.0),
    ("8 in", "length", 0.2032),
    ("1,250 ft", "length", 381.0),
    ("-430 m", "length", -430.0),
    ("\N{MINUS SIGN}5 m", "length", -5.0),
    ("5,000 sq ft", "area", 464.5152),
    ("5000 ft²", "area", 464.5152),
    ("1 acre", "area", 4046.8564224),
    ("2 ha", "area", 20000.0),
    ("6 gal/min", "flow", 22.712470704),
    ("6 gpm", "flow", 22.712470704),
    ("1.2 m3/h", "flow", 20.0),
    ("0.5 in/h", "rate", 12.7),
    ("0.5 in per hour", "rate", 12.7),
    ("13 mm/hr", "rate", 13.0),
    ("10 mph", "wind", 4.4704),
    ("36 km/h", "wind", 10.0),
    ("40 °F", "temperature", 40 / 9),
    ("-40 F", "temperature", -40.0),
    ("4 °C", "temperature", 4.0),
    ("9 °F", "temperature difference", 5.0),
    ("4 gal", "volume", 15.141647136),
    ("32 fl oz", "small volume", 946.352946),
    ("1 L", "small volume", 1000.0),
    ("50 lb", "mass", 22679.6185),
    ("16 oz", "mass", 453.59237),
    ("24 h", "duration", 1440.0),
    ("90 s", "duration", 1.5),
    ("4 weeks", "interval", 28.0),
    ("36 h", "interval", 1.5),
    ("3 lb/1000 sq ft", "granule rate", 3 * 453.59237 / 92.90304),
    ("1 gal/1,000 sq ft", "carrier", 3.785411784 / 92.90304),
    ("4 L/100 m2", "carrier", 0.04),
    ("3 %", "slope", 3.0),
    ("1:20", "slope", 5.0),
    ("1 in 20", "slope", 5.0),
    ("65 %", "share", 0.65),
    ("0.65", "share", 0.65),
    ("20:1", "dilution", 20.0),
]


@pytest.mark.parametrize(("text", "dimension", "value"), EXACT, ids=[f"{t} as {d}" for t, d, _ in EXACT])
def test_a_quantity_with_its_unit_is_read_exactly(text: str, dimension: str, value: float) -> None:
    assert parse(text, dimension) == pytest.approx(value, rel=1e-14)


def test_three_fluid_ounces_per_thousand_square_feet_are_0_955_ml_per_m2() -> None:
    # A rule of thumb of the trade, a check value: 3 fl oz per 1,000 sq ft; 5,000 sq ft take 15 fl oz.
    rate = parse("3 fl oz/1000 sq ft", "liquid rate")
    assert round(rate, 3) == 0.955
    amount = rate * parse("5,000 sq ft", "area")
    assert amount == pytest.approx(parse("15 fl oz", "small volume"), rel=1e-12)


def test_one_gallon_per_thousand_square_feet_is_43_56_gallons_per_acre() -> None:
    # Pennsylvania Turfgrass Council: 1 gal/1,000 ft² = 43.56 gal/acre.
    assert parse("1 gal/1000 ft2", "carrier") == pytest.approx(parse("43.56 gal/acre", "carrier"), rel=1e-14)


REFUSED = [
    ("5000", "area", 'an area needs its unit; found \'5000\'; allowed: "465 m2", "5,000 sq ft"'),
    (5000, "area", 'an area needs its unit; found \'5000\'; allowed: "465 m2", "5,000 sq ft"'),
    ("3", "slope", 'a slope needs its unit; found \'3\'; allowed: "3 %", "1:20"'),
    ("65", "share", "a share needs its unit; found '65'; allowed: \"65 %\", 0.65"),
    (
        "5 furlong",
        "depth",
        "a depth cannot be given in 'furlong'; found '5 furlong'; allowed: \"6 mm\", \"0.25 in\"",
    ),
    (
        "0,5 mm",
        "depth",
        "a comma stands between thousands and a point before decimals; found '0,5 mm'; "
        'allowed: "6 mm", "0.25 in"',
    ),
    (
        "5 oz",
        "small volume",
        "a volume cannot be given in 'oz'; a liquid's ounce is written 'fl oz'; found '5 oz'; "
        'allowed: "500 mL", "32 fl oz", "1 gal" (gallons are US gallons)',
    ),
    (
        "6 imperial gal/min",
        "flow",
        "a flow cannot be given in 'imperial gal/min'; found '6 imperial gal/min'; "
        'allowed: "23 L/min", "6 gal/min" (gallons are US gallons)',
    ),
    ("", "depth", 'a depth is a number and its unit; found \'\'; allowed: "6 mm", "0.25 in"'),
    ("a bit", "depth", 'a depth is a number and its unit; found \'a bit\'; allowed: "6 mm", "0.25 in"'),
    (True, "share", "a share is a number and its unit; found 'True'; allowed: \"65 %\", 0.65"),
    (
        "1:20",
        "dilution",
        "a dilution is not understood; found '1:20'; allowed: \"16:1\" (water : concentrate)",
    ),
    ("1:0", "slope", 'a slope is not understood; found \'1:0\'; allowed: "3 %", "1:20"'),
    (
        "4 K",
        "temperature",
        "a temperature cannot be given in 'k'; found '4 K'; allowed: \"4 °C\", \"40 °F\"",
    ),
    (
        "3 mL/0 m2",
        "liquid rate",
        "a liquid's rate cannot be given in 'ml/0 m2'; found '3 mL/0 m2'; "
        'allowed: "1 mL/m2", "4 fl oz/1000 sq ft"',
    ),
    (
        "6 mm/h",
        "depth",
        "a depth cannot be given in 'mm/h'; found '6 mm/h'; allowed: \"6 mm\", \"0.25 in\"",
    ),
]


@pytest.mark.parametrize(
    ("text", "dimension", "sentence"), REFUSED, ids=[f"{t!r} as {d}" for t, d, _ in REFUSED]
)
def test_a_quantity_that_is_not_clear_is_refused_with_what_is_allowed(
    text: object, dimension: str, sentence: str
) -> None:
    with pytest.raises(QuantityError) as caught:
        parse(text, dimension)
    assert str(caught.value) == sentence


SHOWN = [
    (1e30, "depth", "metric", None, "1e+30 mm"),
    (6.35, "depth", "metric", None, "6.4 mm"),
    (6.35, "depth", "us", None, "0.25 in"),
    (222.967296, "area", "us", None, "2,400 sq ft"),
    (381.0, "length", "us", 0, "1,250 ft"),
    (0.0, "temperature", "us", None, "32 °F"),
    (5.0, "temperature difference", "us", None, "9 °F"),
    (22.712470704, "flow", "us", None, "6.0 gal/min"),
    (0.68, "share", "us", None, "68 %"),
    (20.0, "dilution", "metric", None, "20:1"),
    (-0.001, "depth", "metric", None, "0.0 mm"),
    (math.nan, "depth", "metric", None, "unknown"),
]


@pytest.mark.parametrize(
    ("value", "dimension", "system", "digits", "text"), SHOWN, ids=[f"{s[4]}, {s[2]}" for s in SHOWN]
)
def test_a_value_is_shown_in_the_owners_units_rounded_half_up(
    value: float, dimension: str, system: str, digits: int | None, text: str
) -> None:
    assert show(value, dimension, system, digits) == text


@settings(max_examples=60)
@given(
    value=st.floats(0.001, 1e5),
    dimension=st.sampled_from(sorted(DIMENSIONS)),
    system=st.sampled_from(["metric", "us"]),
)
def test_what_is_shown_reads_back_as_the_same_quantity(value: float, dimension: str, system: str) -> None:
    assert parse(show(value, dimension, system, digits=9), dimension) == pytest.approx(
        value, abs=2e-5, rel=1e-6
    )


def test_a_unit_and_the_number_of_it_can_be_had_apart() -> None:
    assert (convert(25.4, "depth", "us"), unit("depth", "us")) == (1.0, "in")
