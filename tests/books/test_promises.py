"""The rule of promises, what each rests on, and variants that are a bell alone."""

from __future__ import annotations

from datetime import date

import pytest

from kitwright.books import orders, promises
from kitwright.books.promises import USUAL, SupplyRule
from kitwright.books.verifying import verify
from kitwright.errors import InputError, MissingError, MoveError


def test_the_newest_rule_counts_and_the_usual_one_before_it(workshop):
    with workshop.books.writing() as c:
        assert promises.get_rule(c) == USUAL == SupplyRule(chance=0.9, service=0.95)
        for chance in (0.8, 0.99):
            promises.set_rule(c, SupplyRule(chance=chance, service=0.9), workshop.entry())
        assert promises.get_rule(c) == SupplyRule(chance=0.99, service=0.9)
        for wrong in ({"chance": 1.0}, {"service": 0.0}, {"chance": float("nan")}):
            with pytest.raises(InputError, match="give a share between 0 and 1"):
                promises.set_rule(c, SupplyRule(**wrong), workshop.entry())


def keep(c, workshop, order, day, **more):
    given = {"wanted": 0.9, "chance": 0.93, "case": {"ahead": 2}, "rests_on": ["batch B-1"]}
    promises.keep_basis(c, order, promised_for=day, entry=workshop.entry(), **{**given, **more})


def test_each_promise_keeps_its_own_basis_and_the_newest_is_shown(workshop):
    order = workshop.order()
    with workshop.books.writing() as c:
        first = orders.get_order(c, order).promised_for
        keep(c, workshop, order, first)
        later = date(2026, 8, 1)
        orders.promise(c, order, later, workshop.entry(), why="the batch slipped")
        keep(c, workshop, order, later, chance=0.91, rests_on=["batch B-2"])
        newest = promises.bases(c)[order]
        assert (newest.day, newest.chance, newest.rests_on_json) == (later, 0.91, ["batch B-2"])
        assert newest.case_json == {"ahead": 2}
    assert verify(workshop.books) == []


def test_nothing_rests_under_an_order_that_was_not_promised(workshop):
    with workshop.books.writing() as c:
        order = workshop.order_in(c)
        with pytest.raises(MoveError, match="nothing is promised; promise a day first"):
            keep(c, workshop, order, date(2026, 8, 1))
        assert promises.bases(c) == {}


def test_a_variant_is_marked_as_a_bell_alone_once(workshop):
    with workshop.books.writing() as c:
        assert promises.loose_variants(c) == frozenset()
        for _ in range(2):
            promises.mark_loose(c, workshop.variant, workshop.entry())
        assert promises.loose_variants(c) == {workshop.variant}
        with pytest.raises(MissingError, match="no variant number 99"):
            promises.mark_loose(c, 99, workshop.entry())
