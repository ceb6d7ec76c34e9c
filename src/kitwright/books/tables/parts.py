"""Kit parts, the ledger of their movements, and what keeps other ledgers whole."""

from __future__ import annotations

from typing import Final

from sqlalchemy import CheckConstraint, Table, UniqueConstraint

from kitwright.books.tables.columns import (
    above_zero,
    entry,
    key,
    metadata,
    one_of,
    text,
    to,
    whole,
)

PART_PLACES: Final = ("supplier", "shelf", "reserved", "customer", "scrap", "count")
PART_WITH_PARTY: Final = ("supplier", "customer")
"""Places of parts that are somebody's."""

part = Table(
    "part",
    metadata,
    key(),
    text("label", unique=True),
    text("name", unique=True),
    to("party", name="supplier_id", optional=True),
    whole("least_days", optional=True),
    whole("likely_days", optional=True),
    whole("most_days", optional=True),
    text("reorder", optional=True),
    CheckConstraint(
        "(least_days IS NULL) = (likely_days IS NULL)"
        " AND (likely_days IS NULL) = (most_days IS NULL)",
        name="lead_time_whole",
    ),
    CheckConstraint(
        "0 <= least_days AND least_days <= likely_days AND likely_days <= most_days"
        " AND most_days < 100000",
        name="lead_time_ordered",
    ),
)

bill_part = Table(
    "bill_part",
    metadata,
    key(),
    to("kit_part"),
    to("part", index=True),
    UniqueConstraint("kit_part_id"),
)

part_movement = Table(
    "part_movement",
    metadata,
    key(),
    to("part"),
    whole("number"),
    whole("count"),
    text("from_place"),
    to("party", name="from_party_id", optional=True),
    text("to_place"),
    to("party", name="to_party_id", optional=True),
    to("order", optional=True, index=True),
    *entry(),
    text("why", optional=True),
    UniqueConstraint("part_id", "number"),
    CheckConstraint("number > 0", name="number_counts"),
    *above_zero("count"),
    one_of("from_place", PART_PLACES),
    one_of("to_place", PART_PLACES),
    CheckConstraint("from_place <> to_place", name="goes_somewhere"),
    CheckConstraint(
        "(from_place <> 'reserved' AND to_place <> 'reserved') OR order_id IS NOT NULL",
        name="reserved_for_an_order",
    ),
    *(
        CheckConstraint(
            f"({end}_place IN {PART_WITH_PARTY}) = ({end}_party_id IS NOT NULL)",
            name=f"{end}_party_fits",
        )
        for end in ("from", "to")
    ),
)

sending = Table(
    "sending",
    metadata,
    key(),
    text("send_key", unique=True),
    text("act"),
    *entry(),
)

inspection_count = Table(
    "inspection_count",
    metadata,
    key(),
    to("inspection"),
    whole("value_count"),
    UniqueConstraint("inspection_id"),
    CheckConstraint("value_count >= 0", name="value_count_counts"),
)
