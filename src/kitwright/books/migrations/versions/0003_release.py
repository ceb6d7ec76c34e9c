"""Batches judged by a sample, and the axes that a machinist's offsets are given in."""

from __future__ import annotations

from kitwright.books.migrations.release import machinists, samples

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Make the tables."""
    samples.create()
    machinists.create()
