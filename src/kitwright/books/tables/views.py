"""What is derived: where each bell stands now, read from the newest line of each ledger.

The view's text stands in the migration that makes it; this says its columns.
"""

from __future__ import annotations

from sqlalchemy import MetaData, Table

from kitwright.books.tables.columns import entry, text, whole

bell_now = Table(
    "bell_now",
    MetaData(),  # apart from the tables: migrations are compared with those
    whole("bell_id"),
    text("serial"),
    whole("batch_id"),
    whole("crate_id"),
    whole("revision_id"),
    whole("design_id"),
    text("state"),
    whole("decisions"),
    text("kind", optional=True),
    whole("order_id", optional=True),
    *entry(),
    whole("movements"),
    text("place"),
    whole("party_id", optional=True),
)
