"""What if, in a browser: the answer moves as a value is changed, and nothing else does."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, Route, expect

from kitwright.worksheets.declaration import load
from kitwright.worksheets.reading import from_toml, read

pytestmark = pytest.mark.browser

Opened = Callable[..., Page]
Check = Callable[[Page], None]

WIDTHS = pytest.mark.parametrize(("width", "light"), [("phone", "night"), ("laptop", "day")])
NAME = "radial-budget"


CASE = """
limit = "5 thou"
dowel_a = ["-170 mm", "-20 mm"]
dowel_b = ["170 mm", "-20 mm"]
[[contributors]]
name = "bore to the bell's dowel holes"
kind = "zone"
zone = "2 thou"
[[contributors]]
name = "block's dowel hole a"
kind = "zone"
where = "dowel-a"
zone = "3 thou"
[[contributors]]
name = "line-honed mains"
kind = "shift"
size = "1 thou"
clock_deg = 180
"""


def sentence(text: str) -> str:
    worksheet = load(NAME)
    return worksheet.say(worksheet.solve(read(worksheet.case, from_toml(text))), "mm")


@pytest.fixture(scope="module")
def first() -> str:
    return sentence(CASE)


@pytest.fixture(scope="module")
def then() -> str:
    """What it is with 9 thou for the second zone."""
    return sentence(CASE.replace('"3 thou"', '"9 thou"'))


def answered(opened: Opened, address: str, **how: str) -> Page:
    page = opened(f"{address}/worksheets/{NAME}", **how)
    page.get_by_text("Case as text").click()
    page.locator("textarea#text").fill(CASE)
    page.locator(".as-text button.do").click()
    expect(page.locator(".what-if")).to_be_visible()
    page.evaluate("window.same = true")
    return page


@WIDTHS
def test_a_zone_is_changed_and_the_answer_moves(
    opened: Opened,
    address: str,
    fits_and_serves_everyone: Check,
    first: str,
    then: str,
    width: str,
    light: str,
) -> None:
    page = answered(opened, address, width=width, light=light)
    zone = page.locator("form.case .block").nth(1).get_by_label("Zone")
    zone.scroll_into_view_if_needed()
    zone.fill("9 thous")
    expect(page.locator(".what-if .held")).to_be_visible()
    where = zone.bounding_box()
    zone.press("Backspace")
    expect(page.locator(".what-if .now")).to_have_text(then)
    expect(page.locator("section.answer .say")).to_have_text(then)
    expect(page.locator(".what-if .was")).to_have_text(f"Before: {first}")
    expect(page.locator("section.answer > .was")).to_have_text(f"Before: {first}")
    assert page.evaluate("window.same")  # no page was loaded
    expect(zone).to_be_focused()
    assert zone.evaluate("field => field.selectionStart") == len("9 thou")
    now_at = zone.bounding_box()
    assert where
    assert now_at
    assert abs(where["y"] - now_at["y"]) < 2, "the field jumped"
    described = page.locator("section.answer figure desc").first
    expect(described).to_contain_text("block's dowel hole a: ")
    expect(described).to_contain_text(", now ")
    fits_and_serves_everyone(page)


@WIDTHS
def test_a_bad_value_has_its_message_and_the_last_answer_stays(
    opened: Opened,
    address: str,
    fits_and_serves_everyone: Check,
    then: str,
    width: str,
    light: str,
) -> None:
    page = answered(opened, address, width=width, light=light)
    zone = page.locator("form.case .block").nth(1).get_by_label("Zone")
    zone.fill("9 thou")
    expect(page.locator(".what-if .now")).to_have_text(then)
    zone.press("End")
    zone.press_sequentially("x")
    message = page.locator("form.case .error")
    expect(message).to_contain_text('"9 thoux" has the unknown unit "thoux"')
    expect(zone).to_have_attribute("aria-invalid", "true")
    assert message.get_attribute("id") in (zone.get_attribute("aria-describedby") or "").split()
    expect(zone).to_be_focused()
    assert zone.input_value() == "9 thoux"
    expect(page.locator(".what-if .held")).to_contain_text("This answer is of before that")
    expect(page.locator("section.answer > .held")).to_contain_text("Mend what is marked")
    expect(page.locator("section.answer .say")).to_have_text(then)
    fits_and_serves_everyone(page)
    zone.press("Backspace")
    expect(message).to_have_count(0)
    expect(page.locator(".held:visible")).to_have_count(0)
    assert zone.get_attribute("aria-invalid") is None
    assert zone.get_attribute("aria-describedby") is None


@WIDTHS
def test_back_to_what_it_was(
    opened: Opened, address: str, first: str, then: str, width: str, light: str
) -> None:
    page = answered(opened, address, width=width, light=light)
    blocks = page.locator("form.case .block")
    count = blocks.count()
    text = page.locator("textarea#text")
    kept = text.input_value()
    blocks.nth(1).get_by_label("Zone").fill("9 thou")
    expect(page.locator(".what-if .now")).to_have_text(then)
    assert from_toml(text.input_value())["contributors"][1]["zone"] == "9 thou"
    blocks.last.get_by_role("button", name="Take out").click()
    expect(blocks).to_have_count(count - 1)
    expect(page.locator("section.answer figure desc").first).to_contain_text("now taken out")
    page.locator(".what-if").get_by_role("button", name="Back to what it was").click()
    expect(page.locator("section.answer .say")).to_have_text(first)
    expect(page.locator("section.answer > .was")).to_have_count(0)
    expect(blocks).to_have_count(count)
    expect(blocks.nth(1).get_by_label("Zone")).to_have_value("3 thou")
    expect(text).to_have_value(kept)
    expect(page.locator(".what-if")).to_be_focused()
    assert page.evaluate("window.same")
    blocks.nth(1).get_by_label("Zone").fill("9 thou")  # and it goes on from there
    expect(page.locator("section.answer .say")).to_have_text(then)


def test_a_new_contributor_is_not_nagged_about_before_it_is_filled_in(
    opened: Opened, address: str
) -> None:
    page = answered(opened, address)
    page.get_by_role("button", name="shift", exact=True).click()
    block = page.locator("form.case .block").last
    block.get_by_label("Contributor").fill("a worn jig")
    expect(page.locator(".what-if .held")).to_contain_text("Something is still to fill in.")
    expect(page.locator("form.case .error")).to_have_count(0)
    block.get_by_label("Size").fill("2 thou")
    block.get_by_label("Toward").fill("180")
    expect(page.locator(".what-if .held")).to_be_hidden()
    described = page.locator("section.answer figure desc").first
    expect(described).to_contain_text("a worn jig: was not there, now ")


def test_the_latest_change_wins(opened: Opened, address: str, then: str) -> None:
    """An answer that is late, to a value that was typed over, is not shown."""
    page = answered(opened, address)
    asked = []

    def late(route: Route) -> None:
        asked.append(route.request.post_data or "")
        if len(asked) == 1:
            return  # never answered
        route.continue_()

    page.route(f"**/worksheets/{NAME}", late)
    zone = page.locator("form.case .block").nth(1).get_by_label("Zone")
    with page.expect_event("requestfailed"):  # given up by the next change
        zone.fill("4 thou")
        page.wait_for_timeout(400)
        zone.fill("9 thou")
    expect(page.locator(".what-if .now")).to_have_text(then)
    assert ["4+thou" in body for body in asked] == [True, False]


def test_no_answer_is_said_and_the_form_still_works(
    opened: Opened, address: str, then: str
) -> None:
    page = answered(opened, address)
    page.route(f"**/worksheets/{NAME}", lambda route: route.fulfill(body=""), times=1)
    zone = page.locator("form.case .block").nth(1).get_by_label("Zone")
    zone.fill("9 thou")
    expect(page.locator(".what-if .held")).to_contain_text("no answer came")
    page.locator("form.case button.do").click()
    expect(page.locator("section.answer .say")).to_have_text(then)
    expect(page.locator("section.answer > .was")).to_have_count(0)


def test_a_value_put_back_by_hand_is_what_it_was(opened: Opened, address: str, first: str) -> None:
    page = answered(opened, address)
    zone = page.locator("form.case .block").nth(1).get_by_label("Zone")
    zone.fill("2 thou")
    expect(page.locator("section.answer > .was")).to_be_visible()
    zone.fill("3 thou")
    expect(page.locator("section.answer > .was")).to_have_count(0)
    expect(page.locator(".what-if .now")).to_have_text(f"As it was: {first}")
    expect(zone).to_be_focused()


@pytest.mark.parametrize("name", ["sweep", "dowels", "conformity"])
def test_every_worksheet_moves(opened: Opened, address: str, name: str) -> None:
    page = opened(f"{address}/worksheets/{name}?example=1")
    page.locator("form.case button.do").click()
    expect(page.locator(".what-if")).to_be_visible()
    before = page.locator("section.answer .say").text_content()
    label = "Measured value" if name == "conformity" else "Largest TIR allowed"
    page.get_by_label(label).first.fill("900 mm")
    expect(page.locator("section.answer > .was")).to_contain_text(f"Before: {before}")
    expect(page.locator("section.answer .say")).not_to_have_text(before or "")


def test_without_scripts_nothing_moves(opened: Opened, address: str) -> None:
    page = opened(f"{address}/worksheets/{NAME}?example=1", scripts=False)
    page.locator("form.case button.do").click()
    expect(page.locator("section.answer .say")).to_be_visible()
    expect(page.locator(".what-if")).to_be_hidden()
    page.locator("form.case .block").nth(1).get_by_label("Zone").fill("9 thou")
    page.locator("form.case button.do").click()
    expect(page.locator("section.answer > .was")).to_have_count(0)
