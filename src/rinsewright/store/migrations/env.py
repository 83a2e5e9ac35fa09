"""Read by Alembic before each migration: it goes over the connection, and in the transaction, that is handed to it."""

from __future__ import annotations

from alembic import context

from rinsewright.store.migrate import TABLE

context.configure(connection=context.config.attributes["connection"], version_table=TABLE)
context.run_migrations()
