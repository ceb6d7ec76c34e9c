"""A live server, a browser and pages whose console must stay silent."""

from __future__ import annotations

import re
import socket
import threading
import time
from collections.abc import Callable, Iterator
from typing import Any

import pytest
import uvicorn
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, ConsoleMessage, Page, Request

from kitwright.web.app import create_app

ARGUMENTS = [
    "--no-sandbox",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
WIDTHS = {"phone": (390, 844), "laptop": (1280, 900)}
REFUSED = re.compile(r"status of (403|404|413|422)\b")  # an answer of ours, not a fault


@pytest.fixture(scope="session")
def browser(launched: Callable[..., Browser]) -> Iterator[Browser]:
    """Headless Chromium."""
    chromium = launched(*ARGUMENTS)
    yield chromium
    chromium.close()


def served(app: Any) -> Iterator[str]:
    """The app on a free port of this machine, in a thread, as long as it is used."""
    with socket.create_server(("127.0.0.1", 0)) as listening:
        config = uvicorn.Config(app, log_level="warning", access_log=False, lifespan="off")
        server = uvicorn.Server(config)
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
        thread.start()
        while not server.started:
            assert thread.is_alive()
            time.sleep(0.01)
        yield f"http://127.0.0.1:{listening.getsockname()[1]}"
        server.should_exit = True
        thread.join(timeout=10)


@pytest.fixture(scope="session")
def address() -> Iterator[str]:
    """Where the worksheets are served."""
    yield from served(create_app(lead="mm"))


Opened = Callable[..., Page]


@pytest.fixture
def opened(browser: Browser) -> Iterator[Opened]:
    """Open a page: `opened(address, width="phone", light="night", scripts=True)`.

    Any error in the console, any refusal by the content policy, any failed request fails the test
    when it ends.
    """
    contexts, wrong = [], []

    def listen(message: ConsoleMessage) -> None:
        if message.type in ("error", "warning") and not REFUSED.search(message.text):
            wrong.append(message.text)

    def fail(request: Request) -> None:
        if request.failure != "net::ERR_ABORTED":  # what becomes a download is aborted as a page
            wrong.append(f"{request.failure}: {request.url}")

    def open_page(
        url: str, *, width: str = "laptop", light: str = "day", scripts: bool = True
    ) -> Page:
        across, down = WIDTHS[width]
        context = browser.new_context(
            viewport={"width": across, "height": down},
            color_scheme="dark" if light == "night" else "light",
            java_script_enabled=scripts,
        )
        contexts.append(context)
        context.set_default_timeout(10_000)
        page = context.new_page()
        page.on("console", listen)
        page.on("pageerror", lambda error: wrong.append(str(error)))
        page.on("requestfailed", fail)
        page.goto(url)
        return page

    yield open_page
    for context in contexts:
        context.close()
    assert not wrong


SQUEEZED = """() => {
    const found = [], range = document.createRange();
    const seen = (e) => e.checkVisibility() && !e.closest(".unseen, .stack thead");
    const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    for (let text = texts.nextNode(); text; text = texts.nextNode()) {
        const around = text.parentElement;
        if (!text.data.trim() || !seen(around)) continue;
        if (around.closest("svg, script, option, textarea, code, .address")) continue;
        const lines = (from, to) => {
            range.setStart(text, from);
            range.setEnd(text, to);
            const boxes = [...range.getClientRects()].filter((box) => box.width);
            return new Set(boxes.map((box) => Math.round(box.top))).size;
        };
        const words = [...text.data.matchAll(/[\\p{L}\\p{N}]+/gu)];
        if (words.length > 3 && lines(0, text.length) >= words.length)
            found.push(`a word a line: ${text.data.trim().slice(0, 60)}`);
        for (const word of words)
            if (word[0].length <= 20 && lines(word.index, word.index + word[0].length) > 1)
                found.push(`broken within: ${word[0]}`);
    }
    for (const input of document.querySelectorAll("input:not([type=hidden]), select, textarea"))
        if (seen(input) && !["radio", "checkbox"].includes(input.type) && input.offsetWidth < 56)
            found.push(`${input.offsetWidth} px for ${input.name}`);
    for (const drawing of document.querySelectorAll("svg:not(.mark)")) {
        if (!seen(drawing)) continue;
        const frame = drawing.getBoundingClientRect();
        const labels = [...drawing.querySelectorAll("text")]
            .map((label) => [label.textContent.trim(), label.getBoundingClientRect()])
            .filter(([, box]) => box.width);
        labels.forEach(([words, box], index) => {
            if (box.left < frame.left - 1 || box.right > frame.right + 1
                || box.top < frame.top - 1 || box.bottom > frame.bottom + 1)
                found.push(`cut off: ${words}`);
            for (const [others, other] of labels.slice(index + 1)) {
                const across = Math.min(box.right, other.right) - Math.max(box.left, other.left);
                const down = Math.min(box.bottom, other.bottom) - Math.max(box.top, other.top);
                if (across > 1 && down > Math.min(box.height, other.height) / 3)
                    found.push(`${words} over ${others}`);
            }
        });
    }
    return [...new Set(found)];
}"""
"""What a page has no room for: words broken within or one a line, an input of a few letters, a
drawing's label cut off or over another."""


@pytest.fixture
def fits_and_serves_everyone() -> Callable[[Page], None]:
    """A page that axe has nothing against, that never scrolls sideways, with targets to hit and
    room for every word."""

    def check(page: Page) -> None:
        found = Axe().run(page).response["violations"]
        assert not [
            f"{fault['id']}: {node['html'][:200]}" for fault in found for node in fault["nodes"]
        ]
        over = page.evaluate(
            "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        )
        assert over <= 0, f"scrolls sideways by {over} px"
        small = page.evaluate(
            """() => [...document.querySelectorAll("button, input:not([type=hidden]), select")]
                .filter((e) => e.checkVisibility() && !e.closest(".unseen"))
                .map((e) => (["radio", "checkbox"].includes(e.type) && e.closest("label")) || e)
                .filter((e) => e.getBoundingClientRect().height < 44)
                .map((e) => e.outerHTML.slice(0, 120))"""
        )
        assert not small, "too small for a thumb"
        assert not page.evaluate(SQUEEZED)

    return check
