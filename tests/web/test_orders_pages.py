"""The pages of orders and the board: what they show, what their forms keep, who is told no."""

from __future__ import annotations

import datetime
import io
import threading
from collections.abc import Iterator

import pytest
from lxml import html
from python_calamine import load_workbook
from starlette.testclient import TestClient

from kitwright.books import kits, orders, promises, stock
from kitwright.books.entries import Entry
from kitwright.books.opening import Books
from kitwright.books.shop import parties
from kitwright.books.verifying import verify
from kitwright.shop.orders import take_order
from kitwright.web.site import create_site

NOW = datetime.datetime(2026, 5, 4, 15, tzinfo=datetime.UTC)
ENTRY = Entry(who="Ines", recorded=NOW)


@pytest.fixture
def client(demo_books: Books) -> Iterator[TestClient]:
    app = create_site(demo_books, hosts=["testserver"], clock=lambda: NOW)
    with TestClient(app, follow_redirects=False) as client:
        yield client


def variant(books: Books, name: str) -> kits.Variant:
    with books.reading() as c:
        return next(each for each in kits.variants(c) if each.name == name)


def order(books: Books, label: str) -> orders.Order:
    with books.reading() as c:
        return orders.of_label(c, label)


def labels(books: Books) -> set[str]:
    with books.reading() as c:
        return {each.label for each in orders.orders(c)}


def said(text: str) -> str:
    return " ".join(html.fromstring(text).text_content().split())


def form(client: TestClient, page: str, action: str) -> dict[str, str]:
    """What a browser would send of the form with this action, as it stands."""
    found = [f for f in html.fromstring(client.get(page).text).forms
             if f.action.partition("#")[0] == action]  # fmt: skip
    [one] = found
    return {name: value or "" for name, value in one.form_values()}


def slip(books: Books, days: int = 60) -> stock.Batch:
    with books.writing() as c:
        batch = next(each for each in stock.batches(c) if each.state == "sent")
        later = batch.due + datetime.timedelta(days=days)
        stock.move_due(c, batch.id, later, ENTRY, why="the spindle broke")
        return batch


# ── the list ─────────────────────────────────────────────────────────────────────────────


def test_the_list_says_how_surely_and_finds(client: TestClient, demo_books: Books) -> None:
    whole = said(client.get("/orders").text)
    assert "30 orders." in whole
    assert "O-103Harrow & Kite Racing" in whole
    assert "holds 9" in whole
    promised = said(client.get("/orders", params={"state": "promised"}).text)
    assert "1 order like that." in promised
    assert "O-103" in promised
    assert "O-102" not in promised
    steel = said(client.get("/orders", params={"text": "STEEL"}).text)
    assert "5 orders like that." in steel
    both = client.get("/orders", params={"text": "steel", "state": "closed", "customer": "x"}).text
    assert "4 orders like that." in said(both)
    assert "0 orders like that." in said(client.get("/orders", params={"text": "100%"}).text)


def test_the_list_is_paged_and_each_order_stands_once(
    client: TestClient, demo_books: Books
) -> None:
    with demo_books.writing() as c:
        one = orders.orders(c)[0]
        for number in range(205):
            orders.open_order(
                c, f"P-{number}", customer_id=one.customer_id, variant_id=one.variant_id,
                price=one.price, entry=ENTRY,
            )  # fmt: skip
    seen: list[str] = []
    for at in (1, 2, 3):
        page = html.fromstring(client.get("/orders", params={"at": str(at)}).text)
        seen += [a.text for a in page.xpath('//tr/th[@scope="row"]/a')]
    assert len(seen) == 235
    assert set(seen) == labels(demo_books)
    assert "Page 2 of 3" in said(client.get("/orders", params={"at": "2"}).text)


def test_an_order_is_found_by_its_label(client: TestClient, demo_books: Books) -> None:
    number = order(demo_books, "O-103").id
    answer = client.get("/orders/O-103")
    assert (answer.status_code, answer.headers["location"]) == (303, f"/orders/{number}")
    assert client.get("/orders/nothing").status_code == 404
    assert client.get("/orders/999").status_code == 404


# ── one order ────────────────────────────────────────────────────────────────────────────


def test_a_slipped_order_shows_what_changed_and_is_promised_again(
    client: TestClient, demo_books: Books
) -> None:
    batch = slip(demo_books)
    here = f"/orders/{order(demo_books, 'O-103').id}"
    text = said(client.get(here).text)
    assert "in danger" in text
    later = batch.due + datetime.timedelta(days=60)
    assert f"batch B-03 slipped from {batch.due} to {later}" in text
    sent = {**form(client, here, f"{here}/promise"), "who": "Ines"}
    refused = client.post(f"{here}/promise", data=sent)
    assert refused.status_code == 422
    assert "a new promise needs a reason" in refused.text
    for _ in range(2):  # sent twice is kept once
        kept = client.post(f"{here}/promise", data={**sent, "why": "the batch slipped"})
        assert kept.headers["location"] == f"{here}?done=promise"
    now = order(demo_books, "O-103")
    assert now.promised_for is not None
    assert now.promised_for.isoformat() == sent["shown"]
    with demo_books.reading() as c:
        assert len([s for s in orders.history(c, now.id) if s.promised_for]) == 2
        assert len(promises.bases_of(c, now.id)) == 2
    text = said(client.get(here).text)
    assert "the batch slipped" in text
    assert text.count("It held with") == 2


def test_a_day_that_is_another_by_now_is_not_promised(
    client: TestClient, demo_books: Books
) -> None:
    slip(demo_books)
    here = f"/orders/{order(demo_books, 'O-103').id}"
    sent = {**form(client, here, f"{here}/promise"), "who": "Ines", "why": "late"}
    slip(demo_books, 30)
    refused = client.post(f"{here}/promise", data=sent)
    assert refused.status_code == 422
    assert f"{sent['shown']} was shown" in refused.text


def promised(books: Books, *names: str) -> list[int]:
    """Orders for the cast bell that are promised and have no bell yet."""
    cast = variant(books, "cast bell")
    numbers = []
    for name in names:
        with books.reading() as c:
            customer = parties(c, "customer")[0].id
        taken = take_order(
            books, name, customer_id=customer, variant_id=cast.id, entry=ENTRY, today=NOW.date()
        )
        assert taken.serial is not None
        with books.writing() as c:
            orders.free(c, taken.order.id, ENTRY, why="for the test")
        numbers.append(taken.order.id)
    return numbers


def test_of_two_who_allocate_one_bell_at_once_one_is_told(
    client: TestClient, demo_books: Books
) -> None:
    first, second = promised(demo_books, "T-1", "T-2")
    pages = {}
    for number in (first, second):
        here = f"/orders/{number}"
        text = html.fromstring(client.get(here).text)
        bells = text.xpath('//select[@name="serial"]/option/@value')
        pages[number] = {
            **form(client, here, f"{here}/allocate"), "who": f"who-{number}", "serial": bells[1],
        }  # fmt: skip
    assert pages[first]["serial"] == pages[second]["serial"]
    answers: dict[int, object] = {}

    def post(number: int) -> None:
        answers[number] = client.post(f"/orders/{number}/allocate", data=pages[number])

    threads = [threading.Thread(target=post, args=(number,)) for number in pages]
    for each in threads:
        each.start()
    for each in threads:
        each.join()
    by_status = {answer.status_code: number for number, answer in answers.items()}
    assert set(by_status) == {303, 422}
    winner, loser = by_status[303], by_status[422]
    assert f"who-{winner}" in said(answers[loser].text)
    with demo_books.reading() as c:
        bell = pages[winner]["serial"].partition("|")[0]
        assert orders.bell_of(c, winner).serial == bell
        assert orders.bell_of(c, loser) is None
    assert verify(demo_books) == []


def test_a_bell_that_was_decided_on_since_it_was_seen_is_not_allocated(
    client: TestClient, demo_books: Books
) -> None:
    """It is free again, yet somebody had it meanwhile: look again."""
    first, second = promised(demo_books, "T-1", "T-2")
    here = f"/orders/{second}"
    bells = html.fromstring(client.get(here).text).xpath('//select[@name="serial"]/option/@value')
    sent = {**form(client, here, f"{here}/allocate"), "who": "Sam", "serial": bells[1]}
    with demo_books.writing() as c:
        orders.allocate(c, first, bells[1].partition("|")[0], ENTRY)
        orders.free(c, first, ENTRY, why="the wrong one")
    refused = client.post(f"{here}/allocate", data=sent)
    assert refused.status_code == 422
    assert "by Ines" in said(refused.text)
    assert order(demo_books, "T-2").state == "promised"


def test_an_order_goes_its_whole_way_by_its_page(client: TestClient, demo_books: Books) -> None:
    [number] = promised(demo_books, "T-1")
    here = f"/orders/{number}"
    bells = html.fromstring(client.get(here).text).xpath('//select[@name="serial"]/option/@value')
    for act, more, state in (
        ("allocate", {"serial": bells[1]}, "allocated"),
        ("free", {"why": "another one first"}, "promised"),
        ("allocate", {"serial": bells[2]}, "allocated"),
        ("ship", {}, "shipped"),
        ("close", {}, "closed"),
    ):
        sent = {**form(client, here, f"{here}/{act}"), "who": "Ines", **more}
        assert client.post(f"{here}/{act}", data=sent).status_code == 303, act
        assert order(demo_books, "T-1").state == state
    assert client.get(here).text.count('method="post"') == 0
    refused = client.post(f"{here}/cancel", data={"who": "Ines", "why": "too late"})
    assert refused.status_code == 422
    assert "closed" in said(refused.text)
    assert verify(demo_books) == []


@pytest.mark.parametrize(
    ("act", "typed", "line"),
    [
        ("cancel", {"who": "Ines"}, "cancelling needs a reason"),
        ("cancel", {"why": "he sold the car"}, "say who does it"),
        ("allocate", {"who": "Ines"}, "choose a bell"),
        ("ship", {"who": "Ines"}, "no bell is allocated to it"),
        ("free", {"who": "Ines", "why": "x"}, "no bell is allocated to it"),
    ],
)
def test_what_cannot_be_done_is_said_and_what_was_typed_stays(
    client: TestClient, demo_books: Books, act: str, typed: dict[str, str], line: str
) -> None:
    [number] = promised(demo_books, "T-1")
    answer = client.post(f"/orders/{number}/{act}", data=typed)
    assert answer.status_code == 422
    assert line in said(answer.text)
    if "why" in typed and act == "cancel":
        assert 'value="he sold the car"' in answer.text
    assert order(demo_books, "T-1").state == "promised"


# ── taking one ───────────────────────────────────────────────────────────────────────────


def test_the_quote_while_typing_is_what_is_then_promised(
    client: TestClient, demo_books: Books
) -> None:
    steel = variant(demo_books, "certified steel bell")
    with demo_books.reading() as c:
        option = kits.options(c, steel.id)[0]
    quoted = client.get("/orders/quote", params={"variant": steel.id, "options": option.id}).json()
    cents = steel.price.minor + option.price.minor
    assert quoted["price"].replace("\u202f", "") == f"{cents / 100:.2f} USD"
    sent = {
        **form(client, f"/orders/new?variant={steel.id}", "/orders/new"),
        f"option-{option.id}": "1",
        "new_customer": "Gable End Garage",
        "who": "Ines",
    }
    assert sent["label"] == "O-104"
    for _ in range(2):
        answer = client.post("/orders/new", data=sent)
        assert answer.status_code == 303
    made = order(demo_books, "O-104")
    assert answer.headers["location"] == f"/orders/{made.id}?done=taken"
    assert made.promised_for is not None
    assert made.promised_for.isoformat() == quoted["day"]
    assert made.price_minor == cents
    with demo_books.reading() as c:
        assert promises.bases_of(c, made.id)[2].rests_on_json == quoted["rests_on"]
        assert [each.name for each in parties(c, "customer")].count("Gable End Garage") == 1


def test_without_a_script_a_button_says_the_same(client: TestClient, demo_books: Books) -> None:
    steel = variant(demo_books, "certified steel bell")
    quoted = client.get("/orders/quote", params={"variant": steel.id}).json()
    before = labels(demo_books)
    text = client.post(
        "/orders/new", data={"ask": "1", "variant": str(steel.id), "label": "my own"}
    ).text
    for words in (quoted["say"], quoted["price"], *quoted["rests_on"]):
        assert " ".join(words.split()) in said(text)
    assert 'value="my own"' in text
    assert labels(demo_books) == before


@pytest.mark.parametrize(
    ("typed", "lines"),
    [
        ({}, ["variant: missing", "customer: missing", "who: missing"]),
        ({"variant": "1", "customer": "x", "who": "I"}, ['"x" is not a whole number']),
        ({"variant": "1", "new_customer": "Moor Top Motors", "who": "I", "label": "N"},
         ['"Moor Top Motors" is taken']),
        ({"variant": "1", "new_customer": "New", "who": "I", "label": "O-103"},
         ['"O-103" is taken']),
        ({"variant": "1", "new_customer": "New", "who": "I", "label": "N", "option-99": "1"},
         ["are not of this variant"]),
    ],
)  # fmt: skip
def test_a_form_that_cannot_be_comes_back_and_nothing_is_kept(
    client: TestClient, demo_books: Books, typed: dict[str, str], lines: list[str]
) -> None:
    before = labels(demo_books)
    answer = client.post("/orders/new", data=typed)
    assert answer.status_code == 422
    for line in lines:
        assert line in said(answer.text)
    assert labels(demo_books) == before
    with demo_books.reading() as c:
        assert "New" not in {each.name for each in parties(c, "customer")}


def test_a_shut_gate_refuses_beside_its_field_until_somebody_says_why(
    client: TestClient, demo_books: Books
) -> None:
    steel = variant(demo_books, "certified steel bell")
    assert client.post(f"/kits/variants/{steel.id}/loose", data={}).status_code == 422
    marked = client.post(f"/kits/variants/{steel.id}/loose", data={"who": "Ines"})
    assert marked.headers["location"] == f"/kits#variant-{steel.id}"
    assert "a bell alone" in client.get("/kits").text
    quoted = client.get("/orders/quote", params={"variant": steel.id}).json()
    assert quoted["shut"]
    assert "none may be sold loose today" in quoted["gate"]
    sent = {"variant": str(steel.id), "customer": "", "new_customer": "N", "who": "I", "label": "L"}
    refused = client.post("/orders/new", data=sent)
    assert refused.status_code == 422
    page = html.fromstring(refused.text)
    assert "held back for kits" in page.get_element_by_id("why-error").text_content()
    assert "L" not in labels(demo_books)
    taken = client.post("/orders/new", data={**sent, "why": "the owner's own car"})
    assert taken.status_code == 303
    assert "L" in labels(demo_books)


def test_a_quote_of_nothing_is_refused_as_data(client: TestClient) -> None:
    wants = {"accept": "application/json"}
    for asked, status in ((("x"), 404), (("999"), 404), ((""), 404)):
        answer = client.get("/orders/quote", params={"variant": asked}, headers=wants)
        assert answer.status_code == status
        assert answer.json()["lines"]


# ── in and out ───────────────────────────────────────────────────────────────────────────


def test_a_file_of_orders_is_taken_whole_or_not(client: TestClient, demo_books: Books) -> None:
    before = labels(demo_books)
    bad = b"order,customer,variant\nI-1,Moor Top Motors,cast bell\nI-2,Nobody,cast bell\n"
    answer = client.post("/orders/import", data={"who": "Ines"}, files={"file": ("a.csv", bad)})
    assert answer.status_code == 422
    assert 'row 3, customer: "Nobody" is not known' in said(answer.text)
    assert labels(demo_books) == before
    good = bad.replace(b"Nobody", b"Juniper Yard")
    answer = client.post("/orders/import", data={"who": "Ines"}, files={"file": ("a.csv", good)})
    assert answer.status_code == 303
    assert labels(demo_books) == before | {"I-1", "I-2"}
    assert order(demo_books, "I-1").state == "open"


def test_the_workbooks_hold_what_the_pages_show(client: TestClient, demo_books: Books) -> None:
    book = load_workbook(io.BytesIO(client.get("/orders/orders.xlsx").content))
    rows = book.get_sheet_by_name("orders").to_python()
    assert {row[0] for row in rows[1:]} == labels(demo_books)
    stands = dict(zip(rows[0], next(row for row in rows if row[0] == "O-103"), strict=True))
    assert stands["stands"] == "holds"
    assert 0.9 <= stands["chance now"] <= 1
    board = load_workbook(io.BytesIO(client.get("/board/board.xlsx").content))
    lines = board.get_sheet_by_name("board").to_python()
    assert [row[1] for row in lines[1:]] == ["O-103"]


# ── the board ────────────────────────────────────────────────────────────────────────────


def test_the_board_puts_danger_first_and_today_names_it(
    client: TestClient, demo_books: Books
) -> None:
    assert "Every promise holds." in said(client.get("/board").text)
    assert "No promise is in danger: the promise board" in said(client.get("/").text)
    slip(demo_books)
    promised(demo_books, "T-1")
    text = client.get("/board").text
    assert "1 of 2 promises is in danger." in said(text)
    heads = [
        " ".join(h.text_content().split()) for h in html.fromstring(text).xpath("//section/h2")
    ]
    assert heads == ["O-103 in danger", "T-1 holds"]
    assert "1 promise is in danger" in said(client.get("/").text)
    assert "O-102: Moor Top Motors, bell HC-0102" in said(text)


def test_the_week_lists_what_is_due_and_overdue(demo_books: Books) -> None:
    for day, words in ((15, "due 2026-05-21"), (22, "due 2026-05-21, overdue")):
        clock = datetime.datetime(2026, 5, day, 12, tzinfo=datetime.UTC)
        app = create_site(demo_books, hosts=["testserver"], clock=lambda clock=clock: clock)
        with TestClient(app) as client:
            assert words in said(client.get("/board").text)


def test_the_rule_is_changed_and_bad_shares_come_back(
    client: TestClient, demo_books: Books
) -> None:
    sent = {**form(client, "/board", "/board/rule"), "chance": "95 %", "service": "0.98"}
    assert client.post("/board/rule", data=sent).status_code == 422  # nobody is named
    assert client.post("/board/rule", data={**sent, "who": "Ines"}).status_code == 303
    with demo_books.reading() as c:
        assert promises.get_rule(c) == promises.SupplyRule(chance=0.95, service=0.98)
    assert "holds with 95 %" in said(client.get("/board").text)
    for text in ("100 %", "0", "often", "", "nan"):
        answer = client.post("/board/rule", data={**sent, "who": "Ines", "chance": text})
        assert answer.status_code == 422, text
        assert 'id="chance-error"' in answer.text


# ── worksheets from the books ────────────────────────────────────────────────────────────


@pytest.mark.parametrize("name", ["promise", "hold-back", "year"])
def test_a_worksheet_is_filled_from_the_books_and_works(client: TestClient, name: str) -> None:
    page = html.fromstring(client.get(f"/worksheets/{name}", params={"books": "1"}).text)
    [text] = page.xpath('//textarea[@name="text"]')
    filled = text.text.replace("runs = 2000", "runs = 100")
    answer = client.post(f"/worksheets/{name}", data={"text": filled})
    assert answer.status_code == 200
    assert 'class="answer' in answer.text


def test_an_orders_worksheet_promises_what_its_page_does(
    client: TestClient, demo_books: Books
) -> None:
    number = order(demo_books, "O-103").id
    page = client.get("/worksheets/promise", params={"books": f"order-{number}"}).text
    [text] = html.fromstring(page).xpath('//textarea[@name="text"]')
    answer = said(client.post("/worksheets/promise", data={"text": text.text}).text)
    shown = form(client, f"/orders/{number}", f"/orders/{number}/promise")["shown"]
    assert f"Promise {shown}" in answer
    assert client.get("/worksheets/promise", params={"books": "order-999"}).status_code == 404
