"""Rates entered at a page, and the kit-cost form filled from the books."""

from __future__ import annotations

import datetime
from collections.abc import Iterator

import pytest
from lxml import html
from starlette.testclient import TestClient

from kitwright.books import kits, rates
from kitwright.books.entries import Money
from kitwright.books.opening import Books
from kitwright.web.site import create_site

NOW = datetime.datetime(2026, 5, 4, 15, tzinfo=datetime.UTC)
RATE = {"source": "eur", "rate": "1.0842", "target": "USD", "day": "2026-04-30", "who": "Ada"}


@pytest.fixture
def client(demo_books: Books) -> Iterator[TestClient]:
    app = create_site(demo_books, hosts=["testserver"], clock=lambda: NOW)
    with TestClient(app, follow_redirects=False) as client:
        yield client


def said(text: str) -> str:
    return " ".join(html.fromstring(text).text_content().split())


def rows(client: TestClient) -> list[list[str]]:
    """The rates as the page lists them."""
    body = html.fromstring(client.get("/rates").text).xpath("//tbody/tr")
    return [[" ".join(cell.text_content().split()) for cell in row] for row in body]


def key_of(client: TestClient) -> str:
    (field,) = html.fromstring(client.get("/rates").text).xpath("//input[@name='send_key']")
    return str(field.get("value"))


def test_a_rate_is_written_down_once_and_counts(client: TestClient, demo_books: Books) -> None:
    assert "None is written down yet." in client.get("/rates").text
    sent = {**RATE, "send_key": key_of(client)}
    for _ in range(2):
        answer = client.post("/rates", data=sent)
        assert (answer.status_code, answer.headers["location"]) == (303, "/rates")
    with demo_books.reading() as c:
        (kept,) = rates.lines(c)
    assert (kept.source, kept.target, kept.rate, kept.who) == ("EUR", "USD", "1.0842", "Ada")
    assert rows(client) == [["2026-04-30", "1 EUR", "1.0842 USD", "counts, 4 days old", "Ada"]]
    client.post("/rates", data={**RATE, "rate": "1.0482", "send_key": key_of(client)})
    assert [row[2:4] for row in rows(client)] == [
        ["1.0482 USD", "counts, 4 days old"],
        ["1.0842 USD", ""],  # it stands, and counts no more
    ]


def test_a_form_comes_back_as_it_was_filled(client: TestClient, demo_books: Books) -> None:
    wrong = {**RATE, "rate": "1,08", "send_key": key_of(client)}
    answer = client.post("/rates", data=wrong)
    assert answer.status_code == 422
    page = html.fromstring(answer.text)
    for name in ("source", "rate", "target", "day", "who"):
        (field,) = page.xpath(f"//input[@name='{name}']")
        assert field.get("value") == wrong[name]
    (field,) = page.xpath("//input[@name='rate']")
    assert field.get("aria-invalid") == "true"
    assert 'Mend this: "1,08" is not a rate; write it above zero, as "1.0842"' in said(answer.text)
    with demo_books.reading() as c:
        assert rates.lines(c) == []


def test_the_kits_lead_to_what_they_cost(client: TestClient) -> None:
    (link,) = [
        each
        for each in html.fromstring(client.get("/kits").text).xpath("//a/@href")
        if "kit-cost" in each
    ]
    filled = html.fromstring(client.get(link.partition("#")[0]).text)
    (form,) = filled.xpath("//form[@class='case']")
    sent = {field.get("name"): field.get("value") for field in form.xpath(".//input[@type='text']")}
    assert sent["variants[1].name"] == "certified steel bell"
    assert sent["on"] == "2026-05-04"
    answer = client.post("/worksheets/kit-cost", data={k: v or "" for k, v in sent.items()})
    assert answer.status_code == 200
    words = said(answer.text)
    assert "cast bell costs" in words.lower()
    assert "is sold for 545.00 USD more than cast bell" in words


def test_a_kit_of_more_parts_than_a_form_holds_is_shown_as_text(
    client: TestClient, demo_books: Books
) -> None:
    with demo_books.writing() as c:
        for number in range(61):
            kits.add_part(c, 1, f"bag {number}", count=1, cost=Money(100, "USD"))
    page = client.get("/worksheets/kit-cost?books=1")
    assert page.status_code == 200
    assert "more rows than a form shows" in page.text
    (text,) = html.fromstring(page.text).xpath("//textarea[@id='text']")
    answer = client.post("/worksheets/kit-cost", data={"text": text.text})
    assert "is sold for 545.00 USD more than cast bell" in said(answer.text)


@pytest.mark.parametrize("key", ["99", "x", "-1"])
def test_a_kit_that_is_not_there_is_not_found(client: TestClient, key: str) -> None:
    assert client.get(f"/worksheets/kit-cost?books={key}").status_code == 404
