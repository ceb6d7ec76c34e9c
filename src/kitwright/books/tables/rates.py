"""Rates between currencies, each with its day."""

from __future__ import annotations

from sqlalchemy import CheckConstraint, Column, Date, Table

from kitwright.books.tables.columns import entry, key, metadata, text

currency_rate = Table(
    "currency_rate",
    metadata,
    key(),
    text("source"),
    text("target"),
    text("rate"),
    Column("day", Date, nullable=False),
    *entry(),
    CheckConstraint("source <> target", name="currencies_differ"),
)
"""On `day` one `source` was `rate` of `target`; the rate is decimal text, so that it is exact."""
