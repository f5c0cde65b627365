"""Alembic's way in: runs on the connection that server.store.engine hands over."""

from alembic import context

from server.store.schema import metadata

context.configure(connection=context.config.attributes["connection"], target_metadata=metadata, render_as_batch=True)
with context.begin_transaction():
    context.run_migrations()
