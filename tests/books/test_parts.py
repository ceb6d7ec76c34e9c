"""Kit parts by count: what is at a place is what came minus what went, at every moment."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from kitwright.books import (
    bells,
    kits,
    order_parts,
    orders,
    part_handling,
    part_movements,
    parts,
    places,
    sendings,
    standing,
    stock,
)
from kitwright.books.entries import Entry, Money
from kitwright.books.part_movements import COUNT, SCRAP, SHELF, Line, Spot
from kitwright.books.parts import LeadTime
from kitwright.books.stock_at import part_stock, stock_at
from kitwright.books.verifying import verify
from kitwright.errors import InputError, MissingError, MoveError


@pytest.fixture
def stocked(workshop):
    """A kit of two dowels and a bolt set, both kept by count: nine dowels, one set."""
    with workshop.books.writing() as c:
        (kit,) = kits.kits(c)
        for name, count in (("dowel, 16 mm", 2), ("bolt set", 1), ("paper, never counted", 1)):
            kits.add_part(c, kit.id, name, count=count, cost=Money(650, "USD"))
        workshop.dowel = parts.add_part(c, "P-1", "dowel, 16 mm", supplier_id=workshop.supplier)
        workshop.bolts = parts.add_part(c, "P-2", "bolt set")
        part_handling.receive_parts(c, workshop.dowel, 9, workshop.entry())
        part_handling.count_parts(c, workshop.bolts, 1, workshop.entry(), why="first count")
    return workshop


def held(c, part_id):
    """On the shelf and free, reserved, with customers."""
    found = part_stock(c, part_id)
    return found.free, found.reserved, found.sent


def allocated(workshop, serial):
    """A promised order with this bell, released and allocated; what is short."""
    workshop.bring(serial, "released")
    order_id = workshop.order()
    with workshop.books.writing() as c:
        return order_id, orders.allocate(c, order_id, serial, workshop.entry())


# ── by hand ──────────────────────────────────────────────────────────────────────────────


def test_every_movement_balances(stocked):
    c_entry = stocked.entry
    with stocked.books.writing() as c:
        part_handling.scrap_parts(c, stocked.dowel, 1, c_entry(), why="bent")
        part_handling.send_parts_back(c, stocked.dowel, 2, c_entry(), why="too thin")
        part_handling.send_parts(c, stocked.dowel, 1, c_entry(), customer_id=stocked.customer)
        assert part_handling.count_parts(c, stocked.dowel, 7, c_entry(), why="two in a tin") == 2
        assert part_movements.spots_of(c, stocked.dowel) == {
            Spot(places.supplier(stocked.supplier)): -7,
            SHELF: 7,
            SCRAP: 1,
            Spot(places.customer(stocked.customer)): 1,
            COUNT: -2,
        }
        assert sum(part_movements.spots_of(c, stocked.dowel).values()) == 0
        lines = part_movements.movements_of_part(c, stocked.dowel)
        assert [line.number for line in lines] == [1, 2, 3, 4, 5]
        assert [(line.who, line.why) for line in lines[1:3]] == [
            ("Ada", "bent"),
            ("Ada", "too thin"),
        ]
    assert verify(stocked.books) == []


@pytest.mark.parametrize(
    ("act", "words"),
    [
        (lambda c, w: part_handling.scrap_parts(c, w.dowel, 12, w.entry(), why="x"),
         r"part P-1: 12 asked, 9 on the shelf; move what is there"),
        (lambda c, w: part_handling.scrap_parts(c, w.dowel, 0, w.entry(), why="x"),
         "count: 0; give 1 or more"),
        (lambda c, w: part_handling.scrap_parts(c, w.dowel, -1, w.entry(), why="x"), "count: -1"),
        (lambda c, w: part_handling.scrap_parts(c, w.dowel, 2.5, w.entry(), why="x"),
         '"2.5" is not a whole number'),
        (lambda c, w: part_handling.scrap_parts(c, w.dowel, True, w.entry(), why="x"), "whole"),
        (lambda c, w: part_handling.scrap_parts(c, w.dowel, 10**16, w.entry(), why="x"), "at most"),
        (lambda c, w: part_handling.scrap_parts(c, w.dowel, 1, w.entry(), why=" "),
         "why: missing; scrap needs a reason"),
        (lambda c, w: part_handling.scrap_parts(c, 99, 1, w.entry(), why="x"),
         "there is no part number 99"),
        (lambda c, w: part_handling.receive_parts(c, 2**70, 1, w.entry()), "there is no part"),
        (lambda c, w: part_handling.receive_parts(c, w.bolts, 1, w.entry()),
         "supplier: part P-2 has none; say from whom, or count it in"),
        (lambda c, w: part_handling.receive_parts(
            c, w.bolts, 1, w.entry(), supplier_id=w.customer), "name a supplier"),
        (lambda c, w: part_handling.count_parts(c, w.dowel, -1, w.entry(), why="x"), "count: -1"),
        (lambda c, w: part_handling.count_parts(c, w.dowel, 4, w.entry()),
         "why: missing; a count of 4 where the books have 9 needs a reason"),
        (lambda c, w: part_handling.take_parts_back(c, w.dowel, 1, w.entry()),
         "say which order or which customer"),
        (lambda c, w: part_handling.take_parts_back(
            c, w.dowel, 1, w.entry(), customer_id=w.customer), "1 asked, 0 with this customer"),
        (lambda c, w: part_handling.take_parts_back(c, w.dowel, 1, w.entry(), order_id=99),
         "there is no order number 99"),
        (lambda c, w: part_movements.move_parts(
            c, [Line(w.dowel, 1, SCRAP, Spot(places.customer(w.customer)))], w.entry()),
         "parts cannot go from scrap to customer"),
    ],
)  # fmt: skip
def test_what_is_refused_moves_nothing(stocked, act, words):
    with stocked.books.writing() as c:
        before = part_movements.spots_of(c, stocked.dowel)
        with pytest.raises(InputError, match=words):
            act(c, stocked)
        assert part_movements.spots_of(c, stocked.dowel) == before
        assert len(part_movements.movements_of_part(c, stocked.dowel)) == 1
    assert verify(stocked.books) == []


def test_of_several_lines_all_or_none(stocked):
    lines = [Line(stocked.dowel, 5, SHELF, SCRAP), Line(stocked.dowel, 5, SHELF, SCRAP)]
    with stocked.books.writing() as c:
        with pytest.raises(MoveError, match="5 asked, 4 on the shelf"):
            part_movements.move_parts(c, lines, stocked.entry(), why="x")
        assert held(c, stocked.dowel) == (9, 0, 0)


def test_a_movement_dated_back_may_not_take_what_was_not_there_then(stocked):
    """Nine came first, eight of them went; what is dated between leaves room for one only."""
    came = stocked.entry()
    between = Entry("Ada", came.recorded + timedelta(days=9), came.recorded + timedelta(days=1))
    went = Entry("Ada", came.recorded + timedelta(days=2))
    more = Entry("Ada", came.recorded + timedelta(days=3))
    with stocked.books.writing() as c:
        part_handling.scrap_parts(c, stocked.dowel, 8, went, why="rust")
        part_handling.receive_parts(c, stocked.dowel, 20, more)
        assert held(c, stocked.dowel)[0] == 21
        with pytest.raises(
            MoveError, match=r"2 asked, 9 were on the shelf on .*, and only 1 of them to spare"
        ):
            part_handling.scrap_parts(c, stocked.dowel, 2, between, why="bent")
        part_handling.scrap_parts(c, stocked.dowel, 1, between, why="bent")
        before_it_came = Entry("Ada", more.recorded, came.recorded - timedelta(days=30))
        with pytest.raises(MoveError, match="1 asked, 0 were on the shelf on 2026-01-"):
            part_handling.scrap_parts(c, stocked.dowel, 1, before_it_came, why="bent")
        days = [came.recorded.date() + timedelta(days=n) for n in (0, 1, 2, 3)]
        free = [stock_at(c, day).parts[0].free for day in days]
        assert free == [9, 8, 0, 20]
        assert stock_at(c, days[0] - timedelta(days=1)).parts[0].free == 0
    assert verify(stocked.books) == []


def test_a_part_and_what_is_known_of_it(stocked):
    lead = LeadTime(least_days=2, likely_days=3, most_days=8)
    with stocked.books.writing() as c:
        for given, words in (
            (("P-1", "another"), 'label: "P-1" is taken'),
            (("P-9", "bolt set"), 'name: "bolt set" is taken'),
            (("", "another"), "label: missing"),
            (("P-9", " "), "name: missing"),
        ):
            with pytest.raises(InputError, match=words):
                parts.add_part(c, *given)
        with pytest.raises(MissingError, match="name a supplier"):
            parts.add_part(c, "P-9", "another", supplier_id=stocked.machinist)
        parts.change_part(
            c, stocked.bolts, label="P-2", name="bolts", supplier_id=stocked.supplier,
            lead_time=lead, reorder="ten left",
        )  # fmt: skip
        kept = parts.get_part(c, stocked.bolts)
        assert (kept.name, kept.lead_time, kept.reorder) == ("bolts", lead, "ten left")
        assert [each.label for each in parts.parts(c)] == ["P-1", "P-2"]
        for words in ("P-2", "p-2", " bolts ", "BOLTS"):
            assert parts.find_part(c, words).id == stocked.bolts
        with pytest.raises(MissingError, match='no part "bolt set"'):
            parts.find_part(c, "bolt set")
        with pytest.raises(InputError, match='label: "P-1" is taken'):
            parts.change_part(
                c, stocked.bolts, label="P-1", name="bolts", supplier_id=None,
                lead_time=None, reorder=None,
            )  # fmt: skip
        # The bill's line still asks for it, though its name is another now.
        (line,) = parts.bills_with(c, stocked.bolts)
        assert (line.name, line.count, line.variant) == ("bolt set", 1, None)


@pytest.mark.parametrize("days", [(3, 2, 8), (-1, 2, 3), (1, 2, 10**6), (1, 2.5, 3)])
def test_a_lead_time_that_cannot_be(days):
    with pytest.raises(InputError, match="lead time"):
        LeadTime(least_days=days[0], likely_days=days[1], most_days=days[2])


# ── with an order ────────────────────────────────────────────────────────────────────────


def test_an_orders_parts_go_with_its_bell(stocked):
    order_id, short = allocated(stocked, stocked.serials[0])
    assert short == []
    with stocked.books.writing() as c:
        assert held(c, stocked.dowel) == (7, 2, 0)
        assert order_parts.reserved_for(c, [order_id]) == {
            order_id: {stocked.dowel: 2, stocked.bolts: 1}
        }
        assert orders.ship(c, order_id, stocked.entry()) == []
        assert held(c, stocked.dowel) == (7, 0, 2)
        assert part_handling.out_with(c, order_id) == {stocked.dowel: 2, stocked.bolts: 1}
        bells.take_back(c, stocked.serials[0], stocked.entry(), why="sold the car")
        assert held(c, stocked.dowel) == (7, 0, 2)  # parts come back only as somebody says
        part_handling.take_parts_back(c, stocked.dowel, 1, stocked.entry(), order_id=order_id)
        with pytest.raises(MoveError, match="2 asked, 1 are out with this order"):
            part_handling.take_parts_back(c, stocked.dowel, 2, stocked.entry(), order_id=order_id)
        assert held(c, stocked.dowel) == (8, 0, 1)
        assert part_handling.orders_with(c, stocked.bolts)[0][0] == order_id
    assert verify(stocked.books) == []


def test_what_is_short_is_said_and_stops_nothing(stocked):
    allocated(stocked, stocked.serials[0])
    order_id, short = allocated(stocked, stocked.serials[1])
    assert [str(each) for each in short] == ["P-2, bolt set: 1 of 1 short"]
    with stocked.books.writing() as c:
        assert order_parts.lacking_of(c, [order_id]) == {order_id: {stocked.bolts: 1}}
        with pytest.raises(MoveError, match=r"1 asked, 0 free on the shelf, 1 more reserved"):
            part_handling.scrap_parts(c, stocked.bolts, 1, stocked.entry(), why="x")
        assert [each.missing for each in orders.ship(c, order_id, stocked.entry())] == [1]
        assert order_parts.missing_of(c, order_id) == {stocked.bolts: 1}
        part_handling.count_parts(c, stocked.bolts, 3, stocked.entry(), why="found")
        part_handling.send_parts(c, stocked.bolts, 1, stocked.entry(), order_id=order_id)
        assert order_parts.missing_of(c, order_id) == {}
    assert verify(stocked.books) == []


def test_what_came_meanwhile_goes_along(stocked):
    """Short when allocated, there when shipped."""
    allocated(stocked, stocked.serials[0])
    order_id, _ = allocated(stocked, stocked.serials[1])
    with stocked.books.writing() as c:
        part_handling.count_parts(c, stocked.bolts, 2, stocked.entry(), why="found")
        assert orders.ship(c, order_id, stocked.entry()) == []
        assert part_handling.out_with(c, order_id) == {stocked.dowel: 2, stocked.bolts: 1}
    assert verify(stocked.books) == []


@pytest.mark.parametrize("way", ["cancel", "free", "withdraw"])
def test_what_was_set_aside_is_free_again(stocked, way):
    serial = stocked.serials[0]
    order_id, _ = allocated(stocked, serial)
    with stocked.books.writing() as c:
        match way:
            case "cancel":
                orders.cancel(c, order_id, stocked.entry(), why="he sold the car")
            case "free":
                orders.free(c, order_id, stocked.entry(), why="the racer comes first")
            case "withdraw":
                bells.withdraw(c, [serial], stocked.entry(), why="porous")
        assert held(c, stocked.dowel) == (9, 0, 0)
        assert order_parts.reserved_for(c, [order_id]) == {}
        assert part_movements.movements_of_part(c, stocked.dowel)[-1].why
    assert verify(stocked.books) == []


def test_parts_of_one_order_are_not_anothers(stocked):
    first, _ = allocated(stocked, stocked.serials[0])
    second, _ = allocated(stocked, stocked.serials[1])
    with stocked.books.writing() as c:
        with pytest.raises(MoveError, match="3 asked, 2 reserved for this order"):
            order_parts.free_part(c, first, stocked.dowel, 3, stocked.entry(), why="x")
        order_parts.free_part(c, first, stocked.dowel, 2, stocked.entry(), why="for the show car")
        assert order_parts.reserved_for(c, [first, second])[second] == {stocked.dowel: 2}
        assert order_parts.reserve(c, first, stocked.entry()) == []
        assert held(c, stocked.dowel) == (5, 4, 0)
    assert verify(stocked.books) == []


def test_a_count_meets_what_is_reserved(stocked):
    allocated(stocked, stocked.serials[0])
    with stocked.books.writing() as c:
        assert part_handling.count_parts(c, stocked.dowel, 9, stocked.entry()) == 0
        assert part_handling.count_parts(c, stocked.dowel, 2, stocked.entry(), why="gone") == -7
        assert held(c, stocked.dowel) == (0, 2, 0)
        with pytest.raises(MoveError, match="1 counted, 2 are reserved for orders"):
            part_handling.count_parts(c, stocked.dowel, 1, stocked.entry(), why="gone")
    assert verify(stocked.books) == []


def test_a_line_tied_by_hand_and_let_go(stocked):
    with stocked.books.writing() as c:
        lines = {each.name: each.id for each in kits.bill(c, stocked.variant)}
        paper = lines["paper, never counted"]
        parts.tie_bill_line(c, paper, stocked.bolts)
        order_id = stocked.order_in(c)
        assert parts.asked_by(c, [order_id]) == {order_id: {stocked.dowel: 2, stocked.bolts: 2}}
        parts.tie_bill_line(c, paper, None)
        assert parts.asked_by(c, [order_id]) == {order_id: {stocked.dowel: 2, stocked.bolts: 1}}
        for line, part_id in ((99, None), (paper, 99)):
            with pytest.raises(MissingError):
                parts.tie_bill_line(c, line, part_id)
        (kit,) = kits.kits(c)
        other = kits.add_variant(c, kit.id, "race", design_id=stocked.design, price=Money(1, "USD"))
        kits.add_part(c, kit.id, "bolt set", count=3, cost=Money(1, "USD"), variant_id=other)
        assert parts.asked_by(c, [order_id])[order_id][stocked.bolts] == 1  # not of its variant


# ── castings, and any day ────────────────────────────────────────────────────────────────


def test_castings_are_counted_and_taken_out_of_the_scrap(stocked):
    with stocked.books.writing() as c:
        crate = stocked.crate
        assert stock.count_castings(c, crate, 4, stocked.entry()) == 0
        assert stock.count_castings(c, crate, 3, stocked.entry(), why="one too few came") == -1
        assert stock.count_castings(c, crate, 5, stocked.entry(), why="it was behind it") == 2
        stock.scrap_castings(c, crate, 2, stocked.entry(), why="cold shut")
        stock.take_castings_out_of_scrap(c, crate, 1, stocked.entry(), why="the wrong one")
        with pytest.raises(MoveError, match="2 castings cannot leave the scrap, 1 are there"):
            stock.take_castings_out_of_scrap(c, crate, 2, stocked.entry(), why="x")
        with pytest.raises(InputError, match="a count of 1 where the books have 4"):
            stock.count_castings(c, crate, 1, stocked.entry())
        (found,) = stock_at(c, stocked.entry().recorded.date()).crates
        assert (found.came, found.on_floor, found.born, found.scrapped, found.sent_back) == (
            *(10, 4, 4, 1, 1),
        )
    assert verify(stocked.books) == []


def test_the_stock_of_a_day_is_what_stood_then(workshop):
    """Bells go through their lives a day apart; each day is looked at after all has happened."""
    start = workshop.entry().recorded
    workshop.receive(6)
    serials = [*workshop.serials, *workshop.make(6)]
    states = ["released", "held", "rejected", "scrapped", "allocated", "shipped", "returned"]
    with workshop.books.reading() as c:
        seen = {start.date(): standing.counts(c)}
    for days, (serial, state) in enumerate(zip(serials, states, strict=False), start=1):
        minutes = days * 24 * 60
        workshop._minutes = iter(range(minutes, minutes + 1000))
        workshop.bring(serial, state)
        with workshop.books.reading() as c:
            seen[start.date() + timedelta(days=days)] = standing.counts(c)
    with workshop.books.reading() as c:
        for day, counts in seen.items():
            found = stock_at(c, day)
            assert {(b.design_id, b.state, b.place): b.count for b in found.bells} == counts, day
            assert sum(b.count for b in found.bells) == 10
        assert stock_at(c, start.date() - timedelta(days=1)).bells == ()
        assert stock_at(c, start.date() - timedelta(days=1)).crates == ()
        floor = {crate.crate_id: crate.on_floor for crate in stock_at(c, day).crates}
        assert floor == {crate.id: crate.on_floor for crate in stock.crates(c)}


# ── sent twice ───────────────────────────────────────────────────────────────────────────


def test_a_key_counts_once(books):
    entry = Entry("Ada", datetime(2026, 3, 2, 8, tzinfo=UTC))
    with books.writing() as c:
        assert sendings.first_time(c, "key-1", "scrap 3", entry)
        assert not sendings.first_time(c, "key-1", "scrap 3", entry)
        assert sendings.first_time(c, None, "scrap 3", entry)
        assert sendings.first_time(c, None, "scrap 3", entry)
        with pytest.raises(InputError, match="something else was sent with it"):
            sendings.first_time(c, "key-1", "scrap 4", entry)
        with pytest.raises(InputError, match="send_key"):
            sendings.first_time(c, " ", "scrap 4", entry)
