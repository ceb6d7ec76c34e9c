"""The machine's axes, as a machinist declared them."""

import sqlalchemy as sa
from alembic import op

from kitwright.books.migrations import guards
from kitwright.books.migrations.first.columns import ID, TEXT, entry


def create() -> None:
    """The table and its guard, as the third version has it."""
    op.create_table(
        "machine_axes",
        sa.Column("id", ID, nullable=False),
        sa.Column("machinist_id", ID, nullable=False),
        sa.Column("design_id", ID, nullable=False),
        sa.Column("right", TEXT, nullable=False),
        sa.Column("up", TEXT, nullable=False),
        sa.Column("lengths_json", sa.JSON(), nullable=False),
        *entry(),
        sa.ForeignKeyConstraint(
            ["design_id"], ["design.id"], name=op.f("fk_machine_axes_design_id")
        ),
        sa.ForeignKeyConstraint(
            ["machinist_id"], ["party.id"], name=op.f("fk_machine_axes_machinist_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_machine_axes")),
    )
    op.create_index(op.f("ix_machine_axes_machinist_id"), "machine_axes", ["machinist_id"])
    guards.append_only("machine_axes")
