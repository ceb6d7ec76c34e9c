"""How surely a promise must hold, what each one rests on, and variants that are a bell alone."""

from __future__ import annotations

from sqlalchemy import JSON, CheckConstraint, Column, Date, Table, UniqueConstraint

from kitwright.books.tables.columns import entry, key, metadata, real, text, to, whole

supply_rule = Table(
    "supply_rule",
    metadata,
    key(),
    real("chance"),
    real("service"),
    *entry(),
    CheckConstraint("chance > 0 AND chance < 1", name="chance_is_one"),
    CheckConstraint("service > 0 AND service < 1", name="service_is_one"),
)

promise_basis = Table(
    "promise_basis",
    metadata,
    key(),
    to("order"),
    whole("number"),
    Column("day", Date, nullable=False),
    real("wanted"),
    real("chance"),
    Column("case_json", JSON(none_as_null=True), nullable=False),
    Column("rests_on_json", JSON(none_as_null=True), nullable=False),
    text("version"),
    *entry(),
    UniqueConstraint("order_id", "number"),
    CheckConstraint("number > 0", name="number_counts"),
    CheckConstraint("wanted > 0 AND wanted < 1", name="wanted_is_one"),
    CheckConstraint("chance >= 0 AND chance <= 1", name="chance_is_one"),
)

loose_variant = Table(
    "loose_variant",
    metadata,
    key(),
    to("variant"),
    *entry(),
    UniqueConstraint("variant_id"),
)
