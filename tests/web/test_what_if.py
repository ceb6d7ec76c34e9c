"""The part of a worksheet's page that is asked for as a value changes."""

from __future__ import annotations

import re

import lxml.html
import pytest
from lxml.html import HtmlElement
from starlette.testclient import TestClient

from kitwright.web.forms import Form
from kitwright.worksheets.contents import CONTENTS
from kitwright.worksheets.declaration import load
from kitwright.worksheets.reading import from_toml, read

BUDGET = "/worksheets/radial-budget"
BUDGET_CASE = """
limit = "5 thou"
[[contributors]]
name = "bore"
kind = "zone"
zone = "6 thou"
[[contributors]]
name = "mains"
kind = "shift"
size = "1 thou"
clock_deg = 180
"""


def typed(name: str, text: str) -> dict[str, str]:
    return Form.of(load(name)).written(from_toml(text))


def part_of(text: str) -> HtmlElement:
    return lxml.html.fragment_fromstring(text, create_parent="div")


def said(element: HtmlElement) -> str:
    return " ".join(element.text_content().split())


def messages(part: HtmlElement) -> dict[str, str]:
    return {at.get("data-at"): said(at) for at in part.cssselect("[data-at]")}


@pytest.mark.parametrize("name", [entry.name for entry in CONTENTS])
def test_only_the_answer_comes_beside_what_it_was(client: TestClient, name: str) -> None:
    worksheet = load(name)
    sent = {**typed(name, worksheet.example), "what-if": worksheet.example}
    reply = client.post(f"/worksheets/{name}", data=sent)
    assert reply.status_code == 200
    assert "<html" not in reply.text
    part = part_of(reply.text)
    answer = worksheet.solve(read(worksheet.case, from_toml(worksheet.example)))
    assert [child.tag for child in part] == ["section"]
    assert said(part.cssselect(".say")[0]) == worksheet.say(answer, "mm")
    assert said(part.cssselect(".was")[0]).startswith(f"Before: {worksheet.say(answer, 'mm')}")
    assert not part.cssselect("td.was")  # nothing has changed
    assert part.cssselect("button[data-back]")
    kept = part.cssselect("input[name=text]")[0].value
    assert from_toml(kept) == Form.of(worksheet).read(sent.items()).data


def test_the_answer_moves_and_the_first_one_stays_beside_it(client: TestClient) -> None:
    worksheet = load("radial-budget")
    first = worksheet.solve(read(worksheet.case, from_toml(BUDGET_CASE)))
    tried = BUDGET_CASE.replace("6 thou", "9 thou")
    then = worksheet.solve(read(worksheet.case, from_toml(tried)))
    assert then.chance_outside > first.chance_outside  # a wider zone is never better
    reply = client.post(BUDGET, data={**typed("radial-budget", tried), "what-if": BUDGET_CASE})
    part = part_of(reply.text)
    assert said(part.cssselect(".say")[0]) == worksheet.say(then, "mm")
    assert said(part.cssselect(".was")[0]) == f"Before: {worksheet.say(first, 'mm')}"
    [bars, *_] = part.cssselect("figure")
    described = bars.cssselect("desc")[0].text
    shares = re.findall(r"bore: ([0-9.]+) %, now ([0-9.]+) %", described)
    expected = [next(c.share for c in a.contributions if c.name == "bore") for a in (first, then)]
    assert [float(share) / 100 for share in shares[0]] == pytest.approx(expected, abs=6e-4)
    rows = {said(row[0]): row for row in part.cssselect("table.figures tbody tr")}
    assert said(rows["Worst case TIR"].cssselect(".was")[0]) == f"{first.worst_case_tir_mm:.3f} mm"
    assert not rows["Largest TIR allowed"].cssselect(".was")


def test_contributors_that_come_and_go_are_said(client: TestClient) -> None:
    tried = BUDGET_CASE.replace('"mains"', '"worn mains"')
    reply = client.post(BUDGET, data={**typed("radial-budget", tried), "what-if": BUDGET_CASE})
    described = part_of(reply.text).cssselect("figure desc")[0].text
    assert re.search(r"worn mains: was not there, now [0-9.]+ %", described)
    assert re.search(r"; mains: [0-9.]+ %, now taken out", described)


def test_a_verdict_that_changes_keeps_both_words(client: TestClient) -> None:
    first = 'value = "1 mm"\nu95 = "0.01 mm"\nlimits = {low = "0.5 mm"}\n'
    sent = {"value": "0.2 mm", "u95": "0.01 mm", "limits.low": "0.5 mm", "what-if": first}
    part = part_of(client.post("/worksheets/conformity", data=sent).text)
    assert [said(state) for state in part.cssselect(".state")] == ["outside", "within"]


def test_what_cannot_be_used_comes_as_messages_for_the_fields_of_the_open_page(
    client: TestClient,
) -> None:
    """Rows are closed up for the case, yet a message belongs to the row that was typed in."""
    sent = {
        "limit": "5",
        "unit": "thou",
        "surface": "bore",
        "readings[0][0]": "0",
        "readings[0][1]": "1",
        "readings[2][0]": "90",
        "readings[2][1]": "2",
        "readings[5][0]": "180",
        "readings[5][1]": "1,5",
        "what-if": load("sweep").example,
    }
    reply = client.post("/worksheets/sweep", data=sent)
    assert reply.status_code == 422
    part = part_of(reply.text)
    assert not part.cssselect("section")
    found = messages(part)
    assert list(found) == ["f-readings-5-1", "f-limit"]
    assert '"5" has no unit' in found["f-limit"]
    assert part.cssselect("[data-at=f-readings-5-1] > #f-readings-5-1-error")


def test_a_message_in_a_list_inside_a_list_finds_its_row(client: TestClient) -> None:
    sent = {
        "limit": "5 thou",
        "contributors[1].kind": "zone",
        "contributors[1].name": "bore",
        "contributors[1].zone": "4 thou",
        "contributors[3].kind": "measured",
        "contributors[3].name": "batch",
        "contributors[3].unit": "thou",
        "contributors[3].vectors[2][0]": "0.1",
        "contributors[3].vectors[2][1]": "x",
        "what-if": BUDGET_CASE,
    }
    reply = client.post(BUDGET, data=sent)
    assert list(messages(part_of(reply.text))) == ["f-contributors-3-vectors-2-1"]
    sent["contributors[1].zone"] = "4"
    reply = client.post(BUDGET, data=sent)
    assert next(iter(messages(part_of(reply.text)))) == "f-contributors-1-zone"


@pytest.mark.parametrize(
    ("first", "words"),
    [
        ("", "what-if.limit: missing"),
        ("= = <script>alert(1)</script>", "what-if.case: not TOML"),
        ("limit = '5'\ncontributors = []", "what-if.limit"),
        ("a." * 3000 + "b = 1", "30 parts or more"),
        ("x = " + "[" * 5000, "nested"),
        ("#" * 2_000_000, "Field exceeded maximum size"),
        ("value = '1 mm'", "unknown name"),
        ("\x00\ufeff\u202e", "not TOML"),
    ],
)
def test_a_first_case_that_is_none_is_refused_in_one_page(
    client: TestClient, first: str, words: str
) -> None:
    reply = client.post(BUDGET, data={**typed("radial-budget", BUDGET_CASE), "what-if": first})
    assert reply.status_code == 422
    page = lxml.html.document_fromstring(reply.text)
    assert words in said(page)
    assert not page.cssselect("section.answer, [data-at]")
    assert "<script>alert" not in reply.text


def test_a_first_case_brings_no_markup_in(client: TestClient) -> None:
    first = BUDGET_CASE.replace('"mains"', '"<img src=x onerror=alert(1)></svg><script>"')
    reply = client.post(BUDGET, data={**typed("radial-budget", BUDGET_CASE), "what-if": first})
    assert reply.status_code == 200
    part = part_of(reply.text)
    assert not part.cssselect("img, script")
    assert "<img" in part.cssselect("figure desc")[0].text


def test_buttons_and_text_are_not_tried(client: TestClient) -> None:
    """Only a case that is worked out is compared: the text box is the ordinary way."""
    sent = {"text": BUDGET_CASE, "what-if": BUDGET_CASE}
    page = lxml.html.document_fromstring(client.post(BUDGET, data=sent).text)
    assert page.cssselect("form.case")
    assert not page.cssselect("section.answer > .was")


def test_the_strip_waits_for_the_script_and_posts_nothing(client: TestClient) -> None:
    page = lxml.html.document_fromstring(client.post(BUDGET, data={"text": BUDGET_CASE}).text)
    [strip] = page.cssselect(".what-if")
    assert strip.get("hidden") is not None
    assert [p.get("class") for p in strip.cssselect("[aria-live]")] == ["now"]
    names = {field.get("name") for field in page.cssselect("form.case [name]")}
    assert "what-if" not in names
    assert page.cssselect("script[src*='what-if.js']")
    blank = lxml.html.document_fromstring(client.get(f"{BUDGET}?example=1").text)
    assert not blank.cssselect(".what-if, script[src*='what-if.js']")
