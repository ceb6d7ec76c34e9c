"""Kit parts and their ledger, keys of what was sent, and how many values an inspection has."""

from __future__ import annotations

from typing import Final

import sqlalchemy as sa
from alembic import op

from kitwright.books.migrations import guards
from kitwright.books.migrations.first.columns import ID, TEXT, entry

APPEND_ONLY: Final = ("part_movement", "sending", "inspection_count")

_PLACES: Final = "('supplier', 'shelf', 'reserved', 'customer', 'scrap', 'count')"


def create() -> None:
    """The tables, their guards, and the counts of the inspections that are there."""
    _parts()
    _movements()
    op.create_table(
        "sending",
        sa.Column("id", ID, nullable=False),
        sa.Column("send_key", TEXT, nullable=False),
        sa.Column("act", TEXT, nullable=False),
        *entry(),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sending")),
        sa.UniqueConstraint("send_key", name=op.f("uq_sending_send_key")),
    )
    _inspections()
    for table in APPEND_ONLY:
        guards.append_only(table)


def _parts() -> None:
    op.create_table(
        "part",
        sa.Column("id", ID, nullable=False),
        sa.Column("label", TEXT, nullable=False),
        sa.Column("name", TEXT, nullable=False),
        sa.Column("supplier_id", ID, nullable=True),
        sa.Column("least_days", ID, nullable=True),
        sa.Column("likely_days", ID, nullable=True),
        sa.Column("most_days", ID, nullable=True),
        sa.Column("reorder", TEXT, nullable=True),
        sa.CheckConstraint(
            (
                "(least_days IS NULL) = (likely_days IS NULL)"
                " AND (likely_days IS NULL) = (most_days IS NULL)"
            ),
            name=op.f("ck_part_lead_time_whole"),
        ),
        sa.CheckConstraint(
            (
                "0 <= least_days AND least_days <= likely_days AND likely_days <= most_days"
                " AND most_days < 100000"
            ),
            name=op.f("ck_part_lead_time_ordered"),
        ),
        sa.ForeignKeyConstraint(["supplier_id"], ["party.id"], name=op.f("fk_part_supplier_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_part")),
        sa.UniqueConstraint("label", name=op.f("uq_part_label")),
        sa.UniqueConstraint("name", name=op.f("uq_part_name")),
    )
    op.create_table(
        "bill_part",
        sa.Column("id", ID, nullable=False),
        sa.Column("kit_part_id", ID, nullable=False),
        sa.Column("part_id", ID, nullable=False),
        sa.ForeignKeyConstraint(
            ["kit_part_id"], ["kit_part.id"], name=op.f("fk_bill_part_kit_part_id")
        ),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_bill_part_part_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_bill_part")),
        sa.UniqueConstraint("kit_part_id", name=op.f("uq_bill_part_kit_part_id")),
    )
    op.create_index(op.f("ix_bill_part_part_id"), "bill_part", ["part_id"])


def _movements() -> None:
    op.create_table(
        "part_movement",
        sa.Column("id", ID, nullable=False),
        sa.Column("part_id", ID, nullable=False),
        sa.Column("number", ID, nullable=False),
        sa.Column("count", ID, nullable=False),
        sa.Column("from_place", TEXT, nullable=False),
        sa.Column("from_party_id", ID, nullable=True),
        sa.Column("to_place", TEXT, nullable=False),
        sa.Column("to_party_id", ID, nullable=True),
        sa.Column("order_id", ID, nullable=True),
        *entry(),
        sa.Column("why", TEXT, nullable=True),
        sa.CheckConstraint("number > 0", name=op.f("ck_part_movement_number_counts")),
        sa.CheckConstraint(
            "count > 0 AND count < 1e15", name=op.f("ck_part_movement_count_above_zero")
        ),
        sa.CheckConstraint(
            f"from_place IN {_PLACES}", name=op.f("ck_part_movement_from_place_known")
        ),
        sa.CheckConstraint(f"to_place IN {_PLACES}", name=op.f("ck_part_movement_to_place_known")),
        sa.CheckConstraint("from_place <> to_place", name=op.f("ck_part_movement_goes_somewhere")),
        sa.CheckConstraint(
            "(from_place <> 'reserved' AND to_place <> 'reserved') OR order_id IS NOT NULL",
            name=op.f("ck_part_movement_reserved_for_an_order"),
        ),
        sa.CheckConstraint(
            "(from_place IN ('supplier', 'customer')) = (from_party_id IS NOT NULL)",
            name=op.f("ck_part_movement_from_party_fits"),
        ),
        sa.CheckConstraint(
            "(to_place IN ('supplier', 'customer')) = (to_party_id IS NOT NULL)",
            name=op.f("ck_part_movement_to_party_fits"),
        ),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_part_movement_part_id")),
        sa.ForeignKeyConstraint(
            ["from_party_id"], ["party.id"], name=op.f("fk_part_movement_from_party_id")
        ),
        sa.ForeignKeyConstraint(
            ["to_party_id"], ["party.id"], name=op.f("fk_part_movement_to_party_id")
        ),
        sa.ForeignKeyConstraint(["order_id"], ["order.id"], name=op.f("fk_part_movement_order_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_part_movement")),
        sa.UniqueConstraint("part_id", "number", name=op.f("uq_part_movement_part_id_number")),
    )
    op.create_index(op.f("ix_part_movement_order_id"), "part_movement", ["order_id"])


def _inspections() -> None:
    op.create_table(
        "inspection_count",
        sa.Column("id", ID, nullable=False),
        sa.Column("inspection_id", ID, nullable=False),
        sa.Column("value_count", ID, nullable=False),
        sa.CheckConstraint("value_count >= 0", name=op.f("ck_inspection_count_value_count_counts")),
        sa.ForeignKeyConstraint(
            ["inspection_id"], ["inspection.id"], name=op.f("fk_inspection_count_inspection_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_inspection_count")),
        sa.UniqueConstraint("inspection_id", name=op.f("uq_inspection_count_inspection_id")),
    )
    op.execute(
        "INSERT INTO inspection_count (inspection_id, value_count)"
        " SELECT inspection.id, count(inspection_value.inspection_id) FROM inspection"
        " LEFT JOIN inspection_value ON inspection_value.inspection_id = inspection.id"
        " GROUP BY inspection.id"
    )
