"""A bell's life, led at random, against a plain model of it in Python."""

from __future__ import annotations

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from kitwright.books import bells, decisions, fitups, movements, orders, places, standing, steps
from kitwright.books.verifying import verify
from kitwright.errors import InputError, MoveError

PLAIN = ("release", "hold", "reject", "remeasure", "concede", "rework", "scrap")


def a_life_in(workshop):
    """The machine: each rule is an act of the shop, done to the books and to the model."""

    class Life(RuleBasedStateMachine):
        @initialize()
        def is_born(self):
            workshop.receive(1)
            (self.serial,) = workshop.make(1)
            self.state, self.place = "made", "shelf"
            self.decisions = 0
            self.order = None
            self.order_state = None

        def act(self, allowed, work):
            """Try the act; it must be kept exactly when the model allows it."""
            try:
                with workshop.books.writing() as c:
                    work(c)
            except (MoveError, InputError) as refused:
                assert not allowed, refused
            else:
                assert allowed
            return allowed

        @rule(kind=st.sampled_from(PLAIN), why=st.sampled_from([None, "  ", "porous"]))
        def decides(self, kind, why):
            after = {
                ("made", "release"): "released",
                ("made", "hold"): "held",
                ("returned", "hold"): "held",
                ("withdrawn", "hold"): "held",
                ("made", "reject"): "rejected",
                ("held", "reject"): "rejected",
                ("held", "remeasure"): "made",
                ("held", "concede"): "released",
                ("rejected", "concede"): "released",
                ("rejected", "rework"): "made",
                ("rejected", "scrap"): "scrapped",
                ("withdrawn", "scrap"): "scrapped",
            }.get((self.state, kind))
            reasoned = why == "porous" or kind not in ("concede", "rework", "scrap")
            at_home = self.place in ("shelf", "machinist") or kind == "scrap"
            allowed = after is not None and reasoned and at_home

            def work(c):
                if kind == "release":
                    workshop.release_in(c, self.serial)
                else:
                    decisions.decide(c, self.serial, kind, workshop.entry(), why=why)

            if self.act(allowed, work):
                self.state = after
                self.decisions += 1
                if kind == "scrap":
                    self.place = "scrap"

        @rule()
        def allocates(self):
            order_id = workshop.order()
            if self.act(
                self.state == "released",
                lambda c: orders.allocate(c, order_id, self.serial, workshop.entry()),
            ):
                self.state, self.order, self.order_state = "allocated", order_id, "allocated"
                self.decisions += 1

        @precondition(lambda self: self.order is not None)
        @rule(why=st.sampled_from(["", "the racer comes first"]))
        def frees(self, why):
            if self.act(
                self.state == "allocated" and bool(why),
                lambda c: orders.free(c, self.order, workshop.entry(), why=why),
            ):
                self.state, self.order_state = "released", "promised"
                self.decisions += 1

        @precondition(lambda self: self.order is not None)
        @rule()
        def cancels(self):
            allowed = self.order_state in ("promised", "allocated")
            if self.act(
                allowed, lambda c: orders.cancel(c, self.order, workshop.entry(), why="sold it")
            ):
                if self.order_state == "allocated":
                    self.state = "released"
                    self.decisions += 1
                self.order_state = "cancelled"

        @precondition(lambda self: self.order is not None)
        @rule()
        def ships(self):
            allowed = self.state == "allocated" and self.place == "shelf"
            if self.act(allowed, lambda c: orders.ship(c, self.order, workshop.entry())):
                self.state, self.place, self.order_state = "shipped", "customer", "shipped"
                self.decisions += 1

        @rule()
        def fits(self):
            def work(c):
                number = fitups.open_fit_up(
                    c, self.serial, fitter="F.", block="new", entry=workshop.entry()
                )
                for to in ("measuring", "advice", "succeeded"):
                    fitups.take_step(c, number, to, workshop.entry())

            if self.act(self.state == "shipped", work):
                self.state = "fitted"
                self.decisions += 1

        @rule()
        def withdraws(self):
            allowed = self.state in ("released", "allocated", "shipped", "fitted")
            if self.act(
                allowed,
                lambda c: bells.withdraw(c, [self.serial], workshop.entry(), why="porous"),
            ):
                if self.state == "allocated":
                    self.order_state = "promised"
                self.state = "withdrawn"
                self.decisions += 1

        @rule()
        def takes_back(self):
            if self.act(
                self.place == "customer",
                lambda c: bells.take_back(c, self.serial, workshop.entry()),
            ):
                if self.state != "withdrawn":
                    self.state = "returned"
                    self.decisions += 1
                self.place = "shelf"

        @rule(to=st.sampled_from(["shelf", "machinist"]))
        def carries(self, to):
            ways = {("shelf", "machinist"), ("machinist", "shelf")}
            stays_on_shelf = {"returned", "scrapped", "shipped", "fitted"}
            allowed = (
                (self.place, to) in ways
                and not (to == "machinist" and self.state in stays_on_shelf)
            ) or (self.place == "customer" and to == "shelf" and self.state == "withdrawn")
            place = places.SHELF if to == "shelf" else places.machinist(workshop.machinist)
            if self.act(
                allowed,
                lambda c: movements.move_bells(c, [self.serial], place, workshop.entry()),
            ):
                self.place = to

        @invariant()
        def the_books_say_the_same(self):
            with workshop.books.reading() as c:
                bell = standing.one(c, self.serial)
                assert (bell.state, bell.place_name, bell.decisions) == (
                    self.state,
                    self.place,
                    self.decisions,
                )
                if self.order is not None:
                    assert steps.newest(c, steps.ORDER, self.order).state == self.order_state
                    has = self.state in ("allocated", "shipped", "fitted")
                    assert (orders.bell_of(c, self.order) is not None) == has

        def teardown(self):
            assert verify(workshop.books) == []

    return Life


def test_a_life_at_random(workshop):
    run_state_machine_as_test(
        a_life_in(workshop), settings=settings(max_examples=15, stateful_step_count=30)
    )
