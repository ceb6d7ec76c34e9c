"""Where bells stand now: state and place, derived from the newest lines of the ledgers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import datetime
from typing import Any, Final

from sqlalchemy import ColumnElement, Connection, func, select

from kitwright.books import moves, rows
from kitwright.books.bulk import among
from kitwright.books.entries import said
from kitwright.books.places import Place
from kitwright.books.tables import bell_now
from kitwright.errors import MissingError, Problem


@dataclass(frozen=True, slots=True)
class Standing:
    """One bell now.

    `decisions` and `movements` are how many there have been; `kind`, `order_id`, `recorded` and
    `who` are the newest decision's, None where there is none yet.
    """

    bell_id: int
    serial: str
    batch_id: int
    crate_id: int
    revision_id: int
    design_id: int
    state: str
    decisions: int
    kind: str | None
    order_id: int | None
    recorded: datetime | None
    who: str | None
    movements: int
    place_name: str
    party_id: int | None

    @property
    def place(self) -> Place:
        """Where it is."""
        return Place(self.place_name, self.party_id)

    @property
    def last(self) -> str:
        """The newest decision in a few words; empty where there is none."""
        if self.recorded is None:
            return ""
        return f"{self.kind} by {self.who}, {said(self.recorded)}"

    @property
    def named(self) -> str:
        """How a line to a person names it."""
        return f"bell {self.serial}"

    @property
    def allowed(self) -> tuple[str, ...]:
        """The decisions that may follow."""
        return moves.BELL.allowed(self.state)


_COLUMNS: Final = tuple(
    bell_now.c["place" if field.name == "place_name" else field.name] for field in fields(Standing)
)


def of(connection: Connection, serials: Sequence[str]) -> list[Standing]:
    """Where each of these bells stands, in the order asked.

    Raises
    ------
    MissingError
        Serials that are of no bell, a line each.
    """
    query = select(*_COLUMNS).where(
        among(connection, bell_now.c.serial, [rows.text_of(each) for each in serials])
    )
    found = {row.serial: row for row in connection.execute(query).all()}
    if missing := [serial for serial in serials if serial not in found]:
        raise MissingError.of(
            Problem(f"bell {serial}", "there is no bell of this serial") for serial in missing
        )
    return [Standing(*found[serial]) for serial in serials]


def one(connection: Connection, serial: str) -> Standing:
    """Where this bell stands."""
    return of(connection, [serial])[0]


def where(connection: Connection, *conditions: ColumnElement[bool]) -> list[Standing]:
    """Every bell of which these conditions on `tables.bell_now` hold, by serial."""
    query = select(*_COLUMNS).where(*conditions).order_by(bell_now.c.serial)
    return [Standing(*row) for row in connection.execute(query).all()]


def counts(connection: Connection, *conditions: ColumnElement[bool]) -> Mapping[Any, int]:
    """How many bells there are of each (design, state, place)."""
    keys = bell_now.c.design_id, bell_now.c.state, bell_now.c.place
    query = select(*keys, func.count()).where(*conditions).group_by(*keys)
    return {
        (design, state, place): n for design, state, place, n in connection.execute(query).all()
    }
