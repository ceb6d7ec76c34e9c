"""The worksheets' pages as a browser without scripts meets them."""

from __future__ import annotations

from collections.abc import Iterator

import lxml.html
import pytest
from lxml.html import FormElement, HtmlElement
from starlette.testclient import TestClient

from kitwright.errors import InputError
from kitwright.pictures.answers import pictures_of
from kitwright.web.app import create_app
from kitwright.web.forms import Form
from kitwright.web.forms.views import EntryView, GroupView, TableView, View
from kitwright.worksheets.contents import CONTENTS
from kitwright.worksheets.declaration import Worksheet, load
from kitwright.worksheets.reading import from_toml, read
from kitwright.worksheets.showing import assumptions, figures, grids
from kitwright.worksheets.writing import to_toml

NAMES = [entry.name for entry in CONTENTS]


@pytest.fixture(params=NAMES)
def worksheet(request: pytest.FixtureRequest) -> Worksheet:
    return load(request.param)


def page_of(text: str) -> HtmlElement:
    return lxml.html.document_fromstring(text)


def case_form(page: HtmlElement) -> FormElement:
    [form] = page.cssselect("form.case")
    assert isinstance(form, FormElement)
    return form


def typed(form: FormElement) -> list[tuple[str, str]]:
    """What the form sends. A browser drops a text box's first line break; lxml keeps it."""
    return [(name, value.removeprefix("\n")) for name, value in form.form_values()]


def case_text(page: HtmlElement) -> str:
    [box] = page.cssselect("textarea#text")
    return str(box.value).removeprefix("\n")


def text_of(page: HtmlElement) -> str:
    return " ".join(page.text_content().split())


def said(element: HtmlElement | None) -> str:
    assert element is not None
    return text_of(element)


def entries(view: View) -> Iterator[EntryView]:
    if isinstance(view, EntryView):
        yield view
    elif isinstance(view, GroupView):
        for part in view.parts:
            yield from entries(part)
    elif isinstance(view, TableView):
        for row in view.rows:
            yield from entries(row)
    else:
        for _, block in view.blocks:
            yield from entries(block)


def test_contents_list_each_question_under_its_stage(client: TestClient) -> None:
    page = page_of(client.get("/worksheets").text)
    links = [(a.get("href"), said(a[0])) for a in page.cssselect(".questions a")]
    assert links == [(f"/worksheets/{entry.name}", entry.question) for entry in CONTENTS]
    stages = [said(h2).lower() for h2 in page.cssselect("h2")]
    assert stages == list(dict.fromkeys(entry.stage for entry in CONTENTS))


def test_an_empty_form_asks_the_question_and_quotes_the_example(
    client: TestClient, worksheet: Worksheet
) -> None:
    page = page_of(client.get(f"/worksheets/{worksheet.name}").text)
    assert said(page.find(".//h1")) == worksheet.question
    assert not page.cssselect(".answer")
    assert not page.cssselect("[aria-invalid]")
    form = case_form(page)
    assert all(not value for name, value in typed(form) if "kind" not in name)
    assert "such as" in text_of(form)
    assert case_text(page) == worksheet.example.strip() + "\n"


def test_every_input_has_a_name_a_label_and_its_own_identifier(
    client: TestClient, worksheet: Worksheet
) -> None:
    page = page_of(client.get(f"/worksheets/{worksheet.name}?example=1").text)
    ids = [element.get("id") for element in page.xpath("//*[@id]")]
    assert len(ids) == len(set(ids))
    labelled = {label.get("for") for label in page.xpath("//label[@for]")}
    for field in page.cssselect("input:not([type=hidden]), select, textarea"):
        assert field.get("name")
        assert field.get("aria-label") or field.get("id") in labelled
        for told in (field.get("aria-describedby") or "").split():
            assert told in ids


def test_the_example_is_filled_in_posted_and_answered(
    client: TestClient, worksheet: Worksheet
) -> None:
    """The form as the page shows it, sent as a browser sends it, is the example's case."""
    address = f"/worksheets/{worksheet.name}"
    form = case_form(page_of(client.get(f"{address}?example=1").text))
    values = dict(typed(form))
    data = from_toml(worksheet.example)
    assert Form.of(worksheet).read(typed(form)).data == data
    answer_page = client.post(address, data=values)
    assert answer_page.status_code == 200
    page = page_of(answer_page.text)
    case = read(worksheet.case, data)
    answer = worksheet.solve(case)
    assert said(page.cssselect(".say")[0]) == worksheet.say(answer, "mm")
    shown = text_of(page)
    for caution in worksheet.cautions:
        assert caution.text in shown
    for row in figures(answer, lead="mm"):
        assert row.label in shown
    for grid in grids(answer, lead="mm"):
        assert grid.label in shown
    for line in (answer.how, *assumptions(worksheet.case, answer), *worksheet.sources):
        assert " ".join(line.split()) in shown
    pictures = pictures_of(worksheet.name, case, answer, lead="mm")
    assert len(page.cssselect(".answer figure svg")) == len(pictures)
    assert dict(typed(case_form(page))) == values
    assert from_toml(case_text(page)) == data


def test_cautions_stand_above_the_answer_and_the_answer_above_the_form(
    client: TestClient, worksheet: Worksheet
) -> None:
    sent = {"text": worksheet.example}
    page = page_of(client.post(f"/worksheets/{worksheet.name}", data=sent).text)
    order = {element: place for place, element in enumerate(page.iter())}
    say, form = page.cssselect(".say")[0], case_form(page)
    cautions = page.cssselect(".caution")
    assert len(cautions) == len(worksheet.cautions)
    assert all(order[caution] < order[say] for caution in cautions)
    assert order[say] < min((order[f] for f in page.cssselect("figure")), default=order[form])
    assert order[say] < order[form]


def test_the_example_as_text_answers_the_same_and_keeps_its_comments(
    client: TestClient, worksheet: Worksheet
) -> None:
    address = f"/worksheets/{worksheet.name}"
    sent = {"text": worksheet.example.replace("\n", "\r\n")}  # as a browser sends lines
    answered = client.post(address, data=sent)
    assert answered.status_code == 200
    page = page_of(answered.text)
    filled = case_form(page_of(client.get(f"{address}?example=1").text))
    assert typed(case_form(page)) == typed(filled)
    assert case_text(page) == worksheet.example.replace("\r", "")


def test_an_empty_case_comes_back_with_a_message_at_each_field_it_needs(
    client: TestClient, worksheet: Worksheet
) -> None:
    answer = client.post(f"/worksheets/{worksheet.name}", data={})
    assert answer.status_code == 422
    page = page_of(answer.text)
    with pytest.raises(InputError) as caught:
        read(worksheet.case, {})
    links = [a.get("href").removeprefix("#") for a in page.cssselect(".errors a")]
    assert len(links) == len(caught.value.problems)
    for link in links:
        assert page.get_element_by_id(link) is not None
        assert "missing; it is needed" in said(page.get_element_by_id(f"{link}-error"))
    things = "thing" if len(links) == 1 else "things"
    assert f"{len(links)} {things} to mend" in text_of(page)


BAD = {
    "quantity": ("5", '"5" has no unit'),
    "list": ("5 thou, 1;5", '"1;5" is not a length'),
    "number": ("1,5", '"1,5" has a comma; write a decimal point'),
    "numbers": ("1,5", '"1,5" has a comma; write a decimal point'),
    "choice": ("xyzzy", '"xyzzy" is not'),
}


def test_each_bad_field_has_its_message_beside_it_and_keeps_what_was_typed(
    client: TestClient, worksheet: Worksheet
) -> None:
    form, data = Form.of(worksheet), from_toml(worksheet.example)
    values = form.written(data)
    fields = {e.name: e for part in form.filled(values).parts for e in entries(part)}
    tried = 0
    for name, field in fields.items():
        if name not in values or field.kind not in BAD:
            continue
        text, words = BAD[field.kind]
        answer = client.post(f"/worksheets/{worksheet.name}", data={**values, name: text})
        assert answer.status_code == 422, name
        page = page_of(answer.text)
        [wrong] = page.cssselect("[aria-invalid]")
        assert wrong.get("name") == name
        assert wrong.value.removeprefix("\n") == text
        assert f"{field.id}-error" in wrong.get("aria-describedby").split()
        assert words in said(page.get_element_by_id(f"{field.id}-error"))
        assert [a.get("href") for a in page.cssselect(".errors a")] == [f"#{field.id}"]
        shown = dict(typed(case_form(page)))
        assert {key: value for key, value in shown.items() if value} == {**values, name: text}
        tried += 1
    assert tried >= 3


@pytest.mark.parametrize("name", ["sweep", "radial-budget"])
def test_more_rows_without_scripts(client: TestClient, name: str) -> None:
    address = f"/worksheets/{name}"
    form = case_form(page_of(client.get(f"{address}?example=1").text))
    values = dict(typed(form))
    buttons = form.cssselect("button[name=more]")
    assert buttons
    for button in buttons:
        grown = client.post(address, data={**values, "more": button.get("value")})
        assert grown.status_code == 200
        page = page_of(grown.text)
        assert not page.cssselect(".answer, [aria-invalid]")
        after = dict(typed(case_form(page)))
        assert {name: text for name, text in after.items() if text} == {
            name: text for name, text in values.items() if text
        }
        fresh = set(after) - set(values)
        assert fresh
        assert all(name.startswith(f"{button.get('value')}[") for name in fresh)


def test_blocks_are_added_and_taken_out_without_scripts(client: TestClient) -> None:
    address = "/worksheets/radial-budget"
    form = case_form(page_of(client.get(f"{address}?example=1").text))
    values = dict(typed(form))
    buttons = form.cssselect("button[name=add]")
    asked = [said(button) for button in buttons]  # in the order in which they are declared
    assert asked == ["zone", "shift", "line", "float", "growth", "measured"]
    for button in buttons:
        grown = page_of(client.post(address, data={**values, "add": button.get("value")}).text)
        kinds = [i.value for i in case_form(grown).cssselect(".block > input[type=hidden]")]
        assert kinds[-1] == button.get("value").partition(":")[2]
        blocks = len(form.cssselect(".block"))
        assert len(kinds) == blocks + 1
        less = page_of(client.post(address, data={**values, "remove": button_of(form)}).text)
        assert len(case_form(less).cssselect(".block")) == blocks - 1


def button_of(form: FormElement) -> str:
    return str(form.cssselect("button[name=remove]")[0].get("value"))


def test_the_first_button_of_the_form_works_it_out(
    client: TestClient, worksheet: Worksheet
) -> None:
    """The Enter key presses the first one, which must not add a row."""
    form = case_form(page_of(client.get(f"/worksheets/{worksheet.name}?example=1").text))
    first = form.cssselect("button")[0]
    assert first.get("name") is None
    assert first.get("formaction") is None


def test_the_shops_unit_leads(worksheet: Worksheet) -> None:
    client = TestClient(create_app(lead="in", hosts=["testserver"]))
    sent = {"text": worksheet.example}
    page = page_of(client.post(f"/worksheets/{worksheet.name}", data=sent).text)
    answer = worksheet.solve(read(worksheet.case, from_toml(worksheet.example)))
    assert said(page.cssselect(".say")[0]) == worksheet.say(answer, "in")
    inches = [row for row in figures(answer, lead="in") if row.leading.endswith(" in")]
    # An answer in its case's own unit, or without lengths, has none that could lead.
    assert inches or figures(answer, lead="in") == figures(answer, lead="mm")
    assert all(row.leading in text_of(page) for row in inches)


@pytest.mark.parametrize(
    ("u95", "word", "shape"),
    [("0.01 mm", "within", "filled"), ("2 mm", "too close to call", "hatched")],
)
def test_a_verdict_has_its_mark_and_its_word(
    client: TestClient, u95: str, word: str, shape: str
) -> None:
    sent = {"value": "1 mm", "u95": u95, "limits.low": "0.5 mm"}
    page = page_of(client.post("/worksheets/conformity", data=sent).text)
    [state] = page.cssselect(".answer > p > .state")
    assert said(state) == word
    assert shape in state.get("class")


# ── the case as text ─────────────────────────────────────────────────────────────────────


def test_text_that_cannot_be_read_comes_back_with_the_reason(client: TestClient) -> None:
    answer = client.post("/worksheets/conformity", data={"text": "value = = 1\n# mine"})
    assert answer.status_code == 422
    page = page_of(answer.text)
    assert "case: not TOML" in said(page.cssselect(".errors")[0])
    assert case_text(page) == "value = = 1\n# mine"


def test_a_fault_in_the_text_is_shown_at_its_field_too(client: TestClient) -> None:
    text = 'value = "5"\nu95 = "1 thou"\nlimits = {low = "1 mm"}\nfoo = 1\n'
    page = page_of(client.post("/worksheets/conformity", data={"text": text}).text)
    assert '"5" has no unit' in said(page.get_element_by_id("f-value-error"))
    assert "foo: unknown name" in said(page.cssselect(".errors")[0])
    assert page.cssselect("#f-u95")[0].value == "1 thou"
    assert case_text(page) == text


def test_a_case_larger_than_a_form_is_worked_out_as_text(client: TestClient) -> None:
    vectors = [[n / 1000, 0.5] for n in range(401)]
    part = {"name": "last batch", "kind": "measured", "unit": "thou", "vectors": vectors}
    text = to_toml({"limit": "5 thou", "contributors": [part]})
    answer = client.post("/worksheets/radial-budget", data={"text": text})
    assert answer.status_code == 200
    page = page_of(answer.text)
    assert page.cssselect(".say")
    assert not page.cssselect("form.case")
    assert "more rows than a form shows" in text_of(page)
    assert case_text(page) == text


def test_more_rows_than_a_form_holds_are_refused_not_dropped(client: TestClient) -> None:
    sent = {"contributors[0].kind": "measured", "contributors[0].vectors[400][0]": "1"}
    answer = client.post("/worksheets/radial-budget", data=sent)
    assert answer.status_code == 422
    assert "a form takes 400; give the case as text" in answer.text


def test_a_case_is_kept_as_a_file(client: TestClient, worksheet: Worksheet) -> None:
    address = f"/worksheets/{worksheet.name}/case"
    kept = client.post(address, data={"text": worksheet.example.replace("\n", "\r\n")})
    assert kept.status_code == 200
    assert kept.headers["content-disposition"] == f'attachment; filename="{worksheet.name}.toml"'
    assert from_toml(kept.content.decode("utf-8")) == from_toml(worksheet.example)
    assert b"\r" not in kept.content
    assert client.post(address, data={"text": "no_such_name = 1"}).status_code == 422


def test_the_sheet_is_printed(client: TestClient, worksheet: Worksheet) -> None:
    page = page_of(
        client.post(f"/worksheets/{worksheet.name}", data={"text": worksheet.example}).text
    )
    [form] = page.cssselect(f"form[action='/worksheets/{worksheet.name}/pdf']")
    printed = client.post(form.action, data=dict(typed(form)))
    assert printed.status_code == 200
    assert printed.headers["content-type"] == "application/pdf"
    assert printed.headers["content-disposition"] == f'inline; filename="{worksheet.name}.pdf"'
    assert printed.content.startswith(b"%PDF-")
    refused = client.post(form.action, data={"text": "no_such_name = 1"})
    assert refused.status_code == 422
    assert "unknown name" in refused.text


# ── hostile forms ────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(
    "content",
    [
        b"&".join(b"a%d=1" % n for n in range(5001)),
        b"value=" + b"1" * 1_100_000,
    ],
    ids=["too many fields", "a field too large"],
)
def test_a_form_beyond_all_use_is_refused(client: TestClient, content: bytes) -> None:
    kind = {"Content-Type": "application/x-www-form-urlencoded"}
    answer = client.post("/worksheets/conformity", content=content, headers=kind)
    assert answer.status_code == 422
    assert "form: cannot be read" in answer.text


@pytest.mark.parametrize(
    ("content", "kind"),
    [
        (b"\xff\xfe=%ff&%00=%00&value=%ed%a0%80", "application/x-www-form-urlencoded"),
        (b"value=1&value=2&=&&==", "application/x-www-form-urlencoded"),
        (b"no form at all", "text/plain"),
        (b"", "application/x-www-form-urlencoded"),
        (b"--x\r\nbroken", "multipart/form-data; boundary=x"),
        (b"--x\r\nbroken", "multipart/form-data"),
        (
            b'--x\r\nContent-Disposition: form-data; name="value"; filename="a"\r\n\r\n1\r\n--x--',
            "multipart/form-data; boundary=x",
        ),
    ],
)
def test_no_form_breaks_the_page(client: TestClient, content: bytes, kind: str) -> None:
    for path in ("", "/pdf", "/case"):
        answer = client.post(
            f"/worksheets/conformity{path}", content=content, headers={"Content-Type": kind}
        )
        assert answer.status_code == 422
        assert "to mend" in answer.text or "cannot be" in answer.text


def test_what_was_typed_is_not_written_into_the_page_as_markup(client: TestClient) -> None:
    evil = '"><script>alert(1)</script>'
    for sent in ({"value": evil}, {"text": f"value = '''{evil}'''"}, {"text": evil}):
        page = client.post("/worksheets/conformity", data=sent).text
        assert "<script>alert" not in page
    name = {"contributors[0].kind": "zone", "contributors[0].name": evil}
    assert "<script>alert" not in client.post("/worksheets/radial-budget", data=name).text
    kind = {"contributors[0].kind": evil}
    assert "<script>alert" not in client.post("/worksheets/radial-budget", data=kind).text
