"""The shop's pages of fit-ups: whose turn it is, each step as written, links, notes, news."""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Iterator
from typing import Any

import lxml.html
import pytest
from starlette.testclient import TestClient

from kitwright.books import fitup_talk, links
from kitwright.books.entries import Entry
from kitwright.books.links import Link, set_address
from kitwright.books.opening import Books
from kitwright.shop import fitups, send_keys
from kitwright.shop import links as giving
from kitwright.shop.fitting import Item, receive
from kitwright.shop.fitup_stages import STAGES
from kitwright.web.site import create_site

NOW = datetime.datetime(2026, 5, 6, 15, tzinfo=datetime.UTC)
WHO = Entry("Owner", datetime.datetime(2026, 5, 4, 15, tzinfo=datetime.UTC))
ADDRESS = "http://garage.test:8711"
EIGHT = [*range(0, 360, 45), 360]


@pytest.fixture
def link(demo_books: Books) -> Link:
    number = fitups.open_for_order(demo_books, 20, fitter="Sam", block="new", entry=WHO)
    return giving.give_for_fit_up(demo_books, number, entry=WHO)


@pytest.fixture
def client(demo_books: Books) -> Iterator[TestClient]:
    app = create_site(demo_books, hosts=["testserver"], clock=lambda: NOW)
    with TestClient(app, follow_redirects=False) as client:
        yield client


def send(books: Books, link: Link, stage: str, **values: Any) -> str:
    key = send_keys.stock(link.token, 1)[0]
    values = values if "undoes" in values else {"unit": "thou", **values}
    receive(books, link, Item(send_key=key, stage=stage, values=values), now=NOW)
    return key


def sweep(x_thou: float, y_thou: float) -> dict[str, Any]:
    turns = [math.radians(clock) for clock in EIGHT]
    texts = [
        f"{round(2 * (y_thou - x_thou * math.sin(t) - y_thou * math.cos(t))) / 2:g}" for t in turns
    ]
    return {"graduation": "0.5", "readings": [list(p) for p in zip(EIGHT, texts, strict=True)]}


def parsed(client: TestClient, address: str) -> Any:
    answer = client.get(address)
    assert answer.status_code == 200
    return lxml.html.fromstring(answer.text)


def words(element: Any) -> str:
    return " ".join(element.text_content().split())


def test_the_list_is_by_whose_turn_it_is(client: TestClient, demo_books: Books, link: Link) -> None:
    def of(turn: str) -> str:
        return words(parsed(client, "/fit-ups").get_element_by_id(f"of-{turn}"))

    named = f"Fit-up {link.fit_up_id}, bell"
    assert of("shop") == "Nothing waits for you."
    assert named in of("fitter")
    assert of("ended").count("succeeded") == 10
    send(demo_books, link, "note", said="<i>Well?</i>", at="bore")
    assert named in of("shop")
    assert "Waits for you: answer the fitter: “Sweep the bore: <i>Well?</i>”" in of("shop")
    assert named not in of("fitter")
    today = client.get("/").text
    assert "answer the fitter: “Sweep the bore: &lt;i&gt;Well?&lt;/i&gt;”" in today
    send(demo_books, link, "result", outcome="failed", why="no clutch")
    form = {"note": "Come by.", "who": "Ines", "send_key": "n"}
    assert client.post(f"/fit-ups/{link.fit_up_id}/note", data=form).status_code == 303
    assert "failed" in of("ended")


def test_each_step_stands_in_order_as_it_was_written(
    client: TestClient, demo_books: Books, link: Link
) -> None:
    send(demo_books, link, "bell-on", by_hand=True, passes=True, figure="sheet <4>")
    wrong = send(demo_books, link, "bore", **sweep(3, 3))
    send(demo_books, link, "bore", undoes=wrong)
    send(demo_books, link, "bore", **sweep(6, 2))
    page = parsed(client, f"/fit-ups/{link.fit_up_id}")
    steps = page.xpath("//ol[@id='written']/li")
    assert [step.get("data-key") for step in steps] == [stage.name for stage in STAGES]
    assert "The maker's figure you used: sheet <4>" in words(steps[2])
    first, second = steps[3].xpath(".//div[contains(@class, 'record')]")
    assert "taken back later" in words(first)
    assert ", Sam" in words(first)
    (struck,) = first.xpath(".//del")
    assert "Readings, thou: 12 0, 1:30" in words(struck)
    assert not second.xpath(".//del")
    assert "Readings, thou: 12 0, 1:30" in words(second)
    assert re.search(r"Move it 6\.\d thou .* is over 5 thou\. outside", words(second))
    assert "Move it 6" in words(page.xpath("//div[@id='advice']//p[@class='say']")[0])
    assert "taken back" in words(page.get_element_by_id("happened"))


def test_links_are_given_shown_and_withdrawn_with_a_reason(
    client: TestClient, demo_books: Books, link: Link
) -> None:
    here = f"/fit-ups/{link.fit_up_id}"
    assert "No address for links is set yet" in client.get(here).text
    assert link.token not in client.get(here).text
    with demo_books.writing() as connection:
        set_address(connection, ADDRESS, WHO)
    page = parsed(client, here)
    assert page.xpath("//p[@class='address']/a/@href") == [f"{ADDRESS}/f/{link.token}"]
    assert page.xpath("//button/@data-copy") == [f"{ADDRESS}/f/{link.token}"]
    assert len(page.xpath("//div[@class='qr']/svg")) == 1
    assert "until 2026-07-03" in words(page.get_element_by_id(f"link-{link.id}"))
    gone = f"{here}/link/{link.id}/withdraw"
    refused = client.post(gone, data={"who": "Ines", "link_why": " "})
    assert refused.status_code == 422
    assert f'id="link-{link.id}-why-error"' in refused.text
    assert f'href="#link-{link.id}-why"' in refused.text
    assert client.post(gone, data={"who": "", "link_why": "lost"}).status_code == 422
    done = client.post(gone, data={"who": "Ines", "link_why": "phone lost"})
    assert done.headers["location"] == f"{here}#link"
    page = client.get(here).text
    assert link.token not in page
    assert "withdrawn 2026-05-06, phone lost" in page
    assert "None stands" in page
    again = client.post(gone, data={"who": "Ines", "link_why": "twice"})
    assert again.status_code == 422
    assert "it was withdrawn" in again.text


def test_a_link_of_another_fit_up_is_not_withdrawn_here(
    client: TestClient, demo_books: Books, link: Link
) -> None:
    answer = client.post(f"/fit-ups/11/link/{link.id}/withdraw", data={"who": "I", "link_why": "x"})
    assert answer.status_code == 422
    with demo_books.reading() as connection:
        assert links.of_fit_up(connection, link.fit_up_id)[0].stands(NOW)


def test_what_is_new_is_told_by_a_mark(client: TestClient, demo_books: Books, link: Link) -> None:
    here = f"/fit-ups/{link.fit_up_id}"

    def marks() -> list[str]:
        return [client.get(f"{each}/version").json()["version"] for each in (here, "/fit-ups")]

    first = marks()
    for page, mark in zip((here, "/fit-ups"), first, strict=True):
        assert parsed(client, page).xpath("//@data-version") == [mark]
    assert marks() == first
    send(demo_books, link, "note", said="Well?", at="bore")
    second = marks()
    assert not set(first) & set(second)
    assert client.get("/fit-ups/99/version").status_code == 404


def test_a_note_is_kept_once_and_a_fault_stands_beside_it(
    client: TestClient, demo_books: Books, link: Link
) -> None:
    here = f"/fit-ups/{link.fit_up_id}"
    for _ in range(2):
        form = {"note": "Back it off.", "who": "Ines", "send_key": "once"}
        assert client.post(f"{here}/note", data=form).status_code == 303
    with demo_books.reading() as connection:
        (note,) = fitup_talk.notes_of(connection, link.fit_up_id)
    assert (note.side, note.said, note.who) == ("shop", "Back it off.", "Ines")
    refused = client.post(f"{here}/note", data={"note": "Go on.", "who": "", "send_key": "k"})
    assert refused.status_code == 422
    assert 'id="note-who-error"' in refused.text
    assert "Go on.</textarea>" in refused.text
