"""The pages of rules: copy, change, withdraw; twice sent is once kept; a form comes back whole."""

from __future__ import annotations

import datetime
from collections.abc import Iterator

import pytest
from lxml import html
from starlette.testclient import TestClient

from kitwright.books import rules
from kitwright.books.opening import Books
from kitwright.web.site import create_site

NOW = datetime.datetime(2026, 5, 4, 15, tzinfo=datetime.UTC)
RULE = {
    "body": "Saltmere Sprint Club",
    "use": "hill climb",
    "demands": "certified shell",
    "spec": "class C",
    "from_what": "from 300 kW",
    "from_power_kw": "300",
    "from_speed_rpm": "",
    "source": "book 2026, 9",
    "copied_on": "2026-05-03",
    "who": "Ada",
}


@pytest.fixture
def client(demo_books: Books) -> Iterator[TestClient]:
    app = create_site(demo_books, hosts=["testserver"], clock=lambda: NOW)
    with TestClient(app, follow_redirects=False) as client:
        yield client


def said(text: str) -> str:
    return " ".join(html.fromstring(text).text_content().split())


def hidden(client: TestClient, page: str, action: str) -> dict[str, str]:
    [form] = [f for f in html.fromstring(client.get(page).text).forms if f.action == action]
    return {i.name: i.value for i in form.inputs if i.type == "hidden"}


def lines(books: Books) -> list[tuple[str, int, str]]:
    with books.reading() as connection:
        return [(r.named, r.number, r.state) for r in rules.rules(connection)]


def test_rules_are_listed_with_source_day_and_check_the_book(client: TestClient) -> None:
    text = said(client.get("/rules").text)
    for words in (
        "Fenmark Strip Association",
        "certified shell, shell class B",
        "from 400 kW, or quicker than 11.5 s (in numbers 400 kW)",
        "2026-03-05, rule book of this year, 4.12; check the current book",
        "no certified shell",
        "WARNING",
    ):
        assert words in text
    assert "over a year old" not in text
    assert 'href="/rules"' in client.get("/").text, "the menu leads there"


def test_a_copy_over_a_year_old_is_marked(demo_books: Books) -> None:
    later = datetime.datetime(2027, 4, 1, tzinfo=datetime.UTC)
    app = create_site(demo_books, hosts=["testserver"], clock=lambda: later)
    with TestClient(app) as client:
        assert "this copy is over a year old" in client.get("/rules").text
        assert "this copy is over a year old" in client.get("/rules/1").text


def test_a_rule_is_copied_once_however_often_it_is_sent(
    client: TestClient, demo_books: Books
) -> None:
    sent = {**RULE, **hidden(client, "/rules", "/rules#add")}
    for _ in range(2):
        answer = client.post("/rules", data=sent)
        assert (answer.status_code, answer.headers["location"]) == (303, "/rules")
    assert lines(demo_books)[-1] == ("Saltmere Sprint Club, hill climb", 1, "stands")
    assert len(lines(demo_books)) == 3
    again = client.post("/rules", data={**sent, **hidden(client, "/rules", "/rules#add")})
    assert again.status_code == 422
    assert "has a rule of Saltmere Sprint Club already" in said(again.text)


def test_a_rule_is_changed_and_its_lines_are_shown(client: TestClient, demo_books: Books) -> None:
    page = html.fromstring(client.get("/rules/1").text)
    [form] = [f for f in page.forms if f.action == "/rules/1#change"]
    typed = dict(form.fields)
    assert (typed["source"], typed["from_power_kw"]) == ("rule book of this year, 4.12", "400")
    typed |= {"from_power_kw": "380", "why": "a bulletin", "who": "Bo"}
    for _ in range(2):
        assert client.post("/rules/1", data=typed).status_code == 303
    assert lines(demo_books)[0] == ("Fenmark Strip Association, drag, quarter mile", 3, "stands")
    text = said(client.get("/rules/1").text)
    for words in ("in numbers 380 kW", "Bo: a bulletin", "450 kW", "the new book asks"):
        assert words in text


def test_whoever_changes_an_older_line_is_told_to_look(
    client: TestClient, demo_books: Books
) -> None:
    page = html.fromstring(client.get("/rules/1").text)
    [form] = [f for f in page.forms if f.action == "/rules/1#change"]
    typed = {**form.fields, "spec": "class D", "why": "mine", "who": "Bo"}
    other = {**typed, "spec": "class E", "send_key": "another-key", "who": "Cy"}
    assert client.post("/rules/1", data=other).status_code == 303
    answer = client.post("/rules/1", data=typed)
    assert answer.status_code == 422
    assert "was changed by Cy meanwhile" in said(answer.text)
    assert 'value="class D"' in answer.text, "what was typed stays"
    assert lines(demo_books)[0][1] == 3


def test_a_rule_is_withdrawn_and_put_in_use_again(client: TestClient, demo_books: Books) -> None:
    sent = {**hidden(client, "/rules/2", "/rules/2/withdraw#withdraw"), "who": "Ada"}
    missing = client.post("/rules/2/withdraw", data=sent)
    assert missing.status_code == 422
    assert "a withdrawn rule needs a reason" in said(missing.text)
    done = client.post("/rules/2/withdraw", data={**sent, "why": "no track days any more"})
    assert done.status_code == 303
    assert lines(demo_books)[1][2] == "withdrawn"
    assert "no track days any more" in client.get("/rules").text
    page = html.fromstring(client.get("/rules/2").text)
    assert [f.action for f in page.forms] == ["/rules/2#change"]
    again = {**page.forms[0].fields, "why": "they are back", "who": "Ada"}
    assert client.post("/rules/2", data=again).status_code == 303
    assert lines(demo_books)[1][1:] == (3, "stands")


def test_a_form_comes_back_with_each_message_beside_its_field(
    client: TestClient, demo_books: Books
) -> None:
    bad = {
        **RULE,
        "body": "",
        "source": "",
        "from_power_kw": "a lot",
        "copied_on": "yesterday",
        "spec": '<b>"kept"</b>',
    }
    answer = client.post("/rules", data=bad)
    assert answer.status_code == 422
    page = html.fromstring(answer.text)
    wrong = {each.get("name"): each for each in page.cssselect("[aria-invalid]")}
    assert set(wrong) == {"body", "source", "from_power_kw", "copied_on"}
    assert wrong["from_power_kw"].value == "a lot"
    told = said(html.tostring(page.get_element_by_id("from_power_kw-error"), encoding="unicode"))
    assert '"a lot" is not a number; write a plain number, or none' in told
    assert page.get_element_by_id("spec").value == '<b>"kept"</b>'
    assert len(page.cssselect(".errors li")) == 4
    assert len(lines(demo_books)) == 2


@pytest.mark.parametrize("page", ["/rules/99", "/worksheets/choose-bell?books=99"])
def test_what_is_not_there(client: TestClient, page: str) -> None:
    assert client.get(page).status_code == 404


def test_nobody_named_is_refused(client: TestClient) -> None:
    answer = client.post("/rules", data={**RULE, "who": ""})
    assert answer.status_code == 422
    assert html.fromstring(answer.text).cssselect("#who[aria-invalid]")


# ── the form that the books fill ─────────────────────────────────────────────────────────


def test_choose_bell_is_filled_from_the_books_and_answers(client: TestClient) -> None:
    blank = html.fromstring(client.get("/worksheets/choose-bell").text)
    [offer] = [f for f in blank.forms if f.method == "GET"]
    assert "From the shop's designs: Pendrake V8 5.6" in offer.text_content()
    assert dict(offer.fields) == {"books": "1"}
    filled = html.fromstring(client.get("/worksheets/choose-bell?books=1").text)
    [form] = filled.cssselect("form.case[data-grows]")
    typed = {**form.fields, "use": "drag", "power_kw": "450"}
    assert "Heron steel bell" in typed.values()
    assert "drag, quarter mile" in typed.values()
    answer = client.post(
        "/worksheets/choose-bell", data={k: v for k, v in typed.items() if v is not None}
    )
    assert answer.status_code == 200
    text = said(answer.text)
    assert "One bell is left: Heron steel bell, 1140.00 USD, 13.1 kg." in text
    assert "a certified shell (shell class B) is demanded" in text
    [sheet] = html.fromstring(answer.text).cssselect(
        "form[action='/worksheets/choose-bell/pdf'] input"
    )
    printed = client.post("/worksheets/choose-bell/pdf", data={"text": sheet.value})
    assert printed.content.startswith(b"%PDF")


def test_without_a_shop_there_is_nothing_to_fill_from() -> None:
    from kitwright.web.app import create_app

    with TestClient(create_app(lead="mm", hosts=["testserver"])) as alone:
        assert "From the shop" not in alone.get("/worksheets/choose-bell").text
        assert alone.get("/worksheets/choose-bell?books=1").status_code == 200
