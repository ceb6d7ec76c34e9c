"""A crate in hand: castings scrapped, sent back, counted."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from sqlalchemy import Connection

from kitwright.books import designs, stock
from kitwright.books.entries import Entry
from kitwright.books.movements import CastingMovement, move_castings, movements_of_crate
from kitwright.books.places import Place
from kitwright.books.shop import get_party
from kitwright.shop.bells import names_of, place_in_words
from kitwright.shop.offers import Item, Last, Offer
from kitwright.shop.scanning import Named

_OPPOSITES: Final = frozenset(
    {("floor", "scrap"), ("scrap", "floor"), ("floor", "supplier"), ("supplier", "floor")}
)
"""Ways that may be gone back; the crate's own coming is its first movement, which stands."""


def look(connection: Connection, crate_id: int) -> Item:
    """The crate of this number."""
    found = stock.get_crate(connection, crate_id)
    supplier = get_party(connection, found.supplier_id).name
    last = movements_of_crate(connection, crate_id)[-1]
    offers = [Offer(name="count", words="Counted", least=0)]
    if found.on_floor:
        offers += [
            Offer(name="scrap", words="Scrap", least=1, reasoned=True),
            Offer(name="back", words=f"Back to {supplier}", least=1, reasoned=True),
        ]
    return Item(
        named=Named(kind="crate", id=crate_id, name=found.label),
        what=f"castings of {designs.get_design(connection, found.design_id).name}",
        where=f"{found.on_floor} of {found.count} on the floor.",
        notes=(f"From {supplier}.",),
        offers=tuple(offers),
        last=Last(
            number=last.number,
            said=way_of_castings(last, names_of(connection)),
            when=last.happened,
            who=last.who,
            why=last.why,
            undoable=last.number > 1 and (last.from_place, last.to_place) in _OPPOSITES,
        ),
        seen=last.number,
        since=f"{last.who} moved {last.count}, {found.on_floor} are on the floor now",
    )


def way_of_castings(moved: CastingMovement, names: Mapping[int, str]) -> str:
    """How many castings went from where to where."""
    ends = [
        "a batch" if place.name == "birth" else place_in_words(place, names)
        for place in (moved.source, moved.to)
    ]
    return f"{moved.count}: {ends[0]} → {ends[1]}"


def move(
    connection: Connection, item: Item, offer: Offer, count: int, why: str | None, entry: Entry
) -> None:
    """Make a move that was offered."""
    crate_id = item.named.id
    match offer.name:
        case "count":
            stock.count_castings(connection, crate_id, count, entry, why=why)
        case "scrap":
            stock.scrap_castings(connection, crate_id, count, entry, why=why or "")
        case "back":
            stock.send_castings_back(connection, crate_id, count, entry, why=why or "")


def undo(connection: Connection, item: Item, why: str, entry: Entry) -> None:
    """Move as many the other way."""
    last = movements_of_crate(connection, item.named.id)[-1]
    way: tuple[Place, Place] = last.to, last.source
    move_castings(connection, item.named.id, last.count, way, entry, why=why)
