"""The shop's side of a fit-up by link: it gives the link, follows what comes in, and answers."""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterator

import pytest
from starlette.testclient import TestClient

from kitwright.books import fitup_talk
from kitwright.books.entries import Entry
from kitwright.books.links import set_address
from kitwright.books.opening import Books
from kitwright.shop import fitups as shop_fitups
from kitwright.shop import links as giving
from kitwright.shop import send_keys
from kitwright.shop.fitting import Item, receive
from kitwright.web.site import create_site

NOW = datetime.datetime(2026, 5, 5, 9, tzinfo=datetime.UTC)
ADDRESS = "http://garage.test:8711"
WHO = Entry("Owner", NOW - datetime.timedelta(days=1))


@pytest.fixture
def number(demo_books: Books) -> int:
    return shop_fitups.open_for_order(demo_books, 20, fitter="Sam", block="new", entry=WHO)


@pytest.fixture
def shop(demo_books: Books) -> Iterator[TestClient]:
    site = create_site(demo_books, hosts=["testserver"], clock=lambda: NOW)
    with TestClient(site, follow_redirects=False) as client:
        yield client


def test_the_shop_gives_a_link(shop: TestClient, demo_books: Books, number: int) -> None:
    here = f"/fit-ups/{number}"
    with demo_books.writing() as connection:
        set_address(connection, ADDRESS, WHO)
    assert shop.post(f"{here}/link", data={"who": "Ines", "days": "7"}).status_code == 303
    found = re.search(rf"{ADDRESS}/f/([\w-]{{32}})", shop.get(here).text)
    assert found is not None
    with demo_books.reading() as connection:
        link = giving.standing_for_fit_up(connection, number, NOW)
    assert link is not None
    assert (link.token, link.expires) == (found[1], NOW + datetime.timedelta(days=7))
    assert shop.post(f"{here}/link", data={"who": "Ines", "days": "x"}).status_code == 422


def test_what_comes_in_is_seen_and_a_note_goes_out_once(
    shop: TestClient, demo_books: Books, number: int
) -> None:
    here = f"/fit-ups/{number}"
    link = giving.give_for_fit_up(demo_books, number, entry=WHO)
    before = shop.get(f"{here}/version").text
    values = {"said": "Please <b>call</b> me.", "at": "bore"}
    item = Item(send_key=send_keys.stock(link.token, 1)[0], stage="note", values=values)
    receive(demo_books, link, item, now=NOW)
    assert shop.get(f"{here}/version").text != before
    assert "Sweep the bore: Please &lt;b&gt;call&lt;/b&gt; me." in shop.get(here).text
    sent = {"note": "Ringing you now.", "who": "Ines", "send_key": "once"}
    for _ in range(2):
        assert shop.post(f"{here}/note", data=sent).status_code == 303
    empty = {"note": "", "who": "Ines", "send_key": "k"}
    assert shop.post(f"{here}/note", data=empty).status_code == 422
    with demo_books.reading() as connection:
        notes = fitup_talk.notes_of(connection, number)
    assert [(note.side, note.said, note.who) for note in notes][1:] == [
        ("shop", "Ringing you now.", "Ines")
    ]
