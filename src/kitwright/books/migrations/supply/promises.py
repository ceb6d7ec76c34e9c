"""What promises rest on, and variants that are a bell alone."""

import sqlalchemy as sa
from alembic import op

from kitwright.books.migrations import guards
from kitwright.books.migrations.first.columns import ID, TEXT, entry

APPEND_ONLY = ("supply_rule", "promise_basis", "loose_variant")


def create() -> None:
    """The tables and their guards, as the fourth version has them."""
    op.create_table(
        "supply_rule",
        sa.Column("id", ID, nullable=False),
        sa.Column("chance", sa.Double(), nullable=False),
        sa.Column("service", sa.Double(), nullable=False),
        *entry(),
        sa.CheckConstraint("chance > 0 AND chance < 1", name=op.f("ck_supply_rule_chance_is_one")),
        sa.CheckConstraint(
            "service > 0 AND service < 1", name=op.f("ck_supply_rule_service_is_one")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_supply_rule")),
    )
    op.create_table(
        "promise_basis",
        sa.Column("id", ID, nullable=False),
        sa.Column("order_id", ID, nullable=False),
        sa.Column("number", ID, nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("wanted", sa.Double(), nullable=False),
        sa.Column("chance", sa.Double(), nullable=False),
        sa.Column("case_json", sa.JSON(), nullable=False),
        sa.Column("rests_on_json", sa.JSON(), nullable=False),
        sa.Column("version", TEXT, nullable=False),
        *entry(),
        sa.CheckConstraint("number > 0", name=op.f("ck_promise_basis_number_counts")),
        sa.CheckConstraint(
            "wanted > 0 AND wanted < 1", name=op.f("ck_promise_basis_wanted_is_one")
        ),
        sa.CheckConstraint(
            "chance >= 0 AND chance <= 1", name=op.f("ck_promise_basis_chance_is_one")
        ),
        sa.ForeignKeyConstraint(["order_id"], ["order.id"], name=op.f("fk_promise_basis_order_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_promise_basis")),
        sa.UniqueConstraint("order_id", "number", name=op.f("uq_promise_basis_order_id_number")),
    )
    op.create_table(
        "loose_variant",
        sa.Column("id", ID, nullable=False),
        sa.Column("variant_id", ID, nullable=False),
        *entry(),
        sa.ForeignKeyConstraint(
            ["variant_id"], ["variant.id"], name=op.f("fk_loose_variant_variant_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_loose_variant")),
        sa.UniqueConstraint("variant_id", name=op.f("uq_loose_variant_variant_id")),
    )
    for table in APPEND_ONLY:
        guards.append_only(table)
