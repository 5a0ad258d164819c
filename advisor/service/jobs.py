"""What is due now: a pure function of the settings, the site, what is done already and the time.

Each job of each night has a dated key. Done is what has its key marked, so a job that was missed while
the computer was off or asleep is caught up once and never done twice, whatever the clock does: a night
on which the clock is changed has one evening like any other.

A nightly advice belongs to a local date, its slot: with a set time that of the date on which it comes,
else that of the night whose first allowed hour it precedes. It can be caught up until the allowed hours
of its night are over; after that it is told as missed.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

from advisor.advice import Advice, Job, LookKind, NextLook
from advisor.hours import night_of, windows_for
from advisor.lawn import Parity, Place, Rules, ServiceSettings, Site
from advisor.science.sun import sunrise
from advisor.service.keys import advice_key, archive_key, backup_key, look_key, look_keys, missed_key

DAY = timedelta(days=1)
HOUR = timedelta(hours=1)
LATE_AFTER = timedelta(minutes=15)
STANDS_FOR = timedelta(hours=12)
ARCHIVE_PAST_THE_HOUR = timedelta(minutes=5)
EVENING_INSTEAD = time(18)
FARTHEST_BACK_DAYS = 400
ENOUGH_ACCOUNTED = 30
"""After so many nights in a row that are accounted for, older ones are taken to be: who died in the middle
of a round may have left one out."""
MOST_LOOKS = 6


@dataclass(frozen=True, slots=True)
class Due:
    """One thing to do.

    `at` is when it was to be done, `until` when it is of no more use, `late` whether that must be told;
    `slot` is its local date (that of the night for a look).
    """

    job: Job
    key: str
    at: datetime
    until: datetime
    slot: date
    late: bool = False
    look: NextLook | None = None


@dataclass(frozen=True, slots=True)
class Slot:
    """One nightly advice: the local date it goes by, when it comes, how long it is of use."""

    day: date
    at: datetime
    until: datetime


def due(
    settings: ServiceSettings,
    site: Site,
    *,
    done: Collection[str],
    last: Advice | None,
    since: datetime,
    now: datetime,
) -> tuple[Due, ...]:
    """What is to be done at `now`, the nightly advice first.

    `done` are the keys that are marked, `last` the newest advice kept (its next looks are followed),
    `since` when this site was first served: what was over by then is not missed.
    """
    found = [*_nights(settings, site, done, since, now)]
    looks = [one for one in _looks(settings, site, done, last, now) if one.at <= now < one.until]
    found += _as_one(looks)
    hour = now.astimezone(UTC).replace(minute=0, second=0, microsecond=0)
    hourly = _archive(site, hour)
    if hourly.at <= now and hourly.key not in done:
        found.append(hourly)
    backup = max((b for b in _backups(settings, site, now) if b.at <= now), key=lambda b: b.at)
    if backup.key not in done:
        found.append(backup)
    return tuple(found)


def coming(
    settings: ServiceSettings, site: Site, *, done: Collection[str], last: Advice | None, now: datetime
) -> tuple[Due, ...]:
    """The next of each job after `now`, earliest first."""
    found = [
        Due(Job.ADVICE, advice_key(site, slot.day), slot.at, slot.until, slot.day)
        for slot in slots_around(settings, site, now)
        if slot.at > now
    ]
    found = [one for one in found if one.key not in done][:1]
    found += [one for one in _looks(settings, site, done, last, now) if one.at > now]
    hour = now.astimezone(UTC).replace(minute=0, second=0, microsecond=0)
    found += [one for one in (_archive(site, hour), _archive(site, hour + HOUR)) if one.at > now][:1]
    found += [min((b for b in _backups(settings, site, now) if b.at > now), key=lambda b: b.at)]
    return tuple(sorted(found, key=lambda one: one.at))


def slots_around(settings: ServiceSettings, site: Site, now: datetime, *, back: int = 2) -> tuple[Slot, ...]:
    """The slots of the local dates from `back` days ago to two days ahead, in order."""
    today = now.astimezone(site.place.zone).date()
    return tuple(slot_of(settings, site, today + n * DAY) for n in range(-back, 3))


def next_slot(settings: ServiceSettings, site: Site, now: datetime) -> Slot:
    """The slot whose advice comes next after `now`."""
    return next(slot for slot in slots_around(settings, site, now) if slot.at > now)


def slot_of(settings: ServiceSettings, site: Site, day: date) -> Slot:
    """When the advice of this local date comes and how long it is of use."""
    at, until = _moment(settings, site.place, site.rules, day)
    return Slot(day, at, min(until, _moment(settings, site.place, site.rules, day + DAY)[0]))


@lru_cache(maxsize=4096)
def _moment(settings: ServiceSettings, place: Place, rules: Rules, day: date) -> tuple[datetime, datetime]:
    """When the advice of a date comes, and the end of its night's allowed hours."""
    zone, rules = place.zone, _any_date(rules)
    if settings.before_first_hour is not None:
        begin = datetime.combine(day - DAY, time(0), UTC)
        rise = _rise(place, day + DAY)
        windows = windows_for(rules=rules, night=day, local=zone, sunrise_at=rise, now=begin)
        if windows:
            return windows[0].starts_at - settings.before_first_hour, windows[-1].ends_at
    at = local(day, settings.advice_at or EVENING_INSTEAD, zone)
    night = night_of(at, rules, zone, lambda morning: _rise(place, morning))
    windows = windows_for(rules=rules, night=night, local=zone, sunrise_at=_rise(place, night + DAY), now=at)
    return at, windows[-1].ends_at if windows else at + STANDS_FOR


def local(day: date, at: time, zone: ZoneInfo) -> datetime:
    """A local time of a date as UTC: the first where the clock shows it twice, one where it is left out."""
    return datetime.combine(day, at, zone).astimezone(UTC)


def _any_date(rules: Rules) -> Rules:
    """The rules of the hours alone: there is an evening also before a night without water."""
    return replace(rules, weekdays=frozenset(range(7)), parity=Parity.ANY, blackouts=())


def _rise(place: Place, day: date) -> datetime:
    found = sunrise(
        day=day, latitude_deg=place.latitude_deg, longitude_deg=place.longitude_deg, zone=place.zone
    )
    return found.at


def _nights(
    settings: ServiceSettings, site: Site, done: Collection[str], since: datetime, now: datetime
) -> Iterator[Due]:
    """The slot that is open, if its advice is not given, and older ones that nothing accounts for."""
    slots = [slot for slot in slots_around(settings, site, now) if slot.at <= now]
    newest = slots[-1]
    key = advice_key(site, newest.day)
    if key not in done and now < newest.until:
        late = now - newest.at > LATE_AFTER
        yield Due(Job.ADVICE, key, newest.at, newest.until, newest.day, late)
    accounted = 0
    for back in range(FARTHEST_BACK_DAYS):
        slot = slot_of(settings, site, newest.day - back * DAY)
        if slot.until <= since or accounted >= ENOUGH_ACCOUNTED:
            return
        key = missed_key(site, slot.day)
        if key in done or advice_key(site, slot.day) in done:
            accounted += 1
        elif slot.until <= now:
            accounted = 0
            yield Due(Job.MISSED, key, slot.at, slot.until, slot.day)


def _looks(
    settings: ServiceSettings, site: Site, done: Collection[str], last: Advice | None, now: datetime
) -> Sequence[Due]:
    """The looks that the newest advice asks for and that are not done; the next evening needs none."""
    if last is None:
        return ()
    before = look_keys(site, last.night)
    if sum(key.startswith(before) for key in done) >= MOST_LOOKS:
        return ()
    found = []
    for look in last.next_looks:
        key = look_key(site, last.night, look.at)
        if not look.zones or key in done:
            continue
        nights = [slot.at for slot in slots_around(settings, site, look.at) if slot.at > look.at]
        until = min(look.at + STANDS_FOR, nights[0])
        found.append(Due(Job.LOOK, key, look.at, until, last.night, now - look.at > LATE_AFTER, look))
    return found


def _as_one(looks: Sequence[Due]) -> Sequence[Due]:
    """Looks that are due at once as one, under the key of the last: one advice answers them all."""
    if not looks:
        return ()
    newest = max(looks, key=lambda one: one.at)
    asked = [one.look for one in looks if one.look is not None]
    gauge = [look for look in asked if look.kind is LookKind.GAUGE]
    merged = (gauge or asked)[-1].model_copy(
        update={
            "zones": tuple(dict.fromkeys(zone for look in asked for zone in look.zones)),
            "minutes": {zone: least for look in asked for zone, least in look.minutes.items()},
            "words": " ".join(look.words for look in asked),
        }
    )
    return (replace(newest, late=all(one.late for one in looks), look=merged),)


def _archive(site: Site, hour: datetime) -> Due:
    day = hour.astimezone(site.place.zone).date()
    return Due(Job.ARCHIVE, archive_key(site, hour), hour + ARCHIVE_PAST_THE_HOUR, hour + HOUR, day)


def _backups(settings: ServiceSettings, site: Site, now: datetime) -> Iterator[Due]:
    today = now.astimezone(site.place.zone).date()
    for day in (today + n * DAY for n in range(-2, 3)):
        at = local(day, settings.backup_at, site.place.zone)
        yield Due(Job.BACKUP, backup_key(site, day), at, at + DAY, day)
