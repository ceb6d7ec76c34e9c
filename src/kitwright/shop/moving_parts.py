"""Kit parts in hand: received, counted, scrapped, set aside for an order, taken back."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

from sqlalchemy import Connection

from kitwright.books import order_parts, orders, part_handling, part_movements
from kitwright.books.entries import Entry
from kitwright.books.part_movements import Line, PartMovement, Spot
from kitwright.books.shop import get_party
from kitwright.books.stock_at import PartStock, part_stock
from kitwright.shop.bells import names_of, place_in_words
from kitwright.shop.offers import Item, Last, Offer
from kitwright.shop.scanning import Named

_MOST_ORDERS: Final = 6


def look(connection: Connection, part_id: int) -> Item:
    """The part of this number."""
    held = part_stock(connection, part_id)
    moved = part_movements.movements_of_part(connection, part_id)
    last = moved[-1] if moved else None
    labels = orders.labels(connection, {each.order_id for each in moved if each.order_id})
    names = names_of(connection)
    return Item(
        named=Named(kind="part", id=part_id, name=held.part.label),
        what=held.part.name,
        where=f"{held.on_shelf} on the shelf: {held.free} free, {held.reserved} reserved.",
        notes=tuple(_notes(connection, held)),
        offers=tuple(_offers(connection, held)),
        last=None
        if last is None
        else Last(
            number=last.number,
            said=way_of_parts(last, names, labels),
            when=last.happened,
            who=last.who,
            why=last.why,
            undoable=undoable(last),
        ),
        seen=len(moved),
        since=f"{last.who} moved {last.count}, {held.free} are free now" if last else "",
    )


def undoable(moved: PartMovement) -> bool:
    """Whether its opposite may be made by hand; what an order reserved goes back by the order."""
    return "reserved" not in (moved.source.place.name, moved.to.place.name)


def way_of_parts(moved: PartMovement, names: Mapping[int, str], labels: Mapping[int, str]) -> str:
    """How many parts went from where to where, and for which order."""
    ends = " → ".join(_spot(spot, names, labels) for spot in (moved.source, moved.to))
    aside = "reserved" in (moved.source.place.name, moved.to.place.name)
    order = f", order {labels[moved.order_id]}" if moved.order_id and not aside else ""
    return f"{moved.count}: {ends}{order}"


def _spot(spot: Spot, names: Mapping[int, str], labels: Mapping[int, str]) -> str:
    if spot.order_id is not None:
        return f"reserved for order {labels[spot.order_id]}"
    return place_in_words(spot.place, names)


def _notes(connection: Connection, held: PartStock) -> Iterator[str]:
    if held.part.supplier_id is not None:
        name = get_party(connection, held.part.supplier_id).name
        lead = held.part.lead_time
        days = f", {lead.least_days} to {lead.most_days} days" if lead else ""
        yield f"From {name}{days}."
    if held.part.reorder:
        yield f"Reorder: {held.part.reorder}"


def _offers(connection: Connection, held: PartStock) -> Iterator[Offer]:
    about = held.part
    if about.supplier_id is not None:
        supplier = get_party(connection, about.supplier_id).name
        yield Offer(name="receive", words=f"Receive from {supplier}", least=1)
    yield Offer(name="count", words="Counted", least=0)
    waiting = [each for each in orders.orders(connection) if each.state == "allocated"]
    ids = [each.id for each in waiting]
    lacking = order_parts.lacking_of(connection, ids)
    aside = order_parts.reserved_for(connection, ids)
    for each in waiting:
        if held.free and about.id in lacking.get(each.id, {}):
            words = f"Set aside for order {each.label}"
            yield Offer(name="reserve", words=words, order_id=each.id)
    if held.free:
        yield Offer(name="scrap", words="Scrap", least=1, reasoned=True)
        if about.supplier_id is not None:
            yield Offer(name="back", words=f"Back to {supplier}", least=1, reasoned=True)
    for each in waiting:
        if about.id in aside.get(each.id, {}):
            words = f"Free from order {each.label}"
            yield Offer(name="free", words=words, least=1, reasoned=True, order_id=each.id)
    out = part_handling.orders_with(connection, about.id)[:_MOST_ORDERS]
    for order_id, label in out:
        words = f"Back from order {label}"
        yield Offer(name="return", words=words, least=1, order_id=order_id)


def move(
    connection: Connection, item: Item, offer: Offer, count: int, why: str | None, entry: Entry
) -> None:
    """Make a move that was offered."""
    part_id, order_id = item.named.id, offer.order_id or 0
    match offer.name:
        case "receive":
            part_handling.receive_parts(connection, part_id, count, entry, why=why)
        case "count":
            part_handling.count_parts(connection, part_id, count, entry, why=why)
        case "scrap":
            part_handling.scrap_parts(connection, part_id, count, entry, why=why or "")
        case "back":
            part_handling.send_parts_back(connection, part_id, count, entry, why=why or "")
        case "reserve":
            order_parts.reserve(connection, order_id, entry)
        case "free":
            order_parts.free_part(connection, order_id, part_id, count, entry, why=why or "")
        case "return":
            part_handling.take_parts_back(
                connection, part_id, count, entry, order_id=order_id, why=why
            )


def undo(connection: Connection, item: Item, why: str, entry: Entry) -> None:
    """Move as many the other way."""
    last = part_movements.movements_of_part(connection, item.named.id)[-1]
    line = Line(item.named.id, last.count, last.to, last.source, last.order_id)
    part_movements.move_parts(connection, [line], entry, why=why)
