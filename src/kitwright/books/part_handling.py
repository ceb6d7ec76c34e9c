"""What the shop does with kit parts: receive, send back, scrap, send, take back, count."""

from __future__ import annotations

from sqlalchemy import Connection, case, func, select

from kitwright.books import places, rows
from kitwright.books.entries import Entry, reason, whole
from kitwright.books.part_movements import (
    COUNT,
    SCRAP,
    SHELF,
    Line,
    Spot,
    lock,
    move_parts,
    spots_of,
)
from kitwright.books.parts import get_part
from kitwright.books.shop import get_party
from kitwright.books.tables import order, part_movement
from kitwright.books.transactions import all_or_nothing
from kitwright.errors import InputError, MissingError, MoveError


def receive_parts(
    connection: Connection,
    part_id: int,
    count: int,
    entry: Entry,
    *,
    supplier_id: int | None = None,
    why: str | None = None,
) -> None:
    """Take parts in from a supplier, the part's own where none is named."""
    source = _supplier(connection, part_id, supplier_id)
    move_parts(connection, [Line(part_id, count, source, SHELF)], entry, why=why)


def send_parts_back(
    connection: Connection,
    part_id: int,
    count: int,
    entry: Entry,
    *,
    why: str,
    supplier_id: int | None = None,
) -> None:
    """Give parts back to their supplier."""
    why = reason(why, where="why", needed_by="sending parts back")
    to = _supplier(connection, part_id, supplier_id)
    move_parts(connection, [Line(part_id, count, SHELF, to)], entry, why=why)


def _supplier(connection: Connection, part_id: int, supplier_id: int | None) -> Spot:
    kept = get_part(connection, part_id)
    owner = kept.supplier_id if supplier_id is None else supplier_id
    if owner is None:
        raise InputError("supplier", f"{kept.named} has none", "say from whom, or count it in")
    return Spot(places.supplier(get_party(connection, owner, "supplier").id))


def scrap_parts(
    connection: Connection, part_id: int, count: int, entry: Entry, *, why: str
) -> None:
    """Throw parts away."""
    why = reason(why, where="why", needed_by="scrap")
    move_parts(connection, [Line(part_id, count, SHELF, SCRAP)], entry, why=why)


def send_parts(
    connection: Connection,
    part_id: int,
    count: int,
    entry: Entry,
    *,
    order_id: int | None = None,
    customer_id: int | None = None,
    why: str | None = None,
) -> None:
    """Send loose parts: to a customer, or after an order that went without them."""
    to = _customer(connection, order_id, customer_id)
    move_parts(connection, [Line(part_id, count, SHELF, to, order_id)], entry, why=why)


@all_or_nothing
def take_parts_back(
    connection: Connection,
    part_id: int,
    count: int,
    entry: Entry,
    *,
    order_id: int | None = None,
    customer_id: int | None = None,
    why: str | None = None,
) -> None:
    """Take parts back onto the shelf, from the order that they went out with or from a customer.

    Raises
    ------
    MissingError, InputError, MoveError
        No such part, order or customer; neither is named; more than went out.
    """
    whole(count, where="count", least=1)
    source = _customer(connection, order_id, customer_id)
    (label,) = lock(connection, [part_id]).values()
    if order_id is not None:
        out = out_with(connection, order_id).get(part_id, 0)
        if out < count:
            raise MoveError(f"part {label}", f"{count} asked, {out} are out with this order")
    line = Line(part_id, count, source, SHELF, order_id)
    move_parts(connection, [line], entry, why=why)


def _customer(connection: Connection, order_id: int | None, customer_id: int | None) -> Spot:
    if order_id is not None:
        query = select(order.c.customer_id).where(order.c.id == rows.key_of(order_id))
        customer_id = connection.execute(query).scalar_one_or_none()
        if customer_id is None:
            raise MissingError("order", f"there is no order number {order_id}")
    if customer_id is None:
        raise InputError("order", "missing", "say which order or which customer")
    return Spot(places.customer(get_party(connection, customer_id, "customer").id))


def out_with(connection: Connection, order_id: int) -> dict[int, int]:
    """What went out with an order and has not come back: part → how many."""
    change = case(
        (part_movement.c.to_place == "customer", part_movement.c.count),
        (part_movement.c.from_place == "customer", -part_movement.c.count),
        else_=0,
    )
    query = (
        select(part_movement.c.part_id, func.sum(change))
        .where(part_movement.c.order_id == rows.key_of(order_id))
        .group_by(part_movement.c.part_id)
    )
    found = {part_id: int(count) for part_id, count in connection.execute(query).all()}
    return {part_id: count for part_id, count in found.items() if count}


def orders_with(connection: Connection, part_id: int) -> list[tuple[int, str]]:
    """The orders with which some of a part are out, the newest first: number and label."""
    moved = part_movement.c
    change = case(
        (moved.to_place == "customer", moved.count),
        (moved.from_place == "customer", -moved.count),
        else_=0,
    )
    query = (
        select(order.c.id, order.c.label)
        .join(part_movement, moved.order_id == order.c.id)
        .where(moved.part_id == rows.key_of(part_id))
        .group_by(order.c.id, order.c.label)
        .having(func.sum(change) > 0)
        .order_by(order.c.id.desc())
    )
    return [(row.id, row.label) for row in connection.execute(query)]


@all_or_nothing
def count_parts(
    connection: Connection, part_id: int, counted: int, entry: Entry, *, why: str | None = None
) -> int:
    """Write down how many there are, those that are reserved counted too; give the difference.

    What the books have too few or too many of is put right by a movement from or to the count.

    Raises
    ------
    InputError
        Not a count, or a difference without its reason.
    MoveError
        Fewer are there than are reserved for orders.
    """
    whole(counted, where="count")
    (label,) = lock(connection, [part_id]).values()
    held = spots_of(connection, part_id, entry.line["happened"])
    free = held.get(SHELF, 0)
    aside = sum(count for spot, count in held.items() if spot.place == places.RESERVED)
    difference = counted - free - aside
    if not difference:
        return 0
    needed_by = f"a count of {counted} where the books have {free + aside}"
    why = reason(why, where="why", needed_by=needed_by)
    if free + difference < 0:
        raise MoveError(
            f"part {label}",
            f"{counted} counted, {aside} are reserved for orders",
            "free those of an order first",
        )
    way = (COUNT, SHELF) if difference > 0 else (SHELF, COUNT)
    move_parts(connection, [Line(part_id, abs(difference), *way)], entry, why=why)
    return difference
