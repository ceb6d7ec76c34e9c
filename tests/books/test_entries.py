"""What comes into the books: who, when, words, days, money, lengths, numbers."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, timezone

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitwright.books import entries, lengths, places, shop
from kitwright.books.entries import Entry, Money
from kitwright.books.tables.columns import Moment, moment_text
from kitwright.errors import InputError, MissingError

NOON = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)


def test_an_entry_happened_when_it_was_written_down_unless_it_says_otherwise():
    assert Entry("Ada", NOON).happened == NOON
    earlier = Entry(" Ada ", NOON, NOON - timedelta(days=3))
    assert earlier.line == {"who": "Ada", "happened": NOON - timedelta(days=3), "recorded": NOON}


def test_times_of_any_zone_are_the_same_moment():
    away = timezone(timedelta(hours=5, minutes=30))
    assert Entry("Ada", NOON.astimezone(away)).recorded == NOON
    assert Entry("Ada", NOON.astimezone(away)).recorded.tzinfo is UTC


@pytest.mark.parametrize(
    ("who", "recorded", "happened", "words"),
    [
        ("", NOON, None, "who: missing; write it down"),
        ("  \n", NOON, None, "who: missing"),
        (None, NOON, None, "who: missing"),
        ("A\x00da", NOON, None, r"who: holds the character '\\x00'; leave it out"),
        ("A\ud800da", NOON, None, r"who: holds the character '\\ud800'"),
        ("A" * 201, NOON, None, "who: 201 characters; write at most 200"),
        ("Ada", NOON.replace(tzinfo=None), None, "recorded: .* has no time zone"),
        ("Ada", date(2026, 3, 1), None, "recorded: .* is not a time"),
        ("Ada", NOON, NOON + timedelta(seconds=1), "happened: .* is later than"),
        ("Ada", datetime.max.replace(tzinfo=timezone(-timedelta(hours=9))), None, "out of range"),
    ],
)
def test_an_entry_that_cannot_be(who, recorded, happened, words):
    with pytest.raises(InputError, match=words):
        Entry(who, recorded, happened)


@given(
    st.datetimes(timezones=st.sampled_from([UTC, timezone(timedelta(hours=-7))])),
    st.datetimes(timezones=st.just(timezone(timedelta(hours=9)))),
)
def test_kept_times_come_back_and_sort(first, second):
    """Text of fixed width: it sorts as the times do, and nothing is rounded."""
    try:
        kept = [moment_text(each) for each in (first, second)]
    except OverflowError:
        return  # year 0 or 10000 in UTC: `entries.moment` refuses it
    assert len(kept[0]) == len(kept[1]) == len("2026-03-01T12:00:00.000000Z")
    assert (kept[0] < kept[1]) == (first < second)
    back = Moment().process_result_value(kept[0], None)
    assert back == first
    assert back.utcoffset() == timedelta(0)


@pytest.mark.parametrize("value", ["2026-03-01", NOON, None, 20260301])
def test_what_is_no_day(value):
    with pytest.raises(InputError, match="give a date, as 2026-03-01"):
        entries.day(value, where="due")


@pytest.mark.parametrize(
    ("minor", "code", "words"),
    [
        (-1, "EUR", "price: -1; give 0 or more"),
        (1.5, "EUR", 'price: "1.5" is not a whole number'),
        (True, "EUR", "is not a whole number"),
        (10**16, "EUR", "give at most"),
        (1, "eur", 'price currency: "eur" is not a currency; write its three letters'),
        (1, "EURO", "is not a currency"),
        (1, None, "is not a currency"),
    ],
)
def test_money_that_cannot_be(minor, code, words):
    with pytest.raises(InputError, match=words):
        Money(minor, code).columns("price")


def test_a_reason_where_it_is_needed():
    assert entries.sentence("  \t ", where="why") is None
    assert entries.reason("cracked\nat the rib", where="why", needed_by="scrap").count("\n") == 1
    with pytest.raises(InputError, match="why: missing; scrap needs a reason"):
        entries.reason("  ", where="why", needed_by="scrap")
    with pytest.raises(InputError, match="write at most 4000"):
        entries.sentence("x" * 4001, where="why")


def test_each_once_names_all_that_are_twice():
    with pytest.raises(InputError) as refused:
        entries.each_once(["a", "b", "a", "c", "b"], where="bell")
    assert refused.value.lines == [
        "bell a: listed twice; list it once",
        "bell b: listed twice; list it once",
    ]


@pytest.mark.parametrize("case", [float("nan"), {"a": float("inf")}, {1, 2}, object()])
def test_data_that_json_cannot_hold(case):
    with pytest.raises(InputError, match="case: cannot be kept"):
        entries.plain_json(case, where="case")


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -float("inf"), 1e6])
def test_what_is_no_length(value):
    with pytest.raises(InputError, match="depth"):
        lengths.length(value, where="depth")


def test_lengths_name_every_bad_row():
    with pytest.raises(InputError) as refused:
        lengths.lengths(
            [[1, 2], [np.nan, 2], [1, 2e5]],
            (3, 2),
            where="bore",
            names=["bell a", "bell b", "bell c"],
            least=-1e5,
        )
    assert refused.value.lines == [
        "bell b bore: nan, 2 mm; measure it again",
        "bell c bore: 1, 200000 mm; measure it again",
    ]
    with pytest.raises(InputError, match="not 2 rows of numbers"):
        lengths.lengths(["wide", "narrow"], (2,), where="bore", names=["a", "b"], least=0)


def test_limits_are_ordered():
    assert lengths.between(1, 2, where="gap") == (1.0, 2.0)
    with pytest.raises(InputError, match="gap: 2 to 2 mm; give the lower one first"):
        lengths.between(2, 2, where="gap")


def test_a_place_is_somebodys_or_nobodys():
    assert str(places.customer(7)) == "customer 7"
    for name, party in (("shelf", 7), ("customer", None), ("attic", None)):
        with pytest.raises(InputError, match="place"):
            places.Place(name, party)


def test_the_shop_and_its_parties(books):
    with books.writing() as c:
        with pytest.raises(MissingError, match="these books have no shop yet"):
            shop.get_shop(c)
        for lead in ("mm", "in"):
            given = shop.Shop(name="Adapter Works", lead=lead, currency="USD", undecided="reject")
            shop.set_shop(c, given)
            assert shop.get_shop(c) == given
        for name, value in (
            ("lead", "furlong"),
            ("guard", "none"),
            ("undecided", "ship"),
            ("currency", "dollars"),
            ("name", ""),
        ):
            wrong = shop.Shop(**{"name": "Adapter Works", name: value})
            with pytest.raises(InputError, match=f"{name}:"):
                shop.set_shop(c, wrong)
        number = shop.add_party(c, "Slow Spindle", "machinist")
        with pytest.raises(InputError, match='"Slow Spindle" is taken'):
            shop.add_party(c, "Slow Spindle", "machinist")
        shop.add_party(c, "Slow Spindle", "supplier")  # the same firm in another role
        with pytest.raises(InputError, match="role"):
            shop.add_party(c, "Slow Spindle", "rival")
        with pytest.raises(MissingError, match="is a machinist; name a customer"):
            shop.get_party(c, number, "customer")
        for nobody in (99, 0, -1, 2**70, True):
            with pytest.raises(MissingError, match="there is no party number"):
                shop.get_party(c, nobody)
        assert [each.name for each in shop.parties(c, "machinist")] == ["Slow Spindle"]
