"""What every test shares: one hypothesis profile, and the truth about what did not run."""

from __future__ import annotations

import datetime
import os
import shutil
import subprocess
from collections.abc import Callable, Generator, Iterator
from pathlib import Path

import hypothesis
import numpy as np
import pytest

hypothesis.settings.register_profile(
    "kitwright",
    deadline=None,
    derandomize=True,
    max_examples=60,
    suppress_health_check=[hypothesis.HealthCheck.function_scoped_fixture],
)
hypothesis.settings.load_profile("kitwright")

NEEDED = {
    "Chromium not found": "pages in a browser: apt-get install chromium",
    "PostgreSQL not found": "the books on PostgreSQL: apt-get install postgresql",
    "Poppler not found": "codes read back from paper: apt-get install poppler-utils",
}


def needed(what: str) -> None:
    """Stop a test that needs a program this machine lacks; with CI=true that is a failure."""
    assert what in NEEDED
    if os.environ.get("CI") == "true":
        pytest.fail(f"{what}, and CI must run every test", pytrace=False)
    pytest.skip(what)


@pytest.hookimpl(wrapper=True, tryfirst=True)
def pytest_terminal_summary(
    terminalreporter: pytest.TerminalReporter,
) -> Generator[None, None, None]:
    """The last lines say which tests did not run, and how to get them."""
    yield
    skipped = terminalreporter.stats.get("skipped", [])
    for what, how in NEEDED.items():
        count = sum(what in str(report.longrepr) for report in skipped)
        if count:
            terminalreporter.write_line(f"{count} tests did not run: {what} ({how})", yellow=True)


TODAY = datetime.date(2026, 5, 4)
"""The day on which the tests' demo shop was made."""


@pytest.fixture(scope="session")
def demo_made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo shop, made once; look at it, change only a copy (`demo_books`)."""
    from kitwright.demo.story import run

    folder = tmp_path_factory.mktemp("demo") / "demo-shop"
    run(folder, today=TODAY, tell=lambda line: None)
    return folder


@pytest.fixture
def rendered(tmp_path: Path) -> Callable[..., list[np.ndarray]]:
    """The pages of a PDF as they would be printed: rows of grey, 0 is black."""
    program = shutil.which("pdftoppm")
    if program is None:
        needed("Poppler not found")

    def render(pdf: bytes, dpi: int = 200) -> list[np.ndarray]:
        (tmp_path / "sheet.pdf").write_bytes(pdf)
        folder = tmp_path / "pages"
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir()
        asked = [str(program), "-r", str(dpi), "-gray", "sheet.pdf", "pages/page"]
        subprocess.run(asked, cwd=tmp_path, check=True, timeout=120)
        return [_grey(path.read_bytes()) for path in sorted(folder.iterdir())]

    return render


def _grey(pgm: bytes) -> np.ndarray:
    kind, width, height, most = pgm[:40].split(maxsplit=4)[:4]
    assert (kind, most) == (b"P5", b"255")
    across, down = int(width), int(height)
    return np.frombuffer(pgm[-across * down :], np.uint8).reshape(down, across)


@pytest.fixture
def demo_books(demo_made: Path, tmp_path: Path) -> Iterator[object]:
    """The books of a demo shop of one's own."""
    from kitwright.shop.opening import open_shop

    folder = tmp_path / "shop"
    shutil.copytree(demo_made, folder)
    with open_shop(folder) as books:
        yield books


@pytest.fixture(scope="session")
def launched() -> Iterator[object]:
    """Start Chromium, `launched(*arguments)`; there is but one Playwright in a process.

    Without Chromium these tests do not run, and with CI=true they fail.
    """
    program = shutil.which("chromium") or shutil.which("chromium-browser")
    if program is None:
        needed("Chromium not found")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:

        def launch(*arguments: str) -> object:
            return playwright.chromium.launch(executable_path=program, args=arguments)

        yield launch
