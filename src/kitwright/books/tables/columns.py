"""The types of the books' columns, alike on SQLite and PostgreSQL, and how constraints are named.

Times are kept as ISO 8601 text in UTC with microseconds, days as dates, money as whole minor
units beside its ISO 4217 code, lengths as mm. Text sorts by code point on both databases.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime
from typing import Any, Final

from sqlalchemy import (
    BigInteger,
    CheckConstraint,
    Column,
    Dialect,
    Double,
    ForeignKey,
    Integer,
    MetaData,
    String,
    Table,
    UniqueConstraint,
)
from sqlalchemy.types import TypeDecorator

NAMES: Final = {
    "pk": "pk_%(table_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
}
"""How every constraint is named, so that a later migration can speak of it."""

metadata: Final = MetaData(naming_convention=NAMES)

Id: Final = BigInteger().with_variant(Integer(), "sqlite")
"""A row's number; SQLite counts rows by itself only under the name INTEGER."""

Text: Final = String().with_variant(String(collation="C"), "postgresql")
"""Text in code point order, as SQLite has it."""

LONGEST_MM: Final = 100_000
"""No length of a bell, a crate or a car is longer; also what keeps NaN and infinity out."""


class Moment(TypeDecorator[datetime]):
    """A time with its zone; kept in UTC as text of fixed width, so that it sorts."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> str | None:
        return None if value is None else moment_text(value)

    def process_result_value(self, value: str | None, dialect: Dialect) -> datetime | None:
        return None if value is None else datetime.fromisoformat(value)


def moment_text(value: datetime) -> str:
    """How a time is kept: 2026-03-01T09:30:00.000000Z."""
    return value.astimezone(UTC).replace(tzinfo=None).isoformat(timespec="microseconds") + "Z"


def key() -> Column[int]:
    """The row's own number."""
    return Column("id", Id, primary_key=True)


def to(table: str, *, name: str = "", optional: bool = False, index: bool = False) -> Column[Any]:
    """A column that names a row of `table`: `party_id`, or `name`."""
    return Column(
        name or f"{table}_id", Id, ForeignKey(f"{table}.id"), nullable=optional, index=index
    )


def text(name: str, *, optional: bool = False, unique: bool = False) -> Column[Any]:
    """A column of text."""
    return Column(name, Text, nullable=optional, unique=unique)


def real(name: str, *, optional: bool = False) -> Column[Any]:
    """A column of numbers."""
    return Column(name, Double, nullable=optional)


def whole(name: str, *, optional: bool = False) -> Column[Any]:
    """A column of whole numbers."""
    return Column(name, Id, nullable=optional)


def entry() -> tuple[Column[Any], Column[Any], Column[Any]]:
    """When it happened, when it was written down, and who wrote it."""
    return (
        Column("happened", Moment, nullable=False),
        Column("recorded", Moment, nullable=False),
        Column("who", Text, nullable=False),
    )


def money(name: str, *, optional: bool = False) -> tuple[Column[Any], Column[Any]]:
    """An amount in minor units and its currency."""
    return whole(f"{name}_minor", optional=optional), text(f"{name}_currency", optional=optional)


def one_of(column: str, words: Iterable[str]) -> CheckConstraint:
    """The column holds one of these words."""
    listed = ", ".join(f"'{word}'" for word in words)
    return CheckConstraint(f"{column} IN ({listed})", name=f"{column}_known")


def within_reach(*columns: str) -> tuple[CheckConstraint, ...]:
    """Lengths are finite and not absurd; NaN and infinity fail this on both databases."""
    return tuple(
        CheckConstraint(
            f"{column} BETWEEN -{LONGEST_MM} AND {LONGEST_MM}", name=f"{column}_in_reach"
        )
        for column in columns
    )


def above_zero(*columns: str) -> tuple[CheckConstraint, ...]:
    """Lengths and counts that are more than nothing."""
    return tuple(
        CheckConstraint(f"{column} > 0 AND {column} < 1e15", name=f"{column}_above_zero")
        for column in columns
    )


def steps_of(owner: str, states: Iterable[str], *more: Any) -> Table:
    """The append-only steps of one kind of thing; the newest says its state."""
    return Table(
        f"{owner}_step",
        metadata,
        key(),
        to(owner),
        whole("number"),
        text("state"),
        *entry(),
        text("why", optional=True),
        *more,
        UniqueConstraint(f"{owner}_id", "number"),
        CheckConstraint("number > 0", name="number_counts"),
        one_of("state", states),
    )
