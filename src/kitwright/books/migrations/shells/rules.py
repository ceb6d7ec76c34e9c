"""Rules on certified shells, and their lines."""

import sqlalchemy as sa
from alembic import op

from kitwright.books.migrations import guards
from kitwright.books.migrations.first.columns import ID, TEXT, entry


def create() -> None:
    """The tables and their guards, as the fifth version has them."""
    op.create_table(
        "rule",
        sa.Column("id", ID, nullable=False),
        sa.Column("body", TEXT, nullable=False),
        sa.Column("use", TEXT, nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_rule")),
        sa.UniqueConstraint("body", "use", name=op.f("uq_rule_body_use")),
    )
    op.create_table(
        "rule_line",
        sa.Column("id", ID, nullable=False),
        sa.Column("rule_id", ID, nullable=False),
        sa.Column("number", ID, nullable=False),
        sa.Column("state", TEXT, nullable=False),
        sa.Column("demands", TEXT, nullable=False),
        sa.Column("spec", TEXT, nullable=True),
        sa.Column("from_what", TEXT, nullable=True),
        sa.Column("from_power_kw", sa.Double(), nullable=True),
        sa.Column("from_speed_rpm", sa.Double(), nullable=True),
        sa.Column("source", TEXT, nullable=False),
        sa.Column("copied_on", sa.Date(), nullable=False),
        *entry(),
        sa.Column("why", TEXT, nullable=True),
        sa.CheckConstraint("number > 0", name=op.f("ck_rule_line_number_counts")),
        sa.CheckConstraint(
            "number = 1 OR why IS NOT NULL", name=op.f("ck_rule_line_change_has_reason")
        ),
        sa.CheckConstraint(
            "state IN ('stands', 'withdrawn')", name=op.f("ck_rule_line_state_known")
        ),
        sa.CheckConstraint(
            "demands IN ('certified shell', 'no certified shell')",
            name=op.f("ck_rule_line_demands_known"),
        ),
        sa.CheckConstraint(
            "from_power_kw > 0 AND from_power_kw < 1e15",
            name=op.f("ck_rule_line_from_power_kw_above_zero"),
        ),
        sa.CheckConstraint(
            "from_speed_rpm > 0 AND from_speed_rpm < 1e15",
            name=op.f("ck_rule_line_from_speed_rpm_above_zero"),
        ),
        sa.ForeignKeyConstraint(["rule_id"], ["rule.id"], name=op.f("fk_rule_line_rule_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_rule_line")),
        sa.UniqueConstraint("rule_id", "number", name=op.f("uq_rule_line_rule_id_number")),
    )
    for table in ("rule", "rule_line"):
        guards.append_only(table)
