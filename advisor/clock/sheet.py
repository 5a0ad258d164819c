"""The clock sheet: what to set a clock to, month by month, where it is set by hand a few times a year.

From the usual year: the turf's use (ETo × the turf's coefficient × exposure) less the rain that counts is
what the clock has to bring. It is brought as seldom as the allowed depletion lets it (FAO-56: p · TAW, p
adjusted to the month's demand), in cycles the soil takes, over before the month's earliest sunrise. Zones
are put together into few programs, the same all year (`clock_programs`). Pure.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from math import ceil

import numpy as np

from advisor.advice import (
    TOPIC,
    Asking,
    Assumption,
    AssumptionKind,
    Caution,
    CautionKind,
    ClockNeeds,
    ClockSheet,
    DaysKind,
    OffReason,
    SheetMonth,
    SheetProgram,
    SheetZone,
)
from advisor.clock.layout import Laid, Room, laid_out
from advisor.clock.programs import Program, Station
from advisor.hours import Window, windows_for
from advisor.lawn import Parity, RateBasis, Site, Zone
from advisor.science.sprinkler import depth_of
from advisor.science.sun import sunrise
from advisor.science.turf import depletion_fraction
from advisor.sentences import assumption_words, days_words, needs_words, told
from advisor.soil_water import LENGTHS, Climate, Month, ZoneFigures

FROST_C = 0.0  # mean nightly minimum below which the system is off (common practice, no source)
LEAST_SHARE = 1.0 / 28.0  # of the allowance a day; where less is needed rain and dew do (no source)
CAUTIONS = (
    CautionKind.STANDING_WATER,
    CautionKind.CLOCK_OFF,
    CautionKind.LOCAL_RULES,
    CautionKind.BACKFLOW,
)
DAY, MINUTE = timedelta(days=1), timedelta(minutes=1)


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
    needs = _needs(months)
    assumed = tuple(
        one.model_copy(update={"text": assumption_words(one)}) for one in _assumed(site, figures, climate)
    )
    cautions = told([Caution(topic=TOPIC[kind], kind=kind) for kind in CAUTIONS], Asking.CLOCK_SHEET)
    return ClockSheet(
        site=site.place.name,
        units=site.place.units,
        made_on=day,
        climate_source=climate.source,
        clock=needs_words(needs),
        needs=needs,
        months=months,
        assumptions=tuple(one.text for one in assumed),
        assumed=assumed,
        cautions=tuple(caution.text for caution in cautions),
        caution_kinds=cautions,
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
        why_off=OffReason.FROST if _is_frost(asked.month) else OffReason.RAIN,
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
        days=days_words(program.days.set_days),
        set_days=program.days.set_days,
        days_a_week=7.0 / program.days.every,
        starts=tuple(clock(start) for start in starts),
        ends=clock(starts[-1] + program.length),
        minutes=program.a_day,
        zones=tuple(zones),
    )


def _needs(months: Sequence[SheetMonth]) -> ClockNeeds | None:
    """What the clock must hold; None where nothing is for a clock."""
    programs = [program for month in months for program in month.programs]
    if not programs:
        return None
    return ClockNeeds(
        programs=len({program.name for program in programs}),
        starts=max(len(program.starts) for program in programs),
        days=tuple(kind for kind in DaysKind if any(p.set_days.kind == kind for p in programs)),
    )


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
    whole = replace(rules, weekdays=frozenset(range(7)), parity=Parity.ANY, blackouts=())
    windows = windows_for(
        rules=whole, night=first - DAY, local=place.zone, sunrise_at=rises[first], now=begin
    )
    return begin, rises[first], windows


def _assumed(site: Site, figures: Sequence[ZoneFigures], climate: Climate) -> Iterator[Assumption]:
    """What the sheet assumes and leaves out."""
    guessed = tuple(
        zone.name
        for zone, each in zip(site.zones, figures, strict=True)
        if each.rate_basis == RateBasis.GUESS and not zone.by_hand
    )
    by_hand = tuple(zone.name for zone in site.zones if zone.by_hand)
    yield Assumption(kind=AssumptionKind.USUAL_YEAR_ONLY)
    yield Assumption(kind=AssumptionKind.CLIMATE, climate=climate.basis)
    yield Assumption(kind=AssumptionKind.ESTABLISHED_TURF)
    if guessed:
        yield Assumption(kind=AssumptionKind.GUESSED_RATE, zones=guessed)
    if by_hand:
        yield Assumption(kind=AssumptionKind.BY_HAND, zones=by_hand)
    if any(zone.mode != "established" for zone in site.zones):
        yield Assumption(kind=AssumptionKind.MODES_LEFT_OUT)
    if site.rules.blackouts:
        yield Assumption(kind=AssumptionKind.BLACKOUTS_LEFT_OUT)
