"""Crates, batches, bells, movements and inspections."""

import sqlalchemy as sa
from alembic import op

from kitwright.books.migrations.first.columns import ID, TEXT


def create() -> None:
    """The tables and their indexes, as the first version has them."""
    op.create_table(
        "crate",
        sa.Column("id", ID, nullable=False),
        sa.Column("label", TEXT, nullable=False),
        sa.Column("design_id", ID, nullable=False),
        sa.Column("supplier_id", ID, nullable=False),
        sa.Column("count", ID, nullable=False),
        sa.Column("cost_minor", ID, nullable=False),
        sa.Column("cost_currency", TEXT, nullable=False),
        sa.CheckConstraint("cost_minor >= 0", name=op.f("ck_crate_cost_counts")),
        sa.CheckConstraint("count > 0 AND count < 1e15", name=op.f("ck_crate_count_above_zero")),
        sa.ForeignKeyConstraint(["design_id"], ["design.id"], name=op.f("fk_crate_design_id")),
        sa.ForeignKeyConstraint(["supplier_id"], ["party.id"], name=op.f("fk_crate_supplier_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_crate")),
        sa.UniqueConstraint("label", name=op.f("uq_crate_label")),
    )
    op.create_index(op.f("ix_crate_design_id"), "crate", ["design_id"])
    op.create_table(
        "batch",
        sa.Column("id", ID, nullable=False),
        sa.Column("label", TEXT, nullable=False),
        sa.Column("revision_id", ID, nullable=False),
        sa.Column("machinist_id", ID, nullable=False),
        sa.Column("count", ID, nullable=False),
        sa.CheckConstraint("count > 0 AND count < 1e15", name=op.f("ck_batch_count_above_zero")),
        sa.ForeignKeyConstraint(["machinist_id"], ["party.id"], name=op.f("fk_batch_machinist_id")),
        sa.ForeignKeyConstraint(
            ["revision_id"], ["revision.id"], name=op.f("fk_batch_revision_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_batch")),
        sa.UniqueConstraint("label", name=op.f("uq_batch_label")),
    )
    op.create_index(op.f("ix_batch_revision_id"), "batch", ["revision_id"])
    op.create_table(
        "batch_step",
        sa.Column("id", ID, nullable=False),
        sa.Column("batch_id", ID, nullable=False),
        sa.Column("number", ID, nullable=False),
        sa.Column("state", TEXT, nullable=False),
        sa.Column("happened", TEXT, nullable=False),
        sa.Column("recorded", TEXT, nullable=False),
        sa.Column("who", TEXT, nullable=False),
        sa.Column("why", TEXT, nullable=True),
        sa.Column("due", sa.Date(), nullable=True),
        sa.CheckConstraint(
            "state IN ('planned', 'sent', 'back', 'judged')", name=op.f("ck_batch_step_state_known")
        ),
        sa.CheckConstraint("number > 0", name=op.f("ck_batch_step_number_counts")),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_batch_step_batch_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_batch_step")),
        sa.UniqueConstraint("batch_id", "number", name=op.f("uq_batch_step_batch_id_number")),
    )
    op.create_table(
        "bell",
        sa.Column("id", ID, nullable=False),
        sa.Column("serial", TEXT, nullable=False),
        sa.Column("batch_id", ID, nullable=False),
        sa.Column("crate_id", ID, nullable=False),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_bell_batch_id")),
        sa.ForeignKeyConstraint(["crate_id"], ["crate.id"], name=op.f("fk_bell_crate_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_bell")),
        sa.UniqueConstraint("serial", name=op.f("uq_bell_serial")),
    )
    op.create_index(op.f("ix_bell_batch_id"), "bell", ["batch_id"])
    op.create_index(op.f("ix_bell_crate_id"), "bell", ["crate_id"])
    op.create_table(
        "movement",
        sa.Column("id", ID, nullable=False),
        sa.Column("crate_id", ID, nullable=True),
        sa.Column("bell_id", ID, nullable=True),
        sa.Column("number", ID, nullable=False),
        sa.Column("count", ID, nullable=False),
        sa.Column("from_place", TEXT, nullable=False),
        sa.Column("from_party_id", ID, nullable=True),
        sa.Column("to_place", TEXT, nullable=False),
        sa.Column("to_party_id", ID, nullable=True),
        sa.Column("happened", TEXT, nullable=False),
        sa.Column("recorded", TEXT, nullable=False),
        sa.Column("who", TEXT, nullable=False),
        sa.Column("why", TEXT, nullable=True),
        sa.CheckConstraint(
            "(from_place IN ('supplier', 'machinist', 'customer')) = (from_party_id IS NOT NULL)",
            name=op.f("ck_movement_from_party_fits"),
        ),
        sa.CheckConstraint(
            "(to_place IN ('supplier', 'machinist', 'customer')) = (to_party_id IS NOT NULL)",
            name=op.f("ck_movement_to_party_fits"),
        ),
        sa.CheckConstraint(
            (
                "from_place IN ('supplier', 'floor', 'birth', 'machinist', 'shelf', 'customer', "
                "'scrap')"
            ),
            name=op.f("ck_movement_from_place_known"),
        ),
        sa.CheckConstraint(
            (
                "to_place IN ('supplier', 'floor', 'birth', 'machinist', 'shelf', 'customer', "
                "'scrap')"
            ),
            name=op.f("ck_movement_to_place_known"),
        ),
        sa.CheckConstraint(
            "(crate_id IS NULL) <> (bell_id IS NULL)", name=op.f("ck_movement_one_item")
        ),
        sa.CheckConstraint(
            "count > 0 AND (bell_id IS NULL OR count = 1)",
            name=op.f("ck_movement_count_above_zero"),
        ),
        sa.CheckConstraint("number > 0", name=op.f("ck_movement_number_counts")),
        sa.ForeignKeyConstraint(["bell_id"], ["bell.id"], name=op.f("fk_movement_bell_id")),
        sa.ForeignKeyConstraint(["crate_id"], ["crate.id"], name=op.f("fk_movement_crate_id")),
        sa.ForeignKeyConstraint(
            ["from_party_id"], ["party.id"], name=op.f("fk_movement_from_party_id")
        ),
        sa.ForeignKeyConstraint(
            ["to_party_id"], ["party.id"], name=op.f("fk_movement_to_party_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_movement")),
        sa.UniqueConstraint("bell_id", "number", name=op.f("uq_movement_bell_id_number")),
        sa.UniqueConstraint("crate_id", "number", name=op.f("uq_movement_crate_id_number")),
    )
    op.create_table(
        "inspection",
        sa.Column("id", ID, nullable=False),
        sa.Column("bell_id", ID, nullable=False),
        sa.Column("instrument", TEXT, nullable=False),
        sa.Column("happened", TEXT, nullable=False),
        sa.Column("recorded", TEXT, nullable=False),
        sa.Column("who", TEXT, nullable=False),
        sa.ForeignKeyConstraint(["bell_id"], ["bell.id"], name=op.f("fk_inspection_bell_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_inspection")),
    )
    op.create_index(op.f("ix_inspection_bell_id"), "inspection", ["bell_id"])
    op.create_table(
        "inspection_value",
        sa.Column("inspection_id", ID, nullable=False),
        sa.Column("characteristic_id", ID, nullable=False),
        sa.Column("value_mm", sa.Double(), nullable=True),
        sa.Column("x_mm", sa.Double(), nullable=True),
        sa.Column("y_mm", sa.Double(), nullable=True),
        sa.Column("u95_mm", sa.Double(), nullable=False),
        sa.CheckConstraint(
            "(value_mm IS NULL) <> (x_mm IS NULL) AND (x_mm IS NULL) = (y_mm IS NULL)",
            name=op.f("ck_inspection_value_length_or_position"),
        ),
        sa.CheckConstraint(
            "u95_mm BETWEEN 0 AND 100000", name=op.f("ck_inspection_value_u95_mm_in_reach")
        ),
        sa.CheckConstraint(
            "value_mm BETWEEN -100000 AND 100000",
            name=op.f("ck_inspection_value_value_mm_in_reach"),
        ),
        sa.CheckConstraint(
            "x_mm BETWEEN -100000 AND 100000", name=op.f("ck_inspection_value_x_mm_in_reach")
        ),
        sa.CheckConstraint(
            "y_mm BETWEEN -100000 AND 100000", name=op.f("ck_inspection_value_y_mm_in_reach")
        ),
        sa.ForeignKeyConstraint(
            ["characteristic_id"],
            ["characteristic.id"],
            name=op.f("fk_inspection_value_characteristic_id"),
        ),
        sa.ForeignKeyConstraint(
            ["inspection_id"], ["inspection.id"], name=op.f("fk_inspection_value_inspection_id")
        ),
        sa.PrimaryKeyConstraint(
            "inspection_id", "characteristic_id", name=op.f("pk_inspection_value")
        ),
        sqlite_with_rowid=False,
    )
