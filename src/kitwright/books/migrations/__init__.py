"""The books' migrations: from an empty database, or an older one, to the newest version.

Alembic is imported only when there is something to do; opening books of the newest version costs
one look at `alembic_version`.
"""

from __future__ import annotations

from typing import Final

from sqlalchemy import Connection

VERSIONS: Final = ("0001", "0002", "0003", "0004", "0005")
"""Every version there has been, the newest last."""

AUTOGENERATE_PLUGINS: Final = ["alembic.autogenerate.*", "alembic.ext.checkconstraint_byname"]
"""Without the second one a new CHECK constraint would go unnoticed."""


def migrate(connection: Connection) -> None:
    """Bring the database to the newest version, inside the connection's transaction."""
    from alembic import command  # noqa: PLC0415
    from alembic.config import Config  # noqa: PLC0415

    config = Config()
    config.set_main_option("script_location", "kitwright.books:migrations")
    config.set_main_option("path_separator", "os")
    config.attributes["connection"] = connection
    command.upgrade(config, "head")
