"""How the service is: read from the records, for `advisor status` and for the health address of monitors."""

from __future__ import annotations

import shutil
from collections.abc import Collection, Iterator, Sequence
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from advisor.advice import (
    HeartbeatState,
    LastAdvice,
    LastBackup,
    LastMessage,
    LastWeather,
    MessageKind,
    NextJob,
    ServiceHealth,
    SiteHealth,
    Trouble,
    TroubleKind,
)
from advisor.lawn import ServiceSettings, Site, heartbeat_host
from advisor.sentences import trouble_words
from advisor.service.jobs import coming, slots_around
from advisor.service.keys import (
    BRING_WEATHER,
    HEARTBEAT,
    HEARTBEAT_FAILED,
    SENT,
    advice_key,
    backup_keys,
    named,
    served_key,
    unsent,
)

if TYPE_CHECKING:
    from advisor.store import Event, Store

OVERDUE_AFTER = timedelta(minutes=45)
UNSENT_AFTER = timedelta(hours=1)
WEATHER_OLD_AFTER_H = 12.0
STUCK_AFTER = timedelta(minutes=15)
LEAST_FREE_BYTES = 50_000_000
LOOKED_BACK = timedelta(days=4)
NO_BACKUP_AFTER_H = 50.0
BACKUPS_LOOKED_BACK = timedelta(days=60)


def site_health(
    site: Site, settings: ServiceSettings, store: Store, now: datetime, *, live: Sequence[Trouble] = ()
) -> SiteHealth:
    """How a site stands at `now`; `live` are the troubles that the running service knows of."""
    from advisor.advice import open_advice

    events = store.events(since=now - LOOKED_BACK)
    done = {event.key for event in events}
    begun = store.done(served_key(site))
    kept = store.last_advice(site.place.name)
    advice = None if kept is None else open_advice(kept.advice_json)
    weather, waiting, free = _last_weather(events), unsent(events), _free(site.records_path)
    beat = _heartbeat(site, events)
    backups = store.events(backup_keys(site), since=now - BACKUPS_LOOKED_BACK)
    last_backup = _last_backup(backups, settings.backup_folder)
    found = (
        *live,
        *_heartbeat_failed(beat),
        *_served(site, settings, begun, done, now),
        *_weather_is_old(weather, begun, now),
        *_messages_wait(waiting, now),
        *_disk_is_full(free),
        *_not_written(store, live),
        *_backups_wanting(backups, last_backup, settings.backup_folder, now),
    )
    troubles = tuple({trouble_words(one): one for one in found}.values())
    return SiteHealth(
        site=site.place.name,
        ok=not troubles,
        reasons=tuple(trouble_words(one) for one in troubles),
        troubles=troubles,
        last_advice=None
        if kept is None
        else LastAdvice(
            night=kept.night,
            given_at=kept.given_at,
            headline="" if advice is None else advice.headline,
        ),
        last_weather=weather,
        last_message=_last_message(events),
        heartbeat=beat,
        messages_waiting=len(waiting),
        next_jobs=tuple(
            NextJob(job=one.job, at=one.at) for one in coming(settings, site, done=done, last=advice, now=now)
        ),
        disk_free_bytes=free,
        last_backup=last_backup,
    )


def service_health(
    sites: Sequence[SiteHealth], now: datetime, *, troubles: Sequence[Trouble] = ()
) -> ServiceHealth:
    """All sites as one object; `troubles` are those of the whole service."""
    told = [
        *(trouble_words(one) for one in troubles),
        *(f"{one.site}: {why}" for one in sites for why in one.reasons),
    ]
    return ServiceHealth(
        ok=not told, reason="; ".join(told), now=now.replace(microsecond=0), sites=tuple(sites)
    )


def _served(
    site: Site, settings: ServiceSettings, begun: Event | None, done: Collection[str], now: datetime
) -> Iterator[Trouble]:
    if begun is None:
        yield Trouble(kind=TroubleKind.NEVER_SERVED)
        return
    slots = [s for s in slots_around(settings, site, now) if s.at + OVERDUE_AFTER <= now]
    if slots and slots[-1].until > begun.at and advice_key(site, slots[-1].day) not in done:
        yield Trouble(kind=TroubleKind.NO_ADVICE, night=slots[-1].day)


def _weather_is_old(weather: LastWeather | None, begun: Event | None, now: datetime) -> Iterator[Trouble]:
    if weather is not None:
        age_h = (now - weather.fetched_at) / timedelta(hours=1)
        if age_h > WEATHER_OLD_AFTER_H:
            yield Trouble(kind=TroubleKind.OLD_WEATHER, age_h=age_h)
    elif begun is not None:
        yield Trouble(kind=TroubleKind.NO_WEATHER, at=max(begun.at, now - LOOKED_BACK))


def _messages_wait(waiting: Sequence[Event], now: datetime) -> Iterator[Trouble]:
    stuck = [event for event in waiting if now - event.at > UNSENT_AFTER]
    if stuck:
        yield Trouble(kind=TroubleKind.MESSAGES_WAIT, times=len(stuck))


def _disk_is_full(free_bytes: int) -> Iterator[Trouble]:
    if free_bytes < LEAST_FREE_BYTES:
        yield Trouble(kind=TroubleKind.DISK_NEARLY_FULL, free_bytes=free_bytes)


def _not_written(store: Store, live: Sequence[Trouble]) -> Iterator[Trouble]:
    if any(one.kind is TroubleKind.NOT_KEPT for one in live):
        return  # that says it already
    if (error := store.in_the_way()) is not None:
        yield Trouble(kind=TroubleKind.RECORDS_NOT_WRITTEN, error=error.why)


def _last_backup(backups: Sequence[Event], folder: Path) -> LastBackup | None:
    """The newest backup that was looked over and whose file is still the same."""
    for event in reversed(backups):
        if _is_same(event, folder):
            path, counts = folder / event.payload["file"], event.payload["counts"]
            return LastBackup(as_of=event.at, file=str(path), records=sum(counts.values()))
    return None


def _is_same(event: Event, folder: Path) -> bool:
    from advisor.store import digest

    looked_over = event.payload.get("sha256", "")
    return bool(looked_over) and digest(folder / event.payload["file"]) == looked_over


def _backups_wanting(
    backups: Sequence[Event], last: LastBackup | None, folder: Path, now: datetime
) -> Iterator[Trouble]:
    if not backups:
        return
    newest = backups[-1]
    if "sha256" in newest.payload and (last is None or last.as_of < newest.at):
        yield Trouble(kind=TroubleKind.BACKUP_DAMAGED, file=str(folder / newest.payload["file"]))
    age_h = (now - newest.at) / timedelta(hours=1)
    if age_h > NO_BACKUP_AFTER_H:
        yield Trouble(kind=TroubleKind.NO_BACKUP, age_h=age_h)


def _last_weather(events: Sequence[Event]) -> LastWeather | None:
    found = [
        LastWeather(source=e.payload["source"], fetched_at=datetime.fromisoformat(e.payload["fetched_at"]))
        for e in events
        if e.key.startswith(BRING_WEATHER) and "fetched_at" in e.payload
    ]
    return max(found, key=lambda weather: weather.fetched_at, default=None)


def _heartbeat(site: Site, events: Sequence[Event]) -> HeartbeatState | None:
    """The calls of the last days; None where no watcher is to be told."""
    host = heartbeat_host(site)
    if host is None:
        return None
    calls = [
        e
        for e in events
        if e.key.startswith((f"{HEARTBEAT}{named(site)}:", f"{HEARTBEAT_FAILED}{named(site)}:"))
    ]
    went = [event.at for event in calls if event.key.startswith(HEARTBEAT)]
    last = calls[-1] if calls else None
    failed = last is not None and last.key.startswith(HEARTBEAT_FAILED)
    return HeartbeatState(
        host=host,
        last_at=went[-1] if went else None,
        failed=str(last.payload.get("why", "")) if last is not None and failed else "",
    )


def _heartbeat_failed(beat: HeartbeatState | None) -> Iterator[Trouble]:
    if beat is not None and beat.failed:
        yield Trouble(kind=TroubleKind.FAILS, key="heartbeat", error=beat.failed)


def _last_message(events: Sequence[Event]) -> LastMessage | None:
    sent = [event for event in events if event.key.startswith(SENT) and "kind" in event.payload]
    if not sent:
        return None
    last = sent[-1]
    return LastMessage(at=last.at, channel=last.payload["channel"], kind=MessageKind(last.payload["kind"]))


def _free(path: Path) -> int:
    for folder in (path.parent, *path.absolute().parents):
        if folder.exists():
            return shutil.disk_usage(folder).free
    return 0
