"""The keys under which the service marks what is done: what it is, the site, and which one.

A message goes under the key of what it is about and its channel; `outbox:`, `sent:` and `dropped:` stand
before it for what became of it.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING
from urllib.parse import quote

from advisor.lawn import Site

if TYPE_CHECKING:
    from advisor.store import Event

OUTBOX, SENT, DROPPED, ARCHIVE = "outbox:", "sent:", "dropped:", "archive:"
HEARTBEAT, HEARTBEAT_FAILED = "heartbeat:", "heartbeat-failed:"
BRING_WEATHER = (ARCHIVE, "advice:", "look:")
"""What was done with weather that was fetched for it."""


def named(site: Site) -> str:
    """The site's name as it stands in keys."""
    return quote(site.place.name, safe=" ,.'()&")


def served_key(site: Site) -> str:
    """The key of the moment from which on a site is served."""
    return f"served:{named(site)}"


def advice_key(site: Site, day: date) -> str:
    """The key of a slot's advice."""
    return f"{advice_keys(site)}{day}"


def advice_keys(site: Site) -> str:
    """What the keys of all advice of a site begin with."""
    return f"advice:{named(site)}:"


def missed_key(site: Site, day: date) -> str:
    """The key under which a slot is told as missed."""
    return f"missed:{named(site)}:{day}"


def look_key(site: Site, night: date, at: datetime) -> str:
    """The key of a next look."""
    return f"{look_keys(site, night)}{at.astimezone(UTC):%Y-%m-%dT%H%MZ}"


def look_keys(site: Site, night: date) -> str:
    """What the keys of all looks of a night begin with."""
    return f"look:{named(site)}:{night}:"


def archive_key(site: Site, hour: datetime) -> str:
    """The key of an hour's archiving; `hour` in UTC."""
    return f"{ARCHIVE}{named(site)}:{hour:%Y-%m-%dT%HZ}"


def backup_key(site: Site, day: date) -> str:
    """The key of a day's backup."""
    return f"{backup_keys(site)}{day}"


def backup_keys(site: Site) -> str:
    """What the keys of all backups of a site begin with."""
    return f"backup:{named(site)}:"


def heartbeat_key(site: Site, day: date) -> str:
    """The key of the call that tells a watcher of a slot that went well."""
    return f"{HEARTBEAT}{named(site)}:{day}"


def heartbeat_failed_key(site: Site, day: date) -> str:
    """The key under which it is marked, once, that this call failed."""
    return f"{HEARTBEAT_FAILED}{named(site)}:{day}"


def no_advice_key(job_key: str) -> str:
    """The key of the message that a job gave no advice."""
    return f"no-advice:{job_key}"


def message_key(key: str) -> str:
    """The key of a message, whatever became of it: the one that a channel is given."""
    return key.partition(":")[2]


def unsent(events: Iterable[Event]) -> list[Event]:
    """The messages that are neither sent nor dropped; one of which nothing can be read any more is neither."""
    events = list(events)
    over = {message_key(event.key) for event in events if event.key.startswith((SENT, DROPPED))}
    return [
        e
        for e in events
        if e.key.startswith(OUTBOX) and message_key(e.key) not in over and "kind" in e.payload
    ]
