"""Orders as they are taken: who is served from the shelf, and which day is promised."""

from __future__ import annotations

import datetime

import pytest

from kitwright.books import conversions, kits, stock
from kitwright.books import orders as kept
from kitwright.books.designs import in_force
from kitwright.books.entries import Entry, Money
from kitwright.books.opening import Books
from kitwright.books.shop import parties
from kitwright.shop.orders import Taken, free_bells, take_order, views

TODAY = datetime.date(2026, 5, 4)
ENTRY = Entry(who="Ines", recorded=datetime.datetime(2026, 5, 4, 12, tzinfo=datetime.UTC))


class _Counter:
    """The demo shop taking one order after another for one variant."""

    def __init__(self, books: Books) -> None:
        self.books = books
        with books.reading() as connection:
            self.customer = parties(connection, "customer")[0].id
            self.machinist = parties(connection, "machinist")[0].id
            self.variant = next(
                variant
                for kit in kits.kits(connection)
                for variant in kits.variants(connection, kit.id)
                if free_bells(connection, variant.design_id)
            )
            self.free = [each.serial for each in free_bells(connection, self.variant.design_id)]

    def take(self, label: str, today: datetime.date = TODAY) -> Taken:
        return take_order(
            self.books,
            label,
            customer_id=self.customer,
            variant_id=self.variant.id,
            entry=ENTRY,
            today=today,
        )

    def wait(self, label: str) -> int:
        """An earlier order that is promised and has no bell yet."""
        with self.books.writing() as connection:
            number = kept.open_order(
                connection,
                label,
                customer_id=self.customer,
                variant_id=self.variant.id,
                price=Money(100, "USD"),
                entry=ENTRY,
            )
            kept.promise(connection, number, TODAY, ENTRY)
        return number

    def plan(self, label: str, count: int, due: datetime.date) -> None:
        with self.books.writing() as connection:
            revision = in_force(connection, self.variant.design_id)
            assert revision is not None
            stock.plan_batch(
                connection,
                label,
                revision_id=revision.id,
                machinist_id=self.machinist,
                count=count,
                due=due,
                entry=ENTRY,
            )


@pytest.fixture
def counter(demo_books: Books) -> _Counter:
    return _Counter(demo_books)


def waiting(counter: _Counter) -> int:
    with counter.books.reading() as connection:
        return sum(
            each.state in ("open", "promised") and each.design_id == counter.variant.design_id
            for each in kept.orders(connection)
        )


def test_a_bell_that_an_earlier_order_waits_for_is_not_given_away(counter: _Counter) -> None:
    already = waiting(counter)
    for number in range(len(counter.free) - already):
        counter.wait(f"W-{number}")
    none = counter.take("N-0")
    assert (none.serial, none.promised_for, none.order.state) == (None, None, "open")
    assert "no batch is under way" in " ".join(none.rests_on)
    counter.plan("B-90", 12, TODAY + datetime.timedelta(days=30))
    taken = counter.take("N-1")
    assert taken.serial is None
    assert taken.promised_for is not None
    assert taken.promised_for > TODAY + datetime.timedelta(days=30)  # no batch is that punctual
    assert taken.chance is not None
    assert taken.chance >= 0.9
    assert "batch B-90, 12 bells due" in " ".join(taken.rests_on)


def test_what_nobody_waits_for_is_given_at_once(counter: _Counter) -> None:
    already = waiting(counter)
    for number in range(len(counter.free) - already - 1):
        counter.wait(f"W-{number}")
    taken = counter.take("N-1")
    assert taken.serial in counter.free
    # The bell is there; the day is the one by which the parts of its kit will be.
    assert taken.promised_for is not None
    assert taken.promised_for > TODAY
    assert {each.name for each in taken.short} <= {
        words.partition(",")[0] for words in taken.rests_on
    } | {"dowel, plain, 16 mm", "bolts and washers, set"}


def test_an_overdue_batch_is_not_promised_for_a_day_that_is_past(counter: _Counter) -> None:
    for number in range(len(counter.free)):
        counter.wait(f"W-{number}")
    counter.plan("B-90", 100, TODAY - datetime.timedelta(days=3))
    taken = counter.take("N-1")
    assert taken.promised_for is not None
    assert taken.promised_for > TODAY
    assert "overdue" in " ".join(taken.rests_on)


def test_an_orders_row_names_its_car_only_where_one_is_known(counter: _Counter) -> None:
    with counter.books.reading() as connection:
        cars = {each.id: each.name for each in conversions.cars(connection)}
    number, name = next(iter(cars.items()))
    without = counter.take("R-1").order
    taken = take_order(
        counter.books, "R-2", customer_id=counter.customer, variant_id=counter.variant.id,
        car_id=number, entry=ENTRY, today=TODAY,
    )  # fmt: skip
    with counter.books.reading() as connection:
        rows = views(connection, [without, taken.order])
    assert [(row.order.label, row.car) for row in rows] == [("R-1", ""), ("R-2", name)]
