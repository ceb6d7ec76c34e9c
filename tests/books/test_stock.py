"""Crates, batches and the ledger of movements: what is where adds up to what came in."""

from __future__ import annotations

from datetime import date

import pytest

from kitwright.books import decisions, designs, movements, places, standing, stock
from kitwright.books.entries import Money
from kitwright.books.places import Place
from kitwright.books.tables import bell_now
from kitwright.books.verifying import verify
from kitwright.errors import InputError, MissingError, MoveError


def plan(c, workshop, label="P-1", *, count=2, **more):
    given = {
        "revision_id": workshop.revision,
        "machinist_id": workshop.machinist,
        "count": count,
        "due": date(2026, 6, 1),
        "entry": workshop.entry(),
        **more,
    }
    return stock.plan_batch(c, label, **given)


def test_a_crate_is_on_the_floor_until_its_castings_go(workshop):
    with workshop.books.writing() as c:
        (crate,) = stock.crates(c, workshop.design)
        assert (crate.count, crate.on_floor) == (8, 4)  # four are bells already
        assert crate.cost == Money(8800, "USD")
        stock.scrap_castings(c, crate.id, 1, workshop.entry(), why="a cold shut")
        stock.send_castings_back(c, crate.id, 2, workshop.entry(), why="short of metal")
        assert movements.castings_at(c, crate.id) == {
            places.supplier(workshop.supplier): -6,
            places.FLOOR: 1,
            places.BIRTH: 4,
            places.SCRAP: 1,
        }
        assert sum(movements.castings_at(c, crate.id).values()) == 0
        assert stock.get_crate(c, crate.id).on_floor == 1
    assert verify(workshop.books) == []


@pytest.mark.parametrize("count", [5, 8, 10**9])
def test_more_cannot_go_than_is_there(workshop, count):
    with workshop.books.writing() as c:
        with pytest.raises(
            MoveError,
            match=f"crate CR-1: {count} castings cannot leave the floor, 4 are there",
        ):
            stock.scrap_castings(c, workshop.crate, count, workshop.entry(), why="cold shut")
        assert stock.get_crate(c, workshop.crate).on_floor == 4
        stock.scrap_castings(c, workshop.crate, 4, workshop.entry(), why="cold shut")
        with pytest.raises(MoveError, match="0 are there"):
            stock.scrap_castings(c, workshop.crate, 1, workshop.entry(), why="cold shut")


@pytest.mark.parametrize("count", [0, -3, 1.5, True, 10**20])
def test_a_count_that_cannot_be(workshop, count):
    with workshop.books.writing() as c, pytest.raises(InputError, match="count:"):
        stock.scrap_castings(c, workshop.crate, count, workshop.entry(), why="cold shut")


def test_castings_have_their_ways(workshop):
    with workshop.books.writing() as c:
        for way in (
            (places.FLOOR, places.SHELF),
            (places.SCRAP, places.BIRTH),
            (places.BIRTH, places.FLOOR),
            (places.FLOOR, places.customer(workshop.customer)),
        ):
            with pytest.raises(MoveError, match="castings cannot go from"):
                movements.move_castings(c, workshop.crate, 1, way, workshop.entry())
        for nothing in (99, -1, 2**80):
            with pytest.raises(MissingError, match="there is no crate number"):
                movements.move_castings(
                    c, nothing, 1, (places.FLOOR, places.SCRAP), workshop.entry()
                )


def test_a_crate_that_cannot_be(workshop):
    given = {
        "design_id": workshop.design,
        "supplier_id": workshop.supplier,
        "count": 3,
        "cost": Money(1, "USD"),
        "entry": workshop.entry(),
    }
    with workshop.books.writing() as c:
        for more, words in (
            ({"label": "CR-1"}, '"CR-1" is taken'),
            ({"count": 0}, "count: 0; give 1 or more"),
            ({"design_id": 99}, "not in the books"),
            ({"supplier_id": workshop.machinist}, "is a machinist; name a supplier"),
            ({"cost": Money(-1, "USD")}, "cost"),
        ):
            with pytest.raises(InputError, match=words):
                stock.receive_crate(c, **{"label": "CR-9", **given, **more})
        assert len(stock.crates(c)) == 1


def test_a_batch_goes_its_way(workshop):
    with workshop.books.writing() as c:
        batch = plan(c, workshop)
        assert stock.get_batch(c, batch).state == "planned"
        stock.move_due(c, batch, date(2026, 6, 8), workshop.entry(), why="the spindle is down")
        stock.send_batch(c, batch, [(workshop.crate, ["P-1", "P-2"])], workshop.entry())
        born = standing.where(c, bell_now.c.batch_id == batch)
        assert [(each.serial, each.state, each.decisions) for each in born] == [
            ("P-1", "made", 0),
            ("P-2", "made", 0),
        ]
        assert {each.place for each in born} == {places.machinist(workshop.machinist)}
        assert born[0].last == ""
        stock.move_due(c, batch, date(2026, 6, 15), workshop.entry(), why="and again")
        assert stock.get_batch(c, batch).due == date(2026, 6, 15)
        with pytest.raises(MoveError, match="a batch is sent once"):
            stock.send_batch(c, batch, [(workshop.crate, ["P-3", "P-4"])], workshop.entry())
        with pytest.raises(MoveError, match="bell P-1: waits for a decision"):
            stock.close_judgement(c, batch, workshop.entry())
        stock.take_batch_back(c, batch, workshop.entry())
        assert {each.place for each in standing.where(c, bell_now.c.batch_id == batch)} == {
            places.SHELF
        }
        with pytest.raises(MoveError, match="allowed: judged"):
            stock.take_batch_back(c, batch, workshop.entry())
        with pytest.raises(MoveError) as refused:
            stock.close_judgement(c, batch, workshop.entry())
        assert refused.value.lines == [
            f"bell {serial}: waits for a decision; decide: release, hold, reject"
            for serial in ("P-1", "P-2")
        ]
        workshop.release_in(c, "P-1")
        decisions.decide(c, "P-2", "hold", workshop.entry())
        stock.close_judgement(c, batch, workshop.entry())
        with pytest.raises(MoveError, match="batch P-1: it is judged; it is due no more"):
            stock.move_due(c, batch, date(2026, 7, 1), workshop.entry(), why="late")
        assert [each.label for each in stock.batches(c, state="judged")] == ["P-1"]
        assert len(stock.batches(c)) == 2
    assert verify(workshop.books) == []


def test_a_batch_keeps_the_revision_it_was_planned_to(workshop):
    with workshop.books.writing() as c:
        draft = designs.add_revision(c, workshop.design, "B", workshop.entry())
        with pytest.raises(MoveError, match="revision B: it is draft; plan to the one in force"):
            plan(c, workshop, revision_id=draft)
        with pytest.raises(MissingError, match="name a machinist"):
            plan(c, workshop, machinist_id=workshop.supplier)
        with pytest.raises(InputError, match="due"):
            plan(c, workshop, due="soon")
        assert stock.get_batch(c, workshop.batch).revision_id == workshop.revision


def test_a_batch_that_cannot_be_sent_leaves_everything_as_it_was(workshop):
    other = None
    with workshop.books.writing() as c:
        batch = plan(c, workshop, count=3)
        design = designs.add_design(
            c,
            "Another bell",
            conversion_id=workshop.conversion,
            material="cast aluminium",
            price=Money(1, "USD"),
            mass_kg=7,
            opening="none",
        )
        other = stock.receive_crate(
            c,
            "CR-other",
            design_id=design,
            supplier_id=workshop.supplier,
            count=9,
            cost=Money(1, "USD"),
            entry=workshop.entry(),
        )
        for castings, words in (
            ([(workshop.crate, ["P-1", "P-2"])], "serials: 2 given; give the 3 planned"),
            ([(workshop.crate, ["P-1", "P-2", "P-1"])], "serial P-1: listed twice"),
            ([(workshop.crate, ["P-1", "P-2", "K-010001"])], "serial K-010001: is taken"),
            ([(workshop.crate, ["P-1", "P-2", " "])], "serial: missing"),
            ([(other, ["P-1", "P-2", "P-3"])], "crate CR-other: is of another design"),
            ([(workshop.crate, ["P-1", "P-2"]), (99, ["P-3"])], "no crate number 99"),
        ):
            with pytest.raises(InputError, match=words):
                stock.send_batch(c, batch, castings, workshop.entry())
            assert stock.get_batch(c, batch).state == "planned"
            assert stock.get_crate(c, workshop.crate).on_floor == 4
        assert len(standing.where(c)) == 4
        stock.send_batch(c, batch, [(workshop.crate, ["P-1", "P-2", "P-3"])], workshop.entry())
    assert verify(workshop.books) == []


def test_a_batch_out_of_two_crates(workshop):
    second = workshop.receive(2)
    first = second - 1
    with workshop.books.writing() as c:
        batch = plan(c, workshop, count=4)
        castings = [(second, ["P-1", "P-2"]), (first, ["P-3", "P-4"])]
        stock.send_batch(c, batch, castings, workshop.entry())
        assert [standing.one(c, serial).crate_id for serial in ("P-1", "P-4")] == [second, first]
        assert [each.on_floor for each in stock.crates(c)] == [2, 0]
    assert verify(workshop.books) == []


def test_bells_go_where_their_state_lets_them(workshop):
    made, scrapped, shipped, held = workshop.serials
    workshop.bring(scrapped, "scrapped")
    workshop.bring(shipped, "shipped")
    workshop.bring(held, "held")
    machinist, customer = places.machinist(workshop.machinist), places.customer(workshop.customer)
    with workshop.books.writing() as c:
        movements.move_bells(c, [made, held], machinist, workshop.entry(), why="a burr")
        assert standing.one(c, made).place == machinist
        movements.move_bells(c, [made], places.SHELF, workshop.entry())
        for serial, to, words in (
            (made, places.SHELF, "it is at shelf; there is no way from there to shelf"),
            (made, customer, "it is made and cannot go to customer"),
            (made, places.SCRAP, "it is made and cannot go to scrap"),
            (scrapped, places.SHELF, "it is at scrap; there is no way"),
            (shipped, places.SHELF, "it is shipped and cannot go to shelf; decide first: fit"),
        ):
            with pytest.raises(MoveError, match=f"bell {serial}: {words}"):
                movements.move_bells(c, [serial], to, workshop.entry())
        with pytest.raises(MoveError) as refused:
            movements.move_bells(c, [made, shipped, scrapped], customer, workshop.entry())
        assert len(refused.value.lines) == 3
        assert standing.one(c, made).place == places.SHELF
        with pytest.raises(MissingError, match="bell X-1: there is no bell of this serial"):
            movements.move_bells(c, [made, "X-1"], machinist, workshop.entry())
        movements.move_bells(c, [], machinist, workshop.entry())
    assert verify(workshop.books) == []


def test_counts_by_design_state_and_place(workshop):
    workshop.bring(workshop.serials[0], "released")
    with workshop.books.reading() as c:
        assert standing.counts(c) == {
            (workshop.design, "made", "shelf"): 3,
            (workshop.design, "released", "shelf"): 1,
        }
        assert standing.counts(c, bell_now.c.state == "held") == {}


def test_places_have_names():
    assert [str(place) for place in (places.FLOOR, Place("supplier", 3))] == ["floor", "supplier 3"]


@pytest.mark.parametrize(
    ("serial", "told"),
    [
        ("K/1", "serial K/1: holds /; give one that can stand in a page's address"),
        ("K?1#", "serial K?1#: holds ? and #"),
        ("100%", "serial 100%: holds %"),
        ("K\n1", "serial K 1: holds a line break"),
        ("..", "serial ..: is nothing but dots"),
    ],
)
def test_a_serial_that_no_address_can_hold_is_refused(workshop, serial, told):
    with workshop.books.writing() as c:
        number = plan(c, workshop)
        with pytest.raises(InputError) as caught:
            workshop.send(c, number, [serial, "K-Ä 2.b"])
        assert len(caught.value.lines) == 1
        assert caught.value.lines[0].startswith(told)
        assert stock.get_batch(c, number).state == "planned"
        workshop.send(c, number, ["K-Ä 2.b", "K-3"])  # everything else may be stamped on a bell
        assert standing.one(c, "K-Ä 2.b").state == "made"
