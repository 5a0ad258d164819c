"""The weather day by day as it is handed out: rain and its chances, ETo, wind and minimum temperature."""

from __future__ import annotations

from datetime import date, datetime
from enum import StrEnum
from typing import Literal

from advisor.advice.advice import SourceUsed
from advisor.advice.frozen import Frozen
from advisor.advice.notes import Note
from advisor.science.stand_in import StandIn


class DayIs(StrEnum):
    """Where a day lies."""

    PAST = "past"
    TODAY = "today"
    AHEAD = "ahead"


class RainBasis(StrEnum):
    """What rain rests on."""

    GAUGE = "gauge"
    ARCHIVE = "archive"
    MODEL = "model"
    MEMBERS = "members"


class RainFrom(Frozen):
    """What a part of a day's rain rests on."""

    basis: RainBasis
    """How it is known."""
    sources: tuple[str, ...]
    """Whose it is; none for the owner's own gauge."""
    hours: float
    """For how many hours of the day."""


class WeatherDay(Frozen):
    """One civil day; what is unknown is none, and never zero."""

    day: date
    """The local date."""
    when: DayIs
    """Whether it is past, today or ahead."""
    hours: float
    """How many hours it has: 24, or 23 or 25 where the clock changes."""
    known_hours: float
    """Of how many of them the rain is known."""
    rain_mm: float | None
    """All precipitation of the day, snow as its water: what fell, and the members' mean of what is to
    come, mm."""
    fell_mm: float | None
    """The part of it that has fallen, mm."""
    rain_low_mm: float | None
    """One case in ten brings less, mm."""
    rain_high_mm: float | None
    """One case in ten brings more, mm."""
    snow_mm: float | None
    """The part of it that falls as snow, as its water, mm."""
    rain_basis: tuple[RainBasis, ...]
    """What the rain rests on, that of the most hours first."""
    rain_source: str
    """The same with its sources in words."""
    chance_1mm: float | None
    """The chance of at least 1 mm over the whole day, with what has fallen, 0–1."""
    chance_5mm: float | None
    """The chance of at least 5 mm, 0–1."""
    chance_10mm: float | None
    """The chance of at least 10 mm, 0–1."""
    chance_source: str
    """What the chances rest on, in words."""
    eto_mm: float | None
    """Reference evapotranspiration, mm."""
    eto_source: str
    """How it was made, in words."""
    service_eto_mm: float | None
    """The service's own value, a cross-check, mm."""
    wind10_m_s: float | None
    """The day's mean wind at 10 m, m/s."""
    wind_source: str
    """Whose wind it is."""
    tmin_c: float | None
    """The day's minimum temperature, °C."""
    tmin_source: str
    """Whose temperature it is."""
    rain_from: tuple[RainFrom, ...] = ()
    """What the rain rests on, as data: gauge, archive, model, then what is to come."""
    eto_stand_ins: tuple[StandIn, ...] = ()
    """What stood in for what ETo asks for and nobody knew."""
    air_source: str = ""
    """Whose temperature, humidity, wind and radiation ETo was made from."""


class WeatherDays(Frozen):
    """The weather behind and ahead of one site, day by day, and what it rests on."""

    schema_version: Literal["advisor.weather/1"] = "advisor.weather/1"
    """The version of this form."""
    site: str
    """The site's name."""
    time_zone: str
    """Its time zone (IANA)."""
    units: str
    """The owner's units: "metric" or "us"."""
    now: datetime
    """When it was asked for."""
    days: tuple[WeatherDay, ...]
    """The days, the earliest first."""
    members: int
    """How many rain members the chances are counted over."""
    members_from: tuple[str, ...] = ()
    """The sources of the members."""
    calibrated: bool
    """Whether the chances are fitted to this lawn's own gauge readings."""
    pairs: int
    """How many pairs of forecast and gauge they are fitted on."""
    sources: tuple[SourceUsed, ...]
    """The weather sources behind it."""
    provenance: tuple[str, ...]
    """How it was made and what is missing, in sentences."""
    notes: tuple[Note, ...] = ()
    """The same as data."""
