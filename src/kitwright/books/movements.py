"""The ledger of movements: castings by count, bells one by one. A line stands once it is written.

What is at a place is what came minus what went; nothing goes that is not there.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from sqlalchemy import Connection, func, insert, select
from sqlalchemy.exc import IntegrityError

from kitwright.books import bulk, moves, rows, standing
from kitwright.books.entries import Entry, each_once, sentence, whole
from kitwright.books.places import Place
from kitwright.books.standing import Standing
from kitwright.books.tables import crate, movement
from kitwright.books.tables.columns import moment_text
from kitwright.errors import MissingError, MoveError, Problem


def move_bells(
    connection: Connection,
    serials: Sequence[str],
    to: Place,
    entry: Entry,
    *,
    why: str | None = None,
) -> None:
    """Carry bells to a place where their state lets them be.

    Shipping, taking back and scrapping are decisions, which carry the bell along by themselves.

    Raises
    ------
    MissingError, MoveError
        A serial is of no bell; a bell is there already, there is no such way, or its state does
        not belong there. Every bell that cannot go has a line; none goes.
    """
    each_once(serials, where="bell")
    bells = standing.of(connection, serials)
    if problems := [problem for bell in bells for problem in _hindered(bell, to)]:
        raise MoveError.of(problems)
    write_bell_movements(connection, bells, [to] * len(bells), entry, why=why)


def _hindered(bell: Standing, to: Place) -> Iterator[Problem]:
    if (bell.place_name, to.name) not in moves.ROUTES["bell"]:
        yield Problem(bell.named, f"it is at {bell.place}", f"there is no way from there to {to}")
    elif to.name not in moves.PLACES[bell.state]:
        allowed = ", ".join(bell.allowed)
        yield Problem(
            bell.named,
            f"it is {bell.state} and cannot go to {to}",
            f"decide first: {allowed}" if allowed else "it stays where it is",
        )


def write_bell_movements(
    connection: Connection,
    bells: Sequence[Standing],
    places: Sequence[Place],
    entry: Entry,
    *,
    why: str | None = None,
) -> None:
    """Write a movement for each bell, from where it is to its place. The caller has checked it."""
    lines = sorted(zip(bells, places, strict=True), key=lambda line: line[0].bell_id)
    with _first_come(connection, [bell for bell, _ in lines]):
        bulk.insert(
            connection,
            movement,
            {
                "bell_id": [bell.bell_id for bell, _ in lines],
                "number": [bell.movements + 1 for bell, _ in lines],
                "count": [1] * len(lines),
                "from_place": [bell.place_name for bell, _ in lines],
                "from_party_id": [bell.party_id for bell, _ in lines],
                "to_place": [place.name for _, place in lines],
                "to_party_id": [place.party_id for _, place in lines],
                **signed(entry, len(lines)),
                "why": [sentence(why, where="why")] * len(lines),
            },
        )


def write_births(
    connection: Connection, bell_ids: Sequence[int], place: Place, entry: Entry
) -> None:
    """Write each new bell's first movement, from birth to where it is made."""
    count = len(bell_ids)
    bulk.insert(
        connection,
        movement,
        {
            "bell_id": bell_ids,
            "number": [1] * count,
            "count": [1] * count,
            "from_place": ["birth"] * count,
            "to_place": [place.name] * count,
            "to_party_id": [place.party_id] * count,
            **signed(entry, count),
        },
    )


def signed(entry: Entry, count: int) -> dict[str, list[Any]]:
    """Who and when, as columns of `count` lines."""
    return {
        name: [value if name == "who" else moment_text(value)] * count
        for name, value in entry.line.items()
    }


@contextmanager
def _first_come(connection: Connection, bells: Sequence[Standing]) -> Iterator[None]:
    """Of two who move a bell at once the first wins: both write the same number."""
    try:
        with connection.begin_nested():
            yield
    except IntegrityError as error:
        now = standing.of(connection, [bell.serial for bell in bells])
        late = [new for old, new in zip(bells, now, strict=True) if old.movements != new.movements]
        if not late:
            raise
        raise MoveError.of(
            Problem(bell.named, f"somebody moved it first, it is at {bell.place}", "look again")
            for bell in late
        ) from error


# ── castings ─────────────────────────────────────────────────────────────────────────────

_ENDS: Final = (
    movement.c.from_place,
    movement.c.from_party_id,
    movement.c.to_place,
    movement.c.to_party_id,
)


def castings_at(connection: Connection, crate_id: int) -> dict[Place, int]:
    """How many of a crate's castings are where; places where none is are left out.

    Its supplier's count is below zero: what came from there.
    """
    query = (
        select(*_ENDS, func.sum(movement.c.count))
        .where(movement.c.crate_id == crate_id)
        .group_by(*_ENDS)
    )
    found: dict[Place, int] = {}
    for from_name, from_party, to_name, to_party, count in connection.execute(query).all():
        gone, come = Place(from_name, from_party), Place(to_name, to_party)
        found[gone] = found.get(gone, 0) - int(count)
        found[come] = found.get(come, 0) + int(count)
    return {place: count for place, count in found.items() if count}


@dataclass(frozen=True, kw_only=True)
class Movement:
    """One way that a bell went."""

    number: int
    from_place: str
    from_party_id: int | None
    to_place: str
    to_party_id: int | None
    happened: datetime
    recorded: datetime
    who: str
    why: str | None

    @property
    def source(self) -> Place:
        return Place(self.from_place, self.from_party_id)

    @property
    def to(self) -> Place:
        return Place(self.to_place, self.to_party_id)


@dataclass(frozen=True, kw_only=True)
class CastingMovement(Movement):
    """One way that castings of a crate went, and how many."""

    count: int


def movements_of_crate(connection: Connection, crate_id: int) -> list[CastingMovement]:
    """Every movement of a crate's castings, from its coming on."""
    columns = (movement.c[name] for name in CastingMovement.__dataclass_fields__)
    query = (
        select(*columns)
        .where(movement.c.crate_id == rows.key_of(crate_id))
        .order_by(movement.c.number)
    )
    return rows.read(connection, query, CastingMovement)


def move_castings(
    connection: Connection,
    crate_id: int,
    count: int,
    way: tuple[Place, Place],
    entry: Entry,
    *,
    why: str | None = None,
) -> None:
    """Move castings of a crate, `way` from where to where.

    Raises
    ------
    MissingError
        There is no such crate.
    MoveError
        There is no such way, or more would go than there are.
    """
    whole(count, where="count", least=1)
    # Whoever moves castings of this crate waits here for whoever does so now.
    mine = crate.c.id == rows.key_of(crate_id)
    lock = select(crate.c.label).where(mine).with_for_update(key_share=True)
    label = connection.execute(lock).scalar_one_or_none()
    if label is None:
        raise MissingError("crate", f"there is no crate number {crate_id}")
    source, to = way
    if (source.name, to.name) not in moves.ROUTES["casting"]:
        raise MoveError(f"crate {label}", f"castings cannot go from {source} to {to}")
    there = castings_at(connection, crate_id).get(source, 0)
    if source.name != "supplier" and there < count:
        raise MoveError(
            f"crate {label}",
            f"{count} castings cannot leave the {source}, {there} are there",
            "move what is there",
        )
    last = select(func.coalesce(func.max(movement.c.number), 0)).where(
        movement.c.crate_id == crate_id
    )
    connection.execute(
        insert(movement).values(
            crate_id=crate_id,
            number=connection.execute(last).scalar_one() + 1,
            count=count,
            from_place=source.name,
            from_party_id=source.party_id,
            to_place=to.name,
            to_party_id=to.party_id,
            why=sentence(why, where="why"),
            **entry.line,
        )
    )
