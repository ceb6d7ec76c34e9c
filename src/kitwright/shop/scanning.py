"""What someone typed or scanned: a bell, a crate or a part, by its serial, label or address."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final
from urllib.parse import quote, unquote

from sqlalchemy import Connection, func, or_, select

from kitwright.books import rows
from kitwright.books.opening import Books
from kitwright.books.tables import bell, crate, part
from kitwright.errors import InputError, MissingError

_ADDRESS: Final = re.compile(r"(?:^|/)(bells|crates|parts)/([^/?#]+)")
_LONGEST: Final = 500


@dataclass(frozen=True, kw_only=True)
class Named:
    """One thing of the shop: `kind` is "bell", "crate" or "part"."""

    kind: str
    id: int
    name: str
    """A bell's serial, a crate's or a part's label."""

    @property
    def page(self) -> str:
        """The address of its page, which is also what a scan may hold."""
        if self.kind == "bell":
            return f"/bells/{quote(self.name, safe='')}"
        return f"/stock/{self.kind}s/{self.id}"

    def __str__(self) -> str:
        return f"{self.kind} {self.name}"


def named_by(books: Books, words: str) -> list[Named]:
    """Everything that bears these words; more than one where a bell and a crate share a name.

    A label's code holds the bare serial or the address of a page; both are read. Small letters
    pass for capitals where nothing is written in small ones.

    Raises
    ------
    InputError
        Nothing was typed, or far too much.
    MissingError
        Nothing bears it.
    """
    wanted = words.strip()
    if not wanted:
        raise InputError("what", "missing", "type or scan a serial, a crate's label or a part's")
    if len(wanted) > _LONGEST:
        raise InputError("what", f"{len(wanted)} characters", "scan one label at a time")
    with books.reading() as connection:
        found = find(connection, wanted)
    if not found:
        told = wanted if len(wanted) <= 60 else f"{wanted[:60]}…"
        raise MissingError(
            "what", f'there is no bell, crate or part "{told}"', "read it off the label again"
        )
    return found


def find(connection: Connection, wanted: str) -> list[Named]:
    """As `named_by`, in a transaction; empty where nothing bears it."""
    address = _ADDRESS.search(wanted)
    if address is not None:
        kind, key = address[1].removesuffix("s"), unquote(address[2])
        if kind != "bell" and key.isdecimal() and len(key) < 19:
            table = crate if kind == "crate" else part
            query = select(table.c.id, table.c.label).where(table.c.id == int(key))
            for row in connection.execute(query):
                return [Named(kind=kind, id=row.id, name=row.label)]
        return _of_kind(connection, kind, key)
    return [
        each for kind in ("bell", "crate", "part") for each in _of_kind(connection, kind, wanted)
    ]


def _of_kind(connection: Connection, kind: str, words: str) -> list[Named]:
    wanted = rows.text_of(words)
    table, columns = {
        "bell": (bell, (bell.c.serial,)),
        "crate": (crate, (crate.c.label,)),
        "part": (part, (part.c.label, part.c.name)),
    }[kind]
    name = columns[0]
    for same in (
        or_(*(column == wanted for column in columns)),
        or_(*(func.upper(column) == wanted.upper() for column in columns)),
    ):
        query = select(table.c.id, name.label("name")).where(same).order_by(name).limit(9)
        found = connection.execute(query).all()
        if found:
            return [Named(kind=kind, id=row.id, name=row.name) for row in found]
    return []
