"""Samples: drawn from a batch by a seed that is kept, judged once."""

from __future__ import annotations

from typing import Final

from sqlalchemy import (
    CheckConstraint,
    Column,
    ForeignKey,
    PrimaryKeyConstraint,
    Table,
    UniqueConstraint,
)

from kitwright.books.tables.columns import (
    Id,
    above_zero,
    entry,
    key,
    metadata,
    one_of,
    text,
    to,
    whole,
)

VERDICTS: Final = ("accept", "reject")
LARGEST_SEED: Final = 2**53 - 1

sample = Table(
    "sample",
    metadata,
    key(),
    to("batch"),
    whole("number"),
    whole("n"),
    whole("c"),
    whole("seed"),
    text("plan"),
    *entry(),
    UniqueConstraint("batch_id", "number"),
    CheckConstraint("number > 0", name="number_counts"),
    *above_zero("n"),
    CheckConstraint("c >= 0 AND c < n", name="some_may_be_bad"),
    CheckConstraint(f"seed BETWEEN 0 AND {LARGEST_SEED}", name="seed_in_reach"),
)

sample_bell = Table(
    "sample_bell",
    metadata,
    Column("sample_id", Id, ForeignKey("sample.id"), nullable=False),
    to("bell", index=True),
    whole("place"),
    whole("drawn"),
    PrimaryKeyConstraint("sample_id", "bell_id"),
    UniqueConstraint("sample_id", "place"),
    CheckConstraint("place > 0", name="place_counts"),
    CheckConstraint("drawn IN (0, 1)", name="drawn_or_not"),
    sqlite_with_rowid=False,
)
"""Every bell of the lot, in the order that it was drawn from; `drawn` is 1 for the sample's own."""

sample_verdict = Table(
    "sample_verdict",
    metadata,
    key(),
    to("sample"),
    text("verdict"),
    whole("found"),
    *entry(),
    UniqueConstraint("sample_id"),
    one_of("verdict", VERDICTS),
    CheckConstraint("found >= 0", name="found_counts"),
)
