"""Conversions, the designs of their bells, revisions of designs, and what is measured."""

from __future__ import annotations

from typing import Final

from sqlalchemy import CheckConstraint, Column, Date, Table, UniqueConstraint

from kitwright.books import moves
from kitwright.books.tables.columns import (
    above_zero,
    key,
    metadata,
    money,
    one_of,
    real,
    steps_of,
    text,
    to,
    whole,
    within_reach,
)

FACES: Final = ("block", "gearbox")
BLOCKS: Final = ("new", "line-honed")
MATERIALS: Final = ("cast aluminium", "certified steel")
KINDS: Final = ("length", "position")

conversion = Table(
    "conversion",
    metadata,
    key(),
    text("name", unique=True),
    to("engine"),
    to("gearbox"),
    real("depth_mm"),
    real("gap_low_mm"),
    real("gap_high_mm"),
    real("pilot_mm"),
    real("tir_mm"),
    *above_zero("depth_mm", "pilot_mm", "tir_mm"),
    *within_reach("depth_mm", "gap_low_mm", "gap_high_mm", "pilot_mm", "tir_mm"),
    CheckConstraint("gap_low_mm < gap_high_mm", name="gap_ordered"),
)

conversion_car = Table(
    "conversion_car",
    metadata,
    key(),
    to("conversion"),
    to("car"),
    UniqueConstraint("conversion_id", "car_id"),
)

hole = Table(
    "hole",
    metadata,
    key(),
    to("conversion"),
    text("face"),
    text("name"),
    real("x_mm"),
    real("y_mm"),
    real("diameter_mm", optional=True),
    UniqueConstraint("conversion_id", "face", "name"),
    one_of("face", FACES),
    *within_reach("x_mm", "y_mm"),
    *above_zero("diameter_mm"),
)

block_population = Table(
    "block_population",
    metadata,
    key(),
    to("conversion"),
    text("block"),
    real("zone_mm"),
    real("shift_x_mm"),
    real("shift_y_mm"),
    text("source"),
    UniqueConstraint("conversion_id", "block"),
    one_of("block", BLOCKS),
    *above_zero("zone_mm"),
    *within_reach("shift_x_mm", "shift_y_mm"),
)

design = Table(
    "design",
    metadata,
    key(),
    text("name", unique=True),
    to("conversion", index=True),
    text("material"),
    *money("price"),
    real("mass_kg"),
    text("opening"),
    text("certificate", optional=True),
    Column("certificate_expires", Date, nullable=True),
    one_of("material", MATERIALS),
    *above_zero("mass_kg"),
    CheckConstraint("price_minor >= 0", name="price_counts"),
    CheckConstraint(
        "(certificate IS NULL) = (certificate_expires IS NULL)"
        " AND (material <> 'certified steel' OR certificate IS NOT NULL)",
        name="steel_is_certified",
    ),
)

revision = Table(
    "revision",
    metadata,
    key(),
    to("design"),
    text("label"),
    UniqueConstraint("design_id", "label"),
)

revision_step = steps_of("revision", moves.REVISION.states)

characteristic = Table(
    "characteristic",
    metadata,
    key(),
    to("revision"),
    whole("position"),
    text("name"),
    text("kind"),
    text("unit"),
    text("frame"),
    real("low_mm", optional=True),
    real("high_mm", optional=True),
    real("zone_mm", optional=True),
    real("x_mm", optional=True),
    real("y_mm", optional=True),
    UniqueConstraint("revision_id", "name"),
    UniqueConstraint("revision_id", "position"),
    one_of("kind", KINDS),
    *within_reach("low_mm", "high_mm", "zone_mm", "x_mm", "y_mm"),
    *above_zero("zone_mm"),
    CheckConstraint(
        "(kind = 'length' AND zone_mm IS NULL AND x_mm IS NULL AND y_mm IS NULL"
        " AND (low_mm IS NOT NULL OR high_mm IS NOT NULL)"
        " AND (low_mm IS NULL OR high_mm IS NULL OR low_mm < high_mm))"
        " OR (kind = 'position' AND zone_mm IS NOT NULL AND x_mm IS NOT NULL"
        " AND y_mm IS NOT NULL AND low_mm IS NULL AND high_mm IS NULL)",
        name="limits_fit_kind",
    ),
)
