"""Crates of castings, and the batches in which castings become bells."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Final

from sqlalchemy import ColumnElement, Connection, case, func, select

from kitwright.books import bulk, designs, places, rows, standing, steps
from kitwright.books.entries import Entry, Money, day, each_once, moment, reason, whole, words
from kitwright.books.movements import (
    move_castings,
    write_bell_movements,
    write_births,
)
from kitwright.books.shop import get_party
from kitwright.books.tables import batch, batch_step, bell, bell_now, crate, movement
from kitwright.books.transactions import all_or_nothing
from kitwright.errors import InputError, MissingError, MoveError, Problem

# ── crates ───────────────────────────────────────────────────────────────────────────────


@dataclass(frozen=True, kw_only=True)
class Crate:
    """Castings of one design that were delivered together, and how many still wait on the floor."""

    id: int
    label: str
    design_id: int
    supplier_id: int
    count: int
    cost_minor: int
    cost_currency: str
    on_floor: int

    @property
    def cost(self) -> Money:
        """Of the whole crate."""
        return Money(self.cost_minor, self.cost_currency)


@all_or_nothing
def receive_crate(
    connection: Connection,
    label: str,
    *,
    design_id: int,
    supplier_id: int,
    count: int,
    cost: Money,
    entry: Entry,
) -> int:
    """Receive a crate: its castings come from the supplier onto the floor; give its number."""
    get_party(connection, supplier_id, "supplier")
    number = rows.add(
        connection,
        crate,
        named="label",
        label=words(label, where="label"),
        design_id=design_id,
        supplier_id=supplier_id,
        count=whole(count, where="count", least=1),
        **cost.columns("cost"),
    )
    way = places.supplier(supplier_id), places.FLOOR
    move_castings(connection, number, count, way, entry)
    return number


def scrap_castings(
    connection: Connection, crate_id: int, count: int, entry: Entry, *, why: str
) -> None:
    """Throw castings away that still wait on the floor."""
    why = reason(why, where="why", needed_by="scrap")
    move_castings(connection, crate_id, count, (places.FLOOR, places.SCRAP), entry, why=why)


def take_castings_out_of_scrap(
    connection: Connection, crate_id: int, count: int, entry: Entry, *, why: str
) -> None:
    """Put castings back on the floor that were thrown away by mistake."""
    why = reason(why, where="why", needed_by="taking castings out of the scrap")
    move_castings(connection, crate_id, count, (places.SCRAP, places.FLOOR), entry, why=why)


def send_castings_back(
    connection: Connection, crate_id: int, count: int, entry: Entry, *, why: str
) -> None:
    """Give castings back to their supplier; a crate that was counted wrong is put right so too."""
    why = reason(why, where="why", needed_by="sending castings back")
    owner = get_crate(connection, crate_id).supplier_id
    way = places.FLOOR, places.supplier(owner)
    move_castings(connection, crate_id, count, way, entry, why=why)


@all_or_nothing
def count_castings(
    connection: Connection, crate_id: int, counted: int, entry: Entry, *, why: str | None = None
) -> int:
    """Write down how many castings of a crate are on the floor; give the difference.

    It is put right as a difference with the supplier, so that the crate adds up to what came in.
    """
    whole(counted, where="count")
    found = get_crate(connection, crate_id)
    difference = counted - found.on_floor
    if difference:
        needed_by = f"a count of {counted} where the books have {found.on_floor}"
        why = reason(why, where="why", needed_by=needed_by)
        way = places.supplier(found.supplier_id), places.FLOOR
        way = way if difference > 0 else (way[1], way[0])
        move_castings(connection, crate_id, abs(difference), way, entry, why=why)
    return difference


def get_crate(connection: Connection, crate_id: int) -> Crate:
    """The crate of this number."""
    found = _crates(connection, crate.c.id == rows.key_of(crate_id))
    if not found:
        raise MissingError("crate", f"there is no crate number {crate_id}")
    return found[0]


def received_at(connection: Connection, crate_id: int) -> datetime:
    """When a crate's castings came in."""
    query = select(func.min(movement.c.happened)).where(
        movement.c.crate_id == rows.key_of(crate_id), movement.c.from_place == "supplier"
    )
    return moment(connection.execute(query).scalar_one(), where="received")


def crates(connection: Connection, design_id: int | None = None) -> list[Crate]:
    """Every crate, or those of one design, in the order received."""
    return _crates(connection, *(() if design_id is None else (crate.c.design_id == design_id,)))


def _crates(connection: Connection, *conditions: ColumnElement[bool]) -> list[Crate]:
    change = case(
        (movement.c.to_place == "floor", movement.c.count),
        (movement.c.from_place == "floor", -movement.c.count),
        else_=0,
    )
    query = (
        select(crate, func.sum(change).label("on_floor"))
        .join(movement, movement.c.crate_id == crate.c.id)
        .where(*conditions)
        .group_by(crate.c.id)
        .order_by(crate.c.id)
    )
    return [
        Crate(**{**row, "on_floor": int(row["on_floor"])})
        for row in connection.execute(query).mappings()
    ]


# ── batches ──────────────────────────────────────────────────────────────────────────────


@dataclass(frozen=True, kw_only=True)
class Batch:
    """Bells machined together to one revision: planned, sent, back or judged."""

    id: int
    label: str
    revision_id: int
    machinist_id: int
    count: int
    state: str
    due: date


@all_or_nothing
def plan_batch(
    connection: Connection,
    label: str,
    *,
    revision_id: int,
    machinist_id: int,
    count: int,
    due: date,
    entry: Entry,
) -> int:
    """Plan a batch of `count` bells to the revision that is in force; give its number."""
    get_party(connection, machinist_id, "machinist")
    drawn = designs.get_revision(connection, revision_id)
    if drawn.state != "in force":
        raise MoveError(
            f"revision {drawn.label}", f"it is {drawn.state}", "plan to the one in force"
        )
    number = rows.add(
        connection,
        batch,
        named="label",
        label=words(label, where="label"),
        revision_id=revision_id,
        machinist_id=machinist_id,
        count=whole(count, where="count", least=1),
    )
    steps.begin(connection, steps.BATCH, number, entry, due=day(due, where="due"))
    return number


def move_due(connection: Connection, batch_id: int, due: date, entry: Entry, *, why: str) -> None:
    """Write down a new day on which a planned or sent batch is due, and why."""
    found = get_batch(connection, batch_id)
    if found.state not in ("planned", "sent"):
        raise MoveError(f"batch {found.label}", f"it is {found.state}", "it is due no more")
    why = reason(why, where="why", needed_by="a new day")
    _take(connection, found, found.state, entry, why=why, due=day(due, where="due"))


@all_or_nothing
def send_batch(
    connection: Connection,
    batch_id: int,
    castings: Sequence[tuple[int, Sequence[str]]],
    entry: Entry,
) -> None:
    """Send a planned batch: castings leave the floor and become bells at the machinist's.

    Parameters
    ----------
    castings
        For each crate, its number and the serials of the bells that its castings become.

    Raises
    ------
    InputError
        As many serials as were planned are not given, one is given twice or is taken already, or
        holds what the address of its page cannot.
    MoveError
        The batch is not planned, a crate is of another design or holds too few castings.
    """
    sent = get_batch(connection, batch_id)
    serials = [words(serial, where="serial") for _, each in castings for serial in each]
    if len(serials) != sent.count:
        raise InputError("serials", f"{len(serials)} given", f"give the {sent.count} planned")
    each_once(serials, where="serial")
    _refuse_unaddressed(serials)
    _refuse_taken(connection, serials)
    if sent.state != "planned":
        raise MoveError(f"batch {sent.label}", f"it is {sent.state}", "a batch is sent once")
    _take(connection, sent, "sent", entry)
    design_id = designs.get_revision(connection, sent.revision_id).design_id
    crate_ids: list[int] = []
    for crate_id, each in castings:
        found = get_crate(connection, crate_id)
        if found.design_id != design_id:
            raise MoveError(f"crate {found.label}", "is of another design", "send its own castings")
        move_castings(connection, crate_id, len(each), (places.FLOOR, places.BIRTH), entry)
        crate_ids += [crate_id] * len(each)
    numbers = bulk.reserve(connection, bell, len(serials))
    bulk.insert(
        connection,
        bell,
        {
            "id": numbers,
            "serial": serials,
            "batch_id": [batch_id] * len(serials),
            "crate_id": crate_ids,
        },
    )
    write_births(connection, numbers, places.machinist(sent.machinist_id), entry)


_NOT_IN_ADDRESSES: Final = {
    **{mark: mark for mark in "/?#%"},
    "\n": "a line break",
    "\t": "a tab",
}
"""What no serial may hold, as it is named: the bell's page has its serial in its address."""


def _refuse_unaddressed(serials: Sequence[str]) -> None:
    problems = []
    for serial in serials:
        if found := [name for mark, name in _NOT_IN_ADDRESSES.items() if mark in serial]:
            told = f"holds {' and '.join(found)}"
        elif serial in (".", ".."):
            told = "is nothing but dots"
        else:
            continue
        named = " ".join(serial.split())
        problems.append(
            Problem(f"serial {named}", told, "give one that can stand in a page's address")
        )
    if problems:
        raise InputError.of(problems)


def _refuse_taken(connection: Connection, serials: Sequence[str]) -> None:
    taken = select(bell.c.serial).where(bulk.among(connection, bell.c.serial, list(serials)))
    if found := sorted(connection.execute(taken).scalars()):
        raise InputError.of(
            Problem(f"serial {serial}", "is taken", "give each bell its own") for serial in found
        )


@all_or_nothing
def take_batch_back(connection: Connection, batch_id: int, entry: Entry) -> None:
    """Take a sent batch back: its bells that are still at the machinist's come to the shelf."""
    _take(connection, get_batch(connection, batch_id), "back", entry)
    bells = standing.where(
        connection, bell_now.c.batch_id == batch_id, bell_now.c.place == "machinist"
    )
    write_bell_movements(connection, bells, [places.SHELF] * len(bells), entry)


def close_judgement(connection: Connection, batch_id: int, entry: Entry) -> None:
    """Write down that a batch is judged: each of its bells has been decided on.

    Raises
    ------
    MoveError
        It is not back, or bells wait for a decision: a line each.
    """
    waiting = standing.where(
        connection, bell_now.c.batch_id == rows.key_of(batch_id), bell_now.c.state == "made"
    )
    if waiting:
        raise MoveError.of(
            Problem(each.named, "waits for a decision", f"decide: {', '.join(each.allowed)}")
            for each in waiting
        )
    _take(connection, get_batch(connection, batch_id), "judged", entry)


def _take(connection: Connection, found: Batch, to: str, entry: Entry, **more: Any) -> None:
    named = f"batch {found.label}"
    steps.take(connection, steps.BATCH, found.id, to, entry, named=named, **more)


def get_batch(connection: Connection, batch_id: int) -> Batch:
    """The batch of this number."""
    found = _batches(connection, batch.c.id == rows.key_of(batch_id))
    if not found:
        raise MissingError("batch", f"there is no batch number {batch_id}")
    return found[0]


def batches(connection: Connection, *, state: str | None = None) -> list[Batch]:
    """Every batch, or those in one state, in the order planned."""
    found = _batches(connection)
    return found if state is None else [each for each in found if each.state == state]


def _batches(connection: Connection, *conditions: ColumnElement[bool]) -> list[Batch]:
    now = steps.now(steps.BATCH)
    due = (
        select(batch_step.c.due)
        .where(batch_step.c.batch_id == batch.c.id, batch_step.c.due.is_not(None))
        .order_by(batch_step.c.number.desc())
        .limit(1)
        .scalar_subquery()
    )
    query = (
        select(batch, now.c.state, due.label("due"))
        .join(now, now.c.batch_id == batch.c.id)
        .where(*conditions)
        .order_by(batch.c.id)
    )
    return rows.read(connection, query, Batch)
