"""The worksheets' pages in a browser: by day and night, on a phone, with and without scripts."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from kitwright.worksheets.contents import CONTENTS
from kitwright.worksheets.declaration import load
from kitwright.worksheets.reading import from_toml, read

pytestmark = pytest.mark.browser

NAMES = [entry.name for entry in CONTENTS]
Opened = Callable[..., Page]
Check = Callable[[Page], None]


@pytest.mark.parametrize(("width", "light"), [("phone", "night"), ("laptop", "day")])
@pytest.mark.parametrize("name", NAMES)
def test_every_state_of_a_worksheet_fits_and_serves_everyone(
    opened: Opened,
    address: str,
    fits_and_serves_everyone: Check,
    name: str,
    width: str,
    light: str,
) -> None:
    page = opened(f"{address}/worksheets/{name}", width=width, light=light)
    fits_and_serves_everyone(page)
    page.locator("form.case button.do").click()
    expect(page.locator(".errors")).to_be_visible()
    fits_and_serves_everyone(page)
    page.get_by_role("link", name="Fill in the example").click()
    page.locator("form.case button.do").click()
    expect(page.locator(".say")).to_be_visible()
    for fold in page.locator("details.fold > summary").all():
        fold.click()
    fits_and_serves_everyone(page)


@pytest.mark.parametrize(("width", "light"), [("phone", "night"), ("laptop", "day")])
@pytest.mark.parametrize("path", ["/worksheets", "/nowhere"])
def test_lists_and_errors_fit_and_serve_everyone(
    opened: Opened,
    address: str,
    fits_and_serves_everyone: Check,
    path: str,
    width: str,
    light: str,
) -> None:
    fits_and_serves_everyone(opened(f"{address}{path}", width=width, light=light))


@pytest.mark.parametrize("scripts", [True, False], ids=["scripts", "no scripts"])
@pytest.mark.parametrize("name", NAMES)
def test_the_example_is_worked_out(opened: Opened, address: str, name: str, scripts: bool) -> None:
    worksheet = load(name)
    page = opened(f"{address}/worksheets/{name}?example=1", scripts=scripts)
    page.locator("form.case button.do").click()
    answer = worksheet.solve(read(worksheet.case, from_toml(worksheet.example)))
    expect(page.locator(".say")).to_have_text(worksheet.say(answer, "mm"))


@pytest.mark.parametrize("scripts", [True, False], ids=["scripts", "no scripts"])
def test_a_message_leads_to_its_field(opened: Opened, address: str, scripts: bool) -> None:
    page = opened(f"{address}/worksheets/sweep?example=1", scripts=scripts, width="phone")
    page.get_by_label("Largest TIR allowed").fill("5")
    page.get_by_label("Readings, row 3, Reading, in the unit above").fill("1,5")
    page.keyboard.press("Enter")
    links = page.locator(".errors a")
    expect(links).to_have_text(["Readings, row 3, reading", "Largest TIR allowed"])
    links.nth(1).click()
    field = page.get_by_label("Largest TIR allowed")
    expect(field).to_be_in_viewport()
    expect(field).to_have_value("5")
    expect(field).to_have_attribute("aria-invalid", "true")
    expect(page.locator(f"#{field.get_attribute('id')}-error")).to_contain_text(
        '"5" has no unit; write "5 thou" or "5 mm"'
    )


def test_more_rows_in_place(opened: Opened, address: str) -> None:
    """With scripts the page stays, what was typed stays, and the new row has the cursor."""
    page = opened(f"{address}/worksheets/sweep")
    page.evaluate("window.same = true")
    page.get_by_label("Largest TIR allowed").fill("typed before")
    rows = page.locator("#f-readings tbody tr")
    before = rows.count()
    page.locator("#f-readings button[name=more]").click()
    expect(rows).to_have_count(before + 3)
    assert page.evaluate("window.same")
    expect(page.get_by_label("Largest TIR allowed")).to_have_value("typed before")
    expect(rows.nth(before).locator("input").first).to_be_focused()


def test_more_rows_without_scripts(opened: Opened, address: str) -> None:
    page = opened(f"{address}/worksheets/sweep", scripts=False)
    page.get_by_label("Largest TIR allowed").fill("typed before")
    rows = page.locator("#f-readings tbody tr")
    before = rows.count()
    page.locator("#f-readings button[name=more]").click()
    expect(rows).to_have_count(before + 3)
    expect(page.get_by_label("Largest TIR allowed")).to_have_value("typed before")
    assert page.url.endswith("/worksheets/sweep#f-readings")


@pytest.mark.parametrize("scripts", [True, False], ids=["scripts", "no scripts"])
def test_a_budget_is_put_together_by_buttons(opened: Opened, address: str, scripts: bool) -> None:
    page = opened(f"{address}/worksheets/radial-budget", scripts=scripts)
    page.get_by_label("Largest TIR allowed").fill("5 thou")
    blocks = page.locator("form.case .block")
    for number, kind in enumerate(["zone", "shift", "line"], start=1):
        page.get_by_role("button", name=kind, exact=True).click()
        expect(blocks).to_have_count(number)
        blocks.last.get_by_label("Contributor").fill(f"the {kind}")
    blocks.nth(0).get_by_label("Zone").fill("4 thou")
    blocks.nth(2).get_by_label("Plus or minus").fill("1 thou")
    blocks.nth(2).get_by_label("Along").fill("90")
    blocks.nth(1).get_by_role("button", name="Take out").click()
    expect(blocks).to_have_count(2)
    expect(blocks.nth(1).get_by_label("Contributor")).to_have_value("the line")
    page.locator("form.case button.do").click()
    expect(page.locator(".say")).to_contain_text("fitter")


def test_enter_works_the_case_out(opened: Opened, address: str) -> None:
    page = opened(f"{address}/worksheets/sweep?example=1")
    page.get_by_label("Largest TIR allowed").press("Enter")
    expect(page.locator(".say")).to_be_visible()


def test_an_answer_without_a_form_leaves_the_browser_to_its_ordinary_way(
    opened: Opened, address: str
) -> None:
    page = opened(f"{address}/worksheets/sweep")
    page.get_by_label("Largest TIR allowed").fill("5 thou")
    page.route("**/worksheets/sweep", lambda route: route.fulfill(status=200, body=""), times=1)
    page.locator("#f-readings button[name=more]").click()
    expect(page.locator("#f-readings tbody tr")).to_have_count(7)
    expect(page.get_by_label("Largest TIR allowed")).to_have_value("5 thou")


def test_the_case_is_kept_and_pasted_again(opened: Opened, address: str) -> None:
    page = opened(f"{address}/worksheets/conformity?example=1")
    page.get_by_text("Case as text").click()
    with page.expect_download() as download:
        page.get_by_role("button", name="Keep as a file").click()
    assert download.value.suggested_filename == "conformity.toml"
    text = download.value.path().read_text("utf-8")
    assert from_toml(text) == from_toml(load("conformity").example)
    page.locator("textarea#text").fill(text.replace("158.012", "158.3"))
    page.locator(".as-text button.do").click()
    expect(page.locator(".say")).to_contain_text("Refuse it: 158.300 mm")


def test_the_sheet_opens_beside_the_answer(opened: Opened, address: str) -> None:
    page = opened(f"{address}/worksheets/conformity?example=1")
    page.locator("form.case button.do").click()
    with (
        page.context.expect_page() as sheet,
        page.context.expect_event(
            "response", lambda response: response.url.endswith("/pdf")
        ) as answered,
    ):
        page.get_by_role("button", name="Print this").click()
    assert answered.value.headers["content-type"] == "application/pdf"
    sheet.value.close()
    expect(page.locator(".say")).to_be_visible()


def test_the_answer_prints_with_its_folds_open_and_no_buttons(opened: Opened, address: str) -> None:
    page = opened(f"{address}/worksheets/sweep?example=1")
    page.locator("form.case button.do").click()
    page.emulate_media(media="print")
    expect(page.get_by_role("button", name="Print this")).to_be_hidden()
    expect(page.locator(".say")).to_be_visible()
    expect(page.locator(".caution").first).to_be_visible()
