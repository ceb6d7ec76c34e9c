"""Kits, orders, fit-ups, and the decisions that speak of them."""

import sqlalchemy as sa
from alembic import op

from kitwright.books.migrations.first.columns import ID, TEXT


def create() -> None:
    """The tables and their indexes, as the first version has them."""
    op.create_table(
        "kit",
        sa.Column("id", ID, nullable=False),
        sa.Column("name", TEXT, nullable=False),
        sa.Column("conversion_id", ID, nullable=False),
        sa.ForeignKeyConstraint(
            ["conversion_id"], ["conversion.id"], name=op.f("fk_kit_conversion_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_kit")),
        sa.UniqueConstraint("name", name=op.f("uq_kit_name")),
    )
    op.create_table(
        "variant",
        sa.Column("id", ID, nullable=False),
        sa.Column("kit_id", ID, nullable=False),
        sa.Column("name", TEXT, nullable=False),
        sa.Column("design_id", ID, nullable=False),
        sa.Column("price_minor", ID, nullable=False),
        sa.Column("price_currency", TEXT, nullable=False),
        sa.CheckConstraint("price_minor >= 0", name=op.f("ck_variant_price_counts")),
        sa.ForeignKeyConstraint(["design_id"], ["design.id"], name=op.f("fk_variant_design_id")),
        sa.ForeignKeyConstraint(["kit_id"], ["kit.id"], name=op.f("fk_variant_kit_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_variant")),
        sa.UniqueConstraint("kit_id", "name", name=op.f("uq_variant_kit_id_name")),
    )
    op.create_index(op.f("ix_variant_design_id"), "variant", ["design_id"])
    op.create_table(
        "kit_part",
        sa.Column("id", ID, nullable=False),
        sa.Column("kit_id", ID, nullable=False),
        sa.Column("variant_id", ID, nullable=True),
        sa.Column("name", TEXT, nullable=False),
        sa.Column("count", ID, nullable=False),
        sa.Column("cost_minor", ID, nullable=False),
        sa.Column("cost_currency", TEXT, nullable=False),
        sa.CheckConstraint("cost_minor >= 0", name=op.f("ck_kit_part_cost_counts")),
        sa.CheckConstraint("count > 0 AND count < 1e15", name=op.f("ck_kit_part_count_above_zero")),
        sa.ForeignKeyConstraint(["kit_id"], ["kit.id"], name=op.f("fk_kit_part_kit_id")),
        sa.ForeignKeyConstraint(
            ["variant_id"], ["variant.id"], name=op.f("fk_kit_part_variant_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_kit_part")),
    )
    op.create_index(op.f("ix_kit_part_kit_id"), "kit_part", ["kit_id"])
    op.create_table(
        "variant_option",
        sa.Column("id", ID, nullable=False),
        sa.Column("variant_id", ID, nullable=False),
        sa.Column("name", TEXT, nullable=False),
        sa.Column("price_minor", ID, nullable=False),
        sa.Column("price_currency", TEXT, nullable=False),
        sa.CheckConstraint("price_minor >= 0", name=op.f("ck_variant_option_price_counts")),
        sa.ForeignKeyConstraint(
            ["variant_id"], ["variant.id"], name=op.f("fk_variant_option_variant_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_variant_option")),
        sa.UniqueConstraint("variant_id", "name", name=op.f("uq_variant_option_variant_id_name")),
    )
    op.create_table(
        "order",
        sa.Column("id", ID, nullable=False),
        sa.Column("label", TEXT, nullable=False),
        sa.Column("customer_id", ID, nullable=False),
        sa.Column("variant_id", ID, nullable=False),
        sa.Column("car_id", ID, nullable=True),
        sa.Column("price_minor", ID, nullable=False),
        sa.Column("price_currency", TEXT, nullable=False),
        sa.CheckConstraint("price_minor >= 0", name=op.f("ck_order_price_counts")),
        sa.ForeignKeyConstraint(["car_id"], ["car.id"], name=op.f("fk_order_car_id")),
        sa.ForeignKeyConstraint(["customer_id"], ["party.id"], name=op.f("fk_order_customer_id")),
        sa.ForeignKeyConstraint(["variant_id"], ["variant.id"], name=op.f("fk_order_variant_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_order")),
        sa.UniqueConstraint("label", name=op.f("uq_order_label")),
    )
    op.create_index(op.f("ix_order_customer_id"), "order", ["customer_id"])
    op.create_index(op.f("ix_order_variant_id"), "order", ["variant_id"])
    op.create_table(
        "order_option",
        sa.Column("id", ID, nullable=False),
        sa.Column("order_id", ID, nullable=False),
        sa.Column("variant_option_id", ID, nullable=False),
        sa.ForeignKeyConstraint(["order_id"], ["order.id"], name=op.f("fk_order_option_order_id")),
        sa.ForeignKeyConstraint(
            ["variant_option_id"],
            ["variant_option.id"],
            name=op.f("fk_order_option_variant_option_id"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_order_option")),
        sa.UniqueConstraint(
            "order_id", "variant_option_id", name=op.f("uq_order_option_order_id_variant_option_id")
        ),
    )
    op.create_table(
        "order_step",
        sa.Column("id", ID, nullable=False),
        sa.Column("order_id", ID, nullable=False),
        sa.Column("number", ID, nullable=False),
        sa.Column("state", TEXT, nullable=False),
        sa.Column("happened", TEXT, nullable=False),
        sa.Column("recorded", TEXT, nullable=False),
        sa.Column("who", TEXT, nullable=False),
        sa.Column("why", TEXT, nullable=True),
        sa.Column("promised_for", sa.Date(), nullable=True),
        sa.CheckConstraint(
            "state IN ('open', 'promised', 'allocated', 'shipped', 'closed', 'cancelled')",
            name=op.f("ck_order_step_state_known"),
        ),
        sa.CheckConstraint("number > 0", name=op.f("ck_order_step_number_counts")),
        sa.ForeignKeyConstraint(["order_id"], ["order.id"], name=op.f("fk_order_step_order_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_order_step")),
        sa.UniqueConstraint("order_id", "number", name=op.f("uq_order_step_order_id_number")),
    )
    op.create_table(
        "fit_up",
        sa.Column("id", ID, nullable=False),
        sa.Column("bell_id", ID, nullable=False),
        sa.Column("order_id", ID, nullable=True),
        sa.Column("car_id", ID, nullable=True),
        sa.Column("fitter", TEXT, nullable=False),
        sa.Column("block", TEXT, nullable=False),
        sa.CheckConstraint("block IN ('new', 'line-honed')", name=op.f("ck_fit_up_block_known")),
        sa.ForeignKeyConstraint(["bell_id"], ["bell.id"], name=op.f("fk_fit_up_bell_id")),
        sa.ForeignKeyConstraint(["car_id"], ["car.id"], name=op.f("fk_fit_up_car_id")),
        sa.ForeignKeyConstraint(["order_id"], ["order.id"], name=op.f("fk_fit_up_order_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_fit_up")),
    )
    op.create_index(op.f("ix_fit_up_bell_id"), "fit_up", ["bell_id"])
    op.create_table(
        "fit_up_step",
        sa.Column("id", ID, nullable=False),
        sa.Column("fit_up_id", ID, nullable=False),
        sa.Column("number", ID, nullable=False),
        sa.Column("state", TEXT, nullable=False),
        sa.Column("happened", TEXT, nullable=False),
        sa.Column("recorded", TEXT, nullable=False),
        sa.Column("who", TEXT, nullable=False),
        sa.Column("why", TEXT, nullable=True),
        sa.Column("worksheet", TEXT, nullable=True),
        sa.Column("case_json", sa.JSON(), nullable=True),
        sa.Column("answer_json", sa.JSON(), nullable=True),
        sa.Column("version", TEXT, nullable=False),
        sa.Column("send_key", TEXT, nullable=True),
        sa.CheckConstraint(
            "state IN ('opened', 'measuring', 'advice', 'corrected', 'succeeded', 'failed')",
            name=op.f("ck_fit_up_step_state_known"),
        ),
        sa.CheckConstraint(
            (
                "(worksheet IS NULL) = (case_json IS NULL) AND (answer_json IS NULL OR "
                "worksheet IS NOT NULL)"
            ),
            name=op.f("ck_fit_up_step_worksheet_whole"),
        ),
        sa.CheckConstraint("number > 0", name=op.f("ck_fit_up_step_number_counts")),
        sa.ForeignKeyConstraint(
            ["fit_up_id"], ["fit_up.id"], name=op.f("fk_fit_up_step_fit_up_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_fit_up_step")),
        sa.UniqueConstraint("fit_up_id", "number", name=op.f("uq_fit_up_step_fit_up_id_number")),
        sa.UniqueConstraint("send_key", name=op.f("uq_fit_up_step_send_key")),
    )
    op.create_table(
        "decision",
        sa.Column("id", ID, nullable=False),
        sa.Column("bell_id", ID, nullable=False),
        sa.Column("number", ID, nullable=False),
        sa.Column("kind", TEXT, nullable=False),
        sa.Column("rule", TEXT, nullable=True),
        sa.Column("inspection_id", ID, nullable=True),
        sa.Column("order_id", ID, nullable=True),
        sa.Column("fit_up_id", ID, nullable=True),
        sa.Column("happened", TEXT, nullable=False),
        sa.Column("recorded", TEXT, nullable=False),
        sa.Column("who", TEXT, nullable=False),
        sa.Column("reason", TEXT, nullable=True),
        sa.CheckConstraint(
            (
                "kind IN ('release', 'hold', 'reject', 'remeasure', 'concede', 'rework', "
                "'scrap', 'allocate', 'free', 'ship', 'fit', 'return', 'withdraw')"
            ),
            name=op.f("ck_decision_kind_known"),
        ),
        sa.CheckConstraint(
            "kind NOT IN ('allocate', 'ship') OR order_id IS NOT NULL",
            name=op.f("ck_decision_order_given"),
        ),
        sa.CheckConstraint(
            (
                "kind NOT IN ('concede', 'rework', 'scrap', 'withdraw') OR coalesce(reason, '') "
                "<> ''"
            ),
            name=op.f("ck_decision_reason_given"),
        ),
        sa.CheckConstraint("number > 0", name=op.f("ck_decision_number_counts")),
        sa.ForeignKeyConstraint(["bell_id"], ["bell.id"], name=op.f("fk_decision_bell_id")),
        sa.ForeignKeyConstraint(["fit_up_id"], ["fit_up.id"], name=op.f("fk_decision_fit_up_id")),
        sa.ForeignKeyConstraint(
            ["inspection_id"], ["inspection.id"], name=op.f("fk_decision_inspection_id")
        ),
        sa.ForeignKeyConstraint(["order_id"], ["order.id"], name=op.f("fk_decision_order_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_decision")),
        sa.UniqueConstraint("bell_id", "number", name=op.f("uq_decision_bell_id_number")),
    )
    op.create_index(op.f("ix_decision_order_id"), "decision", ["order_id"])
