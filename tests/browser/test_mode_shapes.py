"""The moving bell: it moves, turns, is chosen by keys, and keeps still where that is asked."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Browser, Page, expect

from kitwright.worksheets.declaration import load
from kitwright.worksheets.reading import from_toml, read

pytestmark = pytest.mark.browser

Opened = Callable[..., Page]


@pytest.fixture(scope="module", autouse=True)
def solved() -> None:
    """The server of these tests runs in this process and need not solve the example again."""
    worksheet = load("modes")
    worksheet.solve(read(worksheet.case, from_toml(worksheet.example)))


PIXELS = "canvas => canvas.toDataURL()"


def answered(page: Page) -> Page:
    page.locator("form.case .actions button.do").click()
    expect(page.locator(".say")).to_be_visible(timeout=60_000)
    return page


def worked_out(opened: Opened, address: str, **how: object) -> Page:
    return answered(opened(f"{address}/worksheets/modes?example=1", **how))


def test_the_bell_moves_and_stops(opened: Opened, address: str) -> None:
    page = worked_out(opened, address)
    canvas = page.locator("mode-shapes canvas")
    expect(canvas).to_be_visible()
    expect(page.locator("mode-shapes > svg")).to_be_hidden()
    canvas.scroll_into_view_if_needed()
    first = canvas.evaluate(PIXELS)
    page.wait_for_function("first => document.querySelector('mode-shapes canvas').toDataURL() "
                           "!== first", arg=first)  # fmt: skip
    page.get_by_role("button", name="Hold it still").click()
    page.wait_for_timeout(120)
    held = canvas.evaluate(PIXELS)
    page.wait_for_timeout(250)
    assert canvas.evaluate(PIXELS) == held
    page.get_by_role("button", name="Let it move").click()
    page.wait_for_function("held => document.querySelector('mode-shapes canvas').toDataURL() "
                           "!== held", arg=held)  # fmt: skip


def test_a_shape_is_chosen_and_turned_by_keys(opened: Opened, address: str) -> None:
    page = worked_out(opened, address)
    page.get_by_role("button", name="Hold it still").click()
    canvas, shapes = page.locator("mode-shapes canvas"), page.get_by_label("Shape")
    page.wait_for_timeout(120)
    first = canvas.evaluate(PIXELS)
    shapes.focus()
    page.keyboard.press("ArrowDown")
    expect(shapes).to_have_value("1")
    expect(canvas).to_have_attribute("aria-label", "The bell moving at 729 Hz, 3 nodal diameters")
    page.wait_for_timeout(120)
    second = canvas.evaluate(PIXELS)
    assert second != first
    canvas.focus()
    page.keyboard.press("ArrowLeft")
    page.wait_for_timeout(120)
    assert canvas.evaluate(PIXELS) != second
    page.keyboard.press("ArrowRight")
    page.wait_for_timeout(120)
    assert canvas.evaluate(PIXELS) == second


def test_less_motion_where_the_system_asks(browser: Browser, address: str) -> None:
    context = browser.new_context(reduced_motion="reduce")
    page = context.new_page()
    page.goto(f"{address}/worksheets/modes?example=1")
    canvas = answered(page).locator("mode-shapes canvas")
    canvas.scroll_into_view_if_needed()
    page.wait_for_timeout(150)
    still = canvas.evaluate(PIXELS)
    page.wait_for_timeout(300)
    assert canvas.evaluate(PIXELS) == still
    assert page.get_by_role("button", name="Let it move").count() == 0
    context.close()


def test_without_scripts_the_drawing_stands(opened: Opened, address: str) -> None:
    page = worked_out(opened, address, scripts=False)
    expect(page.locator("mode-shapes > svg")).to_be_visible()
    expect(page.locator("mode-shapes canvas")).to_have_count(0)


def test_a_changed_value_brings_a_bell_that_moves(opened: Opened, address: str) -> None:
    """What if: the new answer's bell takes the old one's place and moves too."""
    page = worked_out(opened, address)
    page.get_by_label("Wall's thickness, square to it").fill("7 mm")
    expect(page.locator("section.answer .was").first).to_be_visible(timeout=60_000)
    canvas = page.locator("section.answer mode-shapes canvas")
    expect(canvas).to_have_count(1)
    canvas.scroll_into_view_if_needed()
    first = canvas.evaluate(PIXELS)
    page.wait_for_function("first => document.querySelector('section.answer mode-shapes canvas')"
                           ".toDataURL() !== first", arg=first)  # fmt: skip
