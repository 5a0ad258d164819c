"""What the service keeps beside the records: every advice given, and what has been done once.

Once a night and once a message rest on `mark_done`: whoever marks a key first does the thing. An advice whose
night or moment cannot be read is passed over; an event stays done, with what can be read of it.
"""

from __future__ import annotations

import json
from abc import ABC, abstractmethod
from collections.abc import Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.dialects.sqlite import insert as insert_or_ignore

from advisor.store.rows import A_TIME, raw, time_in
from advisor.store.tables import ADVICE, EVENTS

LONG_AGO = datetime(1970, 1, 1, tzinfo=UTC)
"""When something was done of which the time cannot be read."""
AS_KEPT = tuple(raw(column).label(column.name) for column in EVENTS.c)


@dataclass(frozen=True, slots=True)
class KeptAdvice:
    """An advice as it was given; `advice_json` is its whole JSON, `digest` that of its inputs."""

    id: int
    site: str
    night: date
    given_at: datetime
    digest: str
    advice_json: str


@dataclass(frozen=True, slots=True)
class Event:
    """Something the service did, once, under its key."""

    key: str
    at: datetime
    payload: Mapping[str, Any]


class Kept(ABC):
    """The part of the store that holds advice and events; the store opens the transactions."""

    @abstractmethod
    def _writing(self, act: str) -> AbstractContextManager[sa.Connection]:
        """One writing transaction: kept as a whole, or not at all."""

    @abstractmethod
    def _reading(self) -> AbstractContextManager[sa.Connection]:
        """One reading transaction."""

    def keep_advice(
        self,
        advice_json: str,
        *,
        site: str,
        night: date,
        given_at: datetime,
        digest: str,
        events: Sequence[Event] = (),
    ) -> KeptAdvice:
        """Keep an advice given for the local date `night` with the digest of its inputs.

        `events` are marked with it, all or nothing: RecordsError when one of their keys was done before.
        """
        row = {
            "site": site,
            "night": night,
            "given_at": given_at,
            "digest": digest,
            "advice_json": advice_json,
        }
        with self._writing("advice") as connection:
            number = connection.execute(sa.insert(ADVICE).returning(ADVICE.c.id), row).scalar_one()
            for event in events:
                connection.execute(sa.insert(EVENTS), _row(event.key, event.at, event.payload))
        return KeptAdvice(id=number, **row)  # type: ignore[arg-type]

    def last_advice(self, site: str, *, night: date | None = None) -> KeptAdvice | None:
        """The newest advice given for the site, or for one of its nights."""
        found = self.advice_list(site, night=night, limit=1)
        return found[0] if found else None

    def advice_list(
        self, site: str, *, night: date | None = None, since: datetime | None = None, limit: int | None = None
    ) -> tuple[KeptAdvice, ...]:
        """The advice given for the site, newest first."""
        wanted = [ADVICE.c.site == site]
        if night is not None:
            wanted.append(ADVICE.c.night == night)
        if since is not None:
            wanted.append(ADVICE.c.given_at >= since)
        query = (
            sa.select(*(raw(column).label(column.name) for column in ADVICE.c))
            .where(*wanted)
            .order_by(ADVICE.c.given_at.desc(), ADVICE.c.id.desc())
        )
        found: list[KeptAdvice] = []
        with self._reading() as connection:
            for row in connection.execute(query):
                if limit is not None and len(found) == limit:
                    break
                kept = _advice(row)
                found += [kept] if kept is not None else []
        return tuple(found)

    def mark_done(self, key: str, at: datetime, payload: Mapping[str, Any] | None = None) -> bool:
        """Mark `key` as done; True when it was not done before, False (and nothing changed) when it was."""
        row = _row(key, at, payload or {})
        statement = insert_or_ignore(EVENTS).on_conflict_do_nothing().returning(EVENTS.c.key)
        with self._writing("mark") as connection:
            return connection.execute(statement, row).first() is not None

    def done(self, key: str) -> Event | None:
        """The event under this key, or None when it was not done."""
        with self._reading() as connection:
            row = connection.execute(sa.select(*AS_KEPT).where(EVENTS.c.key == key)).first()
        return None if row is None else _event(row)

    def events(self, prefix: str = "", *, since: datetime | None = None) -> tuple[Event, ...]:
        """The events whose key begins with `prefix`, in the order of time."""
        query = sa.select(*AS_KEPT).where(EVENTS.c.key.startswith(prefix, autoescape=True))
        if since is not None:
            unread = ~sa.func.coalesce(raw(EVENTS.c.at).op("GLOB")(A_TIME), False)
            query = query.where((EVENTS.c.at >= since) | unread)
        with self._reading() as connection:
            found = connection.execute(query.order_by(EVENTS.c.at, EVENTS.c.key))
            return tuple(_event(row) for row in found if isinstance(row.key, str))


def _event(row: sa.Row[Any]) -> Event:
    at = time_in(row.at)
    try:
        payload = json.loads(row.payload)
    except (ValueError, TypeError, RecursionError):
        payload = {}
    return Event(
        row.key,
        at if isinstance(at, datetime) else LONG_AGO,
        payload if isinstance(payload, dict) else {},
    )


def _advice(row: sa.Row[Any]) -> KeptAdvice | None:
    given_at = time_in(row.given_at)
    texts = (row.site, row.digest, row.advice_json)
    try:
        night = date.fromisoformat(row.night)
    except (ValueError, TypeError):
        return None
    if not isinstance(given_at, datetime) or not all(isinstance(text, str) for text in texts):
        return None
    return KeptAdvice(row.id, row.site, night, given_at, row.digest, row.advice_json)


def _row(key: str, at: datetime, payload: Mapping[str, Any]) -> dict[str, Any]:
    return {"key": key, "at": at, "payload": json.dumps(payload, ensure_ascii=False)}
