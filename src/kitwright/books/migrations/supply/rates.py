"""Rates between currencies by day, entered by hand."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from kitwright.books.migrations import guards
from kitwright.books.migrations.first.columns import ID, TEXT, entry


def create() -> None:
    """The table and its guard."""
    op.create_table(
        "currency_rate",
        sa.Column("id", ID, nullable=False),
        sa.Column("source", TEXT, nullable=False),
        sa.Column("target", TEXT, nullable=False),
        sa.Column("rate", TEXT, nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        *entry(),
        sa.CheckConstraint("source <> target", name=op.f("ck_currency_rate_currencies_differ")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_currency_rate")),
    )
    guards.append_only("currency_rate")
