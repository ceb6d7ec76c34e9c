"""The shop's pages in a browser: what the kit maker does in a day, on a phone and at his desk."""

from __future__ import annotations

import datetime
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from kitwright.shop.opening import open_shop
from kitwright.web.site import create_site

pytestmark = pytest.mark.browser

Opened = Callable[..., Page]
Check = Callable[[Page], None]

NOW = datetime.datetime(2026, 5, 4, 15, tzinfo=datetime.UTC)
PAGES = [
    "/", "/batches", "/batches/4", "/batches/3", "/bells/HC-0140", "/bells/HC-0101", "/fit-ups",
    "/labels?batch=4", "/labels", "/fit-ups/11", "/orders", "/kits", "/rates", "/conversions",
    "/rules", "/rules/1",
    "/stock", "/stock?at=2026-04-16", "/stock/parts/4", "/stock/crates/5", "/scan",
    "/scan?what=HC-0102", "/scan?what=P-04", "/scan?what=CR-05", "/scan?what=nothing",
    "/board", "/orders/new", "/orders/new?variant=1", "/orders/30", "/orders/29",
    "/batches/plan", "/batches/crate", "/batches/3/due", "/batches/3/back",
]  # fmt: skip


@pytest.fixture(scope="module")
def shop(demo_made: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Where a demo shop of this module's own is served."""
    from tests.browser.conftest import served

    folder = tmp_path_factory.mktemp("shop") / "copy"
    shutil.copytree(demo_made, folder)
    with open_shop(folder) as books:
        yield from served(create_site(books, clock=lambda: NOW))


@pytest.mark.parametrize(("width", "light"), [("phone", "night"), ("laptop", "day")])
@pytest.mark.parametrize("path", PAGES)
def test_every_page_fits_and_serves_everyone(
    opened: Opened, shop: str, fits_and_serves_everyone: Check, path: str, width: str, light: str
) -> None:
    page = opened(f"{shop}{path}", width=width, light=light)
    for fold in page.locator("details.fold > summary").all():
        fold.click()
    fits_and_serves_everyone(page)


def test_from_what_waits_to_a_decision(opened: Opened, shop: str) -> None:
    page = opened(shop, scripts=False)
    page.get_by_role("link", name="Batch B-04").click()
    expect(page.locator(".say")).to_contain_text("4 rejected")
    page.get_by_role("link", name="HC-0107").click()
    page.get_by_label("scrap: for good").check()
    page.get_by_label("Who decides").fill("Ines")
    page.get_by_role("button", name="Write the decision down").click()
    expect(page.locator(".errors")).to_contain_text("needs a reason")
    expect(page.get_by_label("scrap: for good")).to_be_checked()
    expect(page.get_by_label("Who decides")).to_have_value("Ines")
    page.get_by_label("Reason").fill("bore far off")
    page.get_by_role("button", name="Write the decision down").click()
    expect(page.locator(".say")).to_contain_text("Scrapped, in the scrap")
    expect(page.locator(".route li").first).to_contain_text("in the scrap")


def test_a_fitters_sweep_on_a_phone(
    opened: Opened, shop: str, fits_and_serves_everyone: Check
) -> None:
    page = opened(f"{shop}/fit-ups/11", width="phone")
    page.get_by_label("12 o'clock, 0°").fill("0")
    page.get_by_label("3 o'clock, 90°").fill("1,5")
    page.get_by_label("6 o'clock, 180°").fill("-2")
    page.get_by_label("9 o'clock, 270°").fill("-0.5")
    page.get_by_label("Who read the dial").fill("Sam")
    page.get_by_role("button", name="Work it out and keep it").click()
    expect(page.locator("#reading_90-error")).to_contain_text("write a decimal point")
    expect(page.get_by_label("9 o'clock, 270°")).to_have_value("-0.5")
    fits_and_serves_everyone(page)
    page.get_by_label("3 o'clock, 90°").fill("-1.5")
    page.get_by_role("button", name="Work it out and keep it").click()
    expect(page.locator(".say").first).to_contain_text("Leave it")


def test_an_inspection_is_imported(opened: Opened, shop: str, tmp_path: Path) -> None:
    page = opened(f"{shop}/batches/4", width="phone")
    bad = tmp_path / "bells.csv"
    bad.write_text("serial,bore x [mm]\nHC-0140,wide\n")
    page.get_by_label("File").set_input_files(bad)
    page.get_by_label("Measured with").fill("height gauge")
    page.get_by_label("Who hands it in").fill("Pell")
    page.get_by_role("button", name="Import and decide").click()
    expect(page.locator(".errors").first).to_contain_text('"wide"')
    expect(page.get_by_label("Measured with")).to_have_value("height gauge")


def test_the_papers_open(opened: Opened, shop: str) -> None:
    page = opened(f"{shop}/bells/HC-0101")
    answer = page.request.get(f"{shop}/bells/HC-0101/certificate.pdf")
    assert answer.headers["content-type"] == "application/pdf"


def test_the_light_is_switched_and_kept(opened: Opened, shop: str) -> None:
    page = opened(shop)
    day = page.evaluate("getComputedStyle(document.documentElement).backgroundColor")
    page.get_by_role("button", name="Night light").click()
    night = page.evaluate("getComputedStyle(document.documentElement).backgroundColor")
    assert night != day
    page.get_by_role("link", name="Batches").first.click()
    kept = page.evaluate("getComputedStyle(document.documentElement).backgroundColor")
    assert kept == night


def test_a_scanner_types_and_a_tap_moves(
    opened: Opened, shop: str, fits_and_serves_everyone: Check
) -> None:
    """A scanner types where the cursor is and ends with Enter, whatever stood there."""
    page = opened(f"{shop}/scan", width="phone")
    page.keyboard.type("nothing")
    page.keyboard.press("Enter")
    expect(page.locator("#what-error")).to_contain_text("there is no bell, crate or part")
    page.keyboard.type("http://shop.test/stock/parts/6")
    page.keyboard.press("Enter")
    expect(page.locator("#found")).to_have_text("Part P-06")
    page.get_by_label("How many").fill("4")
    page.get_by_label("Who", exact=True).fill("Ines")
    page.get_by_label("How many").press("Enter")  # which chooses no move by itself
    expect(page.locator(".errors")).to_contain_text("tap one of the moves")
    expect(page.get_by_label("How many")).to_have_value("4")
    fits_and_serves_everyone(page)
    page.get_by_role("button", name="Receive from Sorrel Dyke Pressings").click()
    expect(page.locator(".say")).to_contain_text("4 on the shelf")
    page.locator("summary", has_text="Undo it").click()
    page.get_by_label("Why it is undone").fill("for next door")
    page.get_by_role("button", name="Move it back").click()
    expect(page.locator(".say")).to_contain_text("0 on the shelf")
    page.keyboard.type("hs-0007")
    page.keyboard.press("Enter")
    page.get_by_role("button", name="To the shelf").click()
    expect(page.locator(".say")).to_have_text("On the shelf.")


def test_moves_without_scripts(opened: Opened, shop: str) -> None:
    page = opened(f"{shop}/scan?what=CR-03", width="phone", scripts=False)
    page.get_by_label("How many").fill("1")
    page.get_by_label("Who", exact=True).fill("Ines")
    page.get_by_role("button", name="Scrap").click()
    expect(page.locator("#why-error")).to_contain_text("scrap needs a reason")
    page.get_by_label("Reason").fill("cold shut")
    page.get_by_role("button", name="Scrap").click()
    expect(page.locator(".say")).to_have_text("1 of 8 on the floor.")
