"""Orders found by state, customer and words, a page at a time, on both databases."""

from __future__ import annotations

import pytest

from kitwright.books import orders
from kitwright.books.order_search import search


def test_pages_join_to_the_whole_and_conditions_narrow_it(workshop):
    numbers = [workshop.order(promised=place % 2 == 0) for place in range(7)]
    with workshop.books.reading() as c:
        pages = [search(c, skip=skip, most=3) for skip in (0, 3, 6, 9)]
        assert [each.id for page in pages for each in page.orders] == numbers[::-1]
        assert {page.count for page in pages} == {7}
        assert [each.id for each in search(c, state="open").orders] == numbers[5:0:-2]
        assert search(c, customer_id=workshop.customer).count == 7
        assert search(c, customer_id=workshop.supplier).count == 0
        assert search(c, customer_id=2**70).count == 0
        label = orders.get_order(c, numbers[3]).label
        assert numbers[3] in {each.id for each in search(c, text=f" {label.lower()} ").orders}


@pytest.mark.parametrize("text", ["%", "_", "'; --", "\0", "\ud800", "no such words"])
def test_words_are_words_and_no_pattern(workshop, text):
    workshop.order()
    with workshop.books.reading() as c:
        assert search(c, text=text).count == (1 if not text.strip("\0\ud800") else 0)


def test_states_designs_and_the_bells_of_some(workshop):
    serial = workshop.serials[0]
    workshop.bring(serial, "released")
    first, second = workshop.order(), workshop.order(promised=False)
    with workshop.books.writing() as c:
        orders.allocate(c, first, serial, workshop.entry())
        design = orders.get_order(c, first).design_id
        assert [each.id for each in orders.in_states(c, ("open", "allocated"))] == [first, second]
        assert [each.id for each in orders.in_states(c, ("open",), design_id=design)] == [second]
        assert orders.in_states(c, ("open",), design_id=design + 1) == []
        assert {key: bell.serial for key, bell in orders.bells_of(c, [first, second]).items()} == {
            first: serial
        }
        assert orders.bells_of(c, [second]) == {}
        told = [(each.state, each.promised_for is None) for each in orders.history(c, first)]
        assert told == [("open", True), ("promised", False), ("allocated", True)]
