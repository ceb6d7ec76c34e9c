"""Crates, batches, bells, the ledger of movements, inspections, and the decisions on bells."""

from __future__ import annotations

from typing import Final

from sqlalchemy import (
    CheckConstraint,
    Column,
    Date,
    ForeignKey,
    PrimaryKeyConstraint,
    Table,
    UniqueConstraint,
)

from kitwright.books import moves
from kitwright.books.tables.columns import (
    LONGEST_MM,
    Id,
    above_zero,
    entry,
    key,
    metadata,
    money,
    one_of,
    real,
    steps_of,
    text,
    to,
    whole,
    within_reach,
)

PLACES: Final = ("supplier", "floor", "birth", "machinist", "shelf", "customer", "scrap")
WITH_PARTY: Final = ("supplier", "machinist", "customer")
"""Places that are somebody's."""

crate = Table(
    "crate",
    metadata,
    key(),
    text("label", unique=True),
    to("design", index=True),
    to("party", name="supplier_id"),
    whole("count"),
    *money("cost"),
    *above_zero("count"),
    CheckConstraint("cost_minor >= 0", name="cost_counts"),
)

batch = Table(
    "batch",
    metadata,
    key(),
    text("label", unique=True),
    to("revision", index=True),
    to("party", name="machinist_id"),
    whole("count"),
    *above_zero("count"),
)

batch_step = steps_of("batch", moves.BATCH.states, Column("due", Date, nullable=True))

bell = Table(
    "bell",
    metadata,
    key(),
    text("serial", unique=True),
    to("batch", index=True),
    to("crate", index=True),
)

movement = Table(
    "movement",
    metadata,
    key(),
    to("crate", optional=True),
    to("bell", optional=True),
    whole("number"),
    whole("count"),
    text("from_place"),
    to("party", name="from_party_id", optional=True),
    text("to_place"),
    to("party", name="to_party_id", optional=True),
    *entry(),
    text("why", optional=True),
    UniqueConstraint("crate_id", "number"),
    UniqueConstraint("bell_id", "number"),
    CheckConstraint("(crate_id IS NULL) <> (bell_id IS NULL)", name="one_item"),
    CheckConstraint("number > 0", name="number_counts"),
    CheckConstraint("count > 0 AND (bell_id IS NULL OR count = 1)", name="count_above_zero"),
    one_of("from_place", PLACES),
    one_of("to_place", PLACES),
    *(
        CheckConstraint(
            f"({end}_place IN {WITH_PARTY}) = ({end}_party_id IS NOT NULL)",
            name=f"{end}_party_fits",
        )
        for end in ("from", "to")
    ),
)

inspection = Table(
    "inspection",
    metadata,
    key(),
    to("bell", index=True),
    text("instrument"),
    *entry(),
)

inspection_value = Table(
    "inspection_value",
    metadata,
    Column("inspection_id", Id, ForeignKey("inspection.id"), nullable=False),
    Column("characteristic_id", Id, ForeignKey("characteristic.id"), nullable=False),
    real("value_mm", optional=True),
    real("x_mm", optional=True),
    real("y_mm", optional=True),
    real("u95_mm"),
    PrimaryKeyConstraint("inspection_id", "characteristic_id"),
    CheckConstraint(
        "(value_mm IS NULL) <> (x_mm IS NULL) AND (x_mm IS NULL) = (y_mm IS NULL)",
        name="length_or_position",
    ),
    *within_reach("value_mm", "x_mm", "y_mm"),
    CheckConstraint(f"u95_mm BETWEEN 0 AND {LONGEST_MM}", name="u95_mm_in_reach"),
    sqlite_with_rowid=False,
)

_REASONED: Final = tuple(sorted(moves.NEED_REASON))

decision = Table(
    "decision",
    metadata,
    key(),
    to("bell"),
    whole("number"),
    text("kind"),
    text("rule", optional=True),
    to("inspection", optional=True),
    to("order", optional=True, index=True),
    to("fit_up", optional=True),
    *entry(),
    text("reason", optional=True),
    UniqueConstraint("bell_id", "number"),
    CheckConstraint("number > 0", name="number_counts"),
    one_of("kind", moves.BELL.kinds),
    CheckConstraint(f"kind NOT IN {_REASONED} OR coalesce(reason, '') <> ''", name="reason_given"),
    CheckConstraint(
        f"kind NOT IN {tuple(sorted(moves.NEED_ORDER))} OR order_id IS NOT NULL",
        name="order_given",
    ),
)
