"""Forms of crates and batches: received, planned, sent, moved, taken back, decided."""

from __future__ import annotations

import datetime
from collections.abc import Iterator

import pytest
from lxml import html
from starlette.testclient import TestClient

from kitwright.books import designs, orders, standing, stock
from kitwright.books.characteristics import characteristics
from kitwright.books.entries import Entry, Money
from kitwright.books.opening import Books
from kitwright.books.shop import parties
from kitwright.books.tables import bell_now
from kitwright.books.verifying import verify
from kitwright.demo.measuring import inspection
from kitwright.files.inspection import write_inspection
from kitwright.files.tables import read_csv
from kitwright.shop.handing_in import hand_in
from kitwright.web.site import create_site

NOW = datetime.datetime(2026, 5, 4, 15, tzinfo=datetime.UTC)
ENTRY = Entry(who="Ines", recorded=NOW)


@pytest.fixture
def client(demo_books: Books) -> Iterator[TestClient]:
    app = create_site(demo_books, hosts=["testserver"], clock=lambda: NOW)
    with TestClient(app, follow_redirects=False) as client:
        yield client


def said(text: str) -> str:
    return " ".join(html.fromstring(text).text_content().split())


def form(client: TestClient, page: str) -> dict[str, str]:
    """What a browser would send of the page's form that keeps something."""
    [one] = [f for f in html.fromstring(client.get(page).text).forms if f.method == "POST"]
    return {name: value or "" for name, value in one.form_values()}


def cast(books: Books) -> int:
    with books.reading() as c:
        return next(each.id for each in designs.designs(c) if each.name == "Heron cast bell")


def machinist(books: Books) -> int:
    with books.reading() as c:
        return parties(c, "machinist")[0].id


def plan(client: TestClient, books: Books, count: int = 8) -> str:
    """A batch planned by its form; its page."""
    sent = {
        **form(client, "/batches/plan"), "design": str(cast(books)),
        "machinist": str(machinist(books)), "count": str(count), "due": "2026-06-12", "who": "Ines",
    }  # fmt: skip
    answer = client.post("/batches/plan", data=sent)
    assert answer.status_code == 303, said(answer.text)
    return answer.headers["location"]


def test_a_crate_is_received_once(client: TestClient, demo_books: Books) -> None:
    with demo_books.reading() as c:
        supplier = parties(c, "supplier")[0].id
    sent = form(client, "/batches/crate")
    assert sent["label"] == "CR-06"
    bad = client.post("/batches/crate", data={**sent, "count": "2.5", "cost": "5,220"})
    assert bad.status_code == 422
    for line in ("choose one", '"2.5" is not a whole number', "write it as 5220.00", "say who"):
        assert line in said(bad.text)
    sent |= {"design": str(cast(demo_books)), "supplier": str(supplier), "count": "30",
             "cost": "5220.50", "on": "2026-05-02", "who": "Ines"}  # fmt: skip
    for _ in range(2):
        assert client.post("/batches/crate", data=sent).status_code == 303
    with demo_books.reading() as c:
        [crate] = [each for each in stock.crates(c) if each.label == "CR-06"]
        assert (crate.on_floor, crate.cost) == (30, Money(522050, "USD"))
        assert stock.received_at(c, crate.id).date() == datetime.date(2026, 5, 2)
    assert verify(demo_books) == []


def test_a_batch_goes_its_whole_way_by_its_forms(client: TestClient, demo_books: Books) -> None:
    here = plan(client, demo_books)
    sent = form(client, f"{here}/send")
    assert sent["first"] == "HC-0151"
    proposed = client.post(f"{here}/send", data={**sent, "propose": "1"})
    assert proposed.status_code == 200
    row = [f"HC-{number:04d}" for number in range(151, 159)]
    [area] = html.fromstring(proposed.text).xpath('//textarea[@name="serials"]')
    assert area.text.split() == row
    refused = client.post(
        f"{here}/send", data={**sent, "serials": "\n".join(row[:-1]), "who": "Ines"}
    )
    assert "7 for 8 castings" in said(refused.text)
    for _ in range(2):
        assert client.post(f"{here}/send", data={**sent, "who": "Ines"}).status_code == 303
    number = int(here.rsplit("/", 1)[1])
    with demo_books.reading() as c:
        bells = standing.where(c, bell_now.c.batch_id == number)
        assert [each.serial for each in bells] == row
        assert {each.place_name for each in bells} == {"machinist"}
    nobody = {**form(client, f"{here}/back"), "who": ""}
    assert client.post(f"{here}/back", data=nobody).status_code == 422
    back = {**form(client, f"{here}/back"), "who": "Ines"}
    assert client.post(f"{here}/back", data=back).status_code == 303
    with demo_books.reading() as c:
        assert stock.get_batch(c, number).state == "back"
    assert "a batch is sent once" in said(client.get(f"{here}/send").text)
    assert "only a batch that was sent comes back" in said(client.get(f"{here}/back").text)
    assert verify(demo_books) == []


def test_castings_come_from_the_crates_that_are_named(
    client: TestClient, demo_books: Books
) -> None:
    """The oldest crate first, as proposed; by hand another split."""
    here = plan(client, demo_books, 11)
    sent = form(client, f"{here}/send")
    with demo_books.reading() as c:
        on_floor = {f"from-{x.id}": x.on_floor for x in stock.crates(c, cast(demo_books))}
    left = [name for name in on_floor if on_floor[name]]
    assert [sent[name] for name in left] == ["2", "9"]
    split = {**sent, left[0]: "1", left[1]: "10", "who": "Ines"}
    assert client.post(f"{here}/send", data=split).status_code == 303
    with demo_books.reading() as c:
        bells = standing.where(c, bell_now.c.batch_id == int(here.rsplit("/", 1)[1]))
    assert [f"from-{each.crate_id}" for each in bells] == [left[0], *[left[1]] * 10]


def test_what_a_later_day_does_to_promises_is_seen_before_it_is_written(
    client: TestClient, demo_books: Books
) -> None:
    with demo_books.reading() as c:
        batch = next(each for each in stock.batches(c) if each.state == "sent")
        waits = orders.of_label(c, "O-103")
    here = f"/batches/{batch.id}/due"
    sent = {**form(client, here), "due": "2026-08-01", "who": "Ines"}
    seen = client.post(here, data={**sent, "look": "1"})
    assert seen.status_code == 200
    text = said(seen.text)
    assert "1 promise falls." in text
    assert "O-103" in text
    assert "Nothing is moved yet." in text
    with demo_books.reading() as c:
        assert stock.get_batch(c, batch.id).due == batch.due
    nearer = client.post(here, data={**sent, "due": "2026-05-10", "look": "1"})
    assert "No promise falls." in said(nearer.text)
    refused = client.post(here, data=sent)
    assert "a new day needs a reason" in said(refused.text)
    for _ in range(2):
        moved = client.post(here, data={**sent, "why": "the spindle broke"})
        assert moved.status_code == 303
    with demo_books.reading() as c:
        assert stock.get_batch(c, batch.id).due == datetime.date(2026, 8, 1)
    assert "in danger" in said(client.get(f"/orders/{waits.id}").text)
    late = client.post(here, data={**sent, "due": "2026-08-08", "why": "x", "send_key": ""})
    assert "it was moved to 2026-08-01 meanwhile" in said(late.text)


def test_what_was_handed_in_is_counted_and_then_decided(
    client: TestClient, demo_books: Books
) -> None:
    here = plan(client, demo_books)
    number = int(here.rsplit("/", 1)[1])
    client.post(f"{here}/send", data={**form(client, f"{here}/send"), "who": "Ines"})
    with demo_books.reading() as c:
        drawn = characteristics(c, stock.get_batch(c, number).revision_id)
        row = [each.serial for each in standing.where(c, bell_now.c.batch_id == number)]
    table = inspection(drawn, row, seed=3, wrong={2: {"bore diameter": (124.052, 0.0)}})
    hand_in(demo_books, number, read_csv(write_inspection(table).encode()), instrument="gauge",
            entry=ENTRY)  # fmt: skip
    assert "8 bells have measurements handed in" in said(client.get(here).text)
    early = client.post(f"{here}/decide", data={"who": "Ines"})
    assert (early.status_code, "take it back first" in said(early.text)) == (422, True)
    client.post(f"{here}/back", data={**form(client, f"{here}/back"), "who": "Ines"})
    text = said(client.get(f"{here}/decide").text)
    assert "Of 8 bells: 7 would be released, 1 would be rejected." in text
    sent = {**form(client, f"{here}/decide"), "who": "Ines"}
    assert client.post(f"{here}/decide", data=sent).status_code == 303
    with demo_books.reading() as c:
        states = [each.state for each in standing.where(c, bell_now.c.batch_id == number)]
    assert sorted(states) == ["rejected", *["released"] * 7]
    assert "Nothing waits for a decision." in said(client.get(f"{here}/decide").text)
    assert verify(demo_books) == []


def test_the_time_line_has_a_bar_for_each_batch_under_way(
    client: TestClient, demo_books: Books
) -> None:
    plan(client, demo_books)
    drawn = html.fromstring(client.get("/batches").text).xpath("//figure//*[local-name()='text']")
    words = " ".join(each.text for each in drawn)
    for line in ("B-03: 6 bells", "B-05: 8 bells", "B-04: 50 bells", "today 2026-05-04"):
        assert line in words
    assert "B-01" not in words
