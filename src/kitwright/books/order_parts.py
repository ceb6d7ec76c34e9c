"""The parts of an order's kit: reserved with its bell, sent with it, freed with it.

Only what is kept by count takes part. What is not there is said, and stops nothing: a kit may wait
for a bolt set, or go without it and have it sent after.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from sqlalchemy import Connection, case, func, or_, select

from kitwright.books import part_movements, places, rows
from kitwright.books.bulk import among
from kitwright.books.entries import Entry, reason
from kitwright.books.part_handling import out_with
from kitwright.books.part_movements import SHELF, Line, Spot, reserved
from kitwright.books.parts import asked_by, get_part
from kitwright.books.tables import order, part_movement
from kitwright.books.transactions import all_or_nothing


@dataclass(frozen=True, kw_only=True)
class Short:
    """A part that an order asks for more of than could be set aside for it."""

    part_id: int
    label: str
    name: str
    asked: int
    missing: int

    def __str__(self) -> str:
        return f"{self.label}, {self.name}: {self.missing} of {self.asked} short"


@all_or_nothing
def reserve(connection: Connection, order_id: int, entry: Entry) -> list[Short]:
    """Set aside for an order what it asks for and is free; give what is short."""
    asked = asked_by(connection, [order_id]).get(order_id, {})
    labels = part_movements.lock(connection, asked)
    aside = reserved_for(connection, [order_id]).get(order_id, {})
    lines, short = [], []
    for part_id, count in asked.items():
        lacking = count - aside.get(part_id, 0)
        spare = part_movements.spare_of(connection, part_id, SHELF, entry.line["happened"])
        taken = max(0, min(lacking, spare))
        if taken:
            lines.append(Line(part_id, taken, SHELF, reserved(order_id)))
        if taken < lacking:
            short.append(
                Short(
                    part_id=part_id,
                    label=labels[part_id],
                    name=get_part(connection, part_id).name,
                    asked=count,
                    missing=lacking - taken,
                )
            )
    part_movements.move_parts(connection, lines, entry)
    return short


@all_or_nothing
def free(connection: Connection, order_ids: Collection[int], entry: Entry, *, why: str) -> None:
    """Put everything that is set aside for these orders back on the shelf."""
    lines = [
        Line(part_id, count, reserved(order_id), SHELF)
        for order_id, aside in reserved_for(connection, order_ids).items()
        for part_id, count in aside.items()
    ]
    part_movements.move_parts(connection, lines, entry, why=why)


@all_or_nothing
def send(connection: Connection, order_id: int, entry: Entry) -> list[Short]:
    """Send an order's parts with it: what is set aside, and what can be now; give what is short."""
    short = reserve(connection, order_id, entry)
    to = Spot(places.customer(_buyer(connection, order_id)))
    aside = reserved_for(connection, [order_id]).get(order_id, {})
    lines = [Line(part_id, count, reserved(order_id), to) for part_id, count in aside.items()]
    part_movements.move_parts(connection, lines, entry)
    return short


@all_or_nothing
def free_part(
    connection: Connection, order_id: int, part_id: int, count: int, entry: Entry, *, why: str
) -> None:
    """Put some of one part that is set aside for an order back on the shelf."""
    why = reason(why, where="why", needed_by="freeing a part")
    line = Line(part_id, count, reserved(order_id), SHELF)
    part_movements.move_parts(connection, [line], entry, why=why)


def _buyer(connection: Connection, order_id: int) -> int:
    query = select(order.c.customer_id).where(order.c.id == rows.key_of(order_id))
    return int(connection.execute(query).scalar_one())


def reserved_for(connection: Connection, order_ids: Collection[int]) -> dict[int, dict[int, int]]:
    """What is set aside for each of these orders: order → part → how many."""
    moved = part_movement.c
    change = case((moved.to_place == "reserved", moved.count), else_=-moved.count)
    query = (
        select(moved.order_id, moved.part_id, func.sum(change))
        .where(
            among(connection, moved.order_id, list(order_ids)),
            or_(moved.to_place == "reserved", moved.from_place == "reserved"),
        )
        .group_by(moved.order_id, moved.part_id)
        .order_by(moved.order_id, moved.part_id)
    )
    found: dict[int, dict[int, int]] = {}
    for order_id, part_id, count in connection.execute(query).all():
        if count:
            found.setdefault(order_id, {})[part_id] = int(count)
    return found


def lacking_of(connection: Connection, order_ids: Collection[int]) -> dict[int, dict[int, int]]:
    """What these orders ask for beyond what is set aside for them: order → part → how many."""
    aside = reserved_for(connection, order_ids)
    found: dict[int, dict[int, int]] = {}
    for order_id, asked in asked_by(connection, order_ids).items():
        for part_id, count in asked.items():
            lacking = count - aside.get(order_id, {}).get(part_id, 0)
            if lacking > 0:
                found.setdefault(order_id, {})[part_id] = lacking
    return found


def missing_of(connection: Connection, order_id: int) -> dict[int, int]:
    """What an order asks for that is neither set aside for it nor out with it: part → how many."""
    out = out_with(connection, order_id)
    lacking = lacking_of(connection, [order_id]).get(order_id, {})
    return {
        part_id: count - out.get(part_id, 0)
        for part_id, count in lacking.items()
        if count > out.get(part_id, 0)
    }
