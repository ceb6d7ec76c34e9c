"""Links given by the shop: how long they open, which one stands, and their whole address."""

from __future__ import annotations

import datetime

import pytest

from kitwright.books import links as kept
from kitwright.books.entries import Entry
from kitwright.books.opening import Books
from kitwright.books.shop import parties
from kitwright.errors import InputError
from kitwright.shop import fitups, links

NOW = datetime.datetime(2026, 5, 4, 12, tzinfo=datetime.UTC)
WHO = Entry(who="Ines", recorded=NOW)
DAY = datetime.timedelta(days=1)


@pytest.fixture
def fit_up(demo_books: Books) -> int:
    return fitups.open_for_order(demo_books, 20, fitter="Sam", block="new", entry=WHO)


def test_a_fitters_link_opens_for_sixty_days_and_a_machinists_for_a_year(demo_books, fit_up):
    with demo_books.reading() as c:
        machinist = parties(c, "machinist")[0].id
    fitters = links.give_for_fit_up(demo_books, fit_up, entry=WHO)
    machinists = links.give_for_machinist(demo_books, machinist, entry=WHO)
    assert (fitters.fit_up_id, fitters.expires - NOW) == (fit_up, 60 * DAY)
    assert (machinists.machinist_id, machinists.expires - NOW) == (machinist, 365 * DAY)
    asked = links.give_for_machinist(demo_books, machinist, entry=WHO, days=7)
    assert asked.expires - NOW == 7 * DAY


@pytest.mark.parametrize(("asked", "days"), [(1, 1), (3649, 3649), (3650, 3650), (10**9, 3650)])
def test_no_link_opens_for_more_than_ten_years(demo_books, fit_up, asked, days):
    given = links.give_for_fit_up(demo_books, fit_up, entry=WHO, days=asked)
    assert given.expires - NOW == days * DAY


def test_a_link_opens_for_a_day_at_least(demo_books, fit_up):
    with pytest.raises(InputError, match="days: 0"):
        links.give_for_fit_up(demo_books, fit_up, entry=WHO, days=0)
    with demo_books.reading() as c:
        assert kept.of_fit_up(c, fit_up) == []


def test_the_newest_link_that_opens_now_is_the_one_that_stands(demo_books, fit_up):
    def standing(days: int) -> int | None:
        with demo_books.reading() as c:
            found = links.standing_for_fit_up(c, fit_up, NOW + days * DAY)
        return None if found is None else found.id

    assert standing(0) is None
    long, short, lost = (
        links.give_for_fit_up(demo_books, fit_up, entry=WHO, days=days).id for days in (30, 7, 90)
    )
    assert standing(0) == lost
    links.withdraw(demo_books, lost, why="the phone was lost", entry=WHO)
    assert [standing(days) for days in (0, 6, 7, 29, 30)] == [short, short, long, long, None]


def test_a_link_has_a_whole_address_once_the_shop_set_one(demo_books, fit_up):
    given = links.give_for_fit_up(demo_books, fit_up, entry=WHO)
    with demo_books.writing() as c:
        kept.set_address(c, "http://garage.test:8711/", WHO)
        assert links.whole_address(c, given) == f"http://garage.test:8711/f/{given.token}"
