"""Stock of kit parts, rates of currencies, and what promises rest on."""

from __future__ import annotations

from kitwright.books.migrations.supply import parts, promises, rates

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """Make the tables."""
    parts.create()
    rates.create()
    promises.create()
