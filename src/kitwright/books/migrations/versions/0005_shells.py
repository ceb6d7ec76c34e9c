"""Rules on certified shells, as the shop copied them from the sanctioning bodies' books."""

from __future__ import annotations

from kitwright.books.migrations.shells import rules

revision = "0005"
down_revision = "0004"


def upgrade() -> None:
    """Make the tables."""
    rules.create()
