"""The ledger of kit parts, by count: what is at a place is what came minus what went.

A line stands once it is written. Nothing goes that is not there, now or at any moment since the day
that a line is dated: of two who take the last ones at once, one wins.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from sqlalchemy import ColumnElement, Connection, and_, case, func, insert, or_, select

from kitwright.books import bulk, moves, places, rows
from kitwright.books.entries import Entry, said, sentence, whole
from kitwright.books.places import Place
from kitwright.books.tables import part, part_movement
from kitwright.books.transactions import all_or_nothing
from kitwright.errors import MissingError, MoveError


@dataclass(frozen=True)
class Spot:
    """Where parts can be: a place, and for which order where they are reserved there."""

    place: Place
    order_id: int | None = None

    def __str__(self) -> str:
        return str(self.place) if self.order_id is None else f"{self.place} for an order"


SHELF: Final = Spot(places.SHELF)
SCRAP: Final = Spot(places.SCRAP)
COUNT: Final = Spot(places.COUNT)


def reserved(order_id: int) -> Spot:
    """Set aside for this order."""
    return Spot(places.RESERVED, order_id)


@dataclass(frozen=True)
class Line:
    """So many of a part from one spot to another; `order_id` is what it was done for."""

    part_id: int
    count: int
    source: Spot
    to: Spot
    order_id: int | None = None


@all_or_nothing
def move_parts(
    connection: Connection, lines: Sequence[Line], entry: Entry, *, why: str | None = None
) -> None:
    """Write these movements, all or none.

    Raises
    ------
    MissingError
        There is no such part.
    InputError
        A count that is not a whole number above zero.
    MoveError
        There is no such way, or more would go than is there, or than later movements leave.
    """
    for line in lines:
        whole(line.count, where="count", least=1)
    labels = lock(connection, {line.part_id for line in lines})
    for line in sorted(lines, key=lambda each: each.part_id):
        named = f"part {labels[line.part_id]}"
        way = line.source.place.name, line.to.place.name
        if way not in moves.ROUTES["part"]:
            raise MoveError(named, f"parts cannot go from {line.source} to {line.to}")
        if way[0] not in moves.BOTTOMLESS:
            _refuse_short(connection, line, named, entry)
        _write(connection, line, entry, why)


def lock(connection: Connection, part_ids: Collection[int]) -> dict[int, str]:
    """Wait for whoever moves these parts now; give their labels.

    On SQLite the whole file is the writer's already.
    """
    wanted = sorted(rows.key_of(each) for each in part_ids)
    query = (
        select(part.c.id, part.c.label)
        .where(bulk.among(connection, part.c.id, wanted))
        .order_by(part.c.id)  # all lock in one order
        .with_for_update(key_share=True)
    )
    labels = {row.id: row.label for row in connection.execute(query)}
    for each in part_ids:
        if each not in labels:
            raise MissingError("part", f"there is no part number {each}")
    return labels


def _refuse_short(connection: Connection, line: Line, named: str, entry: Entry) -> None:
    happened = entry.line["happened"]
    now = at(connection, line.part_id, line.source)
    if now < line.count:
        raise MoveError(named, f"{line.count} asked, {_there(connection, line, now)}", _FEWER)
    then = at(connection, line.part_id, line.source, happened)
    least = spare_of(connection, line.part_id, line.source, happened)
    if least < line.count:
        told = f"{then} were {_on(line.source)} on {said(happened)}"
        if then > least:
            told += f", and only {least} of them to spare since"
        raise MoveError(named, f"{line.count} asked, {told}", "date it later, or move fewer")


_FEWER: Final = "move what is there"


def _there(connection: Connection, line: Line, there: int) -> str:
    aside = 0
    if line.source == SHELF:
        held = spots_of(connection, line.part_id)
        aside = sum(count for spot, count in held.items() if spot.place == places.RESERVED)
    told = f"{there} free {_on(line.source)}, {aside} more reserved"
    return told if aside else f"{there} {_on(line.source)}"


_ON: Final = {
    "shelf": "on the shelf",
    "reserved": "reserved for this order",
    "customer": "with this customer",
    "scrap": "in the scrap",
}


def _on(spot: Spot) -> str:
    return _ON[spot.place.name]


def _write(connection: Connection, line: Line, entry: Entry, why: str | None) -> None:
    last = select(func.coalesce(func.max(part_movement.c.number), 0)).where(
        part_movement.c.part_id == line.part_id
    )
    orders = [each for each in (line.order_id, line.source.order_id, line.to.order_id) if each]
    connection.execute(
        insert(part_movement).values(
            part_id=line.part_id,
            number=connection.execute(last).scalar_one() + 1,
            count=line.count,
            from_place=line.source.place.name,
            from_party_id=line.source.place.party_id,
            to_place=line.to.place.name,
            to_party_id=line.to.place.party_id,
            order_id=orders[0] if orders else None,
            why=sentence(why, where="why"),
            **entry.line,
        )
    )


# ── what is where ────────────────────────────────────────────────────────────────────────

_MOVED: Final = part_movement.c


def _end(end: str, spot: Spot) -> ColumnElement[bool]:
    conditions = [_MOVED[f"{end}_place"] == spot.place.name]
    if spot.place.party_id is not None:
        conditions.append(_MOVED[f"{end}_party_id"] == spot.place.party_id)
    if spot.place == places.RESERVED:
        conditions.append(_MOVED.order_id == rows.key_of(spot.order_id or 0))
    return and_(*conditions)


def _change(spot: Spot) -> ColumnElement[int]:
    return case((_end("to", spot), _MOVED.count), (_end("from", spot), -_MOVED.count), else_=0)


def at(connection: Connection, part_id: int, spot: Spot, moment: datetime | None = None) -> int:
    """How many of a part are at a spot, now or as they were at a moment."""
    query = select(func.coalesce(func.sum(_change(spot)), 0)).where(_MOVED.part_id == part_id)
    if moment is not None:
        query = query.where(_MOVED.happened <= moment)
    return int(connection.execute(query).scalar_one())


def spare_of(connection: Connection, part_id: int, spot: Spot, moment: datetime) -> int:
    """How many may leave a spot at a moment so that it never holds less than nothing since.

    It is the least of what was there at the moment and after each later movement.
    """
    left = least = at(connection, part_id, spot)
    later = (
        select(_change(spot))
        .where(
            _MOVED.part_id == part_id,
            _MOVED.happened > moment,
            or_(_end("from", spot), _end("to", spot)),
        )
        .order_by(_MOVED.happened.desc(), _MOVED.number.desc())
    )
    for change in connection.execute(later).scalars():
        left -= int(change)
        least = min(least, left)
    return least


def spots_of(
    connection: Connection, part_id: int, moment: datetime | None = None
) -> dict[Spot, int]:
    """How many of a part are where; spots where none is are left out."""
    return all_spots(connection, moment, _MOVED.part_id == rows.key_of(part_id)).get(part_id, {})


def all_spots(
    connection: Connection, moment: datetime | None = None, *conditions: ColumnElement[bool]
) -> dict[int, dict[Spot, int]]:
    """Part → spot → how many; what came from a supplier or a count is below zero there."""
    if moment is not None:
        conditions = (*conditions, _MOVED.happened <= moment)
    aside = case(
        (or_(_MOVED.from_place == "reserved", _MOVED.to_place == "reserved"), _MOVED.order_id)
    ).label("aside_for")
    ends = (
        *(_MOVED.part_id, _MOVED.from_place, _MOVED.from_party_id),
        *(_MOVED.to_place, _MOVED.to_party_id),
    )
    query = select(*ends, aside, func.sum(_MOVED.count)).where(*conditions).group_by(*ends, aside)
    found: dict[int, Counter[Spot]] = {}
    for row in connection.execute(query).all():
        part_id, from_name, from_party, to_name, to_party, order_id, count = row
        held = found.setdefault(part_id, Counter())
        held[_spot(from_name, from_party, order_id)] -= int(count)
        held[_spot(to_name, to_party, order_id)] += int(count)
    return {
        part_id: {spot: count for spot, count in held.items() if count}
        for part_id, held in found.items()
    }


def _spot(name: str, party_id: int | None, order_id: int | None) -> Spot:
    return Spot(Place(name, party_id), order_id if name == "reserved" else None)


@dataclass(frozen=True, kw_only=True)
class PartMovement:
    """One line of the ledger."""

    part_id: int
    number: int
    count: int
    source: Spot
    to: Spot
    order_id: int | None
    happened: datetime
    recorded: datetime
    who: str
    why: str | None


def movements_of_part(connection: Connection, part_id: int) -> list[PartMovement]:
    """Every movement of a part, in the order written down."""
    query = (
        select(part_movement).where(_MOVED.part_id == rows.key_of(part_id)).order_by(_MOVED.number)
    )
    return [
        PartMovement(
            source=_spot(row["from_place"], row["from_party_id"], row["order_id"]),
            to=_spot(row["to_place"], row["to_party_id"], row["order_id"]),
            **{name: row[name] for name in _KEPT},
        )
        for row in connection.execute(query).mappings()
    ]


_KEPT: Final = ("part_id", "number", "count", "order_id", "happened", "recorded", "who", "why")
