"""Records to table rows and back, for every kind of record alike.

Columns bear the names of the record's fields; only an application's zones stand in a table of their own.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any, cast

import sqlalchemy as sa
from sqlalchemy.dialects.sqlite import insert as insert_or_update

from advisor.errors import RecordsError
from advisor.lawn import KINDS, Application, Record, fields_of, kind_of
from advisor.store.tables import APPLICATION_ZONES, METADATA


def table_of(kind: str) -> sa.Table:
    """The table of one kind of record."""
    return METADATA.tables[kind]


def _values(record: Record, *, with_id: bool) -> dict[str, Any]:
    return {
        field.name: getattr(record, field.name)
        for field in fields_of(kind_of(record))
        if field.holds != "names" and (with_id or field.name != "id")
    }


def insert(connection: sa.Connection, kind: str, records: Sequence[Record]) -> tuple[Record, ...]:
    """Write new records of one kind; the same ones come back with the ids they were given."""
    if not records:
        return ()
    table = table_of(kind)
    ids = connection.execute(
        sa.insert(table).returning(table.c.id, sort_by_parameter_order=True),
        [_values(record, with_id=False) for record in records],
    ).scalars()
    kept = tuple(replace(record, id=given) for record, given in zip(records, ids, strict=True))
    _insert_zones(connection, kept)
    return kept


def _insert_zones(connection: sa.Connection, records: Iterable[Record]) -> None:
    rows = [
        {"application_id": record.id, "place": place, "zone": zone}
        for record in records
        if isinstance(record, Application)
        for place, zone in enumerate(record.zones)
    ]
    if rows:
        connection.execute(sa.insert(APPLICATION_ZONES), rows)


def upsert(connection: sa.Connection, kind: str, records: Sequence[Record]) -> None:
    """Write records of a kind that has a key; one with the same key is given the new values."""
    if not records:
        return
    table, key = table_of(kind), KINDS[kind].key
    statement = insert_or_update(table)
    news = {c.name: statement.excluded[c.name] for c in table.c if c.name not in (*key, "id")}
    connection.execute(
        statement.on_conflict_do_update(index_elements=list(key), set_=news),
        [_values(record, with_id=False) for record in records],
    )


def put_back(connection: sa.Connection, record: Record) -> None:
    """Write a record under its own id, in place of what stands there or has the same key."""
    kind = kind_of(record)
    table, key = table_of(kind), KINDS[kind].key
    delete(connection, kind, [record.id])
    if key:
        connection.execute(sa.delete(table).where(*(table.c[name] == getattr(record, name) for name in key)))
    connection.execute(sa.insert(table), _values(record, with_id=True))
    _insert_zones(connection, [record])


def refuse_taken_key(connection: sa.Connection, record: Record) -> None:
    """RecordsError where another record has the key of this one: a change must not take its place."""
    kind = kind_of(record)
    table, key = table_of(kind), KINDS[kind].key
    if not key:
        return
    same = [table.c[name] == getattr(record, name) for name in key]
    if connection.execute(sa.select(table.c.id).where(*same, table.c.id != record.id)).first() is not None:
        raise RecordsError(
            f"{KINDS[kind].one} with the same {' and '.join(key)} is recorded already, and would stand there twice; "
            "edit or remove that one"
        )


def delete(connection: sa.Connection, kind: str, ids: Sequence[int]) -> None:
    """Take records of one kind out; an application's zones go with it."""
    if ids:
        table = table_of(kind)
        connection.execute(
            sa.delete(table).where(table.c.id == sa.bindparam("one")), [{"one": each} for each in ids]
        )


def select(
    connection: sa.Connection, kind: str, *, since: datetime | None = None, ids: Sequence[int] | None = None
) -> tuple[Record, ...]:
    """The records of one kind in the order of time, all or those not over before `since` or of `ids`."""
    table, sort = table_of(kind), KINDS[kind]
    wanted: list[sa.ColumnElement[bool]] = []
    if since is not None:
        wanted.append(table.c[sort.until] >= since)
    if ids is not None:
        wanted.append(table.c.id.in_(ids))
    names = [field.name for field in fields_of(kind) if field.holds != "names"]
    rows = connection.execute(
        sa.select(*(table.c[name] for name in names)).where(*wanted).order_by(table.c[sort.time], table.c.id)
    )
    if sort.type is not Application:
        return tuple(sort.type(**dict(zip(names, row, strict=True))) for row in rows)
    zones = _zones(connection, wanted)
    return tuple(
        Application(zones=tuple(zones.get(row.id, ())), **dict(zip(names, row, strict=True))) for row in rows
    )


def _zones(connection: sa.Connection, wanted: list[sa.ColumnElement[bool]]) -> Mapping[int, list[str]]:
    applications = table_of("applications")
    zones: dict[int, list[str]] = {}
    for row in connection.execute(
        sa.select(APPLICATION_ZONES.c.application_id, APPLICATION_ZONES.c.zone)
        .join(applications)
        .where(*wanted)
        .order_by(APPLICATION_ZONES.c.application_id, APPLICATION_ZONES.c.place)
    ):
        zones.setdefault(row.application_id, []).append(row.zone)
    return zones


def one(connection: sa.Connection, kind: str, number: int) -> Record:
    """The record of this kind and id; a sentence when there is none."""
    found = select(connection, kind, ids=[number])
    if not found:
        raise RecordsError(
            f"there is no {KINDS[kind].one} {number} in the records; "
            f"`advisor records list --kind {kind}` shows what there is"
        )
    return found[0]


def last_before(connection: sa.Connection, kind: str, when: datetime) -> tuple[Record, ...]:
    """The newest record of one kind from before `when`, if there is one."""
    table, sort = table_of(kind), KINDS[kind]
    number = connection.execute(
        sa.select(table.c.id).where(table.c[sort.time] < when).order_by(table.c[sort.time].desc()).limit(1)
    ).scalar()
    return () if number is None else select(connection, kind, ids=[cast(int, number)])
