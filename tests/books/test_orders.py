"""Orders, and what becomes of a bell that leaves the shop."""

from __future__ import annotations

from datetime import date

import pytest

from kitwright.books import bells, decisions, designs, kits, orders, places, standing, steps
from kitwright.books.bells import Decision, Movement
from kitwright.books.entries import Money
from kitwright.books.verifying import verify
from kitwright.errors import InputError, MissingError, MoveError


def states(c, order_id):
    return [each.state for each in steps.steps(c, steps.ORDER, order_id)]


def test_an_order_from_open_to_closed(workshop):
    serial = workshop.serials[0]
    workshop.bring(serial, "released")
    order_id = workshop.order(promised=False)
    with workshop.books.writing() as c:
        assert orders.get_order(c, order_id).promised_for is None
        orders.promise(c, order_id, date(2026, 5, 4), workshop.entry())
        with pytest.raises(InputError, match="why: missing; a new promise needs a reason"):
            orders.promise(c, order_id, date(2026, 5, 11), workshop.entry())
        orders.promise(c, order_id, date(2026, 5, 11), workshop.entry(), why="the foundry is late")
        orders.allocate(c, order_id, serial, workshop.entry())
        assert orders.bell_of(c, order_id).serial == serial
        with pytest.raises(MoveError, match="a bell is allocated to it; free that first"):
            orders.promise(c, order_id, date(2026, 6, 1), workshop.entry(), why="x")
        orders.ship(c, order_id, workshop.entry())
        bell = orders.bell_of(c, order_id)
        assert (bell.state, bell.place) == ("shipped", places.customer(workshop.customer))
        with pytest.raises(MoveError, match='"cancelled" is refused, it is shipped'):
            orders.cancel(c, order_id, workshop.entry(), why="too late")
        orders.close(c, order_id, workshop.entry())
        found = orders.get_order(c, order_id)
        assert (found.state, found.promised_for) == ("closed", date(2026, 5, 11))
        assert found.price == Money(129900, "USD")
        assert states(c, order_id) == [
            *("open", "promised", "promised", "allocated", "shipped", "closed")
        ]
        assert [each.id for each in orders.orders(c, state="closed")] == [order_id]
        assert [each.id for each in orders.orders(c, customer_id=workshop.customer)] == [order_id]
        assert orders.orders(c, customer_id=workshop.supplier) == []
    assert verify(workshop.books) == []


def test_a_freed_bell_and_a_cancelled_order(workshop):
    serial = workshop.serials[0]
    workshop.bring(serial, "released")
    first, second = workshop.order(), workshop.order()
    with workshop.books.writing() as c:
        orders.allocate(c, first, serial, workshop.entry())
        orders.free(c, first, workshop.entry(), why="the racer comes first")
        assert orders.bell_of(c, first) is None
        assert orders.get_order(c, first).state == "promised"
        assert orders.get_order(c, first).promised_for == date(2026, 5, 4)
        orders.allocate(c, second, serial, workshop.entry())
        orders.cancel(c, second, workshop.entry(), why="he sold the car")
        assert standing.one(c, serial).state == "released"
        assert orders.get_order(c, second).state == "cancelled"
        orders.cancel(c, first, workshop.entry(), why="so did she")
        for act in (orders.ship, orders.close):
            with pytest.raises(MoveError, match="it is cancelled"):
                act(c, first, workshop.entry())
        with pytest.raises(MoveError, match='no bell is allocated to it, it is cancelled; "free"'):
            orders.free(c, first, workshop.entry(), why="x")
    assert verify(workshop.books) == []


def test_what_cannot_be_allocated(workshop):
    released, held, *_ = workshop.serials
    workshop.bring(released, "released")
    workshop.bring(held, "held")
    order_id, unpromised = workshop.order(), workshop.order(promised=False)
    with workshop.books.writing() as c:
        steel = designs.add_design(
            c,
            "Steel bell",
            conversion_id=workshop.conversion,
            material="certified steel",
            price=Money(1, "USD"),
            mass_kg=14,
            opening="closed",
            certificate="T-1",
            certificate_expires=date(2028, 1, 1),
        )
        kit = kits.kits(c)[0].id
        race = kits.add_variant(c, kit, "race", design_id=steel, price=Money(1, "USD"))
        other = orders.open_order(
            c,
            "O-race",
            customer_id=workshop.customer,
            variant_id=race,
            price=Money(1, "USD"),
            entry=workshop.entry(),
        )
        orders.promise(c, other, date(2026, 5, 4), workshop.entry())
        for number, serial, words in (
            (order_id, held, '"allocate" is refused, it is held'),
            (unpromised, released, '"allocated" is refused, it is open'),
            (other, released, "is of another design than order O-race asks for"),
            (order_id, "X-1", "there is no bell of this serial"),
            (99, released, "there is no order number 99"),
            (2**70, released, "there is no order number"),
        ):
            with pytest.raises(InputError, match=words):
                orders.allocate(c, number, serial, workshop.entry())
            assert standing.one(c, released).state == "released"  # nothing half done
        with pytest.raises(InputError, match='no order is named; "allocate" needs one'):
            decisions.decide(c, released, "allocate", workshop.entry())
        with pytest.raises(MissingError, match="names an order or a fit-up that is not"):
            decisions.decide(c, released, "allocate", workshop.entry(), order_id=99)
    assert verify(workshop.books) == []


def test_an_order_that_cannot_be(workshop):
    with workshop.books.writing() as c:
        option = kits.add_option(c, workshop.variant, "release bearing", Money(8900, "USD"))
        given = {
            "label": "O-100",
            "customer_id": workshop.customer,
            "variant_id": workshop.variant,
            "price": Money(138800, "USD"),
            "entry": workshop.entry(),
            "option_ids": [option],
        }
        for more, words in (
            ({"customer_id": workshop.supplier}, "name a customer"),
            ({"variant_id": 99}, r"\[\d+\] are not of this variant"),
            ({"variant_id": 99, "option_ids": []}, "no variant number 99"),
            ({"option_ids": [99]}, r"options: \[99\] are not of this variant"),
            ({"price": Money(-1, "USD")}, "price"),
            ({"car_id": 99}, "not in the books"),
            ({"label": ""}, "label"),
        ):
            with pytest.raises(InputError, match=words):
                orders.open_order(c, **{**given, **more})
        assert orders.orders(c) == []
        order_id = orders.open_order(c, **given)
        assert [each.name for each in orders.options_of(c, order_id)] == ["release bearing"]
        with pytest.raises(InputError, match='"O-100" is taken'):
            orders.open_order(c, **given)


def test_withdrawn_bells_tell_who_holds_them(workshop):
    shelf, allocated, shipped, made = workshop.serials
    workshop.bring(shelf, "released")
    workshop.bring(allocated, "allocated")
    workshop.bring(shipped, "shipped")
    with workshop.books.writing() as c:
        order_of = {serial: standing.one(c, serial).order_id for serial in workshop.serials}
        with pytest.raises(MoveError, match=f'bell {made}: "withdraw" is refused, it is made'):
            bells.withdraw(c, workshop.serials, workshop.entry(), why="porous at the rib")
        assert orders.get_order(c, order_of[allocated]).state == "allocated"
        told = bells.withdraw(
            c, [shelf, allocated, shipped], workshop.entry(), why="porous at the rib"
        )
        assert [(each.serial, each.place.name, each.order_id) for each in told] == [
            (shelf, "shelf", None),
            (allocated, "shelf", order_of[allocated]),
            (shipped, "customer", order_of[shipped]),
        ]
        assert [each.customer_id for each in told] == [None, workshop.customer, workshop.customer]
        assert bells.holders(c, [shipped]) == [told[2]]
        found = orders.get_order(c, order_of[allocated])
        assert (found.state, found.promised_for) == ("promised", date(2026, 5, 4))
        why = steps.newest(c, steps.ORDER, order_of[allocated]).why
        assert why == f"bell {allocated} is withdrawn: porous at the rib"
        bells.take_back(c, shipped, workshop.entry(), why="fetched")
        assert standing.one(c, shipped).place == places.SHELF
        decisions.decide(c, shipped, "hold", workshop.entry())
        decisions.decide(c, allocated, "scrap", workshop.entry(), why="porous")
        assert standing.one(c, allocated).place == places.SCRAP
        with pytest.raises(InputError, match="why: missing"):
            bells.withdraw(c, [shelf], workshop.entry(), why=" ")
    assert verify(workshop.books) == []


def test_a_withdrawn_bell_may_be_scrapped_where_it_is(workshop):
    serial = workshop.serials[0]
    workshop.bring(serial, "shipped")
    with workshop.books.writing() as c:
        bells.withdraw(c, [serial], workshop.entry(), why="porous")
        decisions.decide(c, serial, "scrap", workshop.entry(), why="not worth the freight")
        last = bells.movements_of(c, serial)[-1]
        assert (last.source, last.to) == (places.customer(workshop.customer), places.SCRAP)
    assert verify(workshop.books) == []


def test_a_bell_comes_back_is_looked_at_and_sold_again(workshop):
    serial = workshop.serials[0]
    workshop.bring(serial, "fitted")
    with workshop.books.writing() as c:
        bells.take_back(c, serial, workshop.entry(), why="he sold the car")
        with pytest.raises(MoveError, match="it is at shelf; take back what a customer has"):
            bells.take_back(c, serial, workshop.entry())
        assert (standing.one(c, serial).state, standing.one(c, serial).place) == (
            "returned",
            places.SHELF,
        )
    for kind in ("hold", "remeasure", "release"):
        workshop.decide(serial, kind)
    order_id = workshop.order()
    with workshop.books.writing() as c:
        orders.allocate(c, order_id, serial, workshop.entry())
        orders.ship(c, order_id, workshop.entry())
        assert orders.bell_of(c, order_id).serial == serial
        assert orders.bell_of(c, order_id - 1) is None  # the first order's bell came back
    assert verify(workshop.books) == []


def test_a_rejected_bell_is_made_good(workshop):
    serial = workshop.serials[0]
    workshop.bring(serial, "rejected")
    with workshop.books.writing() as c:
        bells.send_for_rework(c, serial, workshop.machinist, workshop.entry(), why="bore small")
        bell = standing.one(c, serial)
        assert (bell.state, bell.place) == ("made", places.machinist(workshop.machinist))
        with pytest.raises(MoveError):
            bells.send_for_rework(c, serial, workshop.machinist, workshop.entry(), why="again")
    assert verify(workshop.books) == []


def test_the_route_card_tells_all_in_order(workshop):
    serial = workshop.serials[0]
    workshop.bring(serial, "fitted")
    with workshop.books.reading() as c:
        card = bells.route_card(c, serial)
        assert [line.recorded for line in card] == sorted(line.recorded for line in card)
        told = [
            line.kind if isinstance(line, Decision) else f"to {line.to.name}"
            for line in card
            if isinstance(line, Decision | Movement)
        ]
        assert told == [
            *("to machinist", "to shelf", "release", "allocate", "ship", "to customer", "fit")
        ]
        assert [line.number for line in bells.decisions_of(c, serial)] == [1, 2, 3, 4]
        assert bells.decisions_of(c, serial)[-1].fit_up_id == 1
        order_id = standing.one(c, serial).order_id
        assert {line.order_id for line in bells.decisions_of(c, serial)[1:]} == {order_id}
        with pytest.raises(MissingError, match="bell X-1: there is no bell"):
            bells.route_card(c, "X-1")
