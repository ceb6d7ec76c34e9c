"""What was in the shop at the end of a day: castings by crate, bells by state and place, parts.

Worked out from the ledgers alone, by when things happened. A day ends at midnight UTC.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Final

from sqlalchemy import Connection, Subquery, Table, and_, func, select

from kitwright.books import moves, part_movements
from kitwright.books.entries import day
from kitwright.books.part_movements import SCRAP, SHELF, Spot
from kitwright.books.parts import StockPart, get_part, parts
from kitwright.books.tables import batch, bell, crate, decision, movement, revision


@dataclass(frozen=True, kw_only=True)
class CrateStock:
    """A crate's castings: what came, and what became of them."""

    crate_id: int
    label: str
    design_id: int
    came: int
    on_floor: int
    born: int
    """Sent in a batch: bells now."""
    scrapped: int
    sent_back: int


@dataclass(frozen=True, kw_only=True)
class BellStock:
    """Bells of one design in one state at one kind of place."""

    design_id: int
    state: str
    place: str
    count: int


@dataclass(frozen=True, kw_only=True)
class PartStock:
    """One kit part: what is on the shelf, of that reserved and free, and where the rest went."""

    part: StockPart
    free: int
    reserved: int
    sent: int
    """With customers."""
    scrapped: int
    received: int
    """From suppliers, less what went back to them."""
    counted: int
    """What counts have found beyond that; below zero where they found too few."""

    @property
    def on_shelf(self) -> int:
        """Free and reserved."""
        return self.free + self.reserved


@dataclass(frozen=True, kw_only=True)
class Stock:
    """Everything that is kept by count or by serial, at the end of a day."""

    day: date
    crates: tuple[CrateStock, ...]
    bells: tuple[BellStock, ...]
    parts: tuple[PartStock, ...]


def stock_at(connection: Connection, on: date) -> Stock:
    """The stock at the end of a day; of a day that has not ended, what has happened so far."""
    moment = _end_of(day(on, where="date"))
    return Stock(
        day=on,
        crates=tuple(_crates(connection, moment)),
        bells=tuple(_bells(connection, moment)),
        parts=tuple(_parts(connection, moment)),
    )


def _end_of(on: date) -> datetime:
    if on == date.max:
        return datetime.max.replace(tzinfo=UTC)
    start = datetime.combine(on + timedelta(days=1), time(), UTC)
    return start - timedelta(microseconds=1)


def _crates(connection: Connection, moment: datetime) -> list[CrateStock]:
    keys = movement.c.crate_id, movement.c.from_place, movement.c.to_place
    query = (
        select(*keys, func.sum(movement.c.count))
        .where(movement.c.crate_id.is_not(None), movement.c.happened <= moment)
        .group_by(*keys)
    )
    held: dict[int, Counter[str]] = {}
    for crate_id, source, to, count in connection.execute(query).all():
        at = held.setdefault(crate_id, Counter())
        at[source] -= int(count)
        at[to] += int(count)
        if source == "supplier":
            at["came"] += int(count)
    known = connection.execute(select(crate.c.id, crate.c.label, crate.c.design_id)).all()
    return [
        CrateStock(
            crate_id=row.id,
            label=row.label,
            design_id=row.design_id,
            came=held[row.id]["came"],
            on_floor=held[row.id]["floor"],
            born=held[row.id]["birth"],
            scrapped=held[row.id]["scrap"],
            sent_back=held[row.id]["came"] + held[row.id]["supplier"],
        )
        for row in sorted(known, key=lambda row: row.id)
        if row.id in held
    ]


_ENDS: Final = moves.BELL.ends


def _bells(connection: Connection, moment: datetime) -> list[BellStock]:
    decided, moved = _newest(decision, moment), _newest(movement, moment)
    newest_decision = and_(
        decision.c.bell_id == decided.c.bell_id, decision.c.number == decided.c.number
    )
    newest_movement = and_(
        movement.c.bell_id == moved.c.bell_id, movement.c.number == moved.c.number
    )
    keys = revision.c.design_id, decision.c.kind, movement.c.to_place
    query = (
        select(*keys, func.count())
        .select_from(bell)
        .join(batch, batch.c.id == bell.c.batch_id)
        .join(revision, revision.c.id == batch.c.revision_id)
        .join(moved, moved.c.bell_id == bell.c.id)
        .join(movement, newest_movement)
        .join(decided, decided.c.bell_id == bell.c.id, isouter=True)
        .join(decision, newest_decision, isouter=True)
        .group_by(*keys)
    )
    found: Counter[tuple[int, str, str]] = Counter()
    for design_id, kind, place, count in connection.execute(query).all():
        found[design_id, _ENDS.get(kind, moves.BELL.born), place] += count
    states = {state: rank for rank, state in enumerate(moves.BELL.states)}
    return [
        BellStock(design_id=design_id, state=state, place=place, count=count)
        for (design_id, state, place), count in sorted(
            found.items(), key=lambda item: (item[0][0], states[item[0][1]], item[0][2])
        )
    ]


def _newest(table: Table, moment: datetime) -> Subquery:
    """The number of each bell's newest line of a ledger by a moment."""
    return (
        select(table.c.bell_id, func.max(table.c.number).label("number"))
        .where(table.c.bell_id.is_not(None), table.c.happened <= moment)
        .group_by(table.c.bell_id)
        .subquery()
    )


def _parts(connection: Connection, moment: datetime) -> list[PartStock]:
    held = part_movements.all_spots(connection, moment)
    return [_part(each, held.get(each.id, {})) for each in parts(connection)]


def part_stock(connection: Connection, part_id: int) -> PartStock:
    """The stock of one part now."""
    return _part(get_part(connection, part_id), part_movements.spots_of(connection, part_id))


def _part(about: StockPart, held: dict[Spot, int]) -> PartStock:
    by_place: Counter[str] = Counter()
    for spot, count in held.items():
        by_place[spot.place.name] += count
    return PartStock(
        part=about,
        free=held.get(SHELF, 0),
        reserved=by_place["reserved"],
        sent=by_place["customer"],
        scrapped=held.get(SCRAP, 0),
        received=-by_place["supplier"],
        counted=-by_place["count"],
    )
