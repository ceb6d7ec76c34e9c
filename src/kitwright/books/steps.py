"""The steps that revisions, batches, orders and fit-ups take: append-only, the newest counts."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from sqlalchemy import Connection, Subquery, Table, func, insert, select
from sqlalchemy.exc import IntegrityError

from kitwright.books import moves, rows, tables
from kitwright.books.entries import Entry, said, sentence
from kitwright.books.moves import Moves
from kitwright.errors import MissingError, MoveError


@dataclass(frozen=True)
class Course:
    """The table that keeps the steps of one kind of thing, and the moves it may make."""

    table: Table
    moves: Moves

    @property
    def what(self) -> str:
        return self.moves.what

    @property
    def owner(self) -> str:
        """The column that says whose step it is."""
        return f"{self.table.name.removesuffix('_step')}_id"


REVISION: Final = Course(tables.revision_step, moves.REVISION)
BATCH: Final = Course(tables.batch_step, moves.BATCH)
ORDER: Final = Course(tables.order_step, moves.ORDER)
FIT_UP: Final = Course(tables.fit_up_step, moves.FIT_UP)
COURSES: Final = (REVISION, BATCH, ORDER, FIT_UP)


@dataclass(frozen=True, kw_only=True)
class Step:
    """One step: the state it led to, who took it, when."""

    number: int
    state: str
    happened: datetime
    recorded: datetime
    who: str
    why: str | None

    @property
    def by(self) -> str:
        """Who took it and when, in a few words."""
        return f"by {self.who}, {said(self.recorded)}"


def begin(connection: Connection, course: Course, owner_id: int, entry: Entry, **more: Any) -> None:
    """Write the first step, into the state that the thing is born in."""
    _write(connection, course, owner_id, 1, course.moves.born, entry, **more)


def take(
    connection: Connection,
    course: Course,
    owner_id: int,
    to: str,
    entry: Entry,
    *,
    named: str = "",
    why: str | None = None,
    **more: Any,
) -> Step:
    """Take a step; give the one before it. `named` is how a refusal calls the thing.

    Raises
    ------
    MissingError
        There is no such thing.
    MoveError
        The step is not allowed from where it stands, or somebody else took one first.
    """
    last = newest(connection, course, owner_id)
    named = named or f"{course.what} {owner_id}"
    course.moves.after(last.state, to, where=named, last=last.by)
    try:
        with connection.begin_nested():
            _write(connection, course, owner_id, last.number + 1, to, entry, why=why, **more)
    except IntegrityError as error:
        first = newest(connection, course, owner_id)
        if first.number == last.number:
            raise
        raise MoveError(
            named,
            f"it is {first.state} now ({first.by}, who was first)",
            "look again before you go on",
        ) from error
    return last


def newest(connection: Connection, course: Course, owner_id: int) -> Step:
    """The newest step, which says the state.

    Raises
    ------
    MissingError
        There is no such thing.
    """
    history = steps(connection, course, owner_id)
    if not history:
        raise MissingError(course.what, f"there is no {course.what} number {owner_id}")
    return history[-1]


def steps(connection: Connection, course: Course, owner_id: int) -> list[Step]:
    """Every step taken, in order."""
    table = course.table
    query = (
        select(*(table.c[name] for name in Step.__dataclass_fields__))
        .where(table.c[course.owner] == rows.key_of(owner_id))
        .order_by(table.c.number)
    )
    return [Step(**row) for row in connection.execute(query).mappings()]


def now(course: Course) -> Subquery:
    """The newest step of each thing, to join with: every column of the step's table."""
    table, later = course.table, course.table.alias()
    newest_number = (
        select(func.max(later.c.number))
        .where(later.c[course.owner] == table.c[course.owner])
        .scalar_subquery()
    )
    return select(table).where(table.c.number == newest_number).subquery()


def _write(
    connection: Connection,
    course: Course,
    owner_id: int,
    number: int,
    state: str,
    entry: Entry,
    *,
    why: str | None = None,
    **more: Any,
) -> None:
    line = {
        course.owner: owner_id,
        "number": number,
        "state": state,
        "why": sentence(why, where="why"),
        **entry.line,
        **more,
    }
    connection.execute(insert(course.table).values(**line))
