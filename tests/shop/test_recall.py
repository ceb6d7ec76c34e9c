"""A bell found bad later: everyone who has it or one like it is listed, with why."""

from __future__ import annotations

from kitwright.books import orders
from kitwright.books.opening import Books
from kitwright.files.tables import read_csv
from kitwright.files.workbook import read_workbook
from kitwright.shop import bells, samples
from kitwright.shop.recall import HEADER, ITSELF, recall, recall_csv, recall_xlsx


def withdraw(books: Books, serial: str, entry) -> None:
    bells.decide(books, serial, "withdraw", why="porous", seen=None, entry=entry)


def test_the_bell_itself_its_batch_and_its_crate(demo_books: Books, at) -> None:
    """B-04 was cut from two crates: HC-0101 to 0130 from CR-04, the others from CR-05."""
    withdraw(demo_books, "HC-0101", at(8))
    found = recall(demo_books, "HC-0101")
    assert found.say() == (
        "Ladder Street Garage has it. No other that may share its fault is with a customer."
    )
    first, *others = found.holders
    assert (first.serial, first.shares, first.state) == ("HC-0101", (ITSELF,), "withdrawn")
    assert first.order == "O-101"
    assert first.fit_up == "11, advice, fitter at Ladder Street"
    assert found.withdrawn is not None
    assert found.withdrawn.reason == "porous"
    shares = {each.serial: each.shares for each in others}
    assert len(shares) == 49
    assert shares["HC-0130"] == ("batch B-04", "crate CR-04")
    assert shares["HC-0131"] == ("batch B-04",)
    (waits,) = [each for each in others if each.state == "allocated"]
    assert waits.order == "O-102, for Moor Top Motors"


def test_the_same_fault_in_another_batch_is_found(fresh) -> None:
    """Z-4 was conceded with its bore outside, as HC-0107 was: it may have to come back too."""
    serials = ["Z-4", "Z-1", "Z-7"]
    fresh.measure(serials, {0: {"bore": (0.049, -0.021)}})
    for serial in ("Z-4", "HC-0107"):
        bells.decide(
            fresh.books, serial, "concede", why="sold as is", seen=None, entry=fresh.entry()
        )
    withdraw(fresh.books, "HC-0107", fresh.entry())
    found = recall(fresh.books, "HC-0107")
    assert found.faults == ("bore",)
    shares = {each.serial: each.shares for each in found.others}
    assert shares["Z-4"] == ("not within: bore",)
    assert "Z-1" not in shares, "its bore is within, and it is of another batch and crate"
    assert shares["HC-0119"] == ("batch B-04", "crate CR-04"), "rejected: not sold with its fault"


def test_those_with_customers_come_first(demo_books: Books, at) -> None:
    with demo_books.writing() as connection:
        (order,) = [each for each in orders.orders(connection) if each.label == "O-102"]
        orders.ship(connection, order.id, at(8))
    bells.decide(demo_books, "HC-0101", "return", why="", seen=None, entry=at(9))
    withdraw(demo_books, "HC-0103", at(10))
    found = recall(demo_books, "HC-0103")
    assert found.say() == (
        "It is on the shelf. 1 other that may share its fault is with a customer."
    )
    assert [each.serial for each in found.away] == ["HC-0102"]
    first_three = [each.serial for each in found.holders[:3]]
    assert first_three == ["HC-0103", "HC-0102", "HC-0101"]


def test_bells_never_measured_are_marked(fresh) -> None:
    seen = samples.draw(
        fresh.books, fresh.number, {"plan": {"n": 3, "c": 0}}, seed=4, entry=fresh.entry()
    )
    fresh.measure(seen.drawn)
    samples.judge(fresh.books, seen.sample.id, fresh.entry())
    withdraw(fresh.books, seen.drawn[0], fresh.entry())
    found = recall(fresh.books, seen.drawn[0])
    of_batch = [each for each in found.others if "batch B-09" in each.shares]
    marked = {each.serial for each in of_batch if "not itself measured" in each.shares}
    assert marked == {bell.serial for bell in seen.lot if not bell.drawn}


def test_a_scrapped_bell_has_a_list_of_the_others(demo_books: Books) -> None:
    """HC-0012 of the first batch was scrapped; 23 of its batch are with customers."""
    found = recall(demo_books, "HC-0012")
    assert found.withdrawn is None
    assert found.say().startswith("It is in the scrap. 23 others that may share its fault")


def test_the_list_is_exported(demo_books: Books, at) -> None:
    withdraw(demo_books, "HC-0101", at(8))
    found = recall(demo_books, "HC-0101")
    table = read_csv(recall_csv(found).encode())
    assert table.header == HEADER
    assert len(table.rows) == 50
    assert table.rows[0][0] == "HC-0101"
    book = read_workbook(recall_xlsx(found, created=at(9).recorded), name="r.xlsx")
    assert book.rows == table.rows
