"""Runs the migrations on the connection that `advisor.store.migrate` hands over, in its transaction."""

from __future__ import annotations

from alembic import context

from advisor.store.tables import METADATA

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=METADATA,
    transactional_ddl=True,
)
context.run_migrations()
