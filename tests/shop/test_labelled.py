"""What stands on a label, from the books; and what has no label yet."""

from __future__ import annotations

import datetime

import pytest

from kitwright.books import parts, stock
from kitwright.books.entries import Entry
from kitwright.books.opening import Books
from kitwright.errors import InputError, MissingError
from kitwright.paper.labels import part_label
from kitwright.shop.labelled import bells_of, bells_of_batch, crate_of, find_labelled, part_of

NOW = datetime.datetime(2026, 5, 4, 15, tzinfo=datetime.UTC)


def test_a_batch_has_a_label_for_each_bell_by_serial(demo_books: Books) -> None:
    found = bells_of_batch(demo_books, 4)
    assert [each.serial for each in found] == [f"HC-{n:04d}" for n in range(101, 151)]
    assert {(each.design, each.batch) for each in found} == {("Heron cast bell", "B-04")}
    assert find_labelled(demo_books, "B-04") == found
    assert bells_of(demo_books, ["HC-0150", "HC-0101"]) == [found[-1], found[0]]
    assert find_labelled(demo_books, "HC-0101") == [found[0]]


def test_a_crate_says_when_it_came_and_how_many_came_in_it(demo_books: Books) -> None:
    found = find_labelled(demo_books, "CR-05")
    with demo_books.reading() as connection:
        kept = next(each for each in stock.crates(connection) if each.label == "CR-05")
    assert kept.on_floor < kept.count == found.count == 30
    # the demo's story: both crates come 34 days before its last day, 2026-05-04
    assert found.received == datetime.date(2026, 3, 31)
    assert crate_of(demo_books, kept.id) == found


def test_a_part_says_its_short_name_and_its_name(demo_books: Books) -> None:
    with demo_books.reading() as connection:
        kept = parts.parts(connection)[0]
    found = part_of(demo_books, kept.id)
    assert (found.label, found.name) == (kept.label, kept.name)
    assert find_labelled(demo_books, kept.label) == found
    label = part_label(found)
    assert (label.name, label.lines, label.code) == (kept.label, (kept.name,), kept.label)


def test_a_planned_batch_has_no_serials_yet(demo_books: Books) -> None:
    with demo_books.writing() as connection:
        sent = stock.get_batch(connection, 4)
        number = stock.plan_batch(
            connection,
            "B-99",
            revision_id=sent.revision_id,
            machinist_id=sent.machinist_id,
            count=3,
            due=datetime.date(2026, 6, 1),
            entry=Entry("Owner", NOW),
        )
    for ask in (
        lambda: bells_of_batch(demo_books, number),
        lambda: find_labelled(demo_books, "B-99"),
    ):
        with pytest.raises(InputError, match="it is planned, its bells have no serials yet"):
            ask()


def test_what_is_named_twice_or_never_is_refused(demo_books: Books) -> None:
    with pytest.raises(MissingError, match='nothing bears "CR-77"'):
        find_labelled(demo_books, "CR-77")
    with demo_books.writing() as connection:
        sent = stock.get_batch(connection, 4)
        stock.plan_batch(
            connection,
            "CR-05",
            revision_id=sent.revision_id,
            machinist_id=sent.machinist_id,
            count=3,
            due=datetime.date(2026, 6, 1),
            entry=Entry("Owner", NOW),
        )
    with pytest.raises(InputError, match='"CR-05" is a batch and a crate'):
        find_labelled(demo_books, "CR-05")
