"""Orders by state, customer and words, a page at a time, the newest first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import Connection, Select, exists, func, or_, select

from kitwright.books import orders, rows, steps
from kitwright.books.tables import kit, order, party, variant

MOST: Final = 100
"""Orders on one page."""


@dataclass(frozen=True, kw_only=True)
class Found:
    """One page of what was asked for, and how many there are in all."""

    count: int
    orders: Sequence[orders.Order]


def search(
    connection: Connection,
    *,
    state: str = "",
    customer_id: int | None = None,
    text: str = "",
    skip: int = 0,
    most: int = MOST,
) -> Found:
    """Orders that fit all that is given, the newest first.

    Parameters
    ----------
    state : one of an order's states; empty for any
    customer_id : whose they are
    text : part of the order's, the customer's, the kit's or the variant's name, in any case
    skip, most : orders passed over, and orders given at most
    """
    query = _matching(state, customer_id, text)
    count = connection.execute(select(func.count()).select_from(query.subquery())).scalar_one()
    numbers = connection.execute(query.order_by(order.c.id.desc()).offset(skip).limit(most))
    ids = list(numbers.scalars())
    return Found(count=int(count), orders=orders.these(connection, ids)[::-1] if ids else [])


def _matching(state: str, customer_id: int | None, text: str) -> Select[Any]:
    query = select(order.c.id)
    if state:
        now = steps.now(steps.ORDER)
        query = query.join(now, now.c.order_id == order.c.id).where(now.c.state == state)
    if customer_id is not None:
        query = query.where(order.c.customer_id == rows.key_of(customer_id))
    wanted = rows.text_of(text.strip())
    if wanted:
        query = query.where(
            or_(
                order.c.label.icontains(wanted, autoescape=True),
                exists().where(
                    party.c.id == order.c.customer_id,
                    party.c.name.icontains(wanted, autoescape=True),
                ),
                exists().where(
                    variant.c.id == order.c.variant_id,
                    kit.c.id == variant.c.kit_id,
                    or_(
                        variant.c.name.icontains(wanted, autoescape=True),
                        kit.c.name.icontains(wanted, autoescape=True),
                    ),
                ),
            )
        )
    return query
