"""Runs the ledger's migrations on the connection that the program hands over (alembic executes this file)."""

from __future__ import annotations

from alembic import context

from vdp.numbering.schema import VERSION_TABLE

context.configure(connection=context.config.attributes["connection"], version_table=VERSION_TABLE)
with context.begin_transaction():
    context.run_migrations()
