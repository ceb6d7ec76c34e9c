"""Pages ask the books as often for many rows as for few."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterator

import pytest
from sqlalchemy import event
from starlette.testclient import TestClient

from kitwright.books import designs, kits, standing, stock
from kitwright.books import orders as kept
from kitwright.books.decisions import decide_many
from kitwright.books.entries import Entry, Money
from kitwright.books.opening import Books
from kitwright.books.shop import parties
from kitwright.shop import bells, today
from kitwright.shop import stock as stock_of
from kitwright.shop.orders import OrderView, views
from kitwright.web.site import create_site

NOW = datetime.datetime(2026, 5, 5, 8, tzinfo=datetime.UTC)
ENTRY = Entry("Ines", NOW)


@pytest.fixture
def asked(demo_books: Books) -> Iterator[Callable[[Callable[[], object]], int]]:
    """Count the statements that something sends to the books."""
    sent: list[str] = []

    def note(connection: object, cursor: object, statement: str, *rest: object) -> None:
        sent.append(statement)

    def count(work: Callable[[], object]) -> int:
        sent.clear()
        work()
        return len(sent)

    engines = {id(each): each for each in (demo_books._engine, demo_books._reads)}.values()
    for engine in engines:
        event.listen(engine, "before_cursor_execute", note)
    yield count
    for engine in engines:
        event.remove(engine, "before_cursor_execute", note)


def add_orders(books: Books, count: int, prefix: str = "N") -> None:
    with books.writing() as connection:
        customer = parties(connection, "customer")[0].id
        variant = kits.variants(connection)[0]
        options = [each.id for each in kits.options(connection, variant.id)]
        for number in range(count):
            kept.open_order(
                connection,
                f"{prefix}-{number}",
                customer_id=customer,
                variant_id=variant.id,
                option_ids=options,
                price=Money(100, "USD"),
                entry=ENTRY,
            )


def add_batches(books: Books, count: int) -> None:
    """Batches of one bell each, which is rejected."""
    with books.writing() as connection:
        design = designs.designs(connection)[0]
        drawn = designs.in_force(connection, design.id)
        assert drawn is not None
        crate = stock.receive_crate(
            connection,
            "NC-1",
            design_id=design.id,
            supplier_id=parties(connection, "supplier")[0].id,
            count=count,
            cost=Money(1, "USD"),
            entry=ENTRY,
        )
        for number in range(count):
            batch = stock.plan_batch(
                connection,
                f"NB-{number}",
                revision_id=drawn.id,
                machinist_id=parties(connection, "machinist")[0].id,
                count=1,
                due=NOW.date(),
                entry=ENTRY,
            )
            stock.send_batch(connection, batch, [(crate, [f"N-{number}"])], ENTRY)
        serials = [f"N-{number}" for number in range(count)]
        decide_many(connection, serials, "reject", ENTRY)


def test_the_orders(demo_books: Books, asked: Callable[[Callable[[], object]], int]) -> None:
    def every() -> list[OrderView]:
        with demo_books.reading() as connection:
            return views(connection, kept.orders(connection)[::-1])

    before = every()
    few = asked(every)
    add_orders(demo_books, 30)
    assert few == asked(every) > 0
    after = every()
    assert after[30:] == before
    with demo_books.reading() as connection:
        for each in after:
            assert each.bell == kept.bell_of(connection, each.order.id)
            options = kept.options_of(connection, each.order.id)
            assert each.options == tuple(option.name for option in options)
    assert after[0].options


def test_the_batches_and_what_is_rejected(
    demo_books: Books, asked: Callable[[Callable[[], object]], int]
) -> None:
    day = NOW.date()
    app = create_site(demo_books, hosts=["testserver"], clock=lambda: NOW)
    with TestClient(app) as client:
        listed = asked(lambda: client.get("/batches"))
        looked = asked(lambda: today.look(demo_books, today=day))
        add_batches(demo_books, 20)
        assert listed == asked(lambda: client.get("/batches")) > 0
        assert looked == asked(lambda: today.look(demo_books, today=day)) > 0
        assert "NB-19" in client.get("/batches").text
    tasks = {task.subject: task.asked for task in today.look(demo_books, today=day).tasks}
    assert tasks["Batch NB-19"] == "rejected N-19: rework, concede or scrap"


def test_the_stock_and_a_part(
    demo_books: Books, asked: Callable[[Callable[[], object]], int]
) -> None:
    day = NOW.date()
    app = create_site(demo_books, hosts=["testserver"], clock=lambda: NOW)
    addresses = ["/stock", "/stock/parts/1", "/scan?what=P-01", "/", "/board"]
    add_orders(demo_books, 1, "M")  # the supply of each design that is waited for is read once
    with TestClient(app) as client:
        few = [asked(lambda each=each: client.get(each)) for each in addresses]  # type: ignore[misc]
        wanted = stock_of.view(demo_books, today=day).parts[0].asked
        add_orders(demo_books, 30)
        assert few == [asked(lambda each=each: client.get(each)) for each in addresses]  # type: ignore[misc]
        assert min(few) > 0
    assert stock_of.view(demo_books, today=day).parts[0].asked == wanted + 30


def test_a_bells_route_reads_its_own_orders_only(demo_books: Books) -> None:
    with demo_books.reading() as connection:
        bell = standing.one(connection, "HC-0101")
        assert bell.order_id is not None
        label = kept.get_order(connection, bell.order_id).label
        assert kept.labels(connection, {bell.order_id}) == {bell.order_id: label}
        assert kept.labels(connection, set()) == {}
    details = [line.detail for line in bells.view(demo_books, "HC-0101").route]
    assert sum(f"order {label}" in detail for detail in details) == 2  # allocated, shipped
