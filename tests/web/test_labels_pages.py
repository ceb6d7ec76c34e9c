"""Labels from the pages: the way there, the PDF, and the form that comes back."""

from __future__ import annotations

import datetime
import html
from collections.abc import Callable, Iterator

import numpy as np
import pytest
import zxingcpp
from starlette.testclient import TestClient

from kitwright.books.entries import Entry
from kitwright.books.links import set_address
from kitwright.books.opening import Books
from kitwright.web.links.site import create_links_site
from kitwright.web.site import create_site

NOW = datetime.datetime(2026, 5, 4, 15, tzinfo=datetime.UTC)
ADDRESS = "http://garage.test:8711"
ROLL = {"width": "62 mm", "height": "29 mm"}


@pytest.fixture
def client(demo_books: Books) -> Iterator[TestClient]:
    app = create_site(demo_books, hosts=["testserver"], clock=lambda: NOW)
    with TestClient(app, follow_redirects=False) as client:
        yield client


def codes(pages: list[np.ndarray]) -> list[str]:
    return [one.text for page in pages for one in zxingcpp.read_barcodes(page)]


def test_each_page_leads_to_its_labels(client: TestClient) -> None:
    for page, link in {
        "/batches/4": "/labels?batch=4",
        "/bells/HC-0101": "/labels?bell=HC-0101",
        "/batches": "/labels?crate=1",
        "/stock/crates/1": "/labels?crate=1",
        "/stock/parts/1": "/labels?part=1",
    }.items():
        assert f'href="{link}"' in client.get(page).text
        assert client.get(link).status_code == 200
    assert 'href="/labels"' in client.get("/stock").text
    assert "Labels for 50 bells of batch B-04" in client.get("/labels?batch=4").text


def test_a_sheet_of_a_batch_is_read_back(
    client: TestClient, rendered: Callable[..., list[np.ndarray]]
) -> None:
    answer = client.get("/labels.pdf", params={"batch": "4", "columns": "2", "rows": "5"})
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.headers["content-disposition"] == 'inline; filename="labels.pdf"'
    assert sorted(codes(rendered(answer.content))) == [f"HC-{n:04d}" for n in range(101, 151)]


def test_the_code_leads_to_the_links_once_they_have_an_address(
    client: TestClient, demo_books: Books, rendered: Callable[..., list[np.ndarray]]
) -> None:
    with demo_books.writing() as connection:
        set_address(connection, ADDRESS, Entry("Owner", NOW))
    asked = {"bell": "HC-0101", **ROLL}
    leads = f"{ADDRESS}/bells/HC-0101"
    assert f'value="{ADDRESS}"' in client.get("/labels?bell=HC-0101").text
    assert codes(rendered(client.get("/labels.pdf", params=asked).content)) == [leads]
    certificate = client.get("/bells/HC-0101/certificate.pdf")
    assert codes(rendered(certificate.content)) == [leads]
    alone = client.get("/labels.pdf", params={**asked, "address": ""})
    assert codes(rendered(alone.content)) == ["HC-0101"]


def test_from_outside_a_code_shows_its_serial_and_nothing_of_the_books(demo_books: Books) -> None:
    app = create_links_site(demo_books, ADDRESS, clock=lambda: NOW)
    with TestClient(app, base_url=ADDRESS) as outside:
        real = outside.get("/bells/HC-0101")
        invented = outside.get("/bells/XX-9999")
        assert real.status_code == invented.status_code == 404
        assert "Bell HC-0101" in real.text
        assert real.text.replace("HC-0101", "XX-9999") == invented.text
        assert outside.get("/bells/HC-0101/certificate.pdf").status_code == 404
        assert "<b>" not in outside.get("/bells/%3Cb%3E").text


def test_the_form_comes_back_as_it_was_filled(client: TestClient) -> None:
    asked = {"batch": "4", "columns": "x", "top": "5", "address": "bench", "bare": "1"}
    answer = client.get("/labels.pdf", params=asked)
    assert answer.status_code == 422
    text = html.unescape(answer.text)
    for words in (
        '"x" is not a whole number',
        '"5" has no unit',
        '"bench" is not an address',
        'value="x"',
        'value="bench"',
        '<option value="1" selected>Name and code only',
    ):
        assert words in text
    small = client.get("/labels.pdf", params={"bell": "HC-0101", "columns": "20"})
    assert small.status_code == 422
    assert "too small for the code of HC-0101" in small.text
    assert client.get("/labels.pdf", params={"shelf": ""}).status_code == 422


def test_how_labels_were_laid_out_is_remembered_but_not_what_was_skipped(
    client: TestClient,
) -> None:
    asked = {"crate": "1", "columns": "2", "rows": "7", "skip": "3", "left": "8 mm"}
    assert client.get("/labels.pdf", params=asked).status_code == 200
    text = client.get("/labels?batch=4").text
    assert 'name="columns"' in text
    assert 'value="2"' in text
    assert 'value="8 mm"' in text
    assert 'value="3"' not in text


@pytest.mark.parametrize(
    "query", ["batch=99", "batch=x", "bell=NO", "crate=99", "crate=-1", "part=999"]
)
def test_what_is_not_there_is_not_found(client: TestClient, query: str) -> None:
    assert client.get(f"/labels?{query}").status_code == 404
    assert client.get(f"/labels.pdf?{query}").status_code == 404
