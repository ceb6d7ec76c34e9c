"""A bell in hand: to the machinist and back, to an order, out with it, home again."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from sqlalchemy import Connection, select

from kitwright.books import bells, designs, movements, order_parts, orders, places, standing, stock
from kitwright.books.entries import Entry
from kitwright.books.parts import get_part
from kitwright.books.places import Place
from kitwright.books.shop import get_party
from kitwright.books.standing import Standing
from kitwright.books.tables import bell
from kitwright.shop.bells import names_of, place_in_words
from kitwright.shop.offers import Item, Last, Offer
from kitwright.shop.scanning import Named

_MOST_ORDERS: Final = 6
_ABOUT: Final = frozenset({"made", "held", "rejected", "released", "allocated"})
"""States in which a bell may go to the machinist and come back."""


def look(connection: Connection, bell_id: int) -> Item:
    """The bell of this number."""
    serial = connection.execute(select(bell.c.serial).where(bell.c.id == bell_id)).scalar_one()
    here = standing.one(connection, serial)
    names = names_of(connection)
    where = place_in_words(here.place, names)
    moved = bells.movements_of(connection, serial)
    last = moved[-1] if moved else None
    return Item(
        named=Named(kind="bell", id=bell_id, name=serial),
        what=designs.get_design(connection, here.design_id).name,
        where=f"{where[0].upper()}{where[1:]}.",
        state=here.state,
        notes=tuple(_notes(connection, here)),
        offers=tuple(_offers(connection, here)),
        last=None
        if last is None
        else Last(
            number=last.number,
            said=f"{place_in_words(last.source, names)} → {place_in_words(last.to, names)}",
            when=last.happened,
            who=last.who,
            why=last.why,
            undoable=here.state in _ABOUT
            and {last.from_place, last.to_place} == {"machinist", "shelf"},
        ),
        seen=here.decisions + here.movements,
        since=f"it is {here.state} and {where} now{f' ({here.last})' if here.last else ''}",
    )


def _notes(connection: Connection, here: Standing) -> Iterator[str]:
    if here.order_id is None or here.state not in ("allocated", "shipped", "fitted"):
        return
    order = orders.get_order(connection, here.order_id)
    buyer = get_party(connection, order.customer_id).name
    yield f"Order {order.label}, {buyer}: {order.state}."
    for part_id, count in order_parts.missing_of(connection, order.id).items():
        kept = get_part(connection, part_id)
        verb = "lacks" if here.state == "allocated" else "went without"
        yield f"It {verb} {count} of {kept.label}, {kept.name}."


def _offers(connection: Connection, here: Standing) -> Iterator[Offer]:
    at = here.place_name
    if here.state == "allocated" and here.order_id is not None:
        label = orders.get_order(connection, here.order_id).label
        if at == "shelf":
            yield Offer(name="ship", words=f"Ship with order {label}", order_id=here.order_id)
        yield Offer(
            name="free", words=f"Free from order {label}", reasoned=True, order_id=here.order_id
        )
    if here.state == "released" and at == "shelf":
        waiting = [
            each
            for each in orders.orders(connection, state="promised")
            if each.design_id == here.design_id
        ]
        for each in waiting[:_MOST_ORDERS]:
            buyer = get_party(connection, each.customer_id).name
            words = f"Allocate to order {each.label}, {buyer}"
            yield Offer(name="allocate", words=words, order_id=each.id)
    if here.state in _ABOUT and at == "machinist":
        yield Offer(name="shelf", words="To the shelf")
    if here.state in _ABOUT and at == "shelf":
        owner = stock.get_batch(connection, here.batch_id).machinist_id
        yield Offer(name="machinist", words=f"To {get_party(connection, owner).name}")
    if here.state in ("shipped", "fitted", "withdrawn") and at == "customer":
        yield Offer(name="return", words="Back from the customer")


def move(
    connection: Connection, item: Item, offer: Offer, count: int, why: str | None, entry: Entry
) -> None:
    """Make a move that was offered."""
    serial, order_id = item.named.name, offer.order_id or 0
    here = standing.one(connection, serial)
    match offer.name:
        case "ship":
            orders.ship(connection, order_id, entry)
        case "free":
            orders.free(connection, order_id, entry, why=why or "")
        case "allocate":
            orders.allocate(connection, order_id, serial, entry, seen=here.decisions)
        case "shelf":
            movements.move_bells(connection, [serial], places.SHELF, entry, why=why)
        case "machinist":
            owner = stock.get_batch(connection, here.batch_id).machinist_id
            to = places.machinist(owner)
            movements.move_bells(connection, [serial], to, entry, why=why)
        case "return":
            bells.take_back(connection, serial, entry, why=why)


def undo(connection: Connection, item: Item, why: str, entry: Entry) -> None:
    """Carry it back to where it came from."""
    last = bells.movements_of(connection, item.named.name)[-1]
    to = Place(last.from_place, last.from_party_id)
    movements.move_bells(connection, [item.named.name], to, entry, why=why)
