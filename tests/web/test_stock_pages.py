"""The stock's pages and scan to move, over a demo shop."""

from __future__ import annotations

import datetime
import io
import re
from collections.abc import Iterator

import pytest
from python_calamine import load_workbook
from starlette.testclient import TestClient

from kitwright.books import parts
from kitwright.books.opening import Books
from kitwright.books.stock_at import part_stock
from kitwright.books.verifying import verify
from kitwright.web.site import create_site

NOW = datetime.datetime(2026, 5, 4, 15, tzinfo=datetime.UTC)


@pytest.fixture
def client(demo_books: Books) -> Iterator[TestClient]:
    app = create_site(demo_books, hosts=["testserver"], clock=lambda: NOW)
    with TestClient(app, follow_redirects=False) as client:
        yield client


def free_of(books: Books, label: str) -> int:
    with books.reading() as connection:
        return part_stock(connection, parts.find_part(connection, label).id).free


def form_of(client: TestClient, page: str) -> dict[str, str]:
    """The hidden fields of the first form that moves something."""
    text = client.get("/scan", params={"what": page}).text
    found = re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)">', text)
    fields = {}
    for name, value in found:
        fields.setdefault(name, value)
    return fields


def move(client: TestClient, page: str, **typed: str) -> tuple[int, str]:
    answer = client.post("/scan", data={**form_of(client, page), "who": "Ines", **typed})
    return answer.status_code, answer.text


# ── the stock ────────────────────────────────────────────────────────────────────────────


def test_the_stock_says_what_is_short(client: TestClient) -> None:
    text = client.get("/stock").text
    assert "2 parts are short for the open orders." in text
    rows = dict(re.findall(r'/stock/parts/\d+">(P-\d+)</a>(.*?)</tr>', text, re.DOTALL))
    assert len(rows) == 6
    numbers = {label: re.findall(r'class="number">(\d+)<', row) for label, row in rows.items()}
    # free, reserved, on the shelf, still asked: two dowels a kit, one order ready, one waiting
    assert numbers["P-04"] == ["1", "2", "3", "2"]
    assert numbers["P-06"] == ["0", "0", "0", "1"]
    assert [label for label, row in rows.items() if "1 short" in row] == ["P-04", "P-06"]


def test_the_stock_of_another_day(client: TestClient) -> None:
    text = client.get("/stock", params={"at": "2026-04-16"}).text
    assert "Stock on 2026-04-16" in text
    row = re.search(r">P-03</a>(.*?)</tr>", text, re.DOTALL)
    assert row is not None
    assert re.findall(r'class="number">(\d+)<', row[1]) == ["7", "0", "7"]
    assert "short" not in text
    before = client.get("/stock", params={"at": "2025-01-01"}).text
    for words in ("No bell was there", "No crate was there"):
        assert words in before


@pytest.mark.parametrize(
    ("at", "line"),
    [
        ("2026-05-05", "2026-05-05 lies ahead; give 2026-05-04 or a day before"),
        ("soon", "is not a day"),
        ("9999-12-31", "lies ahead"),
    ],
)
def test_a_day_that_cannot_be(client: TestClient, at: str, line: str) -> None:
    answer = client.get("/stock", params={"at": at})
    assert answer.status_code == 422
    assert line in answer.text
    assert f'value="{at}"' in answer.text, "the field comes back as it was filled"
    assert client.get("/stock/stock.xlsx", params={"at": at}).status_code == 422


def test_the_workbook_has_what_the_page_has(client: TestClient) -> None:
    data = client.get("/stock/stock.xlsx").content
    book = load_workbook(io.BytesIO(data))
    assert book.sheet_names == ["parts", "bells", "castings", "day"]
    sheet = book.get_sheet_by_name("parts").to_python()
    assert sheet[0] == [
        *("part", "name", "supplier", "on the shelf", "reserved", "free", "asked", "short")
    ]
    assert sheet[4] == ["P-04", "dowel, plain, 16 mm", "Ferrier Bolt & Dowel", 3, 2, 1, 2, 1]
    bells = book.get_sheet_by_name("bells").to_python()
    assert ["Heron cast bell", "released", "shelf", 43] in bells
    assert sum(row[-1] for row in bells[1:]) == 84
    assert ["CR-05", "Heron cast bell", 30, 10, 20, 0, 0] in book.get_sheet_by_name(
        "castings"
    ).to_python()
    older = client.get("/stock/stock.xlsx", params={"at": "2026-04-16"})
    assert "stock-2026-04-16.xlsx" in older.headers["content-disposition"]
    assert older.content != data


def test_a_part_is_added_and_goes_with_its_orders(client: TestClient, demo_books: Books) -> None:
    form = {"label": "P-07", "name": "a clip", "supplier": "", "least_days": "3"}
    answer = client.post("/stock/parts", data=form)
    assert answer.status_code == 422
    assert "give all three, or none" in answer.text
    assert 'value="a clip"' in answer.text
    form |= {"likely_days": "9", "most_days": "5"}
    assert "3, 9, 5" in client.post("/stock/parts", data=form).text
    form |= {"most_days": "2.5"}
    assert "is not a whole number" in client.post("/stock/parts", data=form).text
    form |= {"most_days": "12"}
    answer = client.post("/stock/parts", data=form)
    assert (answer.status_code, answer.headers["location"]) == (303, "/stock/parts/7")
    page = client.get("/stock/parts/7").text
    for words in ("Part P-07: a clip", "No kit&#39;s bill asks for it", "Nothing has been moved"):
        assert words.replace("&#39;", "'") in page.replace("&#39;", "'")
    taken = client.post("/stock/parts", data={"label": "P-07", "name": "another"})
    assert taken.status_code == 422
    assert "&#34;P-07&#34; is taken" in taken.text
    changed = {**form, "label": "P-70", "supplier": "3", "reorder": "when five are left"}
    assert client.post("/stock/parts/7", data=changed).status_code == 303
    page = client.get("/stock/parts/7").text
    for words in ("Part P-70", "From Ferrier Bolt &amp; Dowel, 3 to 12 days", "when five are left"):
        assert words in page
    assert client.post("/stock/parts/7", data={**changed, "label": ""}).status_code == 422
    assert client.post("/stock/parts/7", data={**changed, "supplier": "6"}).status_code == 422
    assert client.post("/stock/parts/99", data=changed).status_code in (404, 422)
    assert verify(demo_books) == []


@pytest.mark.parametrize("address", ["/stock/parts/99", "/stock/crates/99", "/stock/parts/0"])
def test_what_is_not_there_is_said(client: TestClient, address: str) -> None:
    answer = client.get(address)
    assert answer.status_code == 404
    assert "there is no" in answer.text


def test_movements_of_one_part_and_one_crate(client: TestClient) -> None:
    page = client.get("/stock/parts/4").text
    for words in ("four are in the drill jig", "reserved for order O-102", "first count"):
        assert words in page
    page = client.get("/stock/crates/5").text
    assert "20: on the floor → a batch" in page
    assert "30: at the supplier&#39;s, Underwell Foundry → on the floor" in page


# ── scan to move ─────────────────────────────────────────────────────────────────────────


def test_a_scan_shows_where_it_is_and_what_may_be_done(client: TestClient) -> None:
    page = client.get("/scan", params={"what": "https://shop.test/bells/HC-0102"}).text
    for words in ("HC-0102", "On the shelf.", "Ship with order O-102", "Moor Top Motors"):
        assert words in page
    assert "autofocus" in page
    lost = client.get("/scan", params={"what": "<nothing>"})
    assert lost.status_code == 404
    assert "there is no bell, crate or part &#34;&lt;nothing&gt;&#34;" in lost.text
    assert client.get("/scan").status_code == 200


def test_one_tap_moves_a_bell(client: TestClient, demo_books: Books) -> None:
    status, _ = move(client, "/bells/HC-0102", move=form_key(client, "Ship"))
    assert status == 303
    page = client.get("/scan", params={"what": "HC-0102"}).text
    assert "With the customer, Moor Top Motors." in page
    assert "Back from the customer" in page
    assert verify(demo_books) == []


def form_key(client: TestClient, words: str, page: str = "/bells/HC-0102") -> str:
    text = client.get("/scan", params={"what": page}).text
    found = re.findall(r'name="move" value="([^"]+)">([^<]+)', text)
    return next(key for key, label in found if label.startswith(words))


def test_parts_by_count(client: TestClient, demo_books: Books) -> None:
    answer = client.post(
        "/scan",
        data={**form_of(client, "P-06"), "move": "receive", "count": "4", "who": "Ines"},
    )
    assert (answer.status_code, answer.headers["location"]) == (
        303,
        "/scan?what=%2Fstock%2Fparts%2F6",
    )
    assert free_of(demo_books, "P-06") == 4
    assert client.cookies["who"] == "Ines"
    status, _ = move(client, "P-06", move="receive", count="2", on="2026-04-20")
    assert status == 303
    assert "2026-04-20, written down 2026-05-04" in client.get("/stock/parts/6").text


@pytest.mark.parametrize(
    ("typed", "line", "field"),
    [
        ({"move": "scrap", "count": "12", "why": "bent"}, "12 asked, 1 free on the shelf", ""),
        ({"move": "scrap", "count": "1"}, "scrap needs a reason", "why"),
        ({"move": "scrap", "count": "0", "why": "bent"}, "0; give 1 or more", "count"),
        ({"move": "scrap", "count": "-2", "why": "bent"}, "-2; give 1 or more", "count"),
        ({"move": "scrap", "count": "1.5", "why": "bent"}, "is not a whole number", "count"),
        ({"move": "scrap", "why": "bent"}, "say how many", "count"),
        ({"move": "count", "count": "-1", "why": "x"}, "-1; give 0 or more", "count"),
        ({"move": "count", "count": "7"}, "needs a reason", "why"),
        ({"move": "count", "count": "1", "why": "x"}, "2 are reserved for orders", ""),
        ({"move": "receive", "count": "1", "on": "2026-05-05"}, "lies ahead", "on"),
        ({"move": "receive", "count": "1", "who": ""}, "write it down", "who"),
        ({"move": "", "count": "1"}, "tap one of the moves", ""),
        ({"move": "fly", "count": "1"}, "is not allowed now", ""),
    ],
)
def test_a_move_that_cannot_be_moves_nothing(
    client: TestClient, demo_books: Books, typed: dict[str, str], line: str, field: str
) -> None:
    status, text = move(client, "P-04", **typed)
    assert status == 422
    assert line in text
    if field:
        assert f'id="{field}-error"' in text
    for anchor in re.findall(r'<li><a href="#([^"]*)">', text):
        assert f'id="{anchor}"' in text, "a line leads to its field, or nowhere"
    if typed.get("why"):
        assert f'value="{typed["why"]}"' in text, "the form comes back as it was filled"
    assert free_of(demo_books, "P-04") == 1


def test_the_same_form_sent_twice_counts_once(client: TestClient, demo_books: Books) -> None:
    form = {**form_of(client, "P-06"), "move": "receive", "count": "4", "who": "Ines"}
    assert [client.post("/scan", data=form).status_code for _ in range(2)] == [303, 303]
    assert free_of(demo_books, "P-06") == 4
    form = {**form_of(client, "P-06"), "move": "receive", "count": "4", "who": "Ines"}
    assert client.post("/scan", data=form).status_code == 303
    assert free_of(demo_books, "P-06") == 8, "another form is another delivery"


def test_who_comes_second_reads_who_was_first(client: TestClient) -> None:
    form = {**form_of(client, "HC-0102"), "move": form_key(client, "Ship"), "who": "Ben"}
    assert move(client, "HC-0102", move=form["move"], who="Ada")[0] == 303
    late = client.post("/scan", data=form)
    assert late.status_code == 422
    assert "comes second" in late.text
    assert "ship by Ada" in late.text


def test_undo_has_its_reason(client: TestClient, demo_books: Books) -> None:
    move(client, "P-06", move="receive", count="4")
    page = client.get("/scan", params={"what": "P-06"}).text
    assert "Undo it" in page
    form = {"page": "/stock/parts/6", "number": "1", "send_key": "k-9", "undo_who": "Ines"}
    refused = client.post("/scan/undo", data={**form, "undo_why": ""})
    assert refused.status_code == 422
    assert 'id="undo_why-error"' in refused.text
    assert client.post("/scan/undo", data={**form, "undo_why": "next door’s"}).status_code == 303
    assert free_of(demo_books, "P-06") == 0
    assert "undone: next door’s" in client.get("/stock/parts/6").text
    assert client.post(
        "/scan/undo", data={**form, "send_key": "k", "undo_why": "x"}
    ).status_code == (422)
    gone = client.post("/scan/undo", data={**form, "page": "/stock/parts/99", "undo_why": "x"})
    assert gone.status_code == 404
    assert verify(demo_books) == []


def test_today_says_what_an_order_waits_for(client: TestClient) -> None:
    move(client, "P-04", move=form_key(client, "Free", "P-04"), count="2", why="for the show car")
    assert "ship it, or wait for 2 of part P-04" in client.get("/").text
