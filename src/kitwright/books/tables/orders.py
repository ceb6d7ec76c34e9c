"""Kits and their variants, orders, and fit-ups."""

from __future__ import annotations

from sqlalchemy import JSON, CheckConstraint, Column, Date, Table, UniqueConstraint

from kitwright.books import moves
from kitwright.books.tables.columns import (
    above_zero,
    key,
    metadata,
    money,
    one_of,
    steps_of,
    text,
    to,
    whole,
)
from kitwright.books.tables.designs import BLOCKS

kit = Table("kit", metadata, key(), text("name", unique=True), to("conversion"))

variant = Table(
    "variant",
    metadata,
    key(),
    to("kit"),
    text("name"),
    to("design", index=True),
    *money("price"),
    UniqueConstraint("kit_id", "name"),
    CheckConstraint("price_minor >= 0", name="price_counts"),
)

kit_part = Table(
    "kit_part",
    metadata,
    key(),
    to("kit", index=True),
    to("variant", optional=True),
    text("name"),
    whole("count"),
    *money("cost"),
    *above_zero("count"),
    CheckConstraint("cost_minor >= 0", name="cost_counts"),
)

variant_option = Table(
    "variant_option",
    metadata,
    key(),
    to("variant"),
    text("name"),
    *money("price"),
    UniqueConstraint("variant_id", "name"),
    CheckConstraint("price_minor >= 0", name="price_counts"),
)

order = Table(
    "order",
    metadata,
    key(),
    text("label", unique=True),
    to("party", name="customer_id", index=True),
    to("variant", index=True),
    to("car", optional=True),
    *money("price"),
    CheckConstraint("price_minor >= 0", name="price_counts"),
)

order_option = Table(
    "order_option",
    metadata,
    key(),
    to("order"),
    to("variant_option"),
    UniqueConstraint("order_id", "variant_option_id"),
)

order_step = steps_of("order", moves.ORDER.states, Column("promised_for", Date, nullable=True))

fit_up = Table(
    "fit_up",
    metadata,
    key(),
    to("bell", index=True),
    to("order", optional=True),
    to("car", optional=True),
    text("fitter"),
    text("block"),
    one_of("block", BLOCKS),
)

fit_up_step = steps_of(
    "fit_up",
    moves.FIT_UP.states,
    text("worksheet", optional=True),
    Column("case_json", JSON(none_as_null=True), nullable=True),
    Column("answer_json", JSON(none_as_null=True), nullable=True),
    text("version"),
    text("send_key", optional=True, unique=True),
    CheckConstraint(
        "(worksheet IS NULL) = (case_json IS NULL)"
        " AND (answer_json IS NULL OR worksheet IS NOT NULL)",
        name="worksheet_whole",
    ),
)
