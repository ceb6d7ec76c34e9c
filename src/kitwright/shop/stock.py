"""The stock as its page, its command and its workbook show it."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import Final

from sqlalchemy import Connection

from kitwright.books import designs, movements, order_parts, orders, part_movements
from kitwright.books.opening import Books
from kitwright.books.shop import parties
from kitwright.books.stock_at import BellStock, CrateStock, PartStock, part_stock, stock_at
from kitwright.errors import InputError
from kitwright.shop.bells import names_of
from kitwright.shop.moving_crates import way_of_castings
from kitwright.shop.moving_parts import way_of_parts

OPEN: Final = ("open", "promised", "allocated")
"""States of an order that still wants its parts."""


@dataclass(frozen=True, kw_only=True)
class PartLine:
    """A part, what the open orders still ask for, and how many of those are not there."""

    held: PartStock
    supplier: str
    asked: int
    """By open orders, beyond what is set aside for them."""

    @property
    def short(self) -> int:
        """What the open orders ask for and is not free."""
        return max(0, self.asked - self.held.free)


@dataclass(frozen=True, kw_only=True)
class BellLine:
    """Bells of a design in one state."""

    design: str
    held: BellStock


@dataclass(frozen=True, kw_only=True)
class CrateLine:
    """A crate with its design's name."""

    design: str
    held: CrateStock


@dataclass(frozen=True, kw_only=True)
class StockView:
    """The stock at the end of a day; `now` where that is today, and orders are looked at too."""

    day: datetime.date
    now: bool
    parts: tuple[PartLine, ...]
    bells: tuple[BellLine, ...]
    crates: tuple[CrateLine, ...]

    @property
    def short(self) -> tuple[PartLine, ...]:
        """The parts of which there are too few."""
        return tuple(line for line in self.parts if line.short)


def view(books: Books, *, today: datetime.date, at: datetime.date | None = None) -> StockView:
    """The stock today, or as it was at the end of an earlier day.

    Raises
    ------
    InputError
        The day lies ahead.
    """
    day = today if at is None else at
    if day > today:
        raise InputError("at", f"{day.isoformat()} lies ahead", f"give {today} or a day before")
    with books.reading() as connection:
        # What is recorded now may be a day ahead of the shop's own calendar, which is not UTC's.
        found = stock_at(connection, datetime.date.max if day == today else day)
        names = {each.id: each.name for each in designs.designs(connection)}
        suppliers = {each.id: each.name for each in parties(connection, "supplier")}
        asked = asked_now(connection) if day == today else {}
    return StockView(
        day=day,
        now=day == today,
        parts=tuple(
            PartLine(
                held=held,
                supplier=suppliers.get(held.part.supplier_id or 0, ""),
                asked=asked.get(held.part.id, 0),
            )
            for held in found.parts
        ),
        bells=tuple(BellLine(design=names[each.design_id], held=each) for each in found.bells),
        crates=tuple(CrateLine(design=names[each.design_id], held=each) for each in found.crates),
    )


def asked_now(connection: Connection) -> dict[int, int]:
    """What open orders ask for beyond what is set aside for them: part → how many."""
    waiting = [each.id for each in orders.orders(connection) if each.state in OPEN]
    asked: dict[int, int] = {}
    for lacking in order_parts.lacking_of(connection, waiting).values():
        for part_id, count in lacking.items():
            asked[part_id] = asked.get(part_id, 0) + count
    return asked


@dataclass(frozen=True, kw_only=True)
class MovedLine:
    """One movement as a table shows it."""

    number: int
    what: str
    happened: datetime.datetime
    recorded: datetime.datetime
    who: str
    why: str


def movements_of_part(books: Books, part_id: int) -> list[MovedLine]:
    """Every movement of a part, newest first."""
    with books.reading() as connection:
        moved = part_movements.movements_of_part(connection, part_id)
        names = names_of(connection)
        labels = orders.labels(connection, {each.order_id for each in moved if each.order_id})
    return [_moved(each, way_of_parts(each, names, labels)) for each in reversed(moved)]


def movements_of_castings(books: Books, crate_id: int) -> list[MovedLine]:
    """Every movement of a crate's castings, newest first."""
    with books.reading() as connection:
        moved = movements.movements_of_crate(connection, crate_id)
        names = names_of(connection)
    return [_moved(each, way_of_castings(each, names)) for each in reversed(moved)]


def _moved(moved: part_movements.PartMovement | movements.CastingMovement, what: str) -> MovedLine:
    return MovedLine(
        number=moved.number,
        what=what,
        happened=moved.happened,
        recorded=moved.recorded,
        who=moved.who,
        why=moved.why or "",
    )


def line_of(books: Books, part_id: int) -> PartLine:
    """One part now, with what open orders still ask for."""
    with books.reading() as connection:
        held = part_stock(connection, part_id)
        suppliers = {each.id: each.name for each in parties(connection, "supplier")}
        asked = asked_now(connection).get(part_id, 0)
    name = suppliers.get(held.part.supplier_id or 0, "")
    return PartLine(held=held, supplier=name, asked=asked)
