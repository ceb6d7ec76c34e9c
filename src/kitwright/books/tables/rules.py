"""Rules on certified shells, as the shop copied them from the sanctioning bodies' books.

A rule is a body and a class or use; what it demands stands in its lines, the newest counts.
"""

from __future__ import annotations

from typing import Final

from sqlalchemy import CheckConstraint, Column, Date, Table, UniqueConstraint

from kitwright.books.tables.columns import (
    above_zero,
    entry,
    key,
    metadata,
    one_of,
    real,
    text,
    to,
    whole,
)

DEMANDS: Final = ("certified shell", "no certified shell")
STATES: Final = ("stands", "withdrawn")

rule = Table(
    "rule",
    metadata,
    key(),
    text("body"),
    text("use"),
    UniqueConstraint("body", "use"),
)

rule_line = Table(
    "rule_line",
    metadata,
    key(),
    to("rule"),
    whole("number"),
    text("state"),
    text("demands"),
    text("spec", optional=True),
    text("from_what", optional=True),
    real("from_power_kw", optional=True),
    real("from_speed_rpm", optional=True),
    text("source"),
    Column("copied_on", Date, nullable=False),
    *entry(),
    text("why", optional=True),
    UniqueConstraint("rule_id", "number"),
    CheckConstraint("number > 0", name="number_counts"),
    CheckConstraint("number = 1 OR why IS NOT NULL", name="change_has_reason"),
    one_of("state", STATES),
    one_of("demands", DEMANDS),
    *above_zero("from_power_kw", "from_speed_rpm"),
)
