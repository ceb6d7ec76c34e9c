"""Take an order: give it a bell that is free now, or the day on which a batch brings one."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import Connection

from kitwright.books import conversions, kits, orders, standing
from kitwright.books.entries import Entry, Money
from kitwright.books.opening import Books
from kitwright.books.order_parts import Short
from kitwright.books.shop import Party, parties
from kitwright.books.standing import Standing
from kitwright.books.tables import bell_now
from kitwright.errors import InputError, MoveError
from kitwright.shop import promising


@dataclass(frozen=True, kw_only=True)
class Taken:
    """An order as taken: the bell it got, or the day it was promised, and what that rests on.

    `short` is what could not be set aside with the bell.
    """

    order: orders.Order
    serial: str | None
    promised_for: datetime.date | None
    chance: float | None
    """That the day holds."""
    rests_on: tuple[str, ...]
    short: tuple[Short, ...] = ()


def take_order(
    books: Books,
    label: str,
    *,
    customer_id: int,
    variant_id: int,
    entry: Entry,
    today: datetime.date,
    car_id: int | None = None,
    option_ids: Sequence[int] = (),
    past_gate: str = "",
) -> Taken:
    """Take an order at the variant's price with its options, and promise what can be held.

    A released bell that no earlier order waits for is allocated at once. The day promised is the
    earliest that holds with the shop's wanted chance; what it rests on is kept. Where no day does,
    the order stays open and promises nothing.

    Parameters
    ----------
    past_gate
        Why a bell alone is sold although the bells are held back for kits.

    Raises
    ------
    MoveError
        A bell alone, while bells are held back for kits and no reason is given.
    """
    with books.writing() as connection:
        asked = promising.quote(connection, variant_id, today)
        if asked.gate_shut and not past_gate.strip():
            raise MoveError(
                "gate",
                f"{asked.gate.reserve} bells are held back for kits, none may be sold loose today",
                "wait until it opens, or say why it is sold all the same",
            )
        number = orders.open_order(
            connection,
            label,
            customer_id=customer_id,
            variant_id=variant_id,
            price=price_of(connection, variant_id, option_ids),
            entry=entry,
            car_id=car_id,
            option_ids=option_ids,
        )
        opened = orders.get_order(connection, number)
        quoted = promising.of_order(connection, number, today)
        free = free_bells(connection, opened.design_id)
        ahead = _waiting_before(connection, opened)
        serial, short = None, list[Short]()
        if quoted.answer.day is not None:
            promising.keep(connection, number, quoted, entry, why=past_gate)
            if len(free) > ahead:
                serial = free[ahead].serial
                short = orders.allocate(connection, number, serial, entry)
        return Taken(
            order=orders.get_order(connection, number),
            serial=serial,
            promised_for=quoted.answer.day,
            chance=quoted.answer.chance,
            rests_on=tuple(each.what for each in quoted.answer.rests_on),
            short=tuple(short),
        )


def price_of(connection: Connection, variant_id: int, option_ids: Sequence[int] = ()) -> Money:
    """A variant's price with these options; exact, and in one currency."""
    price = kits.get_variant(connection, variant_id).price
    minor = price.minor
    for option in kits.options(connection, variant_id):
        if option.id in option_ids:
            if option.price.currency != price.currency:
                raise InputError(
                    "options",
                    f"{option.name} is priced in {option.price.currency}",
                    f"the variant is priced in {price.currency}",
                )
            minor += option.price.minor
    return Money(minor, price.currency)


def free_bells(connection: Connection, design_id: int) -> list[Standing]:
    """Released bells of a design that stand on the shelf, by serial."""
    return standing.where(
        connection,
        bell_now.c.design_id == design_id,
        bell_now.c.state == "released",
        bell_now.c.place == "shelf",
    )


def _waiting_before(connection: Connection, wanted: orders.Order) -> int:
    """How many earlier orders wait for a bell of the same design."""
    return sum(
        each.state in ("open", "promised") and each.design_id == wanted.design_id
        for each in orders.orders(connection)
        if each.id < wanted.id
    )


@dataclass(frozen=True, kw_only=True)
class OrderView:
    """An order as its row and page show it."""

    order: orders.Order
    customer: Party
    kit: str
    variant: str
    car: str
    options: tuple[str, ...]
    bell: Standing | None


def views(books: Books) -> list[OrderView]:
    """Every order, newest first."""
    with books.reading() as connection:
        customers = {each.id: each for each in parties(connection, "customer")}
        variants = {each.id: each for each in kits.variants(connection)}
        names = {each.id: each.name for each in kits.kits(connection)}
        cars = {each.id: each.name for each in conversions.cars(connection)}
        options = orders.all_options(connection)
        bells = orders.bells_of(connection)
        return [
            OrderView(
                order=each,
                customer=customers[each.customer_id],
                kit=names[variants[each.variant_id].kit_id],
                variant=variants[each.variant_id].name,
                car=cars.get(each.car_id or 0, ""),
                options=tuple(options.get(each.id, ())),
                bell=bells.get(each.id),
            )
            for each in reversed(orders.orders(connection))
        ]
