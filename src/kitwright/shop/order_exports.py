"""Orders and the board to take away, as workbooks."""

from __future__ import annotations

import datetime
from typing import Final

from kitwright.books import orders
from kitwright.books.opening import Books
from kitwright.files.tables import Cell
from kitwright.files.workbook import Sheet, write_workbook
from kitwright.shop import promising
from kitwright.shop.orders import OrderView, views
from kitwright.shop.promising import Watched
from kitwright.shop.week import Week

_ORDERS: Final = (
    "order", "customer", "kit", "variant", "options", "car", "state", "promised for",
    "chance now", "stands", "bell", "price", "currency",
)  # fmt: skip
_BOARD: Final = (
    "stands", "order", "customer", "kit", "variant", "promised for", "chance now",
    "earliest now", "held up by", "chance when made", "rested on", "changed since",
)  # fmt: skip
_DUE: Final = ("batch", "bell", "machinist", "bells", "due", "overdue")
_DAY: Final = ("as of", "chance a day must hold with")


def orders_xlsx(books: Books, *, today: datetime.date, created: datetime.datetime) -> bytes:
    """Every order, the newest first, with how surely each promise holds today."""
    with books.reading() as connection:
        board = promising.watch(connection, today)
        shown = views(connection, orders.orders(connection)[::-1])
    watched = {each.order.id: each for each in board.watched}
    rows = [_order_row(each, watched.get(each.order.id)) for each in shown]
    day = [(today.isoformat(), board.rule.chance)]
    return write_workbook(
        [
            Sheet(name="orders", header=_ORDERS, rows=rows),
            Sheet(name="day", header=_DAY, rows=day),
        ],
        created=created,
    )


def _order_row(view: OrderView, watched: Watched | None) -> tuple[Cell, ...]:
    order = view.order
    return (
        order.label,
        view.customer.name,
        view.kit,
        view.variant,
        "; ".join(view.options),
        view.car,
        order.state,
        _day(order.promised_for),
        None if watched is None else watched.chance,
        "" if watched is None else watched.outcome,
        view.bell.serial if view.bell else "",
        float(order.price.amount),
        order.price_currency,
    )


def board_xlsx(week: Week, *, created: datetime.datetime) -> bytes:
    """The board, the batches due this week, and the day it was looked at."""
    rows: list[tuple[Cell, ...]] = []
    for line in week.lines:
        found = line.watched
        rows.append(
            (
                found.outcome,
                found.order.label,
                line.view.customer.name,
                line.view.kit,
                line.view.variant,
                _day(found.order.promised_for),
                found.chance,
                _day(found.earliest),
                found.slowest or "",
                found.basis.chance if found.basis else None,
                "; ".join(line.rested_on),
                "; ".join(line.changed),
            )
        )
    due: list[tuple[Cell, ...]] = [
        (
            each.batch.label,
            each.design,
            each.machinist,
            each.batch.count,
            each.batch.due.isoformat(),
            "overdue" if each.overdue else "",
        )
        for each in week.due
    ]
    day = [(week.board.today.isoformat(), week.board.rule.chance)]
    return write_workbook(
        [
            Sheet(name="board", header=_BOARD, rows=rows),
            Sheet(name="batches due", header=_DUE, rows=due),
            Sheet(name="day", header=_DAY, rows=day),
        ],
        created=created,
    )


def _day(day: datetime.date | None) -> str:
    return "" if day is None else day.isoformat()
