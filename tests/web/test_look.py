"""The base page, its parts and its stylesheet: one palette, no inline style or script."""

from __future__ import annotations

import re
import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import fields
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import uvicorn
from axe_playwright_python.sync_playwright import Axe
from jinja2 import UndefinedError
from lxml import html
from playwright.sync_api import Browser, Page
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import HTMLResponse
from starlette.routing import Route

from kitwright.pictures.palette import DAY, NIGHT, PRINT, Palette
from kitwright.pictures.target import Mark, target
from kitwright.web import assets, guard
from kitwright.web.look import aligned, columns_aligned, environment
from kitwright.worksheets.showing import Figure

WEB = Path(__file__).parents[2] / "src" / "kitwright" / "web"
CSS = (WEB / "static" / "kitwright.css").read_text("utf-8")

SAMPLE = Path(__file__).with_name("sample.html")

HOSTILE = "\"><script>alert(1)</script>'"


def step(shape: str, what: str, *, who: str = "", numbers: str = "") -> dict[str, str]:
    return {"shape": shape, "what": what, "when": "3 November", "who": who, "numbers": numbers}


def rendered(**more: Any) -> str:
    svg = target(
        limit_tir_mm=0.127,
        marks=[Mark(x_mm=-0.158, y_mm=-0.091, u95_mm=0.025, label=HOSTILE, verdict="outside")],
        move=(0.158, 0.091),
        lead="in",
        title="Where the bore sits",
    )
    about = {
        "shop": "The shop",
        "page": "batches",
        "svg": svg,
        "typed": HOSTILE,
        "rows": [
            Figure(name="tir_mm", label="TIR judged", leading="14.4 thou", other="0.366 mm",
                   uncertainty="± 1.2 thou"),
            Figure(name="o", label="Offset", leading="7.2 thou", other="0.183 mm"),
            Figure(name="c", label="Toward", leading="240.0°", other="8 o'clock"),
            Figure(name="how", label="Cause", leading="offset"),
        ],
        "table": [("K0142", "14.4 thou", "held"), ("K0143", "3 thou", "made")],
        "steps": [
            step("filled", "Machined", who="Jo"),
            step("hatched", "Held", numbers="TIR 5.1 thou"),
        ],
        **more,
    }  # fmt: skip
    return environment().from_string(SAMPLE.read_text("utf-8")).render(**about)


@cache
def sample() -> html.HtmlElement:
    return html.document_fromstring(rendered())


def test_nothing_inline_that_a_strict_policy_refuses() -> None:
    for element in sample().iter():
        if not isinstance(element.tag, str):
            continue
        assert element.tag != "style"
        assert not [name for name in element.attrib if name == "style" or name.startswith("on")]
        if element.tag == "script":
            assert element.get("src", "").startswith("/static/")
            assert not element.text
        for name in ("src", "href", "action"):
            assert "://" not in element.get(name, "")
            assert not element.get(name, "").startswith("//")


def test_user_text_is_escaped() -> None:
    assert [s.get("src", "").partition("?")[0] for s in sample().iter("script")] == [
        "/static/light.js"
    ]
    (entry,) = sample().xpath("//input[@name='limit']")
    assert entry.get("value") == HOSTILE  # a form comes back as it was filled


def test_every_class_has_its_style() -> None:
    styled = set(re.findall(r"\.([a-z][a-z0-9-]*)", CSS))
    used = {name for element in sample().iter() for name in element.get("class", "").split()}
    assert used - styled == {"open"}  # a mark is open unless it is filled or hatched
    assert {"caution", "danger", "tail-7", "state", "route", "say"} <= used & styled


def test_the_page_is_read_without_seeing_it() -> None:
    page = sample()
    assert page.get("lang") == "en"
    assert page.xpath("//a[@class='skip']/@href") == ["#main"]
    assert page.xpath("//main/@id") == ["main"]
    assert page.xpath("//nav//a[@aria-current='page']/text()") == ["Batches"]
    named = {"Today", "Batches", "Fit-ups", "Orders", "Kits", "Conversions", "Worksheets", "Stock"}
    assert set(page.xpath("//nav//a/text()")) == named
    ids = page.xpath("//@id")
    assert len(ids) == len(set(ids))
    for control in page.xpath("//form//input | //form//select | //form//textarea"):
        labelled = page.xpath(f"//label[@for='{control.get('id')}']") or control.xpath(
            "ancestor::label"
        )
        assert labelled, control.get("name")
        for told in control.get("aria-describedby", "").split():
            assert told in ids
    (limit,) = page.xpath("//input[@name='limit']")
    assert limit.get("aria-invalid") == "true"
    assert limit.get("aria-describedby") == "limit-help limit-error"
    assert "Mend this: " in page.get_element_by_id("limit-error").text_content()
    assert page.xpath("//th[@scope='row']/a/text()") == ["K0142", "K0143"]


def test_light_is_what_the_cookie_said_or_the_systems() -> None:
    assert 'data-light="night"' in rendered(light="night")
    assert "data-light" not in rendered(light=None)
    assert "data-light" not in rendered(light='day" onclick="x')


def test_a_page_that_lacks_something_fails_at_once() -> None:
    with pytest.raises(UndefinedError):
        environment().from_string("{% extends 'base.html' %}").render()


# As a browser shows it.


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    """The sample page with the shop's own static files, under its strict headers."""

    def page(request: Request) -> HTMLResponse:
        return HTMLResponse(rendered(light=request.cookies.get("light")))

    app = Starlette(
        routes=[Route("/", page), *assets.routes()], middleware=[Middleware(guard.StrictHeaders)]
    )
    with socket.create_server(("127.0.0.1", 0)) as listening:
        server = uvicorn.Server(uvicorn.Config(app, log_level="warning"))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]})
        thread.start()
        yield f"http://127.0.0.1:{listening.getsockname()[1]}/"
        server.should_exit = True
        thread.join()


@pytest.fixture(scope="module")
def browser(launched: Callable[..., Browser]) -> Iterator[Browser]:
    chromium = launched("--no-sandbox", "--disable-gpu", "--disable-quic")
    yield chromium
    chromium.close()


@contextmanager
def opened(browser: Browser, address: str, **context: Any) -> Iterator[Page]:
    """A page that fails on any complaint of the browser, such as a refusal by the policy."""
    complaints: list[str] = []
    with closing(browser.new_context(**context)) as inside:
        page = inside.new_page()
        page.on("console", lambda message: complaints.append(message.text))
        page.on("requestfailed", lambda request: complaints.append(request.url))
        page.goto(address)
        yield page
    assert complaints == []


@pytest.mark.browser
@pytest.mark.parametrize("light", ["light", "dark"])
@pytest.mark.parametrize("width", [390, 1280])
def test_a_page_fits_and_can_be_used_by_everyone(
    browser: Browser, address: str, width: int, light: Any
) -> None:
    size = {"width": width, "height": 844}
    with opened(browser, address, viewport=size, color_scheme=light) as page:
        page.click(".fold summary")
        if width == 390:
            page.click(".menu summary")
        assert page.evaluate("document.documentElement.scrollWidth") == width
        assert page.evaluate("document.fonts.check('16px \\'Source Sans 3\\'')")
        ground = page.evaluate("getComputedStyle(document.documentElement).backgroundColor")
        assert (sum(map(int, re.findall(r"\d+", ground))) < 100) == (light == "dark")
        targets = "nav a, nav button, button, .button, summary, input:not([type=radio]), select"
        for box in page.locator(targets).all():
            if box.is_visible():
                assert box.bounding_box()["height"] >= 48
        found = Axe().run(page).response["violations"]
        assert [(each["id"], each["nodes"][0]["html"]) for each in found] == []


@pytest.mark.browser
def test_pictures_take_the_pages_light(browser: Browser, address: str) -> None:
    with opened(browser, address, color_scheme="light") as page:
        arrow = ".picture polygon"
        look = f"getComputedStyle(document.querySelector('{arrow}')).fill"
        day = page.evaluate(look)
        page.click("[data-switch='light']")
        assert day != page.evaluate(look)
        assert page.evaluate(look) == "rgb(216, 164, 69)"  # NIGHT.brass
        page.emulate_media(media="print")
        assert page.evaluate(look) == "rgb(107, 74, 10)"  # PRINT.brass
        assert not page.locator("nav").is_visible()


@pytest.mark.browser
def test_the_switch_is_kept_and_can_be_taken_back(browser: Browser, address: str) -> None:
    with opened(browser, address, color_scheme="light") as page:
        switch = page.locator("[data-switch='light']")
        assert switch.inner_text() == "Night light"
        switch.click()
        page.reload()
        assert page.locator("html").get_attribute("data-light") == "night"
        assert switch.inner_text() == "Day light"
        switch.click()  # what the system says: nothing is kept any more
        assert page.locator("html").get_attribute("data-light") is None
        assert page.evaluate("document.cookie") == ""


@pytest.mark.browser
def test_it_works_without_scripts(browser: Browser, address: str) -> None:
    with opened(browser, address, java_script_enabled=False, color_scheme="dark") as page:
        assert page.locator("nav a").first.is_visible()
        assert not page.locator("[data-switch='light']").is_visible()


# The colours of a page are those of its pictures.


def block_after(head: str) -> str:
    start = CSS.index(head)
    return CSS[start : CSS.index("}", start)]


@pytest.mark.parametrize(
    ("head", "palette"),
    [
        (':root,\n:root[data-light="day"] {', DAY),
        ('@media (prefers-color-scheme: dark) {\n  :root:not([data-light="day"]) {', NIGHT),
        (':root[data-light="night"] {', NIGHT),
        (
            '@media print {\n  :root,\n  :root[data-light],\n  :root:not([data-light="day"]) {',
            PRINT,
        ),
    ],
    ids=["day", "system's night", "night", "paper"],
)
def test_the_stylesheet_has_the_palettes_colours(head: str, palette: Palette) -> None:
    written = dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6});", block_after(head)))
    assert written == {f.name.replace("_", "-"): getattr(palette, f.name) for f in fields(palette)}


def test_colours_stand_nowhere_else() -> None:
    inside = re.sub(r"--[a-z-]+: #[0-9a-f]{6};", "", CSS)
    assert not re.findall(r"#[0-9a-fA-F]{3,8}\b|rgba?\(|hsla?\(", inside)


def test_what_it_loads_is_shipped() -> None:
    for name in re.findall(r'url\("/static/fonts/([^"]+)"\)', CSS):
        assert (WEB.parent / "fonts" / name).exists()
    assert CSS.count("@font-face") == 2


# Numbers of a column line up on their point.


def test_numbers_are_told_from_text() -> None:
    numbers = ["0.0047 in", "−3", "+2.5 thou", "97.3 %", "60.0°", "± 0.2 mm", "12"]
    words = ["K0142", "2026-11-24", "offset", "", "1.2.3", "5 of 7 bells", "0.1 / 0.2"]
    assert all(aligned([text])[0] for text in numbers)
    assert not any(aligned([text])[0] for text in words)


def test_a_split_number_is_the_number() -> None:
    cells = aligned(["0.0047 in", "12 in", "x", "−3.5"])
    assert [cell and cell.whole + cell.tail for cell in cells] == [
        "0.0047 in",
        "12 in",
        None,
        "−3.5",
    ]
    assert {cell.longest for cell in cells if cell} == {len(".0047 in")}


def test_a_column_is_set_right_only_if_all_of_it_are_numbers() -> None:
    columns = columns_aligned([("K1", "1.5", "made", ""), ("K2", "", "3", "")], 4)
    assert [column is not None for column in columns] == [False, True, False, False]
