"""Orders: open, promised for a day, allocated a bell, shipped, closed; or cancelled before."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import ColumnElement, Connection, Select, select

from kitwright.books import decisions, kits, order_parts, rows, standing, steps
from kitwright.books.entries import Entry, Money, day, reason, words
from kitwright.books.kits import Option
from kitwright.books.order_parts import Short
from kitwright.books.shop import get_party
from kitwright.books.standing import Standing
from kitwright.books.tables import (
    bell_now,
    decision,
    order,
    order_option,
    order_step,
    variant,
    variant_option,
)
from kitwright.books.transactions import all_or_nothing
from kitwright.errors import InputError, MissingError, MoveError


@dataclass(frozen=True, kw_only=True)
class Order:
    """One kit for one customer. `promised_for` is the newest promise, None before the first."""

    id: int
    label: str
    customer_id: int
    variant_id: int
    car_id: int | None
    price_minor: int
    price_currency: str
    design_id: int
    state: str
    promised_for: date | None

    @property
    def price(self) -> Money:
        """As agreed; it stays when the variant's price changes."""
        return Money(self.price_minor, self.price_currency)

    @property
    def named(self) -> str:
        """How a line to a person names it."""
        return f"order {self.label}"


@all_or_nothing
def open_order(
    connection: Connection,
    label: str,
    *,
    customer_id: int,
    variant_id: int,
    price: Money,
    entry: Entry,
    car_id: int | None = None,
    option_ids: Sequence[int] = (),
) -> int:
    """Open an order for a variant with these options, at a price; give its number."""
    get_party(connection, customer_id, "customer")
    offered = {each.id for each in kits.options(connection, variant_id)}
    if foreign := [each for each in option_ids if each not in offered]:
        raise InputError("options", f"{foreign} are not of this variant", "name its own")
    number = rows.add(
        connection,
        order,
        named="label",
        label=words(label, where="label"),
        customer_id=customer_id,
        variant_id=kits.get_variant(connection, variant_id).id,
        car_id=car_id,
        **price.columns("price"),
    )
    for option_id in dict.fromkeys(option_ids):
        rows.add(connection, order_option, order_id=number, variant_option_id=option_id)
    steps.begin(connection, steps.ORDER, number, entry)
    return number


def promise(
    connection: Connection, order_id: int, promised_for: date, entry: Entry, *, why: str = ""
) -> None:
    """Promise a day. Another day than was promised before needs a reason.

    Raises
    ------
    MissingError, InputError, MoveError
        No such order; no reason; it has a bell allocated, or is past promising.
    """
    found = get_order(connection, order_id)
    promised_for = day(promised_for, where="promised_for")
    if found.state == "allocated":
        raise MoveError(found.named, "a bell is allocated to it", "free that first, or ship it")
    if found.promised_for is not None:
        why = reason(why, where="why", needed_by="a new promise")
    _take(connection, order_id, "promised", entry, why=why, promised_for=promised_for)


@all_or_nothing
def allocate(
    connection: Connection, order_id: int, serial: str, entry: Entry, *, seen: int | None = None
) -> list[Short]:
    """Allocate a released bell of the variant's design to a promised order.

    The parts of its kit that are kept by count are set aside with it; give which are short. Of two
    who allocate one bell at once, or two bells to one order, one wins.

    Raises
    ------
    MissingError, MoveError
        No such order or bell; the bell is of another design or not released (any more), the
        order not promised.
    """
    found = get_order(connection, order_id)
    bell = standing.one(connection, serial)
    if bell.design_id != found.design_id:
        raise MoveError(
            bell.named, f"is of another design than {found.named} asks for", "allocate its own"
        )
    decisions.decide(connection, serial, "allocate", entry, order_id=order_id, seen=seen)
    _take(connection, order_id, "allocated", entry)
    return order_parts.reserve(connection, order_id, entry)


@all_or_nothing
def free(connection: Connection, order_id: int, entry: Entry, *, why: str) -> None:
    """Take the allocated bell and its parts away from an order; the promise stands."""
    why = reason(why, where="why", needed_by="freeing a bell")
    decisions.decide(
        connection, _bell_to(connection, order_id, "free").serial, "free", entry, why=why
    )
    _take(connection, order_id, "promised", entry, why=why)
    order_parts.free(connection, [order_id], entry, why=why)


@all_or_nothing
def ship(connection: Connection, order_id: int, entry: Entry) -> list[Short]:
    """Ship an order: its bell and its parts leave for the customer; give what it goes without."""
    bell = _bell_to(connection, order_id, "shipped")
    decisions.decide(connection, bell.serial, "ship", entry)
    _take(connection, order_id, "shipped", entry)
    return order_parts.send(connection, order_id, entry)


def close(connection: Connection, order_id: int, entry: Entry) -> None:
    """Close a shipped order."""
    _take(connection, order_id, "closed", entry)


@all_or_nothing
def cancel(connection: Connection, order_id: int, entry: Entry, *, why: str) -> None:
    """Cancel an order before it ships; what was set aside for it is free again."""
    why = reason(why, where="why", needed_by="cancelling")
    bell = bell_of(connection, order_id)
    _take(connection, order_id, "cancelled", entry, why=why)
    if bell is not None:
        decisions.decide(connection, bell.serial, "free", entry, why=why)
    order_parts.free(connection, [order_id], entry, why=why)


def _take(connection: Connection, order_id: int, to: str, entry: Entry, **more: Any) -> None:
    named = get_order(connection, order_id).named
    steps.take(connection, steps.ORDER, order_id, to, entry, named=named, **more)


def _bell_to(connection: Connection, order_id: int, to: str) -> Standing:
    bell = bell_of(connection, order_id)
    if bell is None or bell.state != "allocated":
        found = get_order(connection, order_id)
        raise MoveError(
            found.named, f"no bell is allocated to it, it is {found.state}", f'"{to}" needs one'
        )
    return bell


def bell_of(connection: Connection, order_id: int) -> Standing | None:
    """The bell that is allocated to an order, or was shipped with it and is still out."""
    once = select(decision.c.bell_id).where(decision.c.order_id == rows.key_of(order_id))
    found = standing.where(
        connection,
        bell_now.c.bell_id.in_(once),
        bell_now.c.order_id == order_id,
        bell_now.c.state.in_(("allocated", "shipped", "fitted")),
    )
    return found[0] if found else None


def get_order(connection: Connection, order_id: int) -> Order:
    """The order of this number."""
    found = _orders(connection, order.c.id == rows.key_of(order_id))
    if not found:
        raise MissingError("order", f"there is no order number {order_id}")
    return found[0]


def orders(
    connection: Connection, *, state: str | None = None, customer_id: int | None = None
) -> list[Order]:
    """Every order, or those in one state or of one customer, in the order opened."""
    wanted = () if customer_id is None else (order.c.customer_id == customer_id,)
    return _orders(connection, *wanted, states=None if state is None else [state])


def in_states(
    connection: Connection, states: Collection[str], *, design_id: int | None = None
) -> list[Order]:
    """Orders in any of these states, of one design where it is given, in the order opened."""
    wanted = () if design_id is None else (variant.c.design_id == design_id,)
    return _orders(connection, *wanted, states=states)


def these(connection: Connection, order_ids: Collection[int]) -> list[Order]:
    """The orders of these numbers, as many as there are, in the order opened."""
    return _orders(connection, order.c.id.in_(order_ids))


@dataclass(frozen=True, kw_only=True)
class OrderStep:
    """A step of an order, and the day that it promised, where it did."""

    number: int
    state: str
    promised_for: date | None
    happened: datetime
    recorded: datetime
    who: str
    why: str | None


def history(connection: Connection, order_id: int) -> list[OrderStep]:
    """Every step that an order took."""
    query = (
        select(*(order_step.c[name] for name in OrderStep.__dataclass_fields__))
        .where(order_step.c.order_id == rows.key_of(order_id))
        .order_by(order_step.c.number)
    )
    return rows.read(connection, query, OrderStep)


def _orders(
    connection: Connection,
    *conditions: ColumnElement[bool],
    states: Collection[str] | None = None,
) -> list[Order]:
    now = steps.now(steps.ORDER)
    if states is not None:
        conditions = (*conditions, now.c.state.in_(states))
    promised = (
        select(order_step.c.promised_for)
        .where(order_step.c.order_id == order.c.id, order_step.c.promised_for.is_not(None))
        .order_by(order_step.c.number.desc())
        .limit(1)
        .scalar_subquery()
    )
    query = (
        select(order, variant.c.design_id, now.c.state, promised.label("promised_for"))
        .join(now, now.c.order_id == order.c.id)
        .join(variant, variant.c.id == order.c.variant_id)
        .where(*conditions)
        .order_by(order.c.id)
    )
    return rows.read(connection, query, Order)


def of_label(connection: Connection, label: str) -> Order:
    """The order of this label."""
    found = _orders(connection, order.c.label == rows.text_of(label))
    if not found:
        raise MissingError("order", f'there is no order "{label[:60]}"', "name it as on its page")
    return found[0]


def newest_labels(connection: Connection, most: int = 200) -> list[str]:
    """The labels of the orders written down last, the newest first."""
    query = select(order.c.label).order_by(order.c.id.desc()).limit(most)
    return list(connection.execute(query).scalars())


def labels(connection: Connection, order_ids: Collection[int]) -> dict[int, str]:
    """Number → label, of these orders."""
    query = select(order.c.id, order.c.label).where(order.c.id.in_(order_ids))
    return {row.id: row.label for row in connection.execute(query)}


def bells_of(
    connection: Connection, order_ids: Collection[int] | None = None
) -> dict[int, Standing]:
    """Every order's bell, or those of these, as `bell_of`; orders that have none are left out."""
    mine = () if order_ids is None else (bell_now.c.bell_id.in_(_ever_of(order_ids)),)
    found = standing.where(
        connection,
        *mine,
        bell_now.c.order_id.is_not(None)
        if order_ids is None
        else bell_now.c.order_id.in_(order_ids),
        bell_now.c.state.in_(("allocated", "shipped", "fitted")),
    )
    return {bell.order_id: bell for bell in found if bell.order_id is not None}


def _ever_of(order_ids: Collection[int]) -> Select[tuple[int]]:
    """Bells that ever had one of these orders: few, and found by an index."""
    return select(decision.c.bell_id).where(decision.c.order_id.in_(order_ids))


def all_options(
    connection: Connection, order_ids: Collection[int] | None = None
) -> dict[int, list[str]]:
    """Options by name, of every order or of these; orders that have none are left out."""
    query = (
        select(order_option.c.order_id, variant_option.c.name)
        .join(variant_option, variant_option.c.id == order_option.c.variant_option_id)
        .order_by(variant_option.c.name)
    )
    if order_ids is not None:
        query = query.where(order_option.c.order_id.in_(order_ids))
    found: dict[int, list[str]] = {}
    for order_id, name in connection.execute(query):
        found.setdefault(order_id, []).append(name)
    return found


def options_of(connection: Connection, order_id: int) -> list[Option]:
    """The options that an order asks for."""
    query = (
        select(variant_option)
        .join(order_option, order_option.c.variant_option_id == variant_option.c.id)
        .where(order_option.c.order_id == rows.key_of(order_id))
        .order_by(variant_option.c.name)
    )
    return rows.read(connection, query, Option)
