"""Links by which outsiders come in, and what is said between the shop and a fitter."""

from __future__ import annotations

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Make the tables."""
