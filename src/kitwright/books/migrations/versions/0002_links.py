"""Links by which outsiders come in, and what is said between the shop and a fitter."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from kitwright.books.migrations import guards
from kitwright.books.migrations.first.columns import ID, TEXT, entry

revision = "0002"
down_revision = "0001"

APPEND_ONLY = ("link_address", "link", "link_withdrawal", "fit_up_note", "fit_up_record")


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "link_address",
        sa.Column("id", ID, nullable=False),
        sa.Column("address", TEXT, nullable=False),
        *entry(),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_link_address")),
    )
    op.create_table(
        "link",
        sa.Column("id", ID, nullable=False),
        sa.Column("token", TEXT, nullable=False),
        sa.Column("opens", TEXT, nullable=False),
        sa.Column("fit_up_id", ID, nullable=True),
        sa.Column("machinist_id", ID, nullable=True),
        sa.Column("expires", TEXT, nullable=False),
        *entry(),
        sa.CheckConstraint("opens IN ('fit-up', 'machinist')", name=op.f("ck_link_opens_known")),
        sa.CheckConstraint(
            (
                "(opens = 'fit-up') = (fit_up_id IS NOT NULL)"
                " AND (opens = 'machinist') = (machinist_id IS NOT NULL)"
            ),
            name=op.f("ck_link_opens_one_thing"),
        ),
        sa.ForeignKeyConstraint(["fit_up_id"], ["fit_up.id"], name=op.f("fk_link_fit_up_id")),
        sa.ForeignKeyConstraint(["machinist_id"], ["party.id"], name=op.f("fk_link_machinist_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_link")),
        sa.UniqueConstraint("token", name=op.f("uq_link_token")),
    )
    op.create_index(op.f("ix_link_fit_up_id"), "link", ["fit_up_id"])
    op.create_index(op.f("ix_link_machinist_id"), "link", ["machinist_id"])
    op.create_table(
        "link_withdrawal",
        sa.Column("id", ID, nullable=False),
        sa.Column("link_id", ID, nullable=False),
        *entry(),
        sa.Column("why", TEXT, nullable=False),
        sa.ForeignKeyConstraint(["link_id"], ["link.id"], name=op.f("fk_link_withdrawal_link_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_link_withdrawal")),
        sa.UniqueConstraint("link_id", name=op.f("uq_link_withdrawal_link_id")),
    )
    op.create_table(
        "fit_up_note",
        sa.Column("id", ID, nullable=False),
        sa.Column("fit_up_id", ID, nullable=False),
        sa.Column("side", TEXT, nullable=False),
        sa.Column("said", TEXT, nullable=False),
        sa.Column("send_key", TEXT, nullable=False),
        *entry(),
        sa.CheckConstraint("side IN ('shop', 'fitter')", name=op.f("ck_fit_up_note_side_known")),
        sa.ForeignKeyConstraint(
            ["fit_up_id"], ["fit_up.id"], name=op.f("fk_fit_up_note_fit_up_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_fit_up_note")),
        sa.UniqueConstraint("send_key", name=op.f("uq_fit_up_note_send_key")),
    )
    op.create_index(op.f("ix_fit_up_note_fit_up_id"), "fit_up_note", ["fit_up_id"])
    op.create_table(
        "fit_up_record",
        sa.Column("id", ID, nullable=False),
        sa.Column("fit_up_id", ID, nullable=False),
        sa.Column("stage", TEXT, nullable=False),
        sa.Column("said_json", sa.JSON(), nullable=False),
        sa.Column("worksheet", TEXT, nullable=True),
        sa.Column("answer_json", sa.JSON(), nullable=True),
        sa.Column("version", TEXT, nullable=False),
        sa.Column("send_key", TEXT, nullable=False),
        sa.Column("undoes_id", ID, nullable=True),
        *entry(),
        sa.CheckConstraint(
            "(worksheet IS NULL) = (answer_json IS NULL)",
            name=op.f("ck_fit_up_record_worksheet_whole"),
        ),
        sa.ForeignKeyConstraint(
            ["fit_up_id"], ["fit_up.id"], name=op.f("fk_fit_up_record_fit_up_id")
        ),
        sa.ForeignKeyConstraint(
            ["undoes_id"], ["fit_up_record.id"], name=op.f("fk_fit_up_record_undoes_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_fit_up_record")),
        sa.UniqueConstraint("send_key", name=op.f("uq_fit_up_record_send_key")),
        sa.UniqueConstraint("undoes_id", name=op.f("uq_fit_up_record_undoes_id")),
    )
    op.create_index(op.f("ix_fit_up_record_fit_up_id"), "fit_up_record", ["fit_up_id"])
    for table in APPEND_ONLY:
        guards.append_only(table)
