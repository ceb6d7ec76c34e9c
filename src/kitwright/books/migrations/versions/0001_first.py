"""The books begin."""

from __future__ import annotations

from kitwright.books.migrations import guards
from kitwright.books.migrations.first import designs, orders, stock, views

revision = "0001"
down_revision = None

APPEND_ONLY = (
    "revision_step",
    "crate",
    "batch",
    "batch_step",
    "bell",
    "movement",
    "inspection",
    "inspection_value",
    "decision",
    "order",
    "order_option",
    "order_step",
    "fit_up",
    "fit_up_step",
)


def upgrade() -> None:
    """Make every table, guard and view."""
    designs.create()
    stock.create()
    orders.create()
    views.create()
    guards.prepare()
    for table in APPEND_ONLY:
        guards.append_only(table)
    guards.frozen_in_force("revision", "id")
    guards.frozen_in_force("characteristic", "revision_id")
