"""Samples drawn from batches, the bells that they were drawn from, and what was found."""

import sqlalchemy as sa
from alembic import op

from kitwright.books.migrations import guards
from kitwright.books.migrations.first.columns import ID, TEXT, entry

APPEND_ONLY = ("sample", "sample_bell", "sample_verdict")


def create() -> None:
    """The tables and their guards, as the third version has them."""
    op.create_table(
        "sample",
        sa.Column("id", ID, nullable=False),
        sa.Column("batch_id", ID, nullable=False),
        sa.Column("number", ID, nullable=False),
        sa.Column("n", ID, nullable=False),
        sa.Column("c", ID, nullable=False),
        sa.Column("seed", ID, nullable=False),
        sa.Column("plan", TEXT, nullable=False),
        *entry(),
        sa.CheckConstraint("c >= 0 AND c < n", name=op.f("ck_sample_some_may_be_bad")),
        sa.CheckConstraint("n > 0 AND n < 1e15", name=op.f("ck_sample_n_above_zero")),
        sa.CheckConstraint("number > 0", name=op.f("ck_sample_number_counts")),
        sa.CheckConstraint(
            "seed BETWEEN 0 AND 9007199254740991", name=op.f("ck_sample_seed_in_reach")
        ),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_sample_batch_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sample")),
        sa.UniqueConstraint("batch_id", "number", name=op.f("uq_sample_batch_id_number")),
    )
    op.create_table(
        "sample_bell",
        sa.Column("sample_id", ID, nullable=False),
        sa.Column("bell_id", ID, nullable=False),
        sa.Column("place", ID, nullable=False),
        sa.Column("drawn", ID, nullable=False),
        sa.CheckConstraint("drawn IN (0, 1)", name=op.f("ck_sample_bell_drawn_or_not")),
        sa.CheckConstraint("place > 0", name=op.f("ck_sample_bell_place_counts")),
        sa.ForeignKeyConstraint(["bell_id"], ["bell.id"], name=op.f("fk_sample_bell_bell_id")),
        sa.ForeignKeyConstraint(
            ["sample_id"], ["sample.id"], name=op.f("fk_sample_bell_sample_id")
        ),
        sa.PrimaryKeyConstraint("sample_id", "bell_id", name=op.f("pk_sample_bell")),
        sa.UniqueConstraint("sample_id", "place", name=op.f("uq_sample_bell_sample_id_place")),
        sqlite_with_rowid=False,
    )
    op.create_index(op.f("ix_sample_bell_bell_id"), "sample_bell", ["bell_id"])
    op.create_table(
        "sample_verdict",
        sa.Column("id", ID, nullable=False),
        sa.Column("sample_id", ID, nullable=False),
        sa.Column("verdict", TEXT, nullable=False),
        sa.Column("found", ID, nullable=False),
        *entry(),
        sa.CheckConstraint(
            "verdict IN ('accept', 'reject')", name=op.f("ck_sample_verdict_verdict_known")
        ),
        sa.CheckConstraint("found >= 0", name=op.f("ck_sample_verdict_found_counts")),
        sa.ForeignKeyConstraint(
            ["sample_id"], ["sample.id"], name=op.f("fk_sample_verdict_sample_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sample_verdict")),
        sa.UniqueConstraint("sample_id", name=op.f("uq_sample_verdict_sample_id")),
    )
    for table in APPEND_ONLY:
        guards.append_only(table)
