"""A page of ten thousand orders, against running its own statements on the bare driver."""

from __future__ import annotations

import datetime
import sqlite3
from collections.abc import Callable
from pathlib import Path

from sqlalchemy import event, insert

from benchmarks.ratios import ratio, report
from kitwright.books import kits
from kitwright.books.opening import Books
from kitwright.books.shop import parties
from kitwright.books.tables import order, order_step
from kitwright.demo.story import run
from kitwright.shop.opening import open_shop
from kitwright.shop.order_view import listed

TODAY = datetime.date(2026, 5, 4)
NOW = datetime.datetime(2026, 5, 4, 15, tzinfo=datetime.UTC)
ORDERS = 10_000
WAITING = 40


def test_a_page_of_ten_thousand_orders_keeps_up_with_its_sql(tmp_path: Path) -> None:
    folder = tmp_path / "shop"
    run(folder, today=TODAY, tell=lambda line: None)
    with open_shop(folder) as books:
        fill(books)
        ways: dict[str, Callable[[], object]] = {
            "the newest": lambda: listed(books, TODAY),
            "one state, some words": lambda: listed(books, TODAY, state="closed", text="steel"),
        }
        for words, ours in ways.items():
            bare = bare_reader(books, ours)
            found = ratio(ours, bare, rounds=7)
            report(f"page of 10 000 orders, {words}, over its bare SQL", found, "at most 5")
            assert found <= 5


def fill(books: Books) -> None:
    """Orders long closed, and the newest forty promised."""
    with books.writing() as connection:
        customers = [each.id for each in parties(connection, "customer")]
        variants = kits.variants(connection)
        first = 10_000
        rows, steps = [], []
        line = {"who": "Ines", "happened": NOW - datetime.timedelta(days=400), "recorded": NOW}
        for place in range(ORDERS):
            variant = variants[place % len(variants)]
            number = first + place
            rows.append(
                {"id": number, "label": f"X-{place:05d}", "variant_id": variant.id,
                 "customer_id": customers[place % len(customers)], **variant.price.columns("price")}
            )  # fmt: skip
            states = ["open", "promised"]
            if place < ORDERS - WAITING:
                states += ["allocated", "shipped", "closed"]
            steps += [
                {"order_id": number, "number": rank, "state": state, **line,
                 "promised_for": TODAY if state == "promised" else None}
                for rank, state in enumerate(states, start=1)
            ]  # fmt: skip
        connection.execute(insert(order), rows)
        connection.execute(insert(order_step), steps)


def bare_reader(books: Books, ours: Callable[[], object]) -> Callable[[], None]:
    """Each call runs the statements that `ours` ran, and fetches all that they give."""
    ran: list[tuple[str, object]] = []

    def remember(
        _connection: object, _cursor: object, statement: str, given: object, *_: object
    ) -> None:
        if statement.lstrip().upper().startswith(("SELECT", "WITH")):
            ran.append((statement, given))

    engine = books._engine
    event.listen(engine, "before_cursor_execute", remember)
    ours()
    event.remove(engine, "before_cursor_execute", remember)
    source = sqlite3.connect(str(engine.url.database))

    def read() -> None:
        for statement, given in ran:
            source.execute(statement, given).fetchall()  # type: ignore[arg-type]

    return read
