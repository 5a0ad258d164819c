"""One site in service: its records, settings and channels, what is done, and what goes wrong just now."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from advisor import night
from advisor.advice import Advice
from advisor.errors import RecordsError
from advisor.lawn import MessageSettings, ServiceSettings, Site
from advisor.service.channels import Channel
from advisor.service.jobs import slots_around
from advisor.service.keys import advice_key, heartbeat_key, message_key, served_key
from advisor.service.outbox import Outbox, Render
from advisor.service.secret_values import Secrets

if TYPE_CHECKING:
    from advisor.store import Event, Store

REMEMBERED = timedelta(days=420)
PAUSES_MIN = (1, 2, 5, 10, 15)
SITE_FILE, MESSAGES, HEARTBEAT = "site file", "messages", "heartbeat"
"""Troubles that are no job's."""


@dataclass(frozen=True, slots=True)
class Failing:
    """A job that failed: how often in a row, since when, when it is tried again, why."""

    times: int
    since: datetime
    next_at: datetime
    why: str


@dataclass(frozen=True, slots=True)
class Held:
    """What the records would not take yet: marks, and the advice that they belong to."""

    events: tuple[Event, ...]
    error: RecordsError
    advice: Advice | None = None


@dataclass(slots=True)
class Served:
    """What the service knows of one site while it runs. All that matters stands in the records, but for what
    they would not take yet: that is `held`, and written when there is a way."""

    site: Site
    settings: ServiceSettings
    messages: MessageSettings
    store: Store
    outbox: Outbox
    since: datetime
    done: set[str]
    newest_mark: datetime
    failing: dict[str, Failing] = field(default_factory=dict)
    told: set[str] = field(default_factory=set)
    held: list[Held] = field(default_factory=list)
    kept_id: int = 0
    kept: Advice | None = None
    written_at: tuple[int, int] | None = None
    secrets: Secrets = field(default_factory=lambda: Secrets({}))

    def waits(self, key: str, now: datetime) -> bool:
        """Whether what failed is to be left alone for now; a clock set back does not prolong that."""
        failing = self.failing.get(key)
        return failing is not None and now < failing.next_at <= now + timedelta(minutes=PAUSES_MIN[-1])

    def failed(self, key: str, why: str, now: datetime) -> Failing:
        """Note a failure, without secrets."""
        before = self.failing.get(key)
        times = 1 if before is None else before.times + 1
        next_at = now + timedelta(minutes=PAUSES_MIN[min(times, len(PAUSES_MIN)) - 1])
        since = now if before is None else min(before.since, now)
        made = Failing(times, since, next_at, self.outbox.hide(why))
        self.failing[key] = made
        return made

    def gone_well(self, now: datetime) -> date | None:
        """The slot that is open, where its advice is given and told and no watcher was told of it yet."""
        slot = [one for one in slots_around(self.settings, self.site, now) if one.at <= now][-1]
        key = advice_key(self.site, slot.day)
        waiting = any(message_key(one.key).startswith(f"{key}:") for one in self.outbox.waiting)
        told = heartbeat_key(self.site, slot.day) in self.done
        return slot.day if key in self.done and now < slot.until and not waiting and not told else None

    def mark(self, key: str, at: datetime, payload: Mapping[str, object] | None = None) -> None:
        """Mark one thing as done, in the records first."""
        self.store.mark_done(key, at, payload)
        self.done.add(key)

    def marked(self, events: Iterable[Event], *, unkept: Advice | None = None) -> None:
        """Note what was marked with an advice; `unkept` is that advice where the records would not take it."""
        events = list(events)
        self.done.update(event.key for event in events)
        self.outbox.add(events, unkept=unkept)

    def unkept(self) -> Advice | None:
        """The newest advice that the records would not take yet."""
        return next((one.advice for one in reversed(self.held) if one.advice is not None), None)

    def keep_held(self) -> None:
        """Keep the first of what is held. Raises RecordsError where that fails."""
        first = self.held[0]
        if self.store.done(first.events[0].key) is None:  # else another has done it meanwhile
            if first.advice is not None:
                night.keep(self.store, first.advice, events=first.events)
            else:
                for event in first.events:
                    self.store.mark_done(event.key, event.at, event.payload)
        self.held.remove(first)
        if self.unkept() is None:
            self.outbox.all_kept()

    def last(self) -> Advice | None:
        """The newest advice, by whomever; None where there is none or it is of another schema."""
        from advisor.advice import open_advice

        kept, unkept = self.store.last_advice(self.site.place.name), self.unkept()
        if unkept is not None and (kept is None or kept.given_at < unkept.now):
            self.kept_id, self.kept = 0, unkept
            return unkept
        if kept is None:
            return None
        if kept.id != self.kept_id:
            self.kept_id, self.kept = kept.id, open_advice(kept.advice_json)
        return self.kept


def take_up(
    site: Site,
    settings: ServiceSettings,
    messages: MessageSettings,
    store: Store,
    channels: Iterable[Channel],
    now: datetime,
    *,
    hide: Callable[[str], str],
    render: Render,
) -> Served:
    """A site as its records left it; the first time, the moment is marked from which on nights count."""
    from advisor.store import Event

    begun, held = served_key(site), []
    try:
        store.mark_done(begun, now)
    except RecordsError as error:
        if not error.may_pass:
            raise
        held.append(Held((Event(begun, now, {}),), error))
    first = store.done(begun)
    events = store.events(since=now - REMEMBERED)
    outbox = Outbox(site, store, list(channels), hide=hide, render=render)
    outbox.load(events)
    return Served(
        site=site,
        settings=settings,
        messages=messages,
        store=store,
        outbox=outbox,
        since=now if first is None else first.at,
        done={event.key for event in events},
        newest_mark=max((event.at for event in events), default=now),
        held=[] if first is not None else held,
    )
