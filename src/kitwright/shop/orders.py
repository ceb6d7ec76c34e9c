"""Take an order: give it a bell that is free now, or the day on which a batch brings one."""

from __future__ import annotations

import datetime
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from sqlalchemy import Connection

from kitwright.books import conversions, kits, orders, standing
from kitwright.books.entries import Entry, Money
from kitwright.books.opening import Books
from kitwright.books.order_parts import Short
from kitwright.books.promises import bases_of, get_rule, loose_variants
from kitwright.books.sendings import first_time
from kitwright.books.shop import Party, add_party, parties
from kitwright.books.standing import Standing
from kitwright.books.tables import bell_now
from kitwright.errors import InputError, MoveError
from kitwright.shop import promising
from kitwright.shop.outlook import WAITS, supply_of


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
    variant_id: int,
    entry: Entry,
    today: datetime.date,
    customer_id: int | None = None,
    new_customer: str = "",
    car_id: int | None = None,
    option_ids: Sequence[int] = (),
    past_gate: str = "",
    send_key: str | None = None,
) -> Taken:
    """Take an order at the variant's price with its options, and promise what can be held.

    A released bell that no earlier order waits for is allocated at once. The day promised is the
    earliest that holds with the shop's wanted chance; what it rests on is kept. Where no day does,
    the order stays open and promises nothing.

    Parameters
    ----------
    new_customer
        Who asks for it, where there is no `customer_id` of theirs yet.
    past_gate
        Why a bell alone is sold although the bells are held back for kits.
    send_key
        An order that was sent before is taken once; the second time it is given as it stands.

    Raises
    ------
    MoveError
        A bell alone, while bells are held back for kits and no reason is given.
    """
    with books.writing() as connection:
        if not first_time(connection, send_key, f"order {label.strip()}", entry):
            return _taken_before(connection, label.strip())
        if customer_id is None:
            customer_id = add_party(connection, new_customer, "customer")
        return take(
            connection,
            label,
            customer_id=customer_id,
            variant_id=variant_id,
            entry=entry,
            today=today,
            car_id=car_id,
            option_ids=option_ids,
            past_gate=past_gate,
        )


def take(
    connection: Connection,
    label: str,
    *,
    customer_id: int,
    variant_id: int,
    entry: Entry,
    today: datetime.date,
    car_id: int | None = None,
    option_ids: Sequence[int] = (),
    past_gate: str = "",
    opened: Entry | None = None,
    promised_for: datetime.date | None = None,
    promises: bool = True,
) -> Taken:
    """As `take_order`, within a transaction.

    Parameters
    ----------
    opened
        When the order was taken, where that was earlier than its being written down.
    promised_for
        A day that is promised whatever its chance, which is kept with it.
    promises
        Whether anything is promised at all.
    """
    check_gate(connection, variant_id, today, past_gate)
    number = orders.open_order(
        connection,
        label,
        customer_id=customer_id,
        variant_id=variant_id,
        price=price_of(connection, variant_id, option_ids),
        entry=opened or entry,
        car_id=car_id,
        option_ids=option_ids,
    )
    if not promises:
        return Taken(
            order=orders.get_order(connection, number),
            serial=None,
            promised_for=None,
            chance=None,
            rests_on=(),
        )
    quoted = promising.of_order(connection, number, today)
    serial, short = None, list[Short]()
    day = promised_for or quoted.answer.day
    if day is not None:
        promising.keep(connection, number, quoted, entry, why=past_gate, day=day)
        opened_now = orders.get_order(connection, number)
        free = free_bells(connection, opened_now.design_id)
        ahead = _waiting_before(connection, opened_now)
        if len(free) > ahead:
            serial = free[ahead].serial
            short = orders.allocate(connection, number, serial, entry)
    return Taken(
        order=orders.get_order(connection, number),
        serial=serial,
        promised_for=day,
        chance=None if day is None else quoted.chance_on(day),
        rests_on=tuple(each.what for each in quoted.answer.rests_on),
        short=tuple(short),
    )


def check_gate(
    connection: Connection, variant_id: int, today: datetime.date, past_gate: str
) -> None:
    """Refuse a bell alone while bells are held back for kits and nobody says why all the same."""
    if variant_id not in loose_variants(connection) or past_gate.strip():
        return
    supply = supply_of(connection, kits.get_variant(connection, variant_id).design_id, today)
    gate = promising.gate_of(supply, service=get_rule(connection).service)
    if gate.loose_today < 1:
        raise MoveError(
            "gate",
            f"{gate.reserve} bells are held back for kits, none may be sold loose today",
            "wait until it opens, or say why it is sold all the same",
        )


def _taken_before(connection: Connection, label: str) -> Taken:
    found = orders.of_label(connection, label)
    bell = orders.bell_of(connection, found.id)
    basis = bases_of(connection, found.id)
    newest = basis[max(basis)] if basis else None
    return Taken(
        order=found,
        serial=None if bell is None else bell.serial,
        promised_for=found.promised_for,
        chance=None if newest is None else newest.chance,
        rests_on=() if newest is None else tuple(newest.rests_on_json),
    )


_NUMBERED: Final = re.compile(r"(.*?)([0-9]{1,15})")


def next_label(connection: Connection) -> str:
    """What the next order may be called, after the newest whose name ends in a number."""
    return next_in_row(orders.newest_labels(connection), first="O-1")


def next_in_row(newest: Sequence[str], *, first: str) -> str:
    """The name that follows the newest one that ends in a number.

    >>> next_in_row(["B-009", "sample", "B-010"], first="B-1")
    'B-011'
    """
    numbered = next((each for each in map(_NUMBERED.fullmatch, newest) if each), None)
    if numbered is None:
        return first
    number, label = int(numbered[2]), numbered[0]
    while label in newest:
        number += 1
        label = f"{numbered[1]}{number:0{len(numbered[2])}d}"
    return label


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
    waiting = orders.in_states(connection, WAITS, design_id=wanted.design_id)
    return sum(each.id < wanted.id for each in waiting)


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


def views(connection: Connection, found: Sequence[orders.Order]) -> list[OrderView]:
    """These orders as their rows show them, in the order given."""
    numbers = [each.id for each in found]
    customers = {each.id: each for each in parties(connection, "customer")}
    variants = {each.id: each for each in kits.variants(connection)}
    names = {each.id: each.name for each in kits.kits(connection)}
    cars = {each.id: each.name for each in conversions.cars(connection)}
    options = orders.all_options(connection, numbers)
    bells = orders.bells_of(connection, numbers)
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
        for each in found
    ]
