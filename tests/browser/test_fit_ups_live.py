"""A fit-up followed at the shop while its fitter works: two browsers, one on each door."""

from __future__ import annotations

import datetime
import math
import re
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect
from tests.browser.conftest import served

from kitwright.books import fitup_talk
from kitwright.books.entries import Entry
from kitwright.books.links import Link, set_address
from kitwright.books.opening import Books
from kitwright.shop import fitups as shop_fitups
from kitwright.shop import links as giving
from kitwright.shop import send_keys
from kitwright.shop.fitting import Item, receive
from kitwright.shop.opening import open_shop
from kitwright.web.links.site import create_links_site
from kitwright.web.site import create_site

pytestmark = pytest.mark.browser

Opened = Callable[..., Page]
Check = Callable[[Page], None]

NOW = datetime.datetime(2026, 5, 5, 9, tzinfo=datetime.UTC)
OWNER = Entry("Ines", datetime.datetime(2026, 5, 4, 16, tzinfo=datetime.UTC))
POLL_MS = 15_000
PHONE_POLL_MS = 20_000
TYPED = ("before", "dowels-out", "verdict", "bore-again", "gap", "result")
"""One stage of each kind of form."""
EIGHT = [*range(0, 360, 45), 360]


@dataclass
class Doors:
    """A fresh fit-up, the shop's own pages, and the fitter's link."""

    books: Books
    number: int
    link: Link
    inside: str
    outside: str

    @property
    def here(self) -> str:
        return f"{self.inside}/fit-ups/{self.number}"

    def send(self, stage: str, **values: Any) -> str:
        key = send_keys.stock(self.link.token, 1)[0]
        values = values if "undoes" in values else {"unit": "thou", **values}
        receive(self.books, self.link, Item(send_key=key, stage=stage, values=values), now=NOW)
        return key

    def sweep(self, stage: str, x_thou: float, y_thou: float) -> str:
        turns = [math.radians(clock) for clock in EIGHT]
        texts = [
            f"{round(2 * (y_thou - x_thou * math.sin(t) - y_thou * math.cos(t))) / 2:g}"
            for t in turns
        ]
        read = [list(pair) for pair in zip(EIGHT, texts, strict=True)]
        return self.send(stage, graduation="0.5", readings=read)


@pytest.fixture
def doors(demo_made: Path, tmp_path: Path) -> Iterator[Doors]:
    folder = tmp_path / "copy"
    shutil.copytree(demo_made, folder)
    with open_shop(folder) as books:
        number = shop_fitups.open_for_order(books, 20, fitter="Sam", block="new", entry=OWNER)
        link = giving.give_for_fit_up(books, number, entry=OWNER)
        for outside in served(create_links_site(books, "http://127.0.0.1", clock=lambda: NOW)):
            with books.writing() as connection:
                set_address(connection, outside, OWNER)
            for inside in served(create_site(books, clock=lambda: NOW)):
                yield Doors(books, number, link, inside, f"{outside}{link.path}")


def followed(opened: Opened, address: str, **how: Any) -> Page:
    """A page of the shop's under a clock that the test turns on."""
    page = opened("about:blank", **how)
    page.clock.install()
    page.goto(address)
    return page


def test_the_shop_sees_a_step_within_one_poll_and_its_note_reaches_the_phone(
    opened: Opened, doors: Doors
) -> None:
    shop = followed(opened, doors.here)
    phone = followed(opened, doors.outside, width="phone")
    expect(phone.locator("html")).to_have_attribute("data-ready", "yes")
    expect(shop.locator("#stands")).to_contain_text("the first sweep")
    note = shop.get_by_label("Note to the fitter")
    note.fill("Use the 7 tho")

    for tick in phone.locator("#stage-before input[type=checkbox]").all():
        tick.check()
    phone.get_by_role("button", name="Done: send it").click()
    expect(phone.locator("[data-line-state]")).to_have_text("all sent")
    shop.wait_for_timeout(300)
    step = shop.locator("#written > li").first
    expect(step).not_to_contain_text("Sam")  # nothing moves before its time
    shop.clock.run_for(POLL_MS)
    expect(step).to_contain_text("I have the makers' figures at hand: yes")
    expect(step.locator(".state")).to_have_text("done")
    expect(shop.locator("#stands")).to_contain_text("1 of 14 steps done")

    # what was typed stands, where it was typed
    expect(note).to_have_value("Use the 7 tho")
    expect(note).to_be_focused()
    note.press_sequentially("u dowels.")
    shop.get_by_label("Who writes").fill("Ines")
    shop.get_by_role("button", name="Send the note").click()
    expect(shop.locator("#talk .note.shop")).to_contain_text("Use the 7 thou dowels.")
    phone.clock.run_for(PHONE_POLL_MS)
    expect(phone.locator("[data-notice]")).to_contain_text("The shop wrote to you")
    phone.get_by_role("button", name="Read it").click()
    expect(phone.locator("[data-notes] .note.shop")).to_contain_text("Use the 7 thou dowels.")


def test_a_note_of_the_fitters_turns_the_list_over(opened: Opened, doors: Doors) -> None:
    shop = followed(opened, f"{doors.inside}/fit-ups")
    row = re.compile(f"Fit-up {doors.number}, bell")
    expect(shop.locator("#of-fitter li").filter(has_text=row)).to_have_count(1)
    expect(shop.locator("#of-shop")).to_contain_text("Nothing waits for you")
    shop.get_by_label("Who opens it").fill("Ine")
    bell = shop.locator("#of-fitter").get_by_role("link", name="HC-0101")
    bell.focus()
    doors.send("note", said="May I go on?", at="bore")
    shop.clock.run_for(POLL_MS)
    waits = shop.locator("#of-shop li").filter(has_text=row)
    expect(waits).to_contain_text("answer the fitter: “Sweep the bore: May I go on?”")
    expect(shop.locator("#of-fitter li").filter(has_text=row)).to_have_count(0)
    expect(shop.get_by_label("Who opens it")).to_have_value("Ine")
    expect(bell).to_be_focused()


def test_an_answer_moves_in_and_what_was_opened_stays_open(opened: Opened, doors: Doors) -> None:
    shop = followed(opened, doors.here)
    doors.sweep("bore", 4, 2)
    shop.clock.run_for(POLL_MS)
    expect(shop.locator("#advice .say").first).to_contain_text("Move it 4.4 thou toward 8")
    size, slot = shop.get_by_label("Dowel a", exact=True), shop.get_by_label("Slot a, degrees")
    expect(size).to_have_value("0.007 in")  # the form is filled as it is advised now
    filled = slot.input_value()
    assert filled.isdigit()
    shop.get_by_text("Figures of the sweep").click()
    slot.fill("95")
    key = doors.sweep("bore", -6, 3)
    shop.clock.run_for(POLL_MS)
    expect(shop.locator("#advice .say").first).to_contain_text("toward 4 o'clock")
    expect(shop.locator("#advice details").first).to_have_attribute("open", "")
    expect(slot).to_have_value("95")  # somebody typed there
    doors.send("bore", undoes=key)
    shop.clock.run_for(POLL_MS)
    struck = shop.locator("#written del")
    expect(struck).to_have_count(1)
    expect(struck).to_contain_text("Readings, thou")
    expect(shop.locator("#written")).to_contain_text("taken back later")
    expect(shop.locator("#happened")).to_contain_text("taken back")


def test_a_page_that_is_not_looked_at_asks_nothing(opened: Opened, doors: Doors) -> None:
    shop = followed(opened, doors.here)
    asked: list[str] = []
    shop.on(
        "request",
        lambda request: asked.append(request.url) if request.resource_type == "fetch" else None,
    )
    shop.evaluate(
        "Object.defineProperty(document, 'visibilityState', {get: () => window.seen || 'hidden'})"
    )
    shop.clock.run_for(3 * POLL_MS)
    assert asked == []
    shop.evaluate("window.seen = 'visible'")
    with shop.expect_response("**/version"):
        shop.clock.run_for(POLL_MS)
    shop.wait_for_timeout(300)
    assert asked == [f"{doors.here}/version"], "nothing is new, so nothing is loaded"


@pytest.mark.parametrize(("width", "light"), [("phone", "night"), ("laptop", "day")])
def test_its_pages_fit_and_serve_everyone(
    opened: Opened, doors: Doors, fits_and_serves_everyone: Check, width: str, light: str
) -> None:
    doors.send("dowels-out", a="hole", b="sound", seen="oval, by eye " * 8)
    key = doors.sweep("bore", 2, 2)
    doors.send("bore", undoes=key)
    doors.sweep("bore", 6, 3)
    doors.send("note", said="What now? " * 12, at="dowels-out")
    with doors.books.writing() as connection:
        fitup_talk.add_note(
            connection, doors.number, "shop", "Wait.", send_key="w", entry=Entry("Ines", NOW)
        )
    addresses = [doors.here, f"{doors.inside}/fit-ups", f"{doors.inside}/links"]
    addresses += [f"{doors.here}/paper/{name}" for name in TYPED]
    page = opened(addresses[0], width=width, light=light)
    for address in addresses:
        page.goto(address)
        page.evaluate("document.querySelectorAll('details.fold').forEach((f) => (f.open = true))")
        fits_and_serves_everyone(page)


def test_without_scripts_everything_can_be_done(
    opened: Opened, doors: Doors, fits_and_serves_everyone: Check
) -> None:
    page = opened(doors.here, width="phone", scripts=False)
    expect(page.locator(".qr svg")).to_be_visible()
    expect(page.get_by_role("button", name="Copy the address")).to_be_hidden()
    page.locator("summary").filter(has_text="Withdraw it").click()
    page.get_by_label("Who withdraws it").fill("Ines")
    page.get_by_role("button", name="Withdraw it").click()
    expect(page.locator(".errors")).to_contain_text("why: missing")
    page.get_by_label("Why").fill("phone lost")
    page.get_by_role("button", name="Withdraw it").click()
    expect(page.locator("body")).to_contain_text("withdrawn 2026-05-05, phone lost")
    page.get_by_label("Who gives it").fill("Ines")
    page.get_by_role("button", name="Give the fitter a link").click()
    expect(page.locator(".given .address")).to_contain_text("/f/")
    expect(page.locator(".given .address")).not_to_contain_text(doors.link.token)

    page.get_by_role("link", name="Type in what he wrote on paper").click()
    for words in ("The car is on its stands", "The battery's cable", "I have the makers' figures"):
        page.get_by_label(words).check()
    page.get_by_label("Who types it in").first.fill("Ines")
    page.get_by_role("button", name="Keep this step").click()
    expect(page.locator("#serial-error")).to_contain_text("not ticked")
    expect(page.get_by_label("The battery's cable")).to_be_checked()
    fits = page.locator("#step h2").first
    expect(fits).to_contain_text("Before you start")
    page.get_by_label("The bell carries the serial").check()
    page.get_by_role("button", name="Keep this step").click()
    expect(fits).to_contain_text("dowels")
    expect(page.get_by_role("navigation").get_by_role("listitem").first).to_contain_text("done")


def test_the_address_is_copied(opened: Opened, doors: Doors) -> None:
    page = opened(doors.here)
    page.context.grant_permissions(["clipboard-read", "clipboard-write"])
    page.get_by_role("button", name="Copy the address").click()
    expect(page.get_by_role("button", name="Copied")).to_be_visible()
    assert page.evaluate("navigator.clipboard.readText()") == doors.outside
