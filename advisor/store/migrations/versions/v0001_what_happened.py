"""Schema 1: what happened on the lawn."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op
from sqlalchemy.types import TypeEngine

revision = "0001"
down_revision = None


def _id() -> sa.Column[int]:
    return sa.Column("id", sa.Integer, primary_key=True)


def _column(name: str, sort: type[TypeEngine[Any]], *, optional: bool = False) -> sa.Column[Any]:
    return sa.Column(name, sort, nullable=optional)


def upgrade() -> None:
    """Make the tables of applications, runs, readings, audits, archive, pairs and stock."""
    op.create_table(
        "applications",
        _id(),
        _column("product", sa.Text),
        _column("started_at", sa.DateTime),
        _column("ended_at", sa.DateTime),
        _column("method", sa.Text),
        _column("dilution", sa.Float, optional=True),
        _column("rate", sa.Float, optional=True),
        _column("round_id", sa.Text),
        _column("note", sa.Text),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_applications_ended_at", "applications", ["ended_at"])
    op.create_table(
        "application_zones",
        sa.Column("application_id", sa.Integer, primary_key=True),
        sa.Column("place", sa.Integer, primary_key=True),
        _column("zone", sa.Text),
        sa.ForeignKeyConstraint(
            ["application_id"],
            ["applications.id"],
            name="fk_application_zones_application_id",
            ondelete="CASCADE",
        ),
    )
    op.create_table(
        "runs",
        _id(),
        _column("zone", sa.Text),
        _column("started_at", sa.DateTime),
        _column("ended_at", sa.DateTime),
        _column("minutes", sa.Float),
        _column("depth_mm", sa.Float, optional=True),
        _column("source", sa.Text),
        _column("note", sa.Text),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_runs_ended_at", "runs", ["ended_at"])
    op.create_table(
        "gauge",
        _id(),
        _column("read_at", sa.DateTime),
        _column("depth_mm", sa.Float),
        _column("since", sa.DateTime, optional=True),
        _column("note", sa.Text),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_gauge_read_at", "gauge", ["read_at"])
    op.create_table(
        "probes",
        _id(),
        _column("zone", sa.Text),
        _column("read_at", sa.DateTime),
        _column("depletion_mm", sa.Float),
        _column("note", sa.Text),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_probes_read_at", "probes", ["read_at"])
    op.create_table(
        "audits",
        _id(),
        _column("zone", sa.Text),
        _column("measured_at", sa.DateTime),
        _column("rate_mm_h", sa.Float),
        _column("uniformity", sa.Float, optional=True),
        _column("christiansen", sa.Float, optional=True),
        _column("cans", sa.Integer),
        _column("method", sa.Text),
        _column("note", sa.Text),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_audits_measured_at", "audits", ["measured_at"])
    op.create_table(
        "archive",
        _id(),
        _column("starts_at", sa.DateTime),
        _column("rain_mm", sa.Float, optional=True),
        _column("temp_c", sa.Float, optional=True),
        _column("dew_c", sa.Float, optional=True),
        _column("wind10_m_s", sa.Float, optional=True),
        _column("rs_mj_m2_h", sa.Float, optional=True),
        _column("snow_mm", sa.Float, optional=True),
        _column("source", sa.Text),
        sa.UniqueConstraint("starts_at", "source", name="uq_archive_starts_at_source"),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "pairs",
        _id(),
        _column("starts_at", sa.DateTime),
        _column("hours", sa.Integer),
        _column("lead_h", sa.Float),
        _column("mean_mm", sa.Float),
        _column("spread_mm", sa.Float),
        _column("observed_mm", sa.Float),
        _column("members", sa.Integer),
        sa.UniqueConstraint("starts_at", "hours", "lead_h", name="uq_pairs_starts_at_hours_lead_h"),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "stock",
        _id(),
        _column("product", sa.Text),
        _column("changed_at", sa.DateTime),
        _column("amount", sa.Float),
        _column("why", sa.Text),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_stock_changed_at", "stock", ["changed_at"])
