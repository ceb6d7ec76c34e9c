"""Links: one token opens one thing, until it expires or is withdrawn; an address for them all."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import insert, select
from sqlalchemy.exc import DatabaseError

from kitwright.books import links
from kitwright.books.tables import link, link_address
from kitwright.books.verifying import verify
from kitwright.errors import InputError, MissingError, MoveError

LATER = datetime(2026, 5, 1, tzinfo=UTC)


@pytest.fixture
def fit_up(workshop):
    workshop.bring(workshop.serials[0], "shipped")
    return workshop.fit_up(workshop.serials[0])


def test_a_link_opens_one_fit_up_until_it_expires(workshop, fit_up):
    with workshop.books.writing() as c:
        made = links.open_for_fit_up(c, fit_up, expires=LATER, entry=workshop.entry())
        found = links.by_token(c, made.token)
    assert found == made
    assert (made.opens, made.fit_up_id, made.machinist_id) == ("fit-up", fit_up, None)
    assert made.path == f"/f/{made.token}"
    assert made.stands(LATER - timedelta(seconds=1))
    assert not made.stands(LATER)
    assert verify(workshop.books) == []


def test_a_machinists_link_is_his_alone(workshop):
    with workshop.books.writing() as c:
        made = links.open_for_machinist(
            c, workshop.machinist, expires=LATER, entry=workshop.entry()
        )
        assert made.path == f"/m/{made.token}"
        assert links.of_machinist(c, workshop.machinist) == [made]
        with pytest.raises(MissingError, match="is a customer; name a machinist"):
            links.open_for_machinist(c, workshop.customer, expires=LATER, entry=workshop.entry())


def test_no_two_tokens_are_alike_and_each_is_hard_to_guess(workshop, fit_up):
    with workshop.books.writing() as c:
        tokens = {
            links.open_for_fit_up(c, fit_up, expires=LATER, entry=workshop.entry()).token
            for _ in range(50)
        }
        assert links.of_fit_up(c, fit_up)[0].token in tokens
    assert len(tokens) == 50
    # 24 random bytes are 192 bits; OWASP asks for at least 64 of a session's name (from memory).
    assert all(len(token) == 32 for token in tokens)


def test_links_are_listed_newest_first_each_beside_its_own(workshop, fit_up):
    workshop.bring(workshop.serials[1], "shipped")
    next_car = workshop.fit_up(workshop.serials[1])
    with workshop.books.writing() as c:
        apart = links.open_for_fit_up(c, next_car, expires=LATER, entry=workshop.entry())
        first, second, third = (
            links.open_for_fit_up(c, fit_up, expires=LATER, entry=workshop.entry())
            for _ in range(3)
        )
        other = links.open_for_machinist(
            c, workshop.machinist, expires=LATER, entry=workshop.entry()
        )
        assert links.of_fit_up(c, fit_up) == [third, second, first]
        assert links.of_fit_ups(c, [next_car, fit_up]) == {
            fit_up: [third, second, first],
            next_car: [apart],
        }
        assert links.of_machinist(c, workshop.machinist) == [other]
        assert links.every(c) == [other, third, second, first, apart]


def test_what_is_withdrawn_opens_nothing_and_says_why(workshop, fit_up):
    with workshop.books.writing() as c:
        made = links.open_for_fit_up(c, fit_up, expires=LATER, entry=workshop.entry())
        with pytest.raises(InputError, match="why: missing; withdrawing a link needs a reason"):
            links.withdraw(c, made.id, workshop.entry(), why=" ")
        links.withdraw(c, made.id, workshop.entry(), why="sent to the wrong garage")
        found = links.by_token(c, made.token)
        assert not found.stands(made.recorded)
        assert found.withdrawn_why == "sent to the wrong garage"
        with pytest.raises(MoveError, match="it was withdrawn 2026-03-02"):
            links.withdraw(c, made.id, workshop.entry(), why="again")
        with pytest.raises(MissingError, match="no link number 99"):
            links.withdraw(c, 99, workshop.entry(), why="none")


@pytest.mark.parametrize("token", ["", "nothing", "\0", "\ud800", "%", "a' OR 1=1 --"])
def test_no_other_token_opens_anything(workshop, fit_up, token):
    with workshop.books.writing() as c:
        links.open_for_fit_up(c, fit_up, expires=LATER, entry=workshop.entry())
        assert links.by_token(c, token) is None


def test_a_link_that_would_never_open_is_not_made(workshop, fit_up):
    with workshop.books.writing() as c:
        entry = workshop.entry()
        with pytest.raises(InputError, match="is past; give a later time"):
            links.open_for_fit_up(c, fit_up, expires=entry.recorded, entry=entry)
        with pytest.raises(MissingError, match="no fit-up number 77"):
            links.open_for_fit_up(c, 77, expires=LATER, entry=entry)
        assert links.of_fit_up(c, fit_up) == []


def test_the_database_refuses_a_link_to_two_things_or_none(workshop, fit_up):
    for fit_up_id, machinist in ((fit_up, workshop.machinist), (None, None)):
        with pytest.raises(DatabaseError), workshop.books.writing() as c:
            c.execute(
                insert(link).values(
                    token="planted",
                    opens="fit-up",
                    fit_up_id=fit_up_id,
                    machinist_id=machinist,
                    expires=LATER,
                    **workshop.entry().line,
                )
            )


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("http://192.0.2.7:8711", "http://192.0.2.7:8711"),
        (" HTTPS://Kits.Example/ ", "https://kits.example"),
        ("http://[2001:db8::1]:8711", "http://[2001:db8::1]:8711"),
        ("http://[::1]", "http://[::1]"),
    ],
)
def test_an_address_is_kept_plain(books, workshop, typed, kept):
    with workshop.books.writing() as c:
        assert links.get_address(c) is None
        assert links.set_address(c, typed, workshop.entry()) == kept
        links.set_address(c, typed, workshop.entry())
        assert links.get_address(c) == kept
        assert len(c.execute(select(link_address)).all()) == 1  # the same once more is no news
        links.set_address(c, "http://other.test", workshop.entry())
        assert links.get_address(c) == "http://other.test"


@pytest.mark.parametrize(
    "typed",
    ["", "garage", "ftp://a.test", "http://", "http://a.test/x", "http://u:p@a.test", "http://a b",
     "http://a.test:0", "http://a.test:99999", "http://a.test?x", "http://[::1", "javascript:1"],
)  # fmt: skip
def test_what_is_no_address_is_refused(typed):
    with pytest.raises(InputError, match=r"links: .* is not an address; write it as"):
        links.plain_address(typed)
