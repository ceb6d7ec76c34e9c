"""The machinist's pages and the shop's page of links in a browser."""

from __future__ import annotations

import datetime
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from kitwright.books.entries import Entry
from kitwright.books.links import set_address
from kitwright.books.shop import parties
from kitwright.shop import links
from kitwright.shop.opening import open_shop
from kitwright.web.links.site import create_links_site
from kitwright.web.site import create_site

pytestmark = pytest.mark.browser

Opened = Callable[..., Page]
Check = Callable[[Page], None]

NOW = datetime.datetime(2026, 5, 4, 15, tzinfo=datetime.UTC)


@pytest.fixture(scope="module")
def doors(demo_made: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, str]]:
    """The shop's own pages, and a machinist's link."""
    from tests.browser.conftest import served

    folder = tmp_path_factory.mktemp("machinist") / "copy"
    shutil.copytree(demo_made, folder)
    owner = Entry("Owner", NOW)
    with open_shop(folder) as books:
        with books.reading() as c:
            his = parties(c, "machinist")[0].id
        link = links.give_for_machinist(books, his, entry=owner)
        for outside in served(create_links_site(books, "http://127.0.0.1", clock=lambda: NOW)):
            with books.writing() as c:
                set_address(c, outside, owner)
            for inside in served(create_site(books, clock=lambda: NOW)):
                yield inside, f"{outside}{link.path}"


@pytest.mark.parametrize(("width", "light"), [("phone", "night"), ("laptop", "day")])
@pytest.mark.parametrize("path", ["", "/batches/4", "/batches/3"])
def test_his_pages_fit_and_serve_everyone(
    opened: Opened,
    doors: tuple[str, str],
    fits_and_serves_everyone: Check,
    path: str,
    width: str,
    light: str,
) -> None:
    page = opened(f"{doors[1]}{path}", width=width, light=light)
    for fold in page.locator("details.fold > summary").all():
        fold.click()
    fits_and_serves_everyone(page)


def test_links_fit_and_serve_everyone(
    opened: Opened, doors: tuple[str, str], fits_and_serves_everyone: Check
) -> None:
    page = opened(f"{doors[0]}/links", width="phone")
    page.get_by_text("As a QR code").click()
    expect(page.locator(".qr svg")).to_be_visible()
    fits_and_serves_everyone(page)


def test_he_declares_his_axes_without_scripts(opened: Opened, doors: tuple[str, str]) -> None:
    page = opened(f"{doors[1]}/batches/4", width="phone", scripts=False)
    page.get_by_text("Your machine's axes are not declared yet").click()
    page.get_by_label("The drawing's right, +x, is").select_option("X-")
    page.get_by_label("The drawing's up, +y, is").select_option("X+")
    page.get_by_label("Who says so").fill("Turner")
    page.get_by_role("button", name="Keep my axes").click()
    expect(page.locator(".error").first).to_contain_text("lies along the same axis")
    expect(page.get_by_label("The drawing's right, +x, is")).to_have_value("X-")
    page.get_by_label("The drawing's up, +y, is").select_option("Y+")
    page.get_by_role("button", name="Keep my axes").click()
    expect(page.get_by_text("Your machine's axes: right is X-, up is Y+")).to_be_visible()
    expect(page.get_by_text("shift X by").first).to_be_visible()
