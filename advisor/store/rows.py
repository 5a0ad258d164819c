"""Records to table rows and back, for every kind of record alike.

Columns bear the names of the record's fields; only an application's zones stand in a table of their own. What
is read is believed only as far as it makes sense: a row with a damaged cell comes as an `Unusable`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.dialects.sqlite import insert as insert_or_update

from advisor.errors import RecordsError
from advisor.lawn import (
    KINDS,
    Application,
    Record,
    Unusable,
    fields_of,
    is_sound,
    kind_of,
    record_problems,
)
from advisor.store.tables import APPLICATION_ZONES, METADATA

RAW = sa.types.NullType()
"""What a cell is read as: whatever stands in it."""
A_TIME = "[12][0-9][0-9][0-9]-[01][0-9]-*"
EARLIEST_TRIES = 20


@dataclass(frozen=True, slots=True)
class Found:
    """What rows came to: records, and what makes no sense as one."""

    records: tuple[Record, ...] = ()
    unusable: tuple[Unusable, ...] = ()


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
) -> Found:
    """The records of one kind in the order of time, all or those not over before `since` or of `ids`.

    A row whose time cannot be read is never taken to be over.
    """
    table, sort = table_of(kind), KINDS[kind]
    wanted: list[sa.ColumnElement[bool]] = []
    if since is not None:
        over = table.c[sort.until]
        wanted.append((over >= since) | ~sa.func.coalesce(raw(over).op("GLOB")(A_TIME), False))
    if ids is not None:
        wanted.append(table.c.id.in_(ids))
    fields = [field for field in fields_of(kind) if field.holds != "names"]
    rows = connection.execute(
        sa.select(*(raw(table.c[field.name]).label(field.name) for field in fields))
        .where(*wanted)
        .order_by(table.c[sort.time], table.c.id)
    )
    zones = _zones(connection, wanted) if sort.type is Application else {}
    times = [place for place, field in enumerate(fields) if field.holds == "time"]
    names = [field.name for field in fields]
    records: list[Record] = []
    unusable: list[Unusable] = []
    for row in rows:
        cells = list(row)
        for place in times:
            cells[place] = time_in(cells[place])
        values = dict(zip(names, cells, strict=True))
        if sort.type is Application:
            values["zones"] = tuple(zones.get(values["id"], ()))
        record: Record = sort.type(**values)
        if is_sound(record):
            records.append(record)
        else:
            unusable.append(Unusable(kind, record.id, record_problems(record), values))
    return Found(tuple(records), tuple(unusable))


def raw(column: sa.ColumnElement[Any]) -> sa.ColumnElement[Any]:
    """A column as it is in the file, whatever its type says."""
    return sa.type_coerce(column, RAW)


def time_in(cell: object) -> Any:
    """A cell as the time that it holds, in UTC; as it is where it holds none."""
    if not isinstance(cell, str):
        return cell
    try:
        found = datetime.fromisoformat(cell)
        return found.replace(tzinfo=UTC) if found.tzinfo is None else found.astimezone(UTC)
    except (ValueError, OverflowError):
        return cell


def _zones(connection: sa.Connection, wanted: list[sa.ColumnElement[bool]]) -> Mapping[int, list[str]]:
    applications = table_of("applications")
    zones: dict[int, list[str]] = {}
    for row in connection.execute(
        sa.select(APPLICATION_ZONES.c.application_id, raw(APPLICATION_ZONES.c.zone).label("zone"))
        .join(applications)
        .where(*wanted)
        .order_by(APPLICATION_ZONES.c.application_id, APPLICATION_ZONES.c.place)
    ):
        zones.setdefault(row.application_id, []).append(row.zone)
    return zones


def one(connection: sa.Connection, kind: str, number: int) -> Record | Unusable:
    """What stands under this kind and id; a sentence when there is nothing."""
    found = select(connection, kind, ids=[number])
    for there in (*found.records, *found.unusable):
        return there
    raise RecordsError(
        f"there is no {KINDS[kind].one} {number} in the records; "
        f"`advisor records list --kind {kind}` shows what there is"
    )


def last_before(connection: sa.Connection, kind: str, when: datetime) -> tuple[Record, ...]:
    """The newest sound record of one kind from before `when`, if there is one."""
    table, sort = table_of(kind), KINDS[kind]
    at = table.c[sort.time]
    numbers = connection.execute(
        sa.select(table.c.id)
        .where(at < when, raw(at).op("GLOB")(A_TIME))
        .order_by(at.desc())
        .limit(EARLIEST_TRIES)
    ).scalars()
    return select(connection, kind, ids=list(numbers)).records[-1:]


# -- what makes no sense, kept as it stands so that it can be put back


def cells_kept(there: Unusable) -> dict[str, Any]:
    """The cells of an unusable row as JSON can hold them, exactly."""
    return {name: _kept(value) for name, value in there.values.items()}


def put_back_cells(connection: sa.Connection, kind: str, cells: Mapping[str, Any]) -> None:
    """Write an unusable row again as it stood."""
    delete(connection, kind, [cells["id"]])
    names = [name for name in cells if name != "zones"]
    _write_cells(connection, kind, names, [cells[name] for name in names])
    for place, zone in enumerate(cells.get("zones", ())):
        columns = ["application_id", "place", "zone"]
        _write_cells(connection, APPLICATION_ZONES.name, columns, [cells["id"], place, zone])


def _write_cells(connection: sa.Connection, table: str, names: Sequence[str], cells: Sequence[Any]) -> None:
    marks = ", ".join(
        "CAST(? AS TEXT)" if isinstance(cell, dict) and "text" in cell else "?" for cell in cells
    )
    columns = ", ".join(f'"{name}"' for name in names)
    connection.exec_driver_sql(
        f'INSERT INTO "{table}" ({columns}) VALUES ({marks})', tuple(map(_cell, cells))
    )


def _kept(value: Any) -> Any:
    if isinstance(value, tuple):
        return [_kept(each) for each in value]
    if isinstance(value, datetime):
        return f"{value.astimezone(UTC).replace(tzinfo=None):%Y-%m-%d %H:%M:%S.%f}"
    if isinstance(value, bytes):
        return {"blob": value.hex()}
    if isinstance(value, float) and not math.isfinite(value):
        return {"real": repr(value)}
    if isinstance(value, str) and not value.isprintable():
        return {"text": value.encode("utf-8", "surrogateescape").hex()}
    return value


def _cell(kept: Any) -> Any:
    match kept:
        case {"blob": str(digits)} | {"text": str(digits)}:
            return bytes.fromhex(digits)
        case {"real": str(digits)}:
            return float(digits)
    return kept
