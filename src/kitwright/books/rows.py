"""Rows of the books as frozen dataclasses whose fields are named like the columns."""

from __future__ import annotations

from typing import Any, TypeVar

from sqlalchemy import Connection, Select, Table, insert, select
from sqlalchemy.exc import IntegrityError

from kitwright.errors import InputError, MissingError

Row = TypeVar("Row")

_LAST_ID = 2**63 - 1


def read(connection: Connection, query: Select[Any], kind: type[Row]) -> list[Row]:
    """Every row of the query as a `kind`."""
    return [kind(**row) for row in connection.execute(query).mappings()]


def find(connection: Connection, table: Table, row_id: int, kind: type[Row]) -> Row:
    """The row of this number as a `kind`.

    Raises
    ------
    MissingError
        There is none.
    """
    query = select(table).where(table.c.id == key_of(row_id))
    found = connection.execute(query).mappings().one_or_none()
    if found is None:
        what = table.name.replace("_", "-")
        raise MissingError(what, f"there is no {what} number {row_id}")
    return kind(**found)


def key_of(row_id: int) -> int:
    """The number, or 0, which no row has, where the database could not even hold it."""
    whole = isinstance(row_id, int) and not isinstance(row_id, bool)
    return row_id if whole and 0 < row_id <= _LAST_ID else 0


def text_of(value: str) -> str:
    """The text, or an empty one, which no row has, where the database could not even hold it."""
    try:
        value.encode()
    except UnicodeEncodeError:
        return ""
    return "" if "\0" in value else value


def add(connection: Connection, table: Table, *, named: str = "", **values: Any) -> int:
    """Insert one row and give its number.

    Raises
    ------
    InputError
        Its name is taken (`named` says which column that is), or a row it names is not there.
    """
    try:
        with connection.begin_nested():
            made = insert(table).values(**values).returning(table.c.id)
            return int(connection.execute(made).scalar_one())
    except IntegrityError as error:
        problem = _told(error, table, named, values)
        if problem is None:
            raise
        raise problem from error


def _told(
    error: IntegrityError, table: Table, named: str, values: dict[str, Any]
) -> InputError | None:
    text = str(error.orig).lower()
    what = table.name.replace("_", "-")
    if "unique" in text and named:
        return InputError(named, f'"{values[named]}" is taken', f"name the {what} otherwise")
    if "foreign key" in text:
        return MissingError(what, "names something that is not in the books", "add that first")
    return None
