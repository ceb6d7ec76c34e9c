"""Taking an order in a browser: what can be promised stands beside the form while it is filled."""

from __future__ import annotations

import datetime
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, Route, expect

from kitwright.books import kits, promises
from kitwright.books.entries import Entry
from kitwright.shop.opening import open_shop
from kitwright.web.site import create_site

pytestmark = pytest.mark.browser

Opened = Callable[..., Page]
Check = Callable[[Page], None]

NOW = datetime.datetime(2026, 5, 4, 15, tzinfo=datetime.UTC)


@pytest.fixture
def shop(demo_made: Path, tmp_path: Path) -> Iterator[str]:
    """A demo shop of this test's own, whose steel bell is a bell alone."""
    from tests.browser.conftest import served

    shutil.copytree(demo_made, tmp_path / "copy")
    with open_shop(tmp_path / "copy") as books:
        with books.writing() as c:
            steel = next(each for each in kits.variants(c) if "steel" in each.name)
            promises.mark_loose(c, steel.id, Entry("Ines", NOW))
        yield from served(create_site(books, clock=lambda: NOW))


@pytest.mark.parametrize(("width", "light"), [("phone", "night"), ("laptop", "day")])
def test_the_promise_the_price_and_the_gate_follow_the_form(
    opened: Opened, shop: str, fits_and_serves_everyone: Check, width: str, light: str
) -> None:
    page = opened(f"{shop}/orders/new", width=width, light=light)
    quote = page.locator("#quote")
    expect(quote).to_be_hidden()
    expect(page.get_by_role("button", name="What can be promised?")).to_be_hidden()
    expect(page.get_by_label("speedometer drive")).to_have_count(2)
    expect(page.get_by_label("speedometer drive").first).to_be_hidden()
    page.get_by_label("Kit and variant").select_option(label="Heron six-speed kit, cast bell")
    expect(quote).to_contain_text("which holds with 9")
    expect(quote).to_contain_text("43 free bells on the shelf")
    expect(quote).to_contain_text("3\u202f295.00 USD")
    expect(page.get_by_label("Why all the same")).to_be_hidden()
    page.get_by_label("speedometer drive").first.check()
    expect(quote).to_contain_text("3\u202f359.00 USD")
    fits_and_serves_everyone(page)
    variant = page.get_by_label("Kit and variant")
    variant.select_option(label="Heron six-speed kit, certified steel bell")
    expect(quote).to_contain_text("none may be sold loose today")
    expect(quote).to_contain_text("3\u202f840.00 USD")
    page.get_by_label("New customer's name").fill("Gable End Garage")
    page.get_by_label("Who takes it").fill("Ines")
    page.get_by_role("button", name="Take the order").click()
    expect(page.locator("#why-error")).to_contain_text("held back for kits")
    expect(page.get_by_label("New customer's name")).to_have_value("Gable End Garage")
    fits_and_serves_everyone(page)
    page.get_by_label("Why all the same").fill("the owner's own car")
    page.get_by_role("button", name="Take the order").click()
    expect(page.locator("h1")).to_have_text("Order O-104")
    expect(page.get_by_role("status")).to_contain_text("The order is taken.")
    expect(page.locator(".route")).to_contain_text("the owner's own car")


def test_without_scripts_the_button_asks(opened: Opened, shop: str) -> None:
    page = opened(f"{shop}/orders/new", scripts=False)
    page.get_by_label("Kit and variant").select_option(label="Heron six-speed kit, cast bell")
    page.get_by_label("Order's name").fill("N-7")
    page.get_by_role("button", name="What can be promised?").click()
    expect(page.locator("#quote")).to_contain_text("which holds with 9")
    expect(page.get_by_label("Order's name")).to_have_value("N-7")


def test_a_late_answer_never_stands_beside_a_newer_choice(opened: Opened, shop: str) -> None:
    """The first answer comes after the second one: it is not shown."""
    page = opened(f"{shop}/orders/new")
    held: list[Route] = []

    def hold(route: Route) -> None:
        held.append(route)

    page.route("**/orders/quote?variant=1*", hold)
    variant = page.get_by_label("Kit and variant")
    variant.select_option(label="Heron six-speed kit, cast bell")
    page.wait_for_timeout(400)
    variant.select_option(label="Heron six-speed kit, certified steel bell")
    expect(page.locator("#quote")).to_contain_text("3\u202f840.00 USD")
    assert held
    for route in held:
        route.continue_()
    page.wait_for_timeout(400)
    expect(page.locator("#quote")).to_contain_text("3\u202f840.00 USD")
