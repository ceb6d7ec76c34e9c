"""Many rows at once, near the speed of the bare driver, alike on both databases."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping, Sequence
from typing import Any, cast

from sqlalchemy import (
    Column,
    ColumnElement,
    Connection,
    Double,
    Integer,
    String,
    Table,
    bindparam,
    func,
    select,
)
from sqlalchemy.dialects.postgresql import ARRAY
from sqlalchemy.exc import IntegrityError

from kitwright.books.tables.columns import Id, Text


def insert(connection: Connection, table: Table, columns: Mapping[str, Sequence[Any]]) -> None:
    """Insert rows given as columns of equal length; times as text, days as `date`.

    SQLite runs one prepared statement over the rows, PostgreSQL one statement over arrays.
    """
    quote = connection.dialect.identifier_preparer.quote
    into = f"INSERT INTO {quote(table.name)} ({', '.join(quote(name) for name in columns)})"
    if connection.dialect.name == "sqlite":
        _insert_sqlite(connection, f"{into} VALUES ({', '.join('?' * len(columns))})", columns)
        return
    arrays = ", ".join(f"%s::{_kind(table.c[name])}[]" for name in columns)
    connection.exec_driver_sql(
        f"{into} SELECT * FROM unnest({arrays})", tuple(list(each) for each in columns.values())
    )


def _insert_sqlite(
    connection: Connection, statement: str, columns: Mapping[str, Sequence[Any]]
) -> None:
    # The driver itself, since it takes rows as they come: a list of them, which SQLAlchemy would
    # want, costs as much again in collecting garbage.
    cursor = cast("sqlite3.Connection", connection.connection.driver_connection).cursor()
    try:
        cursor.executemany(statement, zip(*columns.values(), strict=True))
    except sqlite3.IntegrityError as error:
        raise IntegrityError(statement, None, error) from error
    finally:
        cursor.close()


def _kind(column: Column[Any]) -> str:
    if isinstance(column.type, Integer):
        return "bigint"
    return "float8" if isinstance(column.type, Double) else "text"


def reserve(connection: Connection, table: Table, count: int) -> list[int]:
    """Row numbers that nobody else gets, for rows that others must name at once."""
    if connection.dialect.name == "sqlite":
        # The write lock is held from the transaction's first statement: see opening.py.
        last = connection.execute(select(func.coalesce(func.max(table.c.id), 0))).scalar_one()
        return list(range(last + 1, last + 1 + count))
    numbers = connection.exec_driver_sql(
        "SELECT nextval(pg_get_serial_sequence(%s, 'id')) FROM generate_series(1, %s)",
        (f'"{table.name}"', count),
    )
    return list(numbers.scalars())


def among(
    connection: Connection, column: ColumnElement[Any], values: Sequence[Any]
) -> ColumnElement[bool]:
    """`column IN values` with the whole list as one parameter, however long it is."""
    if connection.dialect.name == "sqlite":
        each = func.json_each(json.dumps(list(values))).table_valued("value")
        return column.in_(select(each.c.value))
    kind = Text if isinstance(column.type, String) else Id
    return column == func.any(bindparam(None, list(values), type_=ARRAY(kind)))
