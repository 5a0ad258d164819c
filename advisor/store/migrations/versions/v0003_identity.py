"""Schema 3: the identity of the records, and the mark that says whose file it is."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Make the table of the identity, give one, and mark the file."""
    op.create_table("identity", sa.Column("id", sa.Text, primary_key=True))
    op.execute("INSERT INTO identity VALUES (lower(hex(randomblob(16))))")
    op.execute("PRAGMA application_id = 1279350606")
