"""Dated rates in the books: exact, append-only, the newest line of a day counting."""

from __future__ import annotations

from datetime import date, timedelta
from fractions import Fraction

import pytest
import sqlalchemy as sa
from hypothesis import given
from hypothesis import strategies as st

from kitwright.books import rates
from kitwright.books.tables import currency_rate
from kitwright.errors import InputError
from kitwright.money import read_rate

DAY = date(2026, 1, 5)
AS_TEXT = 'write it above zero, as "1.0842"'


def add(workshop, source, target, rate, day=DAY):
    with workshop.books.writing() as c:
        return rates.add_rate(c, source, target, rate, day, workshop.entry())


def counting(workshop, by):
    with workshop.books.reading() as c:
        return {(each.source, each.target): each.rate for each in rates.newest(c, by=by)}


def test_the_newest_day_counts_and_of_one_day_the_last_line(workshop):
    add(workshop, "EUR", "USD", "1.0842")
    add(workshop, "EUR", "USD", "1.05", DAY - timedelta(days=9))  # written down late
    add(workshop, "USD", "JPY", "157.11")
    assert counting(workshop, DAY) == {("EUR", "USD"): "1.0842", ("USD", "JPY"): "157.11"}
    assert counting(workshop, DAY - timedelta(days=1)) == {("EUR", "USD"): "1.05"}
    assert counting(workshop, DAY - timedelta(days=10)) == {}
    add(workshop, "EUR", "USD", "1.0482")  # a slip of the pen, put right by a new line
    assert counting(workshop, DAY)["EUR", "USD"] == "1.0482"
    with workshop.books.reading() as c:
        kept = rates.lines(c)
    assert [each.rate for each in kept] == ["1.0482", "157.11", "1.0842", "1.05"]
    assert kept[0].who == "Ada"
    assert kept[0].exact == Fraction("1.0482")


def test_a_line_is_neither_changed_nor_removed(workshop):
    add(workshop, "EUR", "USD", "1.0842")
    for act in (currency_rate.update().values(rate="2"), currency_rate.delete()):
        with (
            pytest.raises(sa.exc.DatabaseError, match="stands; correct it by a new line"),
            workshop.books.writing() as c,
        ):
            c.execute(act)
    assert counting(workshop, DAY) == {("EUR", "USD"): "1.0842"}


@pytest.mark.parametrize(
    ("given_rate", "line"),
    [
        (("eur", "USD", "1"), 'source: "eur" is not a currency; write its three letters, as EUR'),
        (("EUR", "", "1"), 'target: "" is not a currency; write its three letters, as EUR'),
        (("EUR", "EUR", "1"), "target: EUR in itself; name another currency"),
        (("EUR", "USD", "0.00"), f'rate: "0.00" is not a rate; {AS_TEXT}'),
        (("EUR", "USD", "1,08"), f'rate: "1,08" is not a rate; {AS_TEXT}'),
        (("EUR", "USD", 1.08), 'rate: "1.08" is not text; write it as "1.0842"'),
        (("EUR", "USD", "nan"), f'rate: "nan" is not a rate; {AS_TEXT}'),
        (
            ("EUR", "USD", "1", date(2031, 1, 1)),
            "day: 2031-01-01 is still to come; give the day it was so",
        ),
    ],
)  # fmt: skip
def test_what_is_no_rate_is_not_kept(workshop, given_rate, line):
    with pytest.raises(InputError) as caught:
        add(workshop, *given_rate)
    assert caught.value.lines == [line]
    assert counting(workshop, DAY) == {}


@given(rate=st.decimals("0.000000001", 999_999_999, places=9).map(lambda each: f"{each:f}"))
def test_a_rate_is_read_exactly(rate):
    assert f"{read_rate(rate) * 10**9}" == rate.replace(".", "").lstrip("0")
