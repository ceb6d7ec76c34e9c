"""Take an order: give it a bell that is free now, or the day on which a batch brings one."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import Connection

from kitwright.books import conversions, kits, orders, standing, stock
from kitwright.books.designs import revisions
from kitwright.books.entries import Entry, Money
from kitwright.books.opening import Books
from kitwright.books.order_parts import Short
from kitwright.books.shop import Party, parties
from kitwright.books.standing import Standing
from kitwright.books.tables import bell_now
from kitwright.errors import InputError


@dataclass(frozen=True, kw_only=True)
class Taken:
    """An order as taken: the bell it got, or the day it was promised, and what that rests on.

    `short` is what could not be set aside with the bell.
    """

    order: orders.Order
    serial: str | None
    promised_for: datetime.date | None
    rests_on: str
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
) -> Taken:
    """Take an order at the variant's price with its options, and promise what can be held.

    A released bell that no earlier order waits for is allocated at once and promised for today.
    Else the order waits its turn for the batch that brings a bell for it, and is promised that
    batch's day. Without such a batch, or when its day is past, it stays open and promises nothing.
    """
    with books.writing() as connection:
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
        free = free_bells(connection, opened.design_id)
        ahead = _waiting_before(connection, opened)
        serial, day, short = None, None, list[Short]()
        if len(free) > ahead:
            serial, day = free[ahead].serial, today
            orders.promise(connection, number, today, entry)
            short = orders.allocate(connection, number, serial, entry)
            rests_on = f"bell {serial}, released and on the shelf"
        else:
            batch = batch_for(connection, opened)
            if batch is None:
                rests_on = "no batch is planned that has a bell to spare"
            elif batch.due < today:
                rests_on = f"batch {batch.label} is overdue, due {batch.due.isoformat()}"
            else:
                day = batch.due
                orders.promise(connection, number, day, entry)
                rests_on = f"batch {batch.label}, due {batch.due.isoformat()}"
        return Taken(
            order=orders.get_order(connection, number),
            serial=serial,
            promised_for=day,
            rests_on=rests_on,
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


def batch_for(connection: Connection, wanted: orders.Order) -> stock.Batch | None:
    """The batch that has a bell for this order, orders served in turn and batches by their day.

    Those before it are served from the shelf first. A planned or sent batch counts with all its
    bells: what its yield will be is not asked here.
    """
    on_shelf = len(free_bells(connection, wanted.design_id))
    ahead = max(0, _waiting_before(connection, wanted) - on_shelf)
    own = {revision.id for revision in revisions(connection, wanted.design_id)}
    coming = [
        batch
        for batch in stock.batches(connection)
        if batch.revision_id in own and batch.state in ("planned", "sent")
    ]
    for batch in sorted(coming, key=lambda each: (each.due, each.id)):
        if ahead < batch.count:
            return batch
        ahead -= batch.count
    return None


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
