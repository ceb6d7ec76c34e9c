"""The fitter's page on a phone: a whole fit-up with the line cut, and every step looked at.

The page is opened under a mapped host name on plain http, as a phone in a garage has it; under
localhost a browser allows much that is not there.
"""

from __future__ import annotations

import datetime
import math
import re
import shutil
import socket
import threading
import time
import urllib.request
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
import uvicorn
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import (
    Browser,
    BrowserContext,
    Locator,
    Page,
    Route,
    expect,
)
from tests.browser.conftest import ARGUMENTS

from kitwright.books import fitup_talk, fitups
from kitwright.books import links as shop_links
from kitwright.books.entries import Entry
from kitwright.books.opening import Books
from kitwright.books.verifying import verify
from kitwright.shop import fitups as shop_fitups
from kitwright.shop import links as giving
from kitwright.shop import send_keys
from kitwright.shop.fitting import Item, receive
from kitwright.shop.fitup_stages import STAGES
from kitwright.shop.opening import open_shop
from kitwright.web.links.site import create_links_site

pytestmark = pytest.mark.browser

WHO = Entry(who="Owner", recorded=datetime.datetime(2026, 5, 4, 12, tzinfo=datetime.UTC))
NOT_OVER_HTTP = re.compile("Cross-Origin-Opener-Policy header has been ignored")
OFF = (0.16, 0.09)  # mm to the right and up: 14.5 thou TIR
PLACES = [*range(0, 360, 45), 360]


@dataclass
class Garage:
    """The shop's server as a garage reaches it, which can be stopped and started again."""

    books: Books
    number: int
    port: int
    token: str = ""
    server: uvicorn.Server | None = None
    thread: threading.Thread | None = None
    wrong: list[str] = field(default_factory=list)

    @property
    def base(self) -> str:
        return f"http://garage.test:{self.port}"

    @property
    def address(self) -> str:
        return f"{self.base}/f/{self.token}"

    def start(self) -> None:
        app = create_links_site(self.books, self.base)
        listening = socket.create_server(("127.0.0.1", self.port))
        config = uvicorn.Config(app, log_level="warning", access_log=False, lifespan="off")
        self.server = uvicorn.Server(config)
        self.thread = threading.Thread(
            target=self.server.run, kwargs={"sockets": [listening]}, daemon=True
        )
        self.thread.start()
        while not self.server.started:
            assert self.thread.is_alive()
            time.sleep(0.01)

    def stop(self) -> None:
        if self.server is not None and self.thread is not None:
            self.server.should_exit = True
            self.server.force_exit = True
            self.thread.join(timeout=10)
        self.server = None

    def records(self) -> list[fitup_talk.Record]:
        with self.books.reading() as connection:
            return fitup_talk.all_records_of(connection, self.number)


@pytest.fixture(scope="module")
def mapped(launched: Callable[..., Browser]) -> Iterator[Browser]:
    """A browser for which garage.test is this machine, under a name that is not localhost."""
    chromium = launched(*ARGUMENTS, "--host-resolver-rules=MAP garage.test 127.0.0.1")
    yield chromium
    chromium.close()


@pytest.fixture
def garage(demo_made: Path, tmp_path: Path) -> Iterator[Garage]:
    """A fresh fit-up with a link, and its server running."""
    folder = tmp_path / "shop"
    shutil.copytree(demo_made, folder)
    with open_shop(folder) as books, socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
        number = shop_fitups.open_for_order(books, 20, fitter="Sam", block="new", entry=WHO)
        found = Garage(books, number, port)
        now = datetime.datetime.now(datetime.UTC)
        found.token = giving.give_for_fit_up(books, number, entry=Entry("Owner", now)).token
        free.close()
        found.start()
        yield found
        found.stop()
        assert not found.wrong


@dataclass
class Phone:
    """A phone with the page open: what a thumb does on it."""

    page: Page
    garage: Garage

    @property
    def do(self) -> Locator:
        return self.page.locator("[data-do]")

    def step(self, title: str) -> None:
        expect(self.page.locator("section.stage:visible h1")).to_have_text(title)

    def tap(self, words: str, *, twice: bool = False) -> None:
        expect(self.do).to_have_text(words)
        self.page.evaluate("quietUntil = 0")  # the page is deaf for a moment after it has moved
        self.do.dblclick() if twice else self.do.click()

    def sent(self) -> None:
        expect(self.page.locator("[data-line-state]")).to_have_text("all sent", timeout=15_000)

    def read(self, stage: str, values: list[str]) -> None:
        """Read the dial all round."""
        box = self.page.locator(f"#stage-{stage} [data-reading]")
        self.page.evaluate("quietUntil = 0")
        for index, value in enumerate(values):
            box.fill(value)
            if index < len(values) - 1:
                self.do.click()

    def done(self, ticks: int, figure: bool = False) -> None:
        section = self.page.locator("section.stage:visible")
        for tick in section.locator("input[type=checkbox]").all()[:ticks]:
            tick.check()
        if figure:
            section.get_by_label("The maker's figure").fill("as on sheet 4")
        self.tap("Done: send it")


@pytest.fixture
def phone(mapped: Browser, garage: Garage) -> Iterator[Callable[..., Phone]]:
    """Open the page on a phone of 390 by 844."""
    contexts: list[BrowserContext] = []

    def opened(light: str = "light") -> Phone:
        context = mapped.new_context(
            viewport={"width": 390, "height": 844}, color_scheme=light, has_touch=True
        )
        contexts.append(context)
        context.set_default_timeout(10_000)
        page = context.new_page()
        page.on("pageerror", lambda error: garage.wrong.append(str(error)))
        page.on(
            "console",
            lambda message: (
                garage.wrong.append(message.text)
                if message.type in ("error", "warning")
                and not NOT_OVER_HTTP.search(message.text)
                and "Failed to load resource" not in message.text
                else None
            ),
        )
        page.goto(garage.address)
        expect(page.locator("html")).to_have_attribute("data-ready", "yes")
        return Phone(page, garage)

    yield opened
    for context in contexts:
        context.close()


def readings(x_mm: float, y_mm: float) -> list[str]:
    """What a dial of half a thou shows round a bore that is off by so much."""
    angles = [math.radians(place) for place in PLACES]
    first = y_mm
    return [
        f"{round((first - x_mm * math.sin(t) - y_mm * math.cos(t)) / 0.0254 * 2) / 2:g}"
        for t in angles
    ]


def test_a_whole_fit_up_with_the_line_cut_in_the_middle(
    phone: Callable[..., Phone], garage: Garage
) -> None:
    one = phone()
    page = one.page

    # before you start: what is missing is said at once; two quick taps are one item
    one.step("Before you start")
    one.tap("Done: send it")
    expect(page.locator("#stage-before .error:visible").first).to_contain_text("not ticked")
    for tick in page.locator("#stage-before input[type=checkbox]").all():
        tick.check()
    one.tap("Done: send it", twice=True)
    one.tap("Next: Block's dowels")
    one.step("Block's dowels")
    page.get_by_role("group", name="Dowel a").get_by_text("sound, stays in").click()
    page.get_by_role("group", name="Dowel b").get_by_text("sound, stays in").click()
    one.tap("Done: send it")
    one.tap("Next: Bell on, and its bolts")
    one.sent()

    # the line goes; a step and a sweep are typed and kept
    garage.stop()
    one.step("Bell on, and its bolts")
    one.done(2, figure=True)
    expect(page.locator("[data-line-state]")).to_contain_text("kept here")
    one.tap("Next: Sweep the bore")
    one.step("Sweep the bore")
    one.tap("To the dial")
    page.get_by_role("button", name="0.5 thou").click()
    one.tap("This is my dial")
    swept = readings(*OFF)
    one.read("bore", swept[:4])

    # the page is opened anew without a line: everything is there, also half a sweep
    page.goto("about:blank")
    page.goto(garage.address + "#bore/dial")
    expect(page.locator("html")).to_have_attribute("data-ready", "yes")
    expect(page.locator("[data-line-state]")).to_contain_text("1 kept here")
    for clock, value in zip((45, 90, 135), swept[1:4], strict=True):
        words = value.replace("-", "−") if value.startswith("-") else f"+{value}"
        expect(page.locator(f"#stage-bore .at-{clock} span")).to_have_text(words)
    expect(page.locator("#stage-bore [data-reading]")).to_have_value(swept[3].replace("-", "−"))
    one.tap("Next place: 6")
    one.read("bore", swept[4:])
    one.tap("Send 9 readings", twice=True)
    swing = max(map(float, swept)) - min(map(float, swept))
    expect(page.locator("#stage-bore .waiting")).to_contain_text(
        f"As read: TIR {swing:g} thou, half of it {swing / 2:g} thou. Not yet judged."
    )
    expect(page.locator("[data-line-state]")).to_contain_text("2 kept here")
    page.get_by_role("button", name="Shop").click()
    page.get_by_label("Note to the shop").fill("Line is bad here.")
    page.evaluate("quietUntil = 0")
    page.get_by_role("button", name="Send the note").dblclick()
    expect(page.locator("[data-line-state]")).to_contain_text("3 kept here")
    assert len(garage.records()) == 2

    # it comes back: all of it is sent, in order, and the answer is there
    garage.start()
    page.evaluate("window.dispatchEvent(new Event('online'))")
    one.sent()
    one.tap("Back to the step")
    expect(page.locator("#stage-bore .say")).to_contain_text("Move it 7")
    expect(page.locator("#stage-bore svg").first).to_be_visible()

    # the face, then the dowels as advised, and the sweep that proves them
    one.tap("Next: Sweep the face")
    one.step("Sweep the face")
    page.get_by_label("From the crank's middle to the dial's tip").fill("3,1")
    one.tap("To the dial")
    one.read("face", ["0", ".5", ".5", ".5", "0", "0", "-.5", "0", "0"])
    one.tap("Send 9 readings")
    one.tap("Next: Turn the dowels")
    one.step("Turn the dowels")
    expect(page.locator("#stage-dowels .say")).to_contain_text("thou dowel")
    expect(page.locator("#dowels-a_size")).not_to_have_value("plain")
    page.get_by_role("button", name="+5°").first.click()
    slot = int(page.locator("#dowels-a_clock_deg").input_value())
    one.tap("Send what is in", twice=True)
    one.tap("Next: Sweep the bore again")
    one.step("Sweep the bore again")
    one.tap("To the dial")
    one.read("bore-again", ["0", "0", ".5", ".5", "0", "0", "0", "0", "0"])
    one.tap("Send 9 readings")
    expect(page.locator("#stage-bore-again .say")).to_contain_text("Leave it")

    # the rest, up to the result
    one.tap("Next: Clutch")
    one.step("Clutch")
    one.done(2, figure=True)
    one.tap("Next: Release gap")
    one.step("Release gap")
    for box, value in (("fingers", "2.72"), ("bearing", "2.56")):
        boxes = page.locator(f"#stage-gap [name=face_to_{box}]")
        for index in range(3):
            boxes.nth(index).fill(value)
    one.tap("Done: send it")
    expect(page.locator("#stage-gap .say")).to_contain_text("No shims")
    one.tap("Next: Pilot engagement")
    one.step("Pilot engagement")
    for name, value in (("pilot", "6.1"), ("bottom", "7.2"), ("tip", "6.7")):
        page.locator(f"#pilot-face_to_{name}").fill(value)
    one.tap("Done: send it")
    expect(page.locator("#stage-pilot .say")).to_contain_text("reaches in by 0.6")
    one.tap("Next: Gearbox on")
    one.step("Gearbox on")
    one.done(2)
    one.tap("Next: Final torque")
    one.step("Final torque")
    one.done(2, figure=True)
    one.tap("Next: Result")
    one.step("Result")
    page.get_by_text("succeeded", exact=True).click()
    one.tap("Send the result", twice=True)
    one.sent()
    expect(page.locator("#stage-result .written")).to_contain_text("succeeded")

    # in the books: every record once, in order
    kept = garage.records()
    assert [record.stage for record in kept] == [
        "before", "dowels-out", "bell-on", "bore", "face", "dowels", "bore-again", "clutch", "gap",
        "pilot", "gearbox-on", "final", "result",
    ]  # fmt: skip
    assert len({record.send_key for record in kept}) == len(kept)
    assert kept[3].said_json["readings"] == [
        [place, value] for place, value in zip(PLACES, swept, strict=True)
    ]
    assert kept[5].said_json["a_clock_deg"] == str(slot)
    with garage.books.reading() as connection:
        assert [note.said for note in fitup_talk.notes_of(connection, garage.number)] == [
            "Sweep the bore: Line is bad here."
        ]
        assert fitups.get_fit_up(connection, garage.number).state == "succeeded"
        states = [step.state for step in fitups.steps_of(connection, garage.number)]
    assert states == [
        "opened", "measuring", "advice", "corrected", "measuring", "advice", "succeeded",
    ]  # fmt: skip
    assert verify(garage.books) == []


# ── every step, by day and by night ──────────────────────────────────────────────────────

SMALL = """() => [...document.querySelectorAll("button, input:not([type=hidden]), select, summary")]
    .filter((e) => e.checkVisibility())
    .map((e) => (["radio", "checkbox"].includes(e.type) && e.closest("label")) || e)
    .filter((e) => Math.min(e.getBoundingClientRect().height, e.getBoundingClientRect().width) < 48)
    .map((e) => e.outerHTML.slice(0, 120))"""


def put_in(garage: Garage, stage: str, values: dict[str, object]) -> str:
    """Send an item without a phone."""
    with garage.books.reading() as connection:
        link = shop_links.by_token(connection, garage.token)
    assert link is not None
    key = send_keys.stock(garage.token, 1)[0]
    item = Item(send_key=key, stage=stage, values=values)
    receive(garage.books, link, item, now=datetime.datetime.now(datetime.UTC))
    return key


def bore(x_mm: float, y_mm: float) -> dict[str, object]:
    pairs = [list(pair) for pair in zip(PLACES, readings(x_mm, y_mm), strict=True)]
    return {"unit": "thou", "graduation": "0.5", "readings": pairs}


@pytest.mark.parametrize("light", ["light", "dark"])
def test_every_step_serves_everyone(
    phone: Callable[..., Phone], garage: Garage, light: str
) -> None:
    put_in(garage, "bore", bore(*OFF))
    put_in(garage, "dowels-out", {"unit": "thou", "a": "sound", "b": "seized"})
    put_in(garage, "note", {"said": "Dowel b does not move.", "at": "dowels-out"})
    one = phone(light)
    one.page.evaluate(
        "change((now) => (now.dial = { unit: 'thou', graduation: '0.5', places: 8 }))"
    )
    dials = ["face/dial", "steps", "talk", "dial"]
    for name in [*(stage.name for stage in STAGES), *dials]:
        one.page.evaluate(f"location.hash = '{name}'")
        expect(one.page.locator("h1:visible")).to_have_count(1)
        if name in ("before", "bore", "face/dial", "dowels", "gap", "steps", "talk"):
            found = Axe().run(one.page).response["violations"]
            assert not [(fault["id"], node["html"]) for fault in found for node in fault["nodes"]]
        over = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        assert one.page.evaluate(over) <= 0, name
        assert one.page.evaluate(SMALL) == [], name


def test_the_dial_and_its_buttons_fit_above_the_fold(phone: Callable[..., Phone]) -> None:
    """The dial in the upper half, the next action under the thumb, nothing to scroll for."""
    one = phone()
    one.page.evaluate("change((now) => (now.dial = { unit: 'mm', graduation: '0.01', places: 8 }))")
    one.page.evaluate("location.hash = 'bore/dial'")
    ring = one.page.locator("#stage-bore .ring").bounding_box()
    steps = one.page.locator("#stage-bore .step").first.bounding_box()
    bar = one.page.locator(".bar").bounding_box()
    assert ring is not None
    assert steps is not None
    assert bar is not None
    assert ring["y"] + ring["height"] < 844 * 0.55
    assert ring["y"] + ring["height"] < steps["y"]
    assert steps["y"] + steps["height"] < bar["y"]
    assert bar["y"] > 844 * 0.85


# ── one thing at a time ──────────────────────────────────────────────────────────────────


def test_the_dial_is_stepped_typed_and_undone(phone: Callable[..., Phone]) -> None:
    one = phone()
    page = one.page
    page.evaluate("change((now) => (now.dial = { unit: 'mm', graduation: '0.02', places: 4 }))")
    page.evaluate("location.hash = 'bore/dial'")
    reading = page.locator("#stage-bore [data-reading]")
    page.get_by_role("button", name="One graduation more").click()
    page.get_by_role("button", name="One graduation more").click()
    expect(reading).to_have_value("0.04")
    page.get_by_role("button", name="Change the sign").click()
    expect(reading).to_have_value("−0.04")
    expect(page.locator("#stage-bore .needle")).to_have_attribute("transform", "rotate(-7.2)")
    page.get_by_role("button", name="Undo").click()
    expect(reading).to_have_value("0.04")
    reading.fill("0,3")
    expect(reading).to_have_value("0.3")
    page.get_by_role("button", name="Undo").click()
    expect(reading).to_have_value("0.04")
    page.get_by_role("button", name="3 o'clock, not read").click()
    page.get_by_role("button", name="0", exact=True).click()
    expect(page.locator("#stage-bore .at-90 span")).to_have_text("0.00")
    expect(page.locator("#stage-bore [data-as-read]")).to_contain_text("TIR 0.04 mm")
    page.reload()
    expect(page.locator("#stage-bore .at-90 span")).to_have_text("0.00")
    page.get_by_role("button", name="12 o'clock").click()  # the others were read: now its second
    expect(page.locator("#stage-bore [data-at]")).to_have_text("12 again")
    page.get_by_role("button", name="12 o'clock").click()
    expect(reading).to_have_value("0.04")


def test_what_the_server_cannot_use_is_mended_in_its_place(
    phone: Callable[..., Phone], garage: Garage
) -> None:
    one = phone()
    page = one.page
    garage.stop()
    page.evaluate("location.hash = 'pilot'")
    for name, value in (("pilot", "6.1"), ("bottom", "7.2"), ("tip", "six")):
        page.locator(f"#pilot-face_to_{name}").fill(value)
    one.tap("Done: send it")
    page.evaluate("location.hash = 'gearbox-on'")
    one.done(2)
    expect(page.locator("[data-line-state]")).to_contain_text("2 kept here")
    garage.start()
    page.evaluate("window.dispatchEvent(new Event('online'))")
    expect(page.locator("[data-notice]")).to_contain_text("Pilot engagement")
    assert garage.records() == []  # what comes after waits for the fitter's word
    page.evaluate("quietUntil = 0")
    page.get_by_role("button", name="Mend it").click()
    error = page.locator("#stage-pilot [data-field=face_to_tip] .error")
    expect(error).to_contain_text("is not a length")
    expect(page.locator("#pilot-face_to_pilot")).to_have_value("6.1")
    page.locator("#pilot-face_to_tip").fill("6.7")
    one.tap("Done: send it")
    one.sent()
    assert [record.stage for record in garage.records()] == ["pilot", "gearbox-on"]


def test_what_cannot_be_used_can_be_set_aside(phone: Callable[..., Phone], garage: Garage) -> None:
    one = phone()
    page = one.page
    page.evaluate("location.hash = 'pilot'")
    for name, value in (("pilot", "6.1"), ("bottom", "7.2"), ("tip", "six")):
        page.locator(f"#pilot-face_to_{name}").fill(value)
    one.tap("Done: send it")
    expect(page.locator("#stage-pilot .waiting")).to_contain_text("Not kept.")
    page.evaluate("location.hash = 'gearbox-on'")
    one.done(2)
    expect(page.locator("[data-line-state]")).to_have_text("one thing to mend")
    page.evaluate("location.hash = 'pilot'")
    page.get_by_role("button", name="Set it aside").click()
    one.sent()
    assert [record.stage for record in garage.records()] == ["gearbox-on"]
    expect(page.locator("#pilot-face_to_tip")).to_have_value("six")


def test_a_sweep_is_taken_back_and_written_again(
    phone: Callable[..., Phone], garage: Garage
) -> None:
    put_in(garage, "bore", bore(*OFF))
    one = phone()
    page = one.page
    page.evaluate("location.hash = 'bore'")
    page.get_by_role("button", name="Take it back and write it again").dblclick()
    one.sent()
    one.tap("To the dial")
    expect(page.locator("#stage-bore .at-90 span")).to_have_text("−3")
    page.get_by_role("button", name="3 o'clock").click()
    page.locator("#stage-bore [data-reading]").fill("-2.5")
    one.tap("Send 9 readings")
    one.sent()
    kept = garage.records()
    assert [record.undoes_id for record in kept] == [None, kept[0].id, None]
    assert kept[2].said_json["readings"][2] == [90, "-2.5"]


def test_an_answer_that_was_lost_doubles_nothing(
    phone: Callable[..., Phone], garage: Garage
) -> None:
    """The item reaches the books, its confirmation does not reach the phone, and it is changed."""
    one = phone()
    page = one.page
    lost = {"now": True}

    def cut(route: Route) -> None:
        if lost["now"]:
            request = urllib.request.Request(
                route.request.url.replace("garage.test", "127.0.0.1"),
                data=route.request.post_data_buffer,
                headers={"Content-Type": "application/json", "Host": f"garage.test:{garage.port}"},
            )
            with urllib.request.urlopen(request, timeout=10) as answer:
                assert answer.status == 200
            route.abort()
        else:
            route.continue_()

    page.route("**/send", cut)
    page.evaluate("location.hash = 'dowels-out'")
    for name in ("a", "b"):
        group = page.get_by_role("group", name=f"Dowel {name}")
        group.get_by_text("sound, stays in").click()
    one.tap("Done: send it")
    expect(page.locator("[data-line-state]")).to_contain_text("1 kept here")
    assert len(garage.records()) == 1
    page.get_by_role("button", name="Change it").click()
    page.get_by_role("group", name="Dowel b").get_by_text("seized, still in").click()
    lost["now"] = False
    one.tap("Done: send it")
    one.sent()
    kept = garage.records()
    assert [(record.said_json.get("b"), record.undoes_id) for record in kept] == [
        ("sound", None), (None, kept[0].id), ("seized", None),
    ]  # fmt: skip
    with garage.books.reading() as connection:
        standing = fitup_talk.records_of(connection, garage.number)
    assert [record.said_json["b"] for record in standing] == ["seized"]


def test_a_fault_of_the_server_is_told_and_tried_again(
    phone: Callable[..., Phone], garage: Garage
) -> None:
    one = phone()
    page = one.page
    lines = ["a fault of ours, not of your input; tell us its number, 12ab"]
    page.route("**/send", lambda route: route.fulfill(status=500, json={"lines": lines}))
    for tick in page.locator("#stage-before input[type=checkbox]").all():
        tick.check()
    one.tap("Done: send it")
    page.evaluate("location.hash = 'before'")
    expect(page.locator("#stage-before .waiting")).to_contain_text("tell us its number, 12ab")
    expect(page.get_by_role("button", name="Set it aside")).to_be_visible()
    page.unroute("**/send")
    one.sent()
    assert [record.stage for record in garage.records()] == ["before"]


def test_two_phones_see_each_others_steps_and_the_shops_note(
    phone: Callable[..., Phone], garage: Garage
) -> None:
    one, two = phone(), phone("dark")
    for tick in one.page.locator("#stage-before input[type=checkbox]").all():
        tick.check()
    one.tap("Done: send it")
    one.sent()
    with garage.books.writing() as connection:
        fitup_talk.add_note(
            connection, garage.number, "shop", "Heat the block.", send_key="n", entry=WHO
        )
    two.page.evaluate("poll()")
    two.tap("Next: Block's dowels")
    expect(two.page.locator("[data-notice]")).to_contain_text("The shop wrote to you.")
    two.page.get_by_role("button", name="Read it").click()
    expect(two.page.locator("[data-notes]")).to_contain_text("Heat the block.")
    expect(two.page.locator("[data-news]")).to_be_hidden()


def test_a_closed_link_keeps_what_was_typed_for_the_next_one(
    phone: Callable[..., Phone], garage: Garage
) -> None:
    one = phone()
    page = one.page
    now = datetime.datetime.now(datetime.UTC)
    with garage.books.reading() as connection:
        link = shop_links.by_token(connection, garage.token)
    assert link is not None
    giving.withdraw(garage.books, link.id, why="sent wrong", entry=Entry("Owner", now))
    for tick in page.locator("#stage-before input[type=checkbox]").all():
        tick.check()
    one.tap("Done: send it")
    expect(page.locator("[data-notice]")).to_contain_text("withdrawn by the shop")
    expect(page.locator("[data-notice]")).to_contain_text("stays on this phone")
    assert garage.records() == []
    fresh = giving.give_for_fit_up(garage.books, garage.number, entry=Entry("Owner", now))
    page.goto(f"{garage.base}/f/{fresh.token}")
    one.sent()
    assert [record.stage for record in garage.records()] == ["before"]


def test_what_another_shape_kept_is_set_aside_unread(phone: Callable[..., Phone]) -> None:
    one = phone()
    page = one.page
    page.evaluate("""localStorage.setItem(OWN, JSON.stringify({ shape: 99, queue: "?" }))""")
    page.reload()
    expect(page.locator("html")).to_have_attribute("data-ready", "yes")
    assert page.evaluate("localStorage.getItem(`${OWN} of shape 99`)") == '{"shape":99,"queue":"?"}'
    assert page.evaluate("kept().shape") == 1


def test_without_its_scripts_the_steps_can_be_read(mapped: Browser, garage: Garage) -> None:
    context = mapped.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(garage.address)
    expect(page.locator("[data-line-state]")).to_contain_text("only to read")
    expect(page.get_by_role("heading", name="Release gap")).to_be_visible()
    context.close()
