"""The documentation as a site: it builds without a warning, every link leads, nothing is fetched.

Built once for all workers of a run, by the same command as `make docs`.
"""

from __future__ import annotations

import re
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from functools import partial
from html.parser import HTMLParser
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from urllib.parse import unquote, urlsplit

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

ROOT = Path(__file__).parents[2]
DOCS = ROOT / "docs"
SHOWN = ("index", "sweep", "search", "reference/shell")


def built(folder: Path) -> Path:
    """The site, built by whoever comes first; the others wait for it."""
    site, mark = folder / "docs-site", folder / "docs-site.done"
    try:
        site.mkdir()
    except FileExistsError:
        for _ in range(2400):
            if mark.exists():
                break
            time.sleep(0.1)
    else:
        command = [sys.executable, "-m", "sphinx", "-q", "-W", "--keep-going", "-b", "html"]
        command += ["-d", str(folder / "docs-trees"), str(DOCS), str(site)]
        done = subprocess.run(
            command, cwd=ROOT, capture_output=True, text=True, timeout=240, check=False
        )
        mark.write_text(done.stderr if done.returncode else "", "utf-8")
    said = mark.read_text("utf-8")
    assert not said, said
    return site


@pytest.fixture(scope="session")
def site(tmp_path_factory: pytest.TempPathFactory, worker_id: str) -> Path:
    base = tmp_path_factory.getbasetemp()
    return built(base if worker_id == "master" else base.parent)


@pytest.fixture
def served(site: Path) -> Iterator[str]:
    """The site behind a plain file server: axe reads style sheets as a script may not from disk."""
    quiet = type("Quiet", (SimpleHTTPRequestHandler,), {"log_message": lambda *words: None})
    with ThreadingHTTPServer(("127.0.0.1", 0), partial(quiet, directory=str(site))) as server:
        thread = threading.Thread(target=server.serve_forever)
        thread.start()
        yield f"http://127.0.0.1:{server.server_port}"
        server.shutdown()
        thread.join()


class Found(HTMLParser):
    """What a page links to, what it loads, and which places in it have a name."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.links: list[str] = []
        self.loads: list[str] = []
        self.names: set[str] = set()
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        said = {name: value or "" for name, value in attrs}
        self.names |= {said[name] for name in ("id", "name") if name in said}
        if tag == "a" and "href" in said:
            self.links.append(said["href"])
        if tag in ("img", "script", "iframe", "source") and "src" in said:
            self.loads.append(said["src"])
        if tag == "link" and "href" in said:
            self.loads.append(said["href"])


def named(fragment: str, page: Found) -> bool:
    return not fragment or unquote(fragment) in page.names


def pages(site: Path) -> dict[Path, Found]:
    return {path: Found(path.read_text("utf-8")) for path in sorted(site.rglob("*.html"))}


def test_every_page_is_there_and_the_first_one_leads_to_it(site: Path) -> None:
    """Each page of docs/ is made, and stands in a list of docs/index.md or under "More"."""
    first = Found((site / "index.html").read_text("utf-8"))
    listed = {urlsplit(link).path for link in first.links}
    for page in DOCS.glob("*.md"):
        assert (site / f"{page.stem}.html").exists(), page.name
        if page.stem != "index":
            assert f"{page.stem}.html" in listed, f"nothing on the first page leads to {page.name}"
    for page in (DOCS / "reference").glob("*.md"):
        assert (site / "reference" / f"{page.stem}.html").exists(), page.name


def test_every_link_leads_somewhere(site: Path) -> None:
    found = pages(site)
    wrong = []
    for path, page in found.items():
        for link in page.links + page.loads:
            parts = urlsplit(link)
            if parts.scheme or parts.netloc:
                continue
            target = (path.parent / unquote(parts.path)).resolve() if parts.path else path
            leads = target.is_file()
            if target in found:
                leads = named(parts.fragment, found[target])
            if not leads:
                wrong.append(f"{path.name}: {link}")
    assert sum(len(page.links) for page in found.values()) > 500
    assert not wrong


def test_nothing_is_loaded_from_elsewhere(site: Path) -> None:
    for path, page in pages(site).items():
        assert not [address for address in page.loads if "//" in address], path.name
    for sheet in site.rglob("*.css"):
        text = re.sub(r"/\*.*?\*/", "", sheet.read_text("utf-8"), flags=re.DOTALL)
        outside = re.findall(r"(?:url\(|@import)\s*[\"']?(?:https?:)?//", text)
        assert not outside, sheet.name
    for cut in ("Regular", "Semibold"):
        assert (site / "_static" / f"SourceSans3-{cut}.ttf.woff2").is_file()


def test_every_stage_with_functions_has_its_page() -> None:
    calc = ROOT / "src" / "kitwright" / "calc"
    for stage in sorted(path.parent.name for path in calc.glob("*/__init__.py")):
        page = DOCS / "reference" / f"{stage}.md"
        wanted = f"# {stage.capitalize()}: functions\n\n% the modules of {stage}\n"
        assert page.exists(), f"docs/reference/{stage}.md is missing; write into it:\n{wanted}"
        assert wanted in page.read_text("utf-8")


def test_functions_carry_their_sources_and_units(site: Path) -> None:
    text = (site / "reference" / "quality.html").read_text("utf-8")
    assert "decide_length" in text
    assert "ISO 14253-1" in text


@pytest.mark.browser
@pytest.mark.parametrize(("width", "light"), [("phone", "night"), ("laptop", "day")])
def test_pages_serve_everyone(
    served: str, opened: Callable[..., Page], width: str, light: str
) -> None:
    page = opened(f"{served}/index.html", width=width, light=light)
    for name in SHOWN:
        page.goto(f"{served}/{name}.html")
        faults = Axe().run(page).response["violations"]
        assert not [
            f"{name}, {fault['id']}: {node['html'][:160]}"
            for fault in faults
            for node in fault["nodes"]
        ]
        over = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        assert page.evaluate(over) <= 0, name
    assert page.evaluate("document.fonts.check('16px \"Source Sans 3\"')")


@pytest.mark.browser
def test_search_answers_without_a_server(site: Path, opened: Callable[..., Page]) -> None:
    page = opened((site / "search.html").as_uri() + "?q=protractor")
    page.wait_for_selector("#search-results li a")
    assert "Paper" in page.inner_text("#search-results")
