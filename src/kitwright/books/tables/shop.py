"""The shop, those it deals with, and what its kits join."""

from __future__ import annotations

from typing import Final

from sqlalchemy import CheckConstraint, Table, UniqueConstraint

from kitwright.books.tables.columns import key, metadata, one_of, text

LEADS: Final = ("mm", "in")
GUARDS: Final = ("guard by U", "guard by 1.645 u")
UNDECIDED: Final = ("hold", "reject")
ROLES: Final = ("supplier", "machinist", "customer")

shop = Table(
    "shop",
    metadata,
    key(),
    text("name"),
    text("lead"),
    text("currency"),
    text("guard"),
    text("undecided"),
    CheckConstraint("id = 1", name="only_one"),
    one_of("lead", LEADS),
    one_of("guard", GUARDS),
    one_of("undecided", UNDECIDED),
)

party = Table(
    "party",
    metadata,
    key(),
    text("name"),
    text("role"),
    UniqueConstraint("role", "name"),
    one_of("role", ROLES),
)

engine = Table("engine", metadata, key(), text("name", unique=True))
gearbox = Table("gearbox", metadata, key(), text("name", unique=True))
car = Table("car", metadata, key(), text("name", unique=True))
