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


@pytest.fixture
def fits_and_serves_everyone() -> Callable[[Page], None]:
    """A page that axe has nothing against, that never scrolls sideways, with targets to hit."""

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

    return check
