"""The machine's axes, as a machinist declared them for the bells of a design."""

from __future__ import annotations

from sqlalchemy import JSON, Column, Table

from kitwright.books.tables.columns import entry, key, metadata, text, to

machine_axes = Table(
    "machine_axes",
    metadata,
    key(),
    to("party", name="machinist_id", index=True),
    to("design"),
    text("right"),
    text("up"),
    Column("lengths_json", JSON(none_as_null=True), nullable=False),
    *entry(),
)
