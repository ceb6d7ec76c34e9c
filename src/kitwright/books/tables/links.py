"""Links by which outsiders come in, and what is said between the shop and a fitter."""

from __future__ import annotations

from typing import Final

from sqlalchemy import JSON, CheckConstraint, Column, Table, UniqueConstraint

from kitwright.books.tables.columns import Moment, entry, key, metadata, one_of, text, to

OPENS: Final = ("fit-up", "machinist")
SIDES: Final = ("shop", "fitter")

link_address = Table("link_address", metadata, key(), text("address"), *entry())

link = Table(
    "link",
    metadata,
    key(),
    text("token", unique=True),
    text("opens"),
    to("fit_up", optional=True, index=True),
    to("party", name="machinist_id", optional=True, index=True),
    Column("expires", Moment, nullable=False),
    *entry(),
    one_of("opens", OPENS),
    CheckConstraint(
        "(opens = 'fit-up') = (fit_up_id IS NOT NULL)"
        " AND (opens = 'machinist') = (machinist_id IS NOT NULL)",
        name="opens_one_thing",
    ),
)

link_withdrawal = Table(
    "link_withdrawal",
    metadata,
    key(),
    to("link"),
    *entry(),
    text("why"),
    UniqueConstraint("link_id"),
)

fit_up_note = Table(
    "fit_up_note",
    metadata,
    key(),
    to("fit_up", index=True),
    text("side"),
    text("said"),
    text("send_key", unique=True),
    *entry(),
    one_of("side", SIDES),
)

fit_up_record = Table(
    "fit_up_record",
    metadata,
    key(),
    to("fit_up", index=True),
    text("stage"),
    Column("said_json", JSON(none_as_null=True), nullable=False),
    text("worksheet", optional=True),
    Column("answer_json", JSON(none_as_null=True), nullable=True),
    text("version"),
    text("send_key", unique=True),
    to("fit_up_record", name="undoes_id", optional=True),
    *entry(),
    CheckConstraint(
        "(worksheet IS NULL) = (answer_json IS NULL)",
        name="worksheet_whole",
    ),
    UniqueConstraint("undoes_id"),
)
