"""What may stand in a site file: its sections, their keys, and what must agree within one of them.

The models read text into checked values; `load` makes the frozen values of `site` from them.
Rules that need two keys are checked at the later one, so that one slip never hides another.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, time
from typing import Annotated, Any
from zoneinfo import ZoneInfo

from pydantic import BeforeValidator, Field, ValidationInfo, field_validator, model_validator

from advisor.lawn import fields as f
from advisor.lawn.fields import AsList, Filled, Names, Refused, Section, choice, number
from advisor.lawn.labels import ProductWritten
from advisor.lawn.records import METHODS
from advisor.lawn.site_values import Head

SOURCES = ("open_meteo", "met_norway", "nws")
ADDRESSES = ("open_meteo", "open_meteo_ensemble", "open_meteo_archive", "met_norway", "nws")
MODES = ("established", "new", "seed", "syringe")
DIALS = ("thrifty", "balanced", "cautious")
COSTS = ("shortfall", "loss", "water", "run", "look", "stress")
UNITS = ("metric", "us")
REFUSE_AFTER_MIN = 36 * 60.0
FITS_WITHIN_H = 5.0
"""How far a time zone's clock may be from the sun's: western China is at 3 h."""
ACROSS_DATE_LINE_H = (-1.0, 2.6)
"""The same for a clock that keeps the date of the other side of the line, less a whole day: easternmost
Chukotka is at -0.7 h, the Chatham Islands in summer at 1.5 h, the westernmost Aleutians at 2.5 h."""


class SpanWritten(Section):
    """Local dates from … to, both included."""

    first: f.Day = Field(alias="from")
    last: f.Day = Field(alias="to")
    why: f.Text = ""

    @field_validator("last")
    @classmethod
    def _after_first(cls, last: date, info: ValidationInfo) -> date:
        first = info.data.get("first")
        if first is not None and last < first:
            raise Refused("the last day is before the first", found=str(last), allowed=f"{first} or later")
        return last


Spans = Annotated[tuple[SpanWritten, ...], AsList]


def _near_the_sun(apart_h: float) -> bool:
    """Whether a clock so far ahead of the sun's can be of that place."""
    least, most = ACROSS_DATE_LINE_H
    return abs(apart_h) <= FITS_WITHIN_H or any(least <= apart_h + day <= most for day in (-24, 24))


def _latitude(value: object) -> float:
    """Degrees; up to 180 is read, so that a swapped longitude can be told."""
    try:
        return f.number_of(value, -180, 180, "a latitude")
    except Refused as error:
        raise Refused(
            "a latitude is a plain number of degrees, south negative",
            found=error.found,
            allowed="-90 to 90, such as -42.88",
        ) from None


class PlaceWritten(Section):
    """`site:`: where the lawn is."""

    name: f.Text
    latitude: Annotated[float, BeforeValidator(_latitude)]
    longitude: Annotated[float, number(-180, 180, "a longitude in degrees, west negative,")]
    elevation: f.Elevation
    time_zone: f.Zone24
    units: Annotated[str, choice(UNITS, "units")]
    contact: f.Text = ""
    country: f.Text = ""

    @field_validator("latitude")
    @classmethod
    def _on_the_globe(cls, latitude: float) -> float:
        if abs(latitude) > 90:
            raise Refused(
                "a latitude is beyond the poles (are latitude and longitude swapped?)",
                found=f"{latitude:g}",
                allowed="-90 to 90",
            )
        return latitude

    @field_validator("time_zone")
    @classmethod
    def _fits_the_sun(cls, zone: ZoneInfo, info: ValidationInfo) -> ZoneInfo:
        from datetime import datetime

        longitude = info.data.get("longitude")
        offset = datetime(2026, 1, 1, tzinfo=zone).utcoffset()
        if longitude is None or offset is None or zone.key.startswith(("UTC", "Etc/")):
            return zone
        apart = offset.total_seconds() / 3600 - longitude / 15
        if not _near_the_sun(apart):
            other = _near_the_sun(offset.total_seconds() / 3600 + longitude / 15)
            raise Refused(
                f"the time zone is {abs(apart):.0f} h from the sun at the longitude {longitude:g}",
                found=repr(zone.key),
                allowed=f"a zone within {FITS_WITHIN_H:g} h of the sun there"
                + (f", or is the sign wrong? East is positive: {-longitude:g}" if other else ""),
            )
        return zone

    @field_validator("country")
    @classmethod
    def _two_letters(cls, country: str) -> str:
        if country and not (len(country) == 2 and country.isascii() and country.isalpha()):
            raise Refused("a country is two letters", found=repr(country), allowed="an ISO 3166 code: US")
        return country.upper()


class RateWritten(Section):
    """`rate:`: {measured, on}, {flow} or the word guess."""

    guess: bool = False
    measured: f.PrecipitationRate | None = None
    on: f.Day | None = None
    flow: f.Flow | None = None

    @model_validator(mode="before")
    @classmethod
    def _one_way(cls, value: Any) -> Any:
        allowed = "{measured: 0.5 in/h, on: 2026-05-02}, {flow: 6 gal/min} or guess"
        if isinstance(value, str) and value == "guess":
            return {"guess": True}
        if not isinstance(value, dict) or ("measured" in value) == ("flow" in value):
            raise Refused("a rate is measured, by flow or a guess", found=f.told(value), allowed=allowed)
        if "guess" in value:
            raise Refused("a rate is known in one way", found="guess beside it", allowed=allowed)
        for key in ("measured", "flow"):
            if key in value and value[key] is None:
                raise Refused(f"{key} is empty", found="nothing", allowed=allowed)
        return value


class ZoneWritten(Section):
    """One entry of `zones:`."""

    name: f.Text
    area: f.Area
    grass: f.Grass
    soil: f.Texture
    slope: f.Slope
    exposure: f.Exposure
    root_depth: f.RootDepth | None = None
    head: f.Sprinkler | None = None
    rate: RateWritten
    uniformity: Annotated[f.Uniformity | None, Field(validate_default=True)] = None
    first_puddle: f.Minutes | None = None
    allowed_depletion: f.Depletion | None = None
    mode: Annotated[str, choice(MODES, "the mode")] = "established"
    mode_until: Annotated[f.Day | None, Field(validate_default=True)] = None
    by_hand: f.Truth = False
    flow: f.Flow | None = None

    @field_validator("rate")
    @classmethod
    def _plausible(cls, rate: RateWritten, info: ValidationInfo) -> RateWritten:
        head: Head | None = info.data.get("head")
        if rate.guess and head is None and "head" in info.data:
            raise Refused("a guessed rate needs the head type", found="no head", allowed="head: gear rotor")
        area = info.data.get("area")
        if rate.flow is not None and area is not None and not 1 <= 60 * rate.flow / area <= 200:
            raise Refused(
                "flow over area is a rate no sprinkler has",
                found=f"{60 * rate.flow / area:.2f} mm/h",
                allowed="1 mm/h to 200 mm/h",
            )
        return rate

    @field_validator("uniformity")
    @classmethod
    def _known_somehow(cls, share: float | None, info: ValidationInfo) -> float | None:
        if share is None and "rate" in info.data and info.data.get("head", ...) is None:
            raise Refused(
                "without a head type the distribution uniformity must be said",
                found="neither",
                allowed="uniformity: 65 %, or head: gear rotor",
            )
        return share

    @field_validator("mode_until")
    @classmethod
    def _has_an_end(cls, until: date | None, info: ValidationInfo) -> date | None:
        if until is None and info.data.get("mode", "established") != "established":
            raise Refused(
                f"the mode {info.data['mode']!r} needs its last day", found="none", allowed="2026-09-30"
            )
        return until


class WateringWritten(Section):
    """`watering:`: when water may run."""

    hours: Annotated[tuple[f.Span24, ...], Filled]
    weekdays: Annotated[
        tuple[f.Weekday, ...],
        BeforeValidator(lambda v: list(f.WEEKDAYS) if v == "every day" else f.filled(v)),
    ] = tuple(range(7))
    dates: Annotated[str, choice(("any", "odd", "even"), "dates")] = "any"
    blackout: Spans = ()
    finish_by: Annotated[str, choice(("sunrise", "window"), "finish_by")] = "sunrise"
    least_temperature: f.Temperature = 4.0
    minutes_a_night: f.Minutes | None = None
    strict_uniformity: f.Truth = False
    awake: f.Span24 = (time(6, 0), time(22, 30))
    act_within: f.Margin = 15.0
    assume_made_after: f.Margin | None = None

    @field_validator("hours")
    @classmethod
    def _apart(cls, hours: tuple[tuple[time, time], ...]) -> tuple[tuple[time, time], ...]:
        taken: set[int] = set()
        for begin, end in hours:
            first, last = (60 * at.hour + at.minute for at in (begin, end))
            minutes = {m % 1440 for m in range(first, last if last > first else last + 1440)}
            if taken & minutes:
                raise Refused(
                    "spans of hours overlap", found=f"{begin:%H:%M}-{end:%H:%M}", allowed="spans apart"
                )
            taken |= minutes
        return hours


class SupplyWritten(Section):
    """`supply:`: what the water supply carries."""

    flow: f.Flow | None = None
    water_cost_per_m3: Annotated[float, number(0, 1000, "a price per cubic metre")] = 0.0


class SprayerWritten(Section):
    """One entry of `equipment:`."""

    name: f.Text
    method: Annotated[str, choice(METHODS, "the method")]
    tank: f.Volume | None = None
    carrier: f.Carrier | None = None
    dilution: f.Dilution | None = None


class RoundWritten(Section):
    """One entry of `rounds:`."""

    name: f.Text
    products: Annotated[tuple[f.Text, ...], Filled]
    every: f.Interval
    zones: Names = ()
    sprayer: f.Text = ""
    blackout: Spans = ()


class DecisionWritten(Section):
    """`decision:`: how careful to be."""

    dial: Annotated[str, choice(DIALS, "the dial")] = "balanced"
    costs: Annotated[
        Mapping[Annotated[str, choice(COSTS, "the cost")], Annotated[float, number(0, 100, "a cost")]],
        Field(default_factory=dict),
    ]


def _address(value: object) -> str:
    text = f.text_of(value, "an address")
    if not text.startswith(("http://", "https://")):
        raise Refused("an address begins with http", found=repr(text), allowed="https://host")
    return text.rstrip("/")


class WeatherWritten(Section):
    """`weather:`: which services, in which order, and how old is too old."""

    sources: Annotated[tuple[Annotated[str, choice(SOURCES, "the weather source")], ...], AsList] = ()
    base_urls: Annotated[
        Mapping[Annotated[str, choice(ADDRESSES, "the service")], Annotated[str, BeforeValidator(_address)]],
        Field(default_factory=dict),
    ]
    ensemble_models: Names = ("gfs_seamless",)
    warn_after: f.HoursLong = 360.0
    refuse_after: Annotated[f.HoursLong | None, Field(validate_default=True)] = None
    csv: f.Text | None = None
    cache: f.Text | None = None

    @field_validator("refuse_after")
    @classmethod
    def _later(cls, refuse: float | None, info: ValidationInfo) -> float:
        warn = info.data.get("warn_after")
        refuse = REFUSE_AFTER_MIN if refuse is None else refuse
        if warn is not None and refuse < warn:
            raise Refused(
                "weather would be refused before it is warned about",
                found=f"{refuse / 60:g} h",
                allowed=f"warn_after ({warn / 60:g} h) or more",
            )
        return refuse


MAPPINGS: Mapping[str, type[Section]] = {
    "site": PlaceWritten,
    "watering": WateringWritten,
    "supply": SupplyWritten,
    "decision": DecisionWritten,
    "weather": WeatherWritten,
}
LISTS: Mapping[str, type[Section]] = {
    "zones": ZoneWritten,
    "equipment": SprayerWritten,
    "products": ProductWritten,
    "rounds": RoundWritten,
}
FREE = ("service", "messages")
NEEDED = ("site", "zones", "watering")
TOP_KEYS = (*MAPPINGS, *LISTS, "records", *FREE)
