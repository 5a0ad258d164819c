"""The next round of each programme: when it is due, and the best hours in the forecast to put it down.

A round may go down in daylight while a person is awake, not before it is due, in spraying weather, with
dry leaves and no rain for as long as the products must stay dry, not before heavy rain, and so that
rain, or else the sprinklers in their allowed hours, can water it in. Days on which that does not come
together are told with what stands in the way.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Literal

from advisor.advice.cautions import Caution, CautionTopic
from advisor.advice.frozen import Frozen
from advisor.hours.night import look_at_night
from advisor.hours.window import Window
from advisor.hours.windows import local_hours
from advisor.lawn.products import Product
from advisor.lawn.records import Application, Records
from advisor.lawn.seedbeds import seedbed
from advisor.lawn.site_values import Round, Site
from advisor.rounds.compatibility import find_clashes
from advisor.rounds.round_words import headline, mowing_words, seedbed_words, slot_words
from advisor.rounds.spray_window import Ahead, Job, Judged, judge
from advisor.schedule.run_length import length_for
from advisor.science.sun import sunrise, sunset
from advisor.soil_water.root_zone import RootZone, survey
from advisor.watering_in.applications import ZoneApplication, zone_applications
from advisor.watering_in.water_need import WaterInNeed, label_sets_depth, water_in_need
from advisor.weather.weather import Weather
from advisor.wording import Say

MOST_SLOTS = 4
LONGEST_H = 4  # a slot is told as at most so many hours
ALL_DAY = frozenset(
    {"not due", "blackout", "label", "beyond", "seedlings", "kept moist"}
)  # bars that no hour of the day escapes
AS_GOOD = 0.12  # hours whose worth is that close to the best go with it


class Slot(Frozen):
    """A good stretch of one day, best first in rank. Chances None where nothing asks; SI units."""

    rank: int
    starts_at: datetime
    ends_at: datetime
    wind_low_m_s: float
    wind_high_m_s: float
    temp_low_c: float
    temp_high_c: float
    watering: str
    chance_waters_in: float | None
    chance_too_much: float | None
    chance_rain_while_dry: float | None
    rain_expected_mm: float
    words: str


class NotThen(Frozen):
    """A day of the forecast on which it does not come together, and what stands in the way."""

    day: date
    why: str


class ProductDue(Frozen):
    """One product of the round: when it last went down on these zones and when it is due again."""

    product: str
    last_at: datetime | None
    every_days: int
    due_on: date | None


class NextRound(Frozen):
    """One programme on the zones that share a due date, seedbeds apart from the others.

    `due_on` None: it was never recorded there. `also_possible`: days that would do but are not among the
    best, which have a slot.
    """

    round: str
    zones: tuple[str, ...]
    products: tuple[ProductDue, ...]
    due_on: date | None
    overdue_days: int
    headline: str
    slots: tuple[Slot, ...]
    also_possible: tuple[date, ...]
    not_then: tuple[NotThen, ...]
    notes: tuple[str, ...]


class NextRounds(Frozen):
    """The next round of every programme of one site."""

    schema_version: Literal["advisor.next-round/1"] = "advisor.next-round/1"
    site: str
    time_zone: str
    units: str
    now: datetime
    forecast_until: datetime
    members: int
    calibrated: bool
    rounds: tuple[NextRound, ...]
    cautions: tuple[Caution, ...]
    attribution: tuple[str, ...]


def next_rounds(
    *, site: Site, records: Records, weather: Weather, now: datetime, names: Sequence[str] = ()
) -> NextRounds:
    """The next round of the programmes `names` (empty: of all). Raises CannotAdvise as `advise` does."""
    say = Say(site.place.units, site.place.zone, now)
    ground = survey(site=site, records=records, weather=weather, now=now)
    ahead = Ahead(ground)
    obligations, _ = zone_applications(
        site=site, records=records, weather=weather, water=ground.water, now=now
    )
    openings = look_at_night(site, now).coming
    light = _working_hours(site, now, ahead)
    rounds = [
        _next_round(say, ahead, one, due, zones, records, obligations, openings, light)
        for one in site.rounds
        if not names or one.name in names
        for due, zones in _zones_by_due(site, one, records, now)
    ]
    return NextRounds(
        site=site.place.name,
        time_zone=site.place.zone.key,
        units=site.place.units,
        now=now,
        forecast_until=weather.starts_at(ground.first + ground.hours_ahead),
        members=ground.rain_ahead_mm.shape[0],
        calibrated=ground.calibration.pairs > 0,
        rounds=tuple(rounds),
        cautions=(
            Caution(
                topic=CautionTopic.LABEL,
                text="The label is the law: its wind, heat, rain, mowing and re-entry rules override these; "
                "so do local dates and buffers.",
            ),
        ),
        attribution=tuple(dict.fromkeys(s.attribution for s in weather.sources if s.attribution)),
    )


def _zones_by_due(
    site: Site, one: Round, records: Records, now: datetime
) -> list[tuple[date | None, tuple[int, ...]]]:
    """The zones of a programme by the day on which all of its products may go down again, soonest first;
    a seedbed stands for itself."""
    found: dict[tuple[date | None, str], list[int]] = {}
    for z, zone in enumerate(site.zones):
        if one.zones and zone.name not in one.zones:
            continue
        dues = [_product_due(site, one, p, [zone.name], records, now).due_on for p in one.products]
        known = [d for d in dues if d is not None]
        bed = zone.name if seedbed(zone, records.applications, site, now) is not None else ""
        found.setdefault((max(known) if known else None, bed), []).append(z)
    keys = sorted(found, key=lambda key: (key[0] or date.min, key[1]))
    return [(key[0], tuple(found[key])) for key in keys]


def _product_due(
    site: Site, one: Round, name: str, zones: Sequence[str], records: Records, now: datetime
) -> ProductDue:
    def is_it(a: Application) -> bool:
        return a.product == name and a.ended_at <= now and not set(zones).isdisjoint(a.zones)

    last = max((a.ended_at for a in records.applications if is_it(a)), default=None)
    every = site.products[name].interval_days or one.every_days
    due = None if last is None else last.astimezone(site.place.zone).date() + timedelta(days=every)
    return ProductDue(product=name, last_at=last, every_days=every, due_on=due)


def _next_round(
    say: Say,
    ahead: Ahead,
    one: Round,
    due: date | None,
    zones: tuple[int, ...],
    records: Records,
    obligations: Sequence[ZoneApplication],
    openings: Sequence[Window],
    light: Sequence[int],
) -> NextRound:
    site = ahead.ground.site
    names = [site.zones[z].name for z in zones]
    products = tuple(site.products[name] for name in one.products)
    needs, passes = _needs(site, one, products)
    job = _job(ahead.ground, one, products, needs, zones, obligations, openings, due, say.now)
    beds = (seedbed(site.zones[z], records.applications, site, say.now) for z in zones)
    job = replace(job, beds=tuple(bed for bed in beds if bed is not None))
    judged = [judge(say, ahead, job, hour) for hour in light]
    slots = _slots(say, job, judged)
    today = say.now.astimezone(say.zone).date()
    late = 0 if due is None else max(0, (today - due).days)
    until = ahead.first_at + timedelta(hours=ahead.hours)
    not_then = _not_then(say, judged, until)
    return NextRound(
        round=one.name,
        zones=tuple(names),
        products=tuple(_product_due(site, one, p.name, names, records, say.now) for p in products),
        due_on=due,
        overdue_days=late,
        headline=headline(say, due, late, [(s.starts_at, s.ends_at) for s in slots], until),
        slots=slots,
        also_possible=_also(say, judged, slots),
        not_then=() if due is not None and due > until.astimezone(say.zone).date() else not_then,
        notes=(*seedbed_words(job), *passes, *mowing_words(products)),
    )


def _needs(
    site: Site, one: Round, products: Sequence[Product]
) -> tuple[Mapping[str, WaterInNeed], tuple[str, ...]]:
    """What each product asks of water as this round is put down, and what keeps them from one pass."""
    by_name = {s.name: s for s in site.sprayers}
    sprayer = by_name.get(one.sprayer)
    if sprayer is None:
        sprayer = next((s for s in site.sprayers if s.method in ("tank", "backpack", "hose-end")), None)
    needs = {}
    for product in products:
        liquid = product.kind.form == "liquid"
        method = (sprayer.method if sprayer is not None else "tank") if liquid else "spreader"
        dilution = sprayer.dilution if sprayer is not None and liquid else None
        needs[product.name] = water_in_need(
            product.kind,
            method,
            dilution,
            from_label=label_sets_depth(product),
            units=site.place.units,
        )
    cup = sprayer is not None and sprayer.method == "hose-end"
    clashes = find_clashes(products, needs, cup=cup, units=site.place.units)
    return needs, tuple(f"{c.words}: {c.way_out}." for c in clashes if c.separate)


def _job(
    ground: RootZone,
    one: Round,
    products: tuple[Product, ...],
    needs: Mapping[str, WaterInNeed],
    zones: tuple[int, ...],
    obligations: Sequence[ZoneApplication],
    openings: Sequence[Window],
    due: date | None,
    now: datetime,
) -> Job:
    deepest = max((needs[p.name].target_mm for p in products), default=0.0)
    dry = [
        (o.dry_until, o.product.name)
        for o in obligations
        if o.zone_index in zones and o.dry_until is not None and o.dry_until > now
    ]
    dry_until, dry_for = max(dry, default=(None, ""))
    return Job(
        round=one,
        products=products,
        needs=needs,
        zones=zones,
        openings=tuple(openings),
        run_time=sum(
            (
                length_for(deepest, ground.figures[z], by_hand=ground.site.zones[z].by_hand).takes
                for z in zones
            ),
            timedelta(),
        ),
        dry_until=dry_until,
        dry_for=dry_for,
        due_on=due,
    )


def _working_hours(site: Site, now: datetime, ahead: Ahead) -> list[int]:
    """The whole hours ahead in daylight while a person is awake, as hours from now."""
    place = site.place
    first = now.astimezone(place.zone).date()
    last = (ahead.first_at + timedelta(hours=ahead.hours)).astimezone(place.zone).date()
    awake = local_hours([site.rules.awake], first, last, place.zone)
    where = {"latitude_deg": place.latitude_deg, "longitude_deg": place.longitude_deg}
    days = [first + timedelta(days=d) for d in range((last - first).days + 1)]
    lit = [
        Window(sunrise(day=day, zone=place.zone, **where).at, sunset(day=day, zone=place.zone, **where).at)
        for day in days
    ]

    def fits(begin: datetime, spans: Sequence[Window]) -> bool:
        return any(w.starts_at <= begin and begin + timedelta(hours=1) <= w.ends_at for w in spans)

    starts = [(h, ahead.first_at + timedelta(hours=h)) for h in range(1, ahead.hours)]
    return [h for h, begin in starts if fits(begin, lit) and fits(begin, awake)]


def _by_day(say: Say, judged: Sequence[Judged]) -> dict[date, list[Judged]]:
    days: dict[date, list[Judged]] = {}
    for each in judged:
        days.setdefault(each.at.astimezone(say.zone).date(), []).append(each)
    return days


def _slots(say: Say, job: Job, judged: Sequence[Judged]) -> tuple[Slot, ...]:
    """The best stretch of every day that has one, the best days first."""
    best: list[tuple[float, list[Judged]]] = []
    for hours in _by_day(say, judged).values():
        good = [h for h in hours if not h.bars]
        if good:
            top = max(good, key=lambda h: h.worth)
            best.append((top.worth, _around(top, good)))
    best.sort(key=lambda each: -each[0])
    return tuple(_slot(say, job, rank, hours) for rank, (_, hours) in enumerate(best[:MOST_SLOTS], 1))


def _around(top: Judged, good: Sequence[Judged]) -> list[Judged]:
    """The hours next to the best one that are about as good, at most LONGEST_H in all."""
    by_time = {h.at: h for h in good if h.worth >= top.worth - AS_GOOD}
    stretch, hour = [top], timedelta(hours=1)
    while len(stretch) < LONGEST_H:
        sides = [by_time.get(stretch[0].at - hour), by_time.get(stretch[-1].at + hour)]
        near = [h for h in sides if h is not None]
        if not near:
            break
        stretch = sorted([*stretch, max(near, key=lambda h: h.worth)], key=lambda h: h.at)
    return stretch


def _slot(say: Say, job: Job, rank: int, hours: Sequence[Judged]) -> Slot:
    top = max(hours, key=lambda h: h.worth)
    winds, temps = [h.wind_m_s for h in hours], [h.temp_c for h in hours]
    return Slot(
        rank=rank,
        starts_at=hours[0].at,
        ends_at=hours[-1].at + timedelta(hours=1),
        wind_low_m_s=min(winds),
        wind_high_m_s=max(winds),
        temp_low_c=min(temps),
        temp_high_c=max(temps),
        watering=top.watering,
        chance_waters_in=top.waters_in,
        chance_too_much=top.too_much,
        chance_rain_while_dry=top.rain_after,
        rain_expected_mm=top.expected_mm,
        words=slot_words(say, job, top, (min(winds), max(winds)), (min(temps), max(temps))),
    )


def _also(say: Say, judged: Sequence[Judged], slots: Sequence[Slot]) -> tuple[date, ...]:
    """The days that have a good hour and no slot."""
    told = {s.starts_at.astimezone(say.zone).date() for s in slots}
    days = _by_day(say, judged).items()
    return tuple(day for day, hours in days if day not in told and any(not h.bars for h in hours))


def _not_then(say: Say, judged: Sequence[Judged], until: datetime) -> tuple[NotThen, ...]:
    """The days of the forecast without a good hour, and what bars the hour of each that comes closest."""
    found: list[NotThen] = []
    by_day = _by_day(say, judged)
    today, last = (t.astimezone(say.zone).date() for t in (say.now, until))
    for day in (today + timedelta(days=d) for d in range((last - today).days + 1)):
        hours = by_day.get(day, [])
        if not hours:
            words = (
                "no whole hour of daylight is left"
                if day == today
                else "the forecast holds no hour of daylight in which you are awake"
            )
            found.append(NotThen(day=day, why=words))
        if not hours or any(not h.bars for h in hours):
            continue
        closest = min(hours, key=lambda h: (len(h.bars), -h.worth))
        why = "; ".join(bar.words for bar in closest.bars)
        if any(bar.topic not in ALL_DAY for bar in closest.bars):
            why = f"{why} (at its best, {closest.at.astimezone(say.zone):%H:%M})"
        found.append(NotThen(day=day, why=why))
    return tuple(found)
