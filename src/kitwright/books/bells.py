"""A bell's own life: its route card, withdrawing it, taking it back, and who holds it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, select

from kitwright.books import decisions, order_parts, places, rows, standing, steps
from kitwright.books.entries import Entry, reason
from kitwright.books.inspections import Inspection, inspections_of
from kitwright.books.movements import Movement, move_bells
from kitwright.books.places import Place
from kitwright.books.standing import Standing
from kitwright.books.tables import decision, movement, order
from kitwright.books.transactions import all_or_nothing
from kitwright.errors import MoveError


@dataclass(frozen=True, kw_only=True)
class Decision:
    """One decision on a bell."""

    number: int
    kind: str
    rule: str | None
    inspection_id: int | None
    order_id: int | None
    fit_up_id: int | None
    happened: datetime
    recorded: datetime
    who: str
    reason: str | None


def decisions_of(connection: Connection, serial: str) -> list[Decision]:
    """Every decision on a bell, in order; the last one counts."""
    columns = (decision.c[name] for name in Decision.__dataclass_fields__)
    query = (
        select(*columns)
        .where(decision.c.bell_id == standing.one(connection, serial).bell_id)
        .order_by(decision.c.number)
    )
    return rows.read(connection, query, Decision)


def movements_of(connection: Connection, serial: str) -> list[Movement]:
    """Every movement of a bell, from its birth on."""
    columns = (movement.c[name] for name in Movement.__dataclass_fields__)
    query = (
        select(*columns)
        .where(movement.c.bell_id == standing.one(connection, serial).bell_id)
        .order_by(movement.c.number)
    )
    return rows.read(connection, query, Movement)


def route_card(connection: Connection, serial: str) -> list[Decision | Movement | Inspection]:
    """Everything that happened to a bell, in the order in which it was written down."""
    found: list[Decision | Movement | Inspection] = [
        *inspections_of(connection, serial),
        *decisions_of(connection, serial),
        *movements_of(connection, serial),
    ]
    return sorted(found, key=lambda line: line.recorded)  # stable: a decision, then its way


# ── who holds it ─────────────────────────────────────────────────────────────────────────


@dataclass(frozen=True, kw_only=True)
class Holder:
    """Whom to tell about a bell: where it is, and which order it belongs to."""

    serial: str
    place: Place
    order_id: int | None
    customer_id: int | None


@all_or_nothing
def withdraw(
    connection: Connection, serials: Sequence[str], entry: Entry, *, why: str
) -> list[Holder]:
    """Withdraw bells after their release; give whoever holds them, to be told.

    An order that a bell was allocated to has none any more: it is promised again, as it was, and
    the parts that were set aside with it are free.

    Raises
    ------
    MissingError, InputError, MoveError
        No such bell, no reason, or a bell that was not released: a line each.
    """
    why = reason(why, where="why", needed_by='"withdraw"')
    before = decisions.decide_many(connection, serials, "withdraw", entry, why=why)
    for bell in before:
        if bell.state == "allocated" and bell.order_id is not None:
            told = f"{bell.named} is withdrawn: {why}"
            steps.take(connection, steps.ORDER, bell.order_id, "promised", entry, why=told)
    waiting = [bell.order_id for bell in before if bell.state == "allocated" and bell.order_id]
    order_parts.free(connection, waiting, entry, why=f"withdrawn: {why}")
    return _holders(connection, before)


def holders(connection: Connection, serials: Sequence[str]) -> list[Holder]:
    """Who holds these bells now."""
    return _holders(connection, standing.of(connection, serials))


def _holders(connection: Connection, bells: Sequence[Standing]) -> list[Holder]:
    order_ids = {bell.order_id for bell in bells if bell.order_id is not None}
    query = select(order.c.id, order.c.customer_id).where(order.c.id.in_(order_ids))
    buyers = {row.id: row.customer_id for row in connection.execute(query)}
    return [
        Holder(
            serial=bell.serial,
            place=bell.place,
            order_id=bell.order_id,
            customer_id=None if bell.order_id is None else buyers[bell.order_id],
        )
        for bell in bells
    ]


@all_or_nothing
def take_back(connection: Connection, serial: str, entry: Entry, *, why: str | None = None) -> None:
    """Take a bell back from a customer onto the shelf.

    One that was shipped or fitted is returned by this; one that was withdrawn there already only
    comes home.

    Raises
    ------
    MissingError, MoveError
        No such bell; it is not with a customer.
    """
    bell = standing.one(connection, serial)
    if bell.place_name != "customer":
        raise MoveError(bell.named, f"it is at {bell.place}", "take back what a customer has")
    if bell.state == "withdrawn":
        move_bells(connection, [serial], places.SHELF, entry, why=why)
    else:
        decisions.decide(connection, serial, "return", entry, why=why)


@all_or_nothing
def send_for_rework(
    connection: Connection,
    serial: str,
    machinist_id: int,
    entry: Entry,
    *,
    why: str | None,
    inspection_id: int | None = None,
    seen: int | None = None,
) -> None:
    """Have a rejected bell made good: it is made again, at the machinist's."""
    bell = decisions.decide(
        connection, serial, "rework", entry, why=why, inspection_id=inspection_id, seen=seen
    )
    to = places.machinist(machinist_id)
    if bell.place != to:
        move_bells(connection, [serial], to, entry, why=why)
