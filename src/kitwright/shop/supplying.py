"""What the shop does with its supply: crates in, batches planned, sent, moved, taken back."""

from __future__ import annotations

import datetime
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from sqlalchemy import Connection, select

from kitwright.books import designs, orders, stock
from kitwright.books.entries import Entry, Money
from kitwright.books.opening import Books
from kitwright.books.sendings import first_time
from kitwright.books.tables import batch, bell, crate, revision
from kitwright.errors import InputError, MoveError, Problem
from kitwright.money import to_minor
from kitwright.shop import promising
from kitwright.shop.orders import next_in_row
from kitwright.shop.promising import Board, Watched

_NUMBERED: Final = re.compile(r"(.*?)([0-9]{1,15})")
_AMOUNT: Final = re.compile(r"[0-9]{1,12}(\.[0-9]{1,6})?")
_RECENT: Final = 200


def receive_crate(
    books: Books,
    label: str,
    *,
    design_id: int,
    supplier_id: int,
    count: int,
    cost: Money,
    entry: Entry,
    send_key: str | None = None,
) -> None:
    """Take a crate in; the same form sent twice takes it in once."""
    with books.writing() as connection:
        if first_time(connection, send_key, f"crate {label.strip()}", entry):
            stock.receive_crate(
                connection,
                label,
                design_id=design_id,
                supplier_id=supplier_id,
                count=count,
                cost=cost,
                entry=entry,
            )


def amount(text: str, currency: str, *, where: str = "cost") -> Money:
    """An amount as it was typed, exactly.

    >>> amount("5220.50", "USD")
    Money(minor=522050, currency='USD')
    """
    plain = text.strip()
    if not _AMOUNT.fullmatch(plain):
        given = f'"{plain[:40]}" is not an amount' if plain else "missing"
        raise InputError(where, given, "write it as 5220.00")
    try:
        return Money(to_minor(Fraction(plain), currency), currency)
    except InputError as error:
        told = error.problems[0]
        raise InputError(where, told.given, told.expected) from None


def plan_batch(
    books: Books,
    label: str,
    *,
    design_id: int,
    machinist_id: int,
    count: int,
    due: datetime.date,
    entry: Entry,
    send_key: str | None = None,
) -> int | None:
    """Plan a batch of a design's revision in force; its number, or None where it was planned
    before."""
    with books.writing() as connection:
        if not first_time(connection, send_key, f"plan {label.strip()}", entry):
            return None
        drawn = designs.in_force(connection, design_id)
        if drawn is None:
            raise InputError("design", "no revision of it is in force", "put one in force first")
        return stock.plan_batch(
            connection,
            label,
            revision_id=drawn.id,
            machinist_id=machinist_id,
            count=count,
            due=due,
            entry=entry,
        )


# ── sending ──────────────────────────────────────────────────────────────────────────────


@dataclass(frozen=True, kw_only=True)
class ToSend:
    """What a planned batch may be sent from: crates with castings, and the serials proposed."""

    crates: Sequence[stock.Crate]
    from_each: Mapping[int, int]
    """Crate → castings, the oldest first."""
    first: str


def to_send(connection: Connection, found: stock.Batch) -> ToSend:
    """Where the castings of a planned batch may come from."""
    design_id = designs.get_revision(connection, found.revision_id).design_id
    crates = [each for each in stock.crates(connection, design_id) if each.on_floor]
    left, share = found.count, {}
    for each in crates:
        share[each.id] = min(left, each.on_floor)
        left -= share[each.id]
    newest = (
        select(bell.c.serial)
        .join(batch, batch.c.id == bell.c.batch_id)
        .join(revision, revision.c.id == batch.c.revision_id)
        .where(revision.c.design_id == design_id)
        .order_by(bell.c.id.desc())
        .limit(_RECENT)
    )
    first = next_in_row(list(connection.execute(newest).scalars()), first="")
    return ToSend(crates=crates, from_each=share, first=first)


def serials_from(first: str, count: int) -> list[str]:
    """So many serials in a row.

    >>> serials_from("HC-0099", 3)
    ['HC-0099', 'HC-0100', 'HC-0101']
    """
    match = _NUMBERED.fullmatch(first.strip())
    if match is None:
        given = f'"{first.strip()[:40]}" does not end in a number' if first.strip() else "missing"
        raise InputError("first", given, "write the first serial, as HC-0151")
    head, number, width = match[1], int(match[2]), len(match[2])
    return [f"{head}{number + place:0{width}d}" for place in range(count)]


def send_batch(
    books: Books,
    batch_id: int,
    from_each: Mapping[int, int],
    serials: Sequence[str],
    *,
    entry: Entry,
    send_key: str | None = None,
) -> None:
    """Send a planned batch: so many castings of each crate become the bells of these serials.

    Raises
    ------
    InputError
        As many castings as serials are not given.
    """
    given = sum(from_each.values())
    if given != len(serials):
        told = f"{len(serials)} for {given} castings"
        raise InputError("serials", told, "give each casting one")
    castings, left = [], list(serials)
    for crate_id, count in from_each.items():
        if count:
            castings.append((crate_id, left[:count]))
            left = left[count:]
    with books.writing() as connection:
        if first_time(connection, send_key, f"send batch {batch_id}", entry):
            stock.send_batch(connection, batch_id, castings, entry)


def take_back(books: Books, batch_id: int, *, entry: Entry, send_key: str | None = None) -> None:
    """Take a sent batch back: its bells come to the shelf."""
    with books.writing() as connection:
        if first_time(connection, send_key, f"take batch {batch_id} back", entry):
            stock.take_batch_back(connection, batch_id, entry)


# ── a day that moves ─────────────────────────────────────────────────────────────────────


@dataclass(frozen=True, kw_only=True)
class Shift:
    """What a batch's new day does to one promise."""

    before: Watched
    after: Watched

    @property
    def falls(self) -> bool:
        """It holds less surely, and is called by a worse word."""
        worse = promising.URGENCY[self.after.outcome] < promising.URGENCY[self.before.outcome]
        return worse and self.after.outcome in ("in danger", "doubtful")


def look_at_move(
    books: Books, batch_id: int, due: datetime.date, *, entry: Entry, today: datetime.date
) -> list[Shift]:
    """Every promise whose chance would be another if this batch were due on another day.

    Nothing is kept.
    """
    with books.writing() as connection:
        before = promising.watch(connection, today)
        trial = connection.begin_nested()
        stock.move_due(connection, batch_id, due, entry, why="tried")
        after = promising.watch(connection, today)
        trial.rollback()
    return shifts(before, after)


def shifts(before: Board, after: Board) -> list[Shift]:
    """Orders promised a day whose chance is another, those that fall first."""
    later = {each.order.id: each for each in after.watched}
    found = [
        Shift(before=each, after=later[each.order.id])
        for each in before.watched
        if each.chance is not None
        and each.order.id in later
        and abs((later[each.order.id].chance or 0.0) - each.chance) > 0.005
    ]
    return sorted(found, key=lambda each: (not each.falls, each.after.chance or 0.0))


def move_due(
    books: Books,
    batch_id: int,
    due: datetime.date,
    *,
    why: str,
    entry: Entry,
    seen: datetime.date | None = None,
    send_key: str | None = None,
) -> None:
    """Write a batch's new day down.

    Parameters
    ----------
    seen
        The day that it was due when somebody looked; where that is another by now, it is refused.
    """
    with books.writing() as connection:
        if not first_time(connection, send_key, f"move batch {batch_id} to {due}", entry):
            return
        found = stock.get_batch(connection, batch_id)
        if seen is not None and seen != found.due:
            raise MoveError(
                f"batch {found.label}", f"it was moved to {found.due} meanwhile", "look again"
            )
        if due == found.due:
            raise InputError("due", f"it is due on {due} already", "give another day")
        stock.move_due(connection, batch_id, due, entry, why=why)


# ── names proposed ───────────────────────────────────────────────────────────────────────


def next_batch_label(connection: Connection) -> str:
    """What the next batch may be called."""
    query = select(batch.c.label).order_by(batch.c.id.desc()).limit(_RECENT)
    return next_in_row(list(connection.execute(query).scalars()), first="B-01")


def next_crate_label(connection: Connection) -> str:
    """What the next crate may be called."""
    query = select(crate.c.label).order_by(crate.c.id.desc()).limit(_RECENT)
    return next_in_row(list(connection.execute(query).scalars()), first="CR-01")


# ── an order's moves ─────────────────────────────────────────────────────────────────────


def act_on_order(
    books: Books,
    order_id: int,
    act: str,
    *,
    entry: Entry,
    why: str = "",
    serial: str = "",
    seen: int | None = None,
    send_key: str | None = None,
) -> list[str]:
    """Allocate a bell to an order, free it, ship, close or cancel; give what it goes without.

    Parameters
    ----------
    seen
        Decisions on the bell when it was chosen: of two who allocate it at once, one is told.
    """
    with books.writing() as connection:
        if not first_time(connection, send_key, f"{act} order {order_id} {serial}".strip(), entry):
            return []
        match act:
            case "allocate":
                if not serial:
                    raise InputError("serial", "missing", "choose a bell")
                short = orders.allocate(connection, order_id, serial, entry, seen=seen)
            case "free":
                orders.free(connection, order_id, entry, why=why)
                short = []
            case "ship":
                short = orders.ship(connection, order_id, entry)
            case "close":
                orders.close(connection, order_id, entry)
                short = []
            case "cancel":
                orders.cancel(connection, order_id, entry, why=why)
                short = []
            case _:
                raise InputError.of([Problem("act", f'"{act[:40]}" is not known', "load it again")])
    return [str(each) for each in short]
