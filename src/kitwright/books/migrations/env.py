"""What Alembic runs to migrate: on the connection handed to it, in its transaction."""

from __future__ import annotations

from alembic import context

from kitwright.books.migrations import AUTOGENERATE_PLUGINS
from kitwright.books.tables import metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    render_as_batch=True,
    autogenerate_plugins=AUTOGENERATE_PLUGINS,
)
with context.begin_transaction():
    context.run_migrations()
