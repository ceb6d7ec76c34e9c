"""Moves with a thing in hand: what a scan finds, what may be done with it now, undoing it."""

from __future__ import annotations

import datetime

import pytest

from kitwright.books import orders, part_handling, parts, standing, stock
from kitwright.books.entries import Entry
from kitwright.books.opening import Books
from kitwright.books.stock_at import part_stock
from kitwright.books.verifying import verify
from kitwright.errors import InputError, MissingError, MoveError
from kitwright.shop import moving, scanning
from kitwright.shop.offers import Item

TODAY = datetime.date(2026, 5, 4)
NOW = datetime.datetime(2026, 5, 4, 15, tzinfo=datetime.UTC)


def entry(minutes: int = 0, who: str = "Ines") -> Entry:
    return Entry(who, NOW + datetime.timedelta(minutes=minutes))


def look(books: Books, words: str) -> Item:
    (named,) = scanning.named_by(books, words)
    return moving.look(books, named)


def keys(books: Books, words: str) -> list[str]:
    return [offer.key.partition(":")[0] for offer in look(books, words).offers]


def move(books: Books, words: str, name: str, minutes: int = 0, **more: object) -> None:
    item = look(books, words)
    (key,) = [offer.key for offer in item.offers if offer.key.partition(":")[0] == name]
    moving.move(books, item.named.page, key, entry=entry(minutes), **more)  # type: ignore[arg-type]


def free_of(books: Books, label: str) -> int:
    with books.reading() as connection:
        return part_stock(connection, parts.find_part(connection, label).id).free


# ── what a scan finds ────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(
    ("words", "named"),
    [
        ("HC-0140", "bell HC-0140"),
        (" hc-0140 ", "bell HC-0140"),
        ("http://bench.local:8710/bells/HC-0140", "bell HC-0140"),
        ("https://192.0.2.7/bells/HC%2D0140?lead=mm#route", "bell HC-0140"),
        ("/bells/HC-0140", "bell HC-0140"),
        ("CR-05", "crate CR-05"),
        ("http://bench.local/stock/crates/5", "crate CR-05"),
        ("http://bench.local/crates/CR-05", "crate CR-05"),
        ("p-04", "part P-04"),
        ("dowel, plain, 16 mm", "part P-04"),
        ("/stock/parts/4", "part P-04"),
    ],
)
def test_serials_labels_and_addresses(demo_books: Books, words: str, named: str) -> None:
    assert [str(each) for each in scanning.named_by(demo_books, words)] == [named]


@pytest.mark.parametrize(
    ("words", "line"),
    [
        ("", "what: missing"),
        ("   ", "what: missing"),
        ("HC-9999", 'there is no bell, crate or part "HC-9999"'),
        ("/stock/parts/99", "there is no bell, crate or part"),
        ("/stock/parts/" + "9" * 400, "there is no bell, crate or part"),
        ("x" * 600, "600 characters"),
        ("a\0b", "there is no bell"),
        ("\ud800", "there is no bell"),
    ],
)
def test_what_nothing_bears(demo_books: Books, words: str, line: str) -> None:
    with pytest.raises(InputError, match=line):
        scanning.named_by(demo_books, words)


def test_a_name_that_two_things_bear(demo_books: Books) -> None:
    with demo_books.writing() as connection:
        parts.add_part(connection, "CR-05", "a part called like a crate")
    found = scanning.named_by(demo_books, "CR-05")
    assert [str(each) for each in found] == ["crate CR-05", "part CR-05"]
    for each in found:
        assert scanning.named_by(demo_books, each.page) == [each], "the address means one"


# ── bells ────────────────────────────────────────────────────────────────────────────────


def test_a_bells_way_through_the_shop(demo_books: Books) -> None:
    """From the machinist to the shelf, into an order, out with it and home again."""
    assert keys(demo_books, "HS-0005") == ["shelf"]
    move(demo_books, "HS-0005", "shelf")
    assert keys(demo_books, "HS-0005") == ["machinist"]
    assert look(demo_books, "HS-0005").last.undoable
    assert keys(demo_books, "HC-0102") == ["ship", "free", "machinist"]
    move(demo_books, "HC-0102", "ship", 1)
    assert keys(demo_books, "HC-0102") == ["return"]
    assert free_of(demo_books, "P-04") == 1
    move(demo_books, "HC-0102", "return", 2)
    assert look(demo_books, "HC-0102").where == "On the shelf."
    assert keys(demo_books, "HC-0102") == []
    assert verify(demo_books) == []


def test_a_bell_freed_and_given_to_another_order(demo_books: Books) -> None:
    with pytest.raises(InputError, match="why: missing; freeing a bell needs a reason"):
        move(demo_books, "HC-0102", "free")
    move(demo_books, "HC-0102", "free", why="he pays late")
    assert free_of(demo_books, "P-04") == 3
    item = look(demo_books, "HC-0103")
    assert [offer.words for offer in item.offers] == [
        "Allocate to order O-102, Moor Top Motors",
        "To Carrack Lane Machining",
    ]
    move(demo_books, "HC-0103", "allocate", 1)
    assert look(demo_books, "HC-0103").notes[0] == "Order O-102, Moor Top Motors: allocated."
    assert verify(demo_books) == []


def test_whoever_comes_second_is_told_who_was_first(demo_books: Books) -> None:
    """Two look at one bell, both tap: one wins."""
    move(demo_books, "HC-0102", "free", why="he pays late")
    first = second = look(demo_books, "HC-0103")
    key = first.offers[0].key
    moving.move(demo_books, first.named.page, key, seen=first.seen, entry=entry(1, "Ada"))
    with pytest.raises(MoveError) as told:
        moving.move(demo_books, second.named.page, key, seen=second.seen, entry=entry(2, "Ben"))
    assert str(told.value) == (
        "bell HC-0103: comes second, it is allocated and on the shelf now"
        " (allocate by Ada, 2026-05-04 15:01 UTC); look again"
    )
    with demo_books.reading() as connection:
        assert standing.one(connection, "HC-0103").who == "Ada"


def test_a_move_to_the_machinist_is_undone_with_a_reason(demo_books: Books) -> None:
    move(demo_books, "HC-0103", "machinist")
    item = look(demo_books, "HC-0103")
    page, number = item.named.page, item.last.number
    with pytest.raises(InputError, match="why: missing; undoing needs a reason"):
        moving.undo(demo_books, page, number, why=" ", entry=entry(1))
    moving.undo(demo_books, page, number, why="the wrong bell", entry=entry(1))
    after = look(demo_books, "HC-0103")
    assert (after.where, after.last.why) == ("On the shelf.", "undone: the wrong bell")
    with pytest.raises(MoveError, match=f"movement {number} cannot be undone"):
        moving.undo(demo_books, page, number, why="again", entry=entry(2))
    assert verify(demo_books) == []


def test_what_a_decision_carried_is_not_undone_here(demo_books: Books) -> None:
    move(demo_books, "HC-0102", "ship")
    item = look(demo_books, "HC-0102")
    assert not item.last.undoable
    with pytest.raises(MoveError, match="movement 3 cannot be undone; only the newest can, once"):
        moving.undo(demo_books, item.named.page, 3, why="x", entry=entry(1))


# ── crates and parts ─────────────────────────────────────────────────────────────────────


def test_castings_scrapped_counted_and_undone(demo_books: Books) -> None:
    move(demo_books, "CR-05", "scrap", count="3", why="cold shut")
    assert look(demo_books, "CR-05").where == "7 of 30 on the floor."
    item = look(demo_books, "CR-05")
    moving.undo(demo_books, item.named.page, item.last.number, why="two only", entry=entry(1))
    assert look(demo_books, "CR-05").where == "10 of 30 on the floor."
    move(demo_books, "CR-05", "count", 2, count="9", why="one is the show piece")
    move(demo_books, "CR-05", "back", 3, count="1", why="cracked")
    assert look(demo_books, "CR-05").where == "8 of 30 on the floor."
    for count, line in (("9", "9 castings cannot leave"), ("0", "count: 0"), ("", "say how many")):
        with pytest.raises(InputError, match=line):
            move(demo_books, "CR-05", "scrap", 4, count=count, why="x")
    assert keys(demo_books, "CR-04") == ["count"]
    assert verify(demo_books) == []


def test_parts_received_counted_and_undone(demo_books: Books) -> None:
    move(demo_books, "P-06", "receive", count="4")
    assert free_of(demo_books, "P-06") == 4
    item = look(demo_books, "P-06")
    moving.undo(demo_books, item.named.page, item.last.number, why="for next door", entry=entry(1))
    assert free_of(demo_books, "P-06") == 0
    move(demo_books, "P-06", "count", 2, count="2", why="found")
    move(demo_books, "P-06", "scrap", 3, count="1", why="bent")
    with pytest.raises(MoveError, match="part P-06: 12 asked, 1 on the shelf"):
        move(demo_books, "P-06", "scrap", 4, count="12", why="bent")
    for count in ("2.5", "two", "1e3", "٣", "--3", "9" * 30):
        with pytest.raises(InputError, match="is not a whole number"):
            move(demo_books, "P-06", "scrap", 4, count=count, why="bent")
    assert verify(demo_books) == []


def test_what_an_order_has_reserved_is_freed_and_set_aside_again(demo_books: Books) -> None:
    assert {"free", "return"} <= set(keys(demo_books, "P-04"))
    move(demo_books, "P-04", "free", count="2", why="for the show car")
    item = look(demo_books, "P-04")
    assert not item.last.undoable, "what an order reserves goes back by the order"
    assert look(demo_books, "HC-0102").notes[1] == "It lacks 2 of P-04, dowel, plain, 16 mm."
    move(demo_books, "P-04", "reserve", 1)
    assert free_of(demo_books, "P-04") == 1
    move(demo_books, "P-04", "return", 2, count="1")
    assert free_of(demo_books, "P-04") == 2
    assert verify(demo_books) == []


def test_a_move_sent_twice_is_kept_once(demo_books: Books) -> None:
    item = look(demo_books, "P-06")
    for _ in range(2):
        moving.move(
            demo_books,
            item.named.page,
            "receive",
            count="4",
            seen=item.seen,
            send_key="k-1",
            entry=entry(),
        )
    assert free_of(demo_books, "P-06") == 4
    with pytest.raises(InputError, match="something else was sent with it"):
        moving.move(
            demo_books, item.named.page, "receive", count="5", send_key="k-1", entry=entry()
        )
    for _ in range(2):
        number = 1
        moving.undo(demo_books, item.named.page, number, why="x", send_key="k-2", entry=entry(1))
    assert free_of(demo_books, "P-06") == 0


def test_a_refused_move_keeps_no_key(demo_books: Books) -> None:
    """The form that comes back may be sent again when it is mended."""
    item = look(demo_books, "P-06")
    given = {"seen": item.seen, "send_key": "k-1", "entry": entry()}
    with pytest.raises(InputError):
        moving.move(demo_books, item.named.page, "receive", count="0", **given)
    moving.move(demo_books, item.named.page, "receive", count="4", **given)
    assert free_of(demo_books, "P-06") == 4


@pytest.mark.parametrize("key", ["fly", "ship:99", "ship", "allocate:3", ""])
def test_a_move_that_is_not_offered(demo_books: Books, key: str) -> None:
    with pytest.raises(MoveError, match="is not allowed now; Ship with order O-102;"):
        moving.move(demo_books, "/bells/HC-0102", key, entry=entry())
    with pytest.raises(MissingError, match="there is nothing at"):
        moving.move(demo_books, "/bells/HC-9999", key, entry=entry())


# ── days ─────────────────────────────────────────────────────────────────────────────────


def test_a_day_that_was_typed() -> None:
    given = {"who": "Ines", "now": NOW, "today": TODAY}
    assert moving.dated("", **given) == Entry("Ines", NOW)
    noon = datetime.datetime(2026, 5, 3, 12, tzinfo=datetime.UTC)
    assert moving.dated(" 2026-05-03 ", **given) == Entry("Ines", NOW, noon)
    early = {**given, "now": datetime.datetime(2026, 5, 4, 7, tzinfo=datetime.UTC)}
    assert moving.dated("2026-05-04", **early).happened == early["now"]
    for typed, line in (
        ("2026-05-05", "on: 2026-05-05 lies ahead; give 2026-05-04 or a day before"),
        ("yesterday", '"yesterday" is not a day; write it as 2026-05-04'),
        ("2026-02-30", "is not a day"),
    ):
        with pytest.raises(InputError, match=line):
            moving.dated(typed, **given)


def test_a_day_dated_back_meets_what_was_there_then(demo_books: Books) -> None:
    then = Entry("Ines", NOW, NOW - datetime.timedelta(days=25))
    with demo_books.writing() as connection:
        part = parts.find_part(connection, "P-03")
        with pytest.raises(MoveError, match=r"4 asked, 3 were on the shelf on 2026-04-09"):
            part_handling.scrap_parts(connection, part.id, 4, then, why="bent")


def test_the_demo_has_orders_to_serve(demo_books: Books) -> None:
    with demo_books.reading() as connection:
        states = {each.label: each.state for each in orders.orders(connection)}
        assert (states["O-102"], states["O-103"]) == ("allocated", "promised")
        assert [crate.on_floor for crate in stock.crates(connection)] == [2, 2, 2, 0, 10]
