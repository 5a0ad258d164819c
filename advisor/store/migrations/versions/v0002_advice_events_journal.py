"""Schema 2: every advice given, what the service has done, and the journal that undo reads."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Make the tables of advice, events and journal."""
    op.create_table(
        "advice",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("site", sa.Text, nullable=False),
        sa.Column("night", sa.Date, nullable=False),
        sa.Column("given_at", sa.DateTime, nullable=False),
        sa.Column("digest", sa.Text, nullable=False),
        sa.Column("advice_json", sa.Text, nullable=False),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_advice_site_given_at", "advice", ["site", "given_at"])
    op.create_table(
        "events",
        sa.Column("key", sa.Text, primary_key=True),
        sa.Column("at", sa.DateTime, nullable=False),
        sa.Column("payload", sa.Text, nullable=False),
    )
    op.create_index("ix_events_at", "events", ["at"])
    op.create_table(
        "journal",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("act", sa.Text, nullable=False),
        sa.Column("entry", sa.Text, nullable=False),
        sqlite_autoincrement=True,
    )
