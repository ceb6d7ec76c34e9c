"""A case from the shop's books: its bells, its rules, and when a bell could ship."""

from __future__ import annotations

import dataclasses
import datetime

import pytest

from kitwright.books import designs, kits, orders, rules, stock
from kitwright.books.entries import Entry, Money
from kitwright.books.opening import Books
from kitwright.books.shop import parties
from kitwright.errors import MissingError
from kitwright.shop import choosing
from kitwright.shop.today import look
from kitwright.worksheets.reading import read
from kitwright.worksheets.shell.choose_bell import WORKSHEET
from kitwright.worksheets.shell.choose_bell_case import ChooseBellAnswer

TODAY = datetime.date(2026, 5, 4)
ENTRY = Entry("Ada", datetime.datetime(2026, 5, 4, 12, tzinfo=datetime.UTC))


def solved(books: Books, **changed: object) -> ChooseBellAnswer:
    case = {**choosing.case_of(books, 1, today=TODAY), "use": "street", **changed}
    answer = WORKSHEET.solve(read(WORKSHEET.case, case))
    assert isinstance(answer, ChooseBellAnswer)
    return answer


def test_the_books_fill_a_case(demo_books: Books) -> None:
    case = choosing.case_of(demo_books, 1, today=TODAY)
    cast, steel = case["designs"]
    assert cast == {
        "name": "Heron cast bell",
        "material": "cast aluminium",
        "mass_kg": 7.4,
        "price": {"amount": "685.00", "currency": "USD"},
        "certified": False,
        "opening_width": "96 mm",
        "opening_height": "62 mm",
        "ships": True,
        "ships_on": "2026-05-04",
    }
    assert (steel["certified"], steel["certificate"]) == (True, "SD-20417")
    assert steel["certificate_last_day"] == "2026-06-16"
    assert steel["ships_on"] == "2026-05-21", "the steel batch under way has a bell to spare"
    assert [(each["use"], each["demands"]) for each in case["rules"]] == [
        ("drag, quarter mile", "certified shell"),
        ("track days", "no certified shell"),
    ]
    assert case["rules"][0]["from_power_kw"] == 400.0, "as the newest line has it"
    assert [each.id for each in choosing.offered(demo_books)] == [1]


def test_the_filled_case_runs(demo_books: Books) -> None:
    assert solved(demo_books, power_kw=300.0).recommended == "Heron cast bell"
    raced = solved(demo_books, power_kw=450.0)
    assert raced.recommended == "Heron steel bell"
    assert "Fenmark Strip Association, drag, quarter mile" in str(raced.excluded[0].rule)
    late = solved(demo_books, power_kw=450.0, day_of_use="2026-06-17")
    assert late.recommended is None
    assert {row.name for row in late.excluded} == {"Heron cast bell", "Heron steel bell"}


def test_a_withdrawn_rule_counts_no_more(demo_books: Books) -> None:
    with demo_books.writing() as connection:
        [strip] = [r for r in rules.rules(connection) if r.demands == "certified shell"]
        rules.withdraw_rule(connection, strip.id, ENTRY, why="gone", seen=strip.number)
    assert solved(demo_books, power_kw=450.0).excluded == []


def test_when_a_bell_could_ship(demo_books: Books) -> None:
    """Orders that wait come first: four more than the steel batch has leave none to spare."""
    with demo_books.writing() as connection:
        steel = designs.designs(connection, 1)[1]
        batch = next(b for b in stock.batches(connection) if b.label == "B-03")
        when = choosing.ships_when
        assert when(connection, steel.id, today=TODAY) == (True, batch.due)
        assert when(connection, steel.id, today=batch.due) == (True, batch.due)
        after = batch.due + datetime.timedelta(days=1)
        assert when(connection, steel.id, today=after) == (True, None), "it is overdue"
        variant = next(v for v in kits.variants(connection) if v.design_id == steel.id)
        buyer = parties(connection, "customer")[0]
        waiting = sum(
            o.state in ("open", "promised") and o.design_id == steel.id
            for o in orders.orders(connection)
        )
        for number in range(batch.count - waiting):
            assert when(connection, steel.id, today=TODAY) == (True, batch.due)
            orders.open_order(
                connection,
                f"X-{number}",
                customer_id=buyer.id,
                variant_id=variant.id,
                price=Money(1, "USD"),
                entry=ENTRY,
            )
        assert when(connection, steel.id, today=TODAY) == (False, None)


def test_an_opening_in_other_words_is_left_to_be_typed(demo_books: Books) -> None:
    with demo_books.writing() as connection:
        first = designs.designs(connection, 1)[0]
        designs.add_design(
            connection,
            "Heron closed bell",
            conversion_id=1,
            material="cast aluminium",
            price=Money(70000, "USD"),
            mass_kg=7.5,
            opening="none",
        )
        designs.add_design(
            connection,
            "Heron inch bell",
            conversion_id=1,
            material="cast aluminium",
            price=dataclasses.replace(first.price, minor=71000),
            mass_kg=7.6,
            opening="right side, 3.5 x 2.25 in",
        )
    found = {each["name"]: each for each in choosing.case_of(demo_books, 1, today=TODAY)["designs"]}
    assert "opening_width" not in found["Heron closed bell"]
    assert found["Heron closed bell"]["ships"] is False
    assert found["Heron inch bell"]["opening_width"] == "3.5 in"
    assert found["Heron inch bell"]["opening_height"] == "2.25 in"


def test_nothing_to_choose_from(demo_books: Books) -> None:
    with pytest.raises(MissingError, match="no bell is designed for it"):
        choosing.case_of(demo_books, 2, today=TODAY)
    with pytest.raises(MissingError, match="there is no conversion number 99"):
        choosing.case_of(demo_books, 99, today=TODAY)


@pytest.mark.parametrize(
    ("day", "asked"),
    [
        (datetime.date(2026, 4, 16), None),
        (datetime.date(2026, 4, 17), "its shell's certificate expires on 2026-06-16"),
        (datetime.date(2026, 6, 16), "its shell's certificate expires on 2026-06-16"),
        (datetime.date(2026, 6, 17), "its shell's certificate expired on 2026-06-16"),
    ],
)
def test_the_first_page_watches_certificates(
    demo_books: Books, day: datetime.date, asked: str | None
) -> None:
    """Within 60 days, the sixtieth among them, and on its last day it has not expired."""
    told = [t.asked for t in look(demo_books, today=day).tasks if "certificate" in t.asked]
    assert told == ([] if asked is None else [asked])
