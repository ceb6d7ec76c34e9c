"""Pages of orders: the list with how surely each is held, and one order with its whole story."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from kitwright.books import conversions, kits, order_parts, orders, promises
from kitwright.books.opening import Books
from kitwright.books.order_search import MOST, search
from kitwright.books.orders import OrderStep
from kitwright.books.parts import parts
from kitwright.books.promises import Basis
from kitwright.books.shop import Party, parties
from kitwright.books.standing import Standing
from kitwright.shop import promising
from kitwright.shop.orders import OrderView, free_bells, next_label, views
from kitwright.shop.outlook import WAITS
from kitwright.shop.promise_changes import changes
from kitwright.shop.promising import Quote, Watched


@dataclass(frozen=True, kw_only=True)
class Listed:
    """One page of the list of orders."""

    rows: Sequence[tuple[OrderView, Watched | None]]
    """Each order, and how surely its promise holds where it waits."""
    count: int
    """Orders that fit, on all pages."""
    page: int
    pages: int


def listed(
    books: Books,
    today: datetime.date,
    *,
    state: str = "",
    customer_id: int | None = None,
    text: str = "",
    page: int = 1,
) -> Listed:
    """Orders of a state, a customer, with these words; the newest first, a hundred a page."""
    with books.reading() as connection:
        skip = (max(page, 1) - 1) * MOST
        found = search(connection, state=state, customer_id=customer_id, text=text, skip=skip)
        shown = views(connection, found.orders)
        waiting = any(each.order.state in WAITS for each in shown)
        board = promising.watch(connection, today) if waiting else None
    watched = {} if board is None else {each.order.id: each for each in board.watched}
    return Listed(
        rows=[(each, watched.get(each.order.id)) for each in shown],
        count=found.count,
        page=max(page, 1),
        pages=max(1, -(-found.count // MOST)),
    )


@dataclass(frozen=True, kw_only=True)
class Story:
    """An order with everything that was promised, what that rested on, and what may be done."""

    view: OrderView
    steps: Sequence[OrderStep]
    bases: Mapping[int, Basis]
    """By the step that promised."""
    quote: Quote | None
    """What could be promised today; None where it does not wait."""
    chance: float | None
    """That the day promised holds, by today's knowledge."""
    outcome: str | None
    changed: Sequence[str]
    """Since the newest promise was made."""
    free: Sequence[Standing]
    """Bells that may be allocated to it."""
    lacking: Sequence[str]
    """What is short of its kit."""

    @property
    def order(self) -> orders.Order:
        return self.view.order

    @property
    def can(self) -> frozenset[str]:
        """What may be done with it now."""
        state = self.order.state
        return frozenset(
            {
                "open": {"promise", "cancel"},
                "promised": {"promise", "allocate", "cancel"},
                "allocated": {"free", "ship", "cancel"},
                "shipped": {"close"},
            }.get(state, set())
        )


def story(books: Books, order_id: int, today: datetime.date) -> Story:
    """An order's page."""
    with books.reading() as connection:
        found = orders.get_order(connection, order_id)
        bases = promises.bases_of(connection, order_id)
        quote = chance = outcome = None
        changed: list[str] = []
        if found.state in WAITS:
            quote = promising.of_order(connection, order_id, today)
            if found.promised_for is not None:
                chance = quote.chance_on(found.promised_for)
            outcome = promising.outcome_of(chance, quote.rule)
            if bases:
                changed = changes(bases[max(bases)].case_json, quote.case)
        lacks = order_parts.lacking_of(connection, [order_id]).get(order_id, {})
        names = {each.id: each.name for each in parts(connection)}
        return Story(
            view=views(connection, [found])[0],
            steps=orders.history(connection, order_id),
            bases=bases,
            quote=quote,
            chance=chance,
            outcome=outcome,
            changed=changed,
            free=free_bells(connection, found.design_id) if found.state == "promised" else (),
            lacking=[f"{count} {names[part_id]}" for part_id, count in lacks.items()]
            if found.state == "allocated"
            else (),
        )


@dataclass(frozen=True, kw_only=True)
class Choices:
    """What an order may ask for, and what it is called if nobody says otherwise."""

    customers: Sequence[Party]
    variants: Sequence[tuple[kits.Variant, str, Sequence[kits.Option]]]
    """With the kit's name and the options."""
    cars: Sequence[tuple[int, str]]
    label: str


def choices(books: Books) -> Choices:
    """What the form of an order offers."""
    with books.reading() as connection:
        names = {each.id: each.name for each in kits.kits(connection)}
        return Choices(
            customers=parties(connection, "customer"),
            variants=[
                (each, names[each.kit_id], kits.options(connection, each.id))
                for each in kits.variants(connection)
            ],
            cars=[(each.id, each.name) for each in conversions.cars(connection)],
            label=next_label(connection),
        )


def case_of_order(books: Books, order_id: int, today: datetime.date) -> dict[str, Any]:
    """The case of the worksheet `promise` of an order that waits."""
    with books.reading() as connection:
        return dict(promising.of_order(connection, order_id, today).case)
