"""Run by Alembic: applies the migrations on the connection that the store hands over."""

from __future__ import annotations

from alembic import context

from scribeline.store.tables import metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    render_as_batch=True,  # SQLite changes a table by making it anew
    transactional_ddl=True,
)
context.run_migrations()
