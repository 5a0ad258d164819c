"""The clock sheet: what to set a clock to, month by month, where it is set by hand a few times a year.

From the usual year: the turf's use (ETo × the turf's coefficient × exposure) less the rain that counts is
what the clock has to bring. It is brought as seldom as the allowed depletion lets it (FAO-56: p · TAW, p
adjusted to the month's demand), in cycles the soil takes, over before the month's earliest sunrise. Zones
are put together into few programs, the same all year (`clock_programs`). Pure.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from math import ceil
from typing import Literal

import numpy as np

from advisor.advice.frozen import Frozen
from advisor.clock.layout import Laid, Room, laid_out
from advisor.clock.programs import Program, Station
from advisor.hours.window import Window
from advisor.hours.windows import windows_for
from advisor.lawn.site_values import Site, Zone
from advisor.science.sprinkler import depth_of
from advisor.science.sun import sunrise
from advisor.science.turf import depletion_fraction
from advisor.soil_water.usual_year import LENGTHS, Climate, Month
from advisor.soil_water.zone_figures import ZoneFigures
from advisor.wording import listed

SCHEMA = "advisor.clock-sheet/1"
FROST_C = 0.0  # mean nightly minimum below which the system is off (common practice, no source)
LEAST_SHARE = 1.0 / 28.0  # of the allowance a day; where less is needed rain and dew do (no source)
DAY, MINUTE = timedelta(days=1), timedelta(minutes=1)


class SheetZone(Frozen):
    """One zone in one program and month. Use, counted rain and need in mm/d; `minutes` at each start;
    `effective_mm` what a watering day gives the drier part, `depth_mm` on average, `litres` with it.
    `short_mm`: how far the allowed days let the root zone pass its allowance, 0 where they do not.
    """

    zone: str
    minutes: int
    use_mm_d: float
    rain_mm_d: float
    need_mm_d: float
    effective_mm: float
    depth_mm: float
    litres: float
    soak_min: int
    short_mm: float


class SheetProgram(Frozen):
    """One program of the clock in one month: at each of `starts` (local clock) its zones run in order, one
    after another; the last ends at `ends`. `minutes` is the run time of a watering day."""

    name: str
    days: str
    days_a_week: float
    starts: tuple[str, ...]
    ends: str
    minutes: int
    zones: tuple[SheetZone, ...]


class SheetMonth(Frozen):
    """One month: its programs, the zones that stay off and why, those that do not fit, and its water."""

    month: int
    programs: tuple[SheetProgram, ...]
    off: tuple[str, ...]
    why_off: str
    not_fitting: tuple[str, ...]
    litres: float


class ClockSheet(Frozen):
    """What to set the clock to; schema `advisor.clock-sheet/1`. `clock` is what the clock must hold."""

    schema_version: Literal["advisor.clock-sheet/1"] = "advisor.clock-sheet/1"
    site: str
    units: str
    made_on: date
    climate_source: str
    clock: str
    months: tuple[SheetMonth, ...]
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Asked:
    """One month, what it asks of the clock, and the moment from which the minutes of its room count."""

    month: Month
    room: Room
    begin: datetime


def clock_sheet(site: Site, figures: Sequence[ZoneFigures], climate: Climate, *, day: date) -> ClockSheet:
    """The sheet for the year of `day`; `figures` one a zone, in the site's order."""
    asked = [_asked(site, figures, month, day.year) for month in climate.months]
    laid = laid_out([each.room for each in asked], site.rules)
    months = tuple(_month(site, figures, each, month) for each, month in zip(asked, laid, strict=True))
    return ClockSheet(
        site=site.place.name,
        units=site.place.units,
        made_on=day,
        climate_source=climate.source,
        clock=_clock(months),
        months=months,
        assumptions=_assumptions(site, figures, climate),
        cautions=(
            "Puddles or runoff override every minute: stop, let it soak, and shorten the cycle.",
            "Turn the clock off when rain is likely to do it, when it may freeze, and while a product has to stay dry.",
            "Local watering rules win over this sheet; the system needs a working backflow preventer.",
        ),
    )


def _asked(site: Site, figures: Sequence[ZoneFigures], month: Month, year: int) -> _Asked:
    begin, sunrise_at, windows = _shortest_night(site, year, month.month)
    stations = {}
    for i, (zone, each) in enumerate(zip(site.zones, figures, strict=True)):
        use, rain, allowed = _use_rain_allowed(zone, each, month)
        need = max(0.0, use - rain)
        if zone.by_hand or _is_frost(month) or need < LEAST_SHARE * allowed:
            continue
        stations[i] = Station(
            number=i,
            need_mm_d=need,
            allowed_mm=allowed,
            most_mm=each.taw_mm,
            multiplier=each.multiplier,
            rate_mm_h=each.rate_mm_h,
            cycle_min=each.cycle_min,
            soak_min=each.soak_min,
        )
    spans = tuple(((w.starts_at - begin) // MINUTE, (w.ends_at - begin) // MINUTE) for w in windows)
    rises = (sunrise_at - begin) // MINUTE
    early = tuple((a, min(b, rises)) for a, b in spans if a < rises)
    return _Asked(month, Room(stations, spans, early), begin)


def _use_rain_allowed(zone: Zone, figures: ZoneFigures, month: Month) -> tuple[float, float, float]:
    """Turf use and counted rain, mm/d, and the allowed depletion, mm."""
    use = month.eto_mm_d * zone.turf.kc_month[month.month - 1] * zone.exposure
    p = zone.allowed_depletion
    if p is None:
        p = float(depletion_fraction(p_table=np.array(zone.turf.p), etc_mm_d=np.array(use)))
    return use, month.counted_mm / LENGTHS[month.month - 1], p * figures.taw_mm


def _is_frost(month: Month) -> bool:
    return month.tmin_c is not None and month.tmin_c < FROST_C


def _month(site: Site, figures: Sequence[ZoneFigures], asked: _Asked, laid: Laid) -> SheetMonth:
    number, names, on = asked.month.month, [z.name for z in site.zones], asked.room.stations
    programs = tuple(_sheet_program(site, figures, asked, "ABCD"[g], *laid[g]) for g in sorted(laid))
    placed = {s.number for program, _ in laid.values() for s in program.stations}
    return SheetMonth(
        month=number,
        programs=programs,
        off=tuple(n for i, n in enumerate(names) if i not in on and not site.zones[i].by_hand),
        why_off="frost" if _is_frost(asked.month) else "rain and dew are enough",
        not_fitting=tuple(names[i] for i in on if i not in placed),
        litres=sum(z.litres * p.days_a_week / 7.0 * LENGTHS[number - 1] for p in programs for z in p.zones),
    )


def _sheet_program(
    site: Site,
    figures: Sequence[ZoneFigures],
    asked: _Asked,
    name: str,
    program: Program,
    starts: tuple[int, ...],
) -> SheetProgram:
    def clock(minute: int) -> str:
        return f"{(asked.begin + minute * MINUTE).astimezone(site.place.zone):%H:%M}"

    zones = []
    for station, minutes in zip(program.stations, program.minutes, strict=True):
        zone, each = site.zones[station.number], figures[station.number]
        use, rain, allowed = _use_rain_allowed(zone, each, asked.month)
        depth = depth_of(minutes=float(program.starts * minutes), rate_mm_h=each.rate_mm_h)
        zones.append(
            SheetZone(
                zone=zone.name,
                minutes=minutes,
                use_mm_d=use,
                rain_mm_d=rain,
                need_mm_d=station.need_mm_d,
                effective_mm=depth / each.multiplier,
                depth_mm=depth,
                litres=depth * zone.area_m2,
                soak_min=ceil(each.soak_min) if program.starts > 1 else 0,
                short_mm=max(0.0, station.need_mm_d * program.days.gap - allowed),
            )
        )
    return SheetProgram(
        name=name,
        days=program.days.words,
        days_a_week=7.0 / program.days.every,
        starts=tuple(clock(start) for start in starts),
        ends=clock(starts[-1] + program.length),
        minutes=program.a_day,
        zones=tuple(zones),
    )


def _clock(months: Sequence[SheetMonth]) -> str:
    """What the clock must hold, in a sentence."""
    programs = [p for month in months for p in month.programs]
    if not programs:
        return "Nothing here is for a clock."
    names = {p.name for p in programs}
    starts = max(len(p.starts) for p in programs)
    days = [p.days for p in programs]
    kinds = [
        word
        for word, is_used in (
            ("weekdays", any(d[:3] in ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun") for d in days)),
            ("intervals of days", any(d.startswith("every ") and d != "every day" for d in days)),
            ("odd or even dates", any("dates" in d for d in days)),
        )
        if is_used
    ]
    told = f"It needs a clock with {_count(len(names), 'program')} of up to {_count(starts, 'start time')}"
    told += f", set by {listed(kinds)}" if kinds else ""
    told += ", that runs the zones of a program one after another at each start."
    if any("on odd dates" in d or "on even dates" in d for d in days):
        told += " Weekdays and dates have to hold together: set the other weekdays off."
    return told


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}"


def _shortest_night(site: Site, year: int, month: int) -> tuple[datetime, datetime, tuple[Window, ...]]:
    """The local midnight a day before the date of the month's earliest sunrise (by the clock), that sunrise,
    and the windows of the night before it, dates not judged. Nights with a clock change are left out.
    """
    place, rules = site.place, site.rules
    days = [date(year, month, 1) + i * DAY for i in range(28)]
    rises = {}
    for day in days:
        noons = [
            datetime.combine(d, datetime.min.time(), place.zone).replace(hour=12) for d in (day - DAY, day)
        ]
        if noons[0].utcoffset() == noons[1].utcoffset():
            rises[day] = sunrise(
                day=day,
                latitude_deg=place.latitude_deg,
                longitude_deg=place.longitude_deg,
                zone=place.zone,
            ).at
    first = min(rises, key=lambda day: rises[day].astimezone(place.zone).time())
    begin = datetime.combine(first - DAY, datetime.min.time(), place.zone).astimezone(UTC)
    whole = replace(rules, weekdays=frozenset(range(7)), parity="any", blackouts=())
    windows = windows_for(
        rules=whole, night=first - DAY, local=place.zone, sunrise_at=rises[first], now=begin
    )
    return begin, rises[first], windows


def _assumptions(site: Site, figures: Sequence[ZoneFigures], climate: Climate) -> tuple[str, ...]:
    guessed = [
        z.name for z, f in zip(site.zones, figures, strict=True) if f.rate_basis == "guess" and not z.by_hand
    ]
    found = [
        "A clock cannot see the weather: this sheet is a fallback for the usual year. In a dry week it is too "
        "little, in a wet one too much; `advisor tonight` does better.",
        climate.basis,
        "Established turf; seed, new turf and products that want water or want to stay dry go their own ways.",
    ]
    if guessed:
        found.append(
            f"The rate of {listed(guessed)} is a guess from the head type: measure it with `advisor audit`."
        )
    by_hand = [z.name for z in site.zones if z.by_hand]
    if by_hand:
        are = "is" if len(by_hand) == 1 else "are"
        found.append(
            f"{listed(by_hand)} {are} watered by hand and not on a clock: `advisor tonight` says when, "
            "`advisor runtime` how long."
        )
    if any(z.mode != "established" for z in site.zones):
        found.append("Modes with an end date (seed, new, syringe) are not on this sheet.")
    if site.rules.blackouts:
        found.append("Blackout dates are not on this sheet: turn the clock off on them.")
    return tuple(found)
