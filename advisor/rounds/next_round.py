"""The next round of each programme: when it is due, and the best hours in the forecast to put it down.

A round may go down in daylight while a person is awake, not before it is due, in spraying weather, with
dry leaves and no rain for as long as the products must stay dry, not before heavy rain, and so that
rain, or else the sprinklers in their allowed hours, can water it in. Days on which that does not come
together are told with what stands in the way.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from advisor.advice import (
    Asking,
    BarKind,
    Equipment,
    NextRound,
    NextRounds,
    NotThen,
    NotThenReason,
    ProductDue,
    RoundNote,
    RoundNoteKind,
    RoundState,
    Slot,
)
from advisor.hours import Window, local_hours, look_at_night
from advisor.lawn import Application, Records, Round, Site, seedbed
from advisor.rounds.compatibility import incompatibilities
from advisor.rounds.spray_window import Ahead, Job, Judged, judge
from advisor.schedule import length_for
from advisor.science.sun import sunrise, sunset
from advisor.sentences import (
    due_words,
    headline,
    incompatibilities_told,
    not_then_words,
    note_words,
    slot_words,
)
from advisor.soil_water import survey
from advisor.watering_in import (
    PutDown,
    WaterInNeed,
    ZoneApplication,
    cautions_for,
    need_with,
    usual_equipment,
    zone_applications,
)
from advisor.weather import Weather
from advisor.wording import Say

MOST_SLOTS = 4
LONGEST_H = 4  # a slot is told as at most so many hours
ASK_BEFORE = timedelta(days=3)  # so long before it is due the forecast is asked again
ALL_DAY = frozenset(
    {
        BarKind.NOT_DUE,
        BarKind.BLACKOUT,
        BarKind.LABEL,
        BarKind.BEYOND_DRY_TIME,
        BarKind.BEYOND_DAY_AFTER,
        BarKind.SEEDLINGS,
        BarKind.KEPT_MOIST,
    }
)  # bars that no hour of the day escapes
AS_GOOD = 0.12  # hours whose worth is that close to the best go with it


@dataclass(frozen=True, eq=False, slots=True)
class Outlook:
    """What every round of a site is held against: the coming hours, what was put down and what still asks,
    the openings in which water may run, and the hours from now on that are lit while a person is awake."""

    site: Site
    now: datetime
    ahead: Ahead
    records: Records
    applications: tuple[ZoneApplication, ...]
    openings: tuple[Window, ...]
    lit_hours: tuple[int, ...]

    @property
    def say(self) -> Say:
        """How this site's owner reads numbers and times."""
        return Say(self.site.place.units, self.site.place.zone, self.now)

    @property
    def until(self) -> datetime:
        """How far the forecast reaches."""
        return self.ahead.first_at + timedelta(hours=self.ahead.hours)

    def day_of(self, at: datetime) -> date:
        """The local date of a moment."""
        return at.astimezone(self.site.place.zone).date()


def next_rounds(
    *, site: Site, records: Records, weather: Weather, now: datetime, names: Sequence[str] = ()
) -> NextRounds:
    """The next round of the programmes `names` (empty: of all). Raises CannotAdvise as `advise` does."""
    ground = survey(site=site, records=records, weather=weather, now=now)
    ahead = Ahead(ground)
    applications, _ = zone_applications(
        site=site, records=records, weather=weather, water=ground.water, now=now
    )
    outlook = Outlook(
        site=site,
        now=now,
        ahead=ahead,
        records=records,
        applications=applications,
        openings=tuple(look_at_night(site, now).coming),
        lit_hours=tuple(_working_hours(site, now, ahead)),
    )
    asked = [one for one in site.rounds if not names or one.name in names]
    products = dict.fromkeys(name for one in asked for name in one.products)
    return NextRounds(
        site=site.place.name,
        time_zone=site.place.zone.key,
        units=site.place.units,
        now=now,
        forecast_until=outlook.until,
        members=ground.rain_ahead_mm.shape[0],
        calibrated=ground.calibration.pairs > 0,
        rounds=tuple(
            _next_round(outlook, one, due, zones)
            for one in asked
            for due, zones in _zones_by_due(site, one, records, now)
        ),
        cautions=cautions_for(Asking.NEXT_ROUND, [PutDown(site.products[name]) for name in products]),
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


def _next_round(outlook: Outlook, one: Round, due: date | None, zones: tuple[int, ...]) -> NextRound:
    """One programme on zones that share its due date."""
    site, say = outlook.site, outlook.say
    names = [site.zones[z].name for z in zones]
    products = tuple(site.products[name] for name in one.products)
    equipment = usual_equipment(site, products, one)
    job = _job(
        outlook,
        one,
        {p.name: need_with(p, equipment, outlook.site.judgement.need) for p in products},
        zones,
        due,
    )
    judged = [judge(outlook.ahead, job, hour) for hour in outlook.lit_hours]
    slots = _slots(outlook, job, judged)
    today, last = outlook.day_of(outlook.now), outlook.day_of(outlook.until)
    late = 0 if due is None else max(0, (today - due).days)
    beyond = due is not None and due > last
    state = RoundState.BEYOND if beyond else RoundState.SLOTS if slots else RoundState.NO_DAY
    ask_from = max(due - ASK_BEFORE, today) if beyond and due is not None else None
    notes = _notes(job, equipment, say.units)
    return NextRound(
        round=one.name,
        zones=tuple(names),
        products=tuple(
            _product_due(site, one, p.name, names, outlook.records, outlook.now) for p in products
        ),
        equipment=equipment,
        due_on=due,
        overdue_days=late,
        state=state,
        ask_from=ask_from,
        headline=headline(say, due_words(due, late), state, outlook.until, ask_from, slots),
        slots=slots,
        also_possible=_also(outlook, judged, slots),
        not_then=() if beyond else tuple(_not_then(outlook, judged)),
        notes=tuple(note_words(say, note) for note in notes),
        note_facts=notes,
    )


def _job(
    outlook: Outlook, one: Round, needs: Mapping[str, WaterInNeed], zones: tuple[int, ...], due: date | None
) -> Job:
    """The round on these zones, with what stands there already."""
    site = outlook.site
    deepest = max((need.target_mm for need in needs.values()), default=0.0)
    dry = [
        (o.dry_until, o.product.name)
        for o in outlook.applications
        if o.zone_index in zones and o.dry_until is not None and o.dry_until > outlook.now
    ]
    dry_until, dry_for = max(dry, default=(None, ""))
    beds = (seedbed(site.zones[z], outlook.records.applications, site, outlook.now) for z in zones)
    return Job(
        round=one,
        products=tuple(site.products[name] for name in one.products),
        needs=needs,
        zones=zones,
        openings=outlook.openings,
        run_time=sum(
            (
                length_for(deepest, outlook.ahead.ground.figures[z], by_hand=site.zones[z].by_hand).takes
                for z in zones
            ),
            timedelta(),
        ),
        dry_until=dry_until,
        dry_for=dry_for,
        due_on=due,
        beds=tuple(bed for bed in beds if bed is not None),
    )


def _notes(job: Job, equipment: Equipment, units: str) -> tuple[RoundNote, ...]:
    """Seedbeds, what must not go down in one pass, when not to mow, and what is taken for granted."""
    found = [
        RoundNote(
            kind=RoundNoteKind.SEEDBED,
            zone=bed.zone,
            seed=bed.seed,
            sown_on=bed.sown_on,
            until=bed.young_until,
        )
        for bed in job.beds
    ]
    clashes = incompatibilities_told(
        incompatibilities(job.products, job.needs, cup=equipment.method == "hose-end"), units
    )
    found += [RoundNote(kind=RoundNoteKind.INCOMPATIBLE, clash=clash) for clash in clashes if clash.separate]
    before = max(p.kind.mow_before_d for p in job.products)
    after = max(p.kind.mow_after_d for p in job.products)
    if before > 0 or after > 0:
        found.append(RoundNote(kind=RoundNoteKind.MOWING, mow_before_d=before, mow_after_d=after))
    if not equipment.is_sure:
        found.append(RoundNote(kind=RoundNoteKind.EQUIPMENT, equipment=equipment))
    return tuple(found)


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


def _by_day(outlook: Outlook, judged: Sequence[Judged]) -> dict[date, list[Judged]]:
    days: dict[date, list[Judged]] = {}
    for each in judged:
        days.setdefault(outlook.day_of(each.at), []).append(each)
    return days


def _slots(outlook: Outlook, job: Job, judged: Sequence[Judged]) -> tuple[Slot, ...]:
    """The best stretch of every day that has one, the best days first."""
    best: list[tuple[float, list[Judged]]] = []
    for hours in _by_day(outlook, judged).values():
        good = [h for h in hours if not h.bars]
        if good:
            top = max(good, key=lambda h: h.worth)
            best.append((top.worth, _around(top, good)))
    best.sort(key=lambda each: -each[0])
    found = [_slot(job, rank, hours) for rank, (_, hours) in enumerate(best[:MOST_SLOTS], 1)]
    return tuple(slot.model_copy(update={"words": slot_words(outlook.say, slot)}) for slot in found)


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


def _slot(job: Job, rank: int, hours: Sequence[Judged]) -> Slot:
    """A stretch of good hours, without its words."""
    top = max(hours, key=lambda h: h.worth)
    winds, temps = [h.wind_m_s for h in hours], [h.temp_c for h in hours]
    return Slot(
        rank=rank,
        starts_at=hours[0].at,
        ends_at=hours[-1].at + timedelta(hours=1),
        wind_low_m_s=min(winds),
        wind_high_m_s=max(winds),
        wind_limit_m_s=job.wind_limit_m_s,
        temp_low_c=min(temps),
        temp_high_c=max(temps),
        watering=top.watering,
        chance_waters_in=top.waters_in,
        chance_too_much=top.too_much,
        chance_rain_while_dry=top.rain_after,
        rain_expected_mm=top.expected_mm,
        mind=top.mind,
        words="",
    )


def _also(outlook: Outlook, judged: Sequence[Judged], slots: Sequence[Slot]) -> tuple[date, ...]:
    """The days that have a good hour and no slot."""
    told = {outlook.day_of(s.starts_at) for s in slots}
    days = _by_day(outlook, judged).items()
    return tuple(day for day, hours in days if day not in told and any(not h.bars for h in hours))


def _not_then(outlook: Outlook, judged: Sequence[Judged]) -> Iterator[NotThen]:
    """The days of the forecast without a good hour, and what bars the hour of each that comes closest."""
    by_day = _by_day(outlook, judged)
    today, last = outlook.day_of(outlook.now), outlook.day_of(outlook.until)
    for day in (today + timedelta(days=d) for d in range((last - today).days + 1)):
        hours = by_day.get(day, [])
        if any(not h.bars for h in hours):
            continue
        if hours:
            closest = min(hours, key=lambda h: (len(h.bars), -h.worth))
            reason, bars = NotThenReason.BARRED, closest.bars
            at = closest.at if any(bar.kind not in ALL_DAY for bar in bars) else None
        else:
            left = day == today
            reason = NotThenReason.NO_DAYLIGHT_LEFT if left else NotThenReason.NO_DAYLIGHT_KNOWN
            bars, at = (), None
        one = NotThen(day=day, reason=reason, bars=bars, closest_at=at, why="")
        yield one.model_copy(update={"why": not_then_words(outlook.say, one)})
