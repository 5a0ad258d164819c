"""The tables of the records file, as the newest migration leaves them.

A new file is made from these at once; an older file gets there by the migrations. A test holds the
two against each other. To change a table: change it here, add the next file in
migrations/versions/, and raise SCHEMA_VERSION.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Dialect

SCHEMA_VERSION = 3
APPLICATION_ID = 0x4C41574E
"""SQLite's mark of whose file it is: the letters LAWN."""


class UtcTime(sa.TypeDecorator[datetime]):
    """An aware datetime, kept as UTC without an offset because SQLite would drop it in silence."""

    impl = sa.DateTime
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002
        """To UTC; a time without a zone is a bug of the caller."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"the time {value} does not know its zone")
        return value.astimezone(UTC).replace(tzinfo=None)

    def process_result_value(self, value: Any, dialect: Dialect) -> datetime | None:  # noqa: ARG002
        """Back to an aware time in UTC."""
        return None if value is None else value.replace(tzinfo=UTC)


METADATA = sa.MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
    }
)


def _table(name: str, *parts: sa.schema.SchemaItem) -> sa.Table:
    """A table whose ids are never used twice, so that an undone removal finds its own id free."""
    return sa.Table(name, METADATA, *parts, sqlite_autoincrement=True)


def _id() -> sa.Column[int]:
    return sa.Column("id", sa.Integer, primary_key=True)


def _time(name: str, *, optional: bool = False, index: bool = False) -> sa.Column[datetime]:
    return sa.Column(name, UtcTime, nullable=optional, index=index)


def _number(name: str, *, optional: bool = False) -> sa.Column[float]:
    return sa.Column(name, sa.Float, nullable=optional)


def _whole(name: str) -> sa.Column[int]:
    return sa.Column(name, sa.Integer, nullable=False)


def _text(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.Text, nullable=False)


_table(
    "applications",
    _id(),
    _text("product"),
    _time("started_at"),
    _time("ended_at", index=True),
    _text("method"),
    _number("dilution", optional=True),
    _number("rate", optional=True),
    _text("round_id"),
    _text("note"),
)
APPLICATION_ZONES = sa.Table(
    "application_zones",
    METADATA,
    sa.Column(
        "application_id",
        sa.Integer,
        sa.ForeignKey("applications.id", ondelete="CASCADE"),
        primary_key=True,
    ),
    sa.Column("place", sa.Integer, primary_key=True),
    _text("zone"),
)
_table(
    "runs",
    _id(),
    _text("zone"),
    _time("started_at"),
    _time("ended_at", index=True),
    _number("minutes"),
    _number("depth_mm", optional=True),
    _text("source"),
    _text("note"),
)
_table(
    "gauge",
    _id(),
    _time("read_at", index=True),
    _number("depth_mm"),
    _time("since", optional=True),
    _text("note"),
)
_table(
    "probes",
    _id(),
    _text("zone"),
    _time("read_at", index=True),
    _number("depletion_mm"),
    _text("note"),
)
_table(
    "audits",
    _id(),
    _text("zone"),
    _time("measured_at", index=True),
    _number("rate_mm_h"),
    _number("uniformity", optional=True),
    _number("christiansen", optional=True),
    _whole("cans"),
    _text("method"),
    _text("note"),
)
_table(
    "archive",
    _id(),
    _time("starts_at"),
    _number("rain_mm", optional=True),
    _number("temp_c", optional=True),
    _number("dew_c", optional=True),
    _number("wind10_m_s", optional=True),
    _number("rs_mj_m2_h", optional=True),
    _number("snow_mm", optional=True),
    _text("source"),
    sa.UniqueConstraint("starts_at", "source"),
)
_table(
    "pairs",
    _id(),
    _time("starts_at"),
    _whole("hours"),
    _number("lead_h"),
    _number("mean_mm"),
    _number("spread_mm"),
    _number("observed_mm"),
    _whole("members"),
    sa.UniqueConstraint("starts_at", "hours", "lead_h"),
)
_table(
    "stock",
    _id(),
    _text("product"),
    _time("changed_at", index=True),
    _number("amount"),
    _text("why"),
)
ADVICE = _table(
    "advice",
    _id(),
    _text("site"),
    sa.Column("night", sa.Date, nullable=False),
    _time("given_at"),
    _text("digest"),
    _text("advice_json"),
    sa.Index(None, "site", "given_at"),
)
EVENTS = sa.Table(
    "events",
    METADATA,
    sa.Column("key", sa.Text, primary_key=True),
    _time("at", index=True),
    _text("payload"),
)
JOURNAL = _table("journal", _id(), _text("act"), _text("entry"))
IDENTITY = sa.Table("identity", METADATA, sa.Column("id", sa.Text, primary_key=True))
NEW_IDENTITY = "INSERT INTO identity VALUES (lower(hex(randomblob(16))))"
SINCE = {"advice": 2, "events": 2, "journal": 2, "identity": 3}
"""The schema version from which on a table is there; the others are there since the first."""


def tables_of(version: int) -> set[str]:
    """The tables that a file of this schema version has."""
    return {name for name in METADATA.tables if SINCE.get(name, 1) <= version}
