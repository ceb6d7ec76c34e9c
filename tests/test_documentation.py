"""Every example in the documentation runs and prints what the page says."""

from __future__ import annotations

import doctest
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from kitwright.worksheets.contents import CONTENTS

ROOT = Path(__file__).parents[1]
PAGES = [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]
FENCE = re.compile(r"^```(\w+)\n(.*?)^```$", re.MULTILINE | re.DOTALL)


def blocks(page: Path, language: str) -> list[str]:
    return [body for kind, body in FENCE.findall(page.read_text("utf-8")) if kind == language]


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_python_examples(page: Path) -> None:
    parser = doctest.DocTestParser()
    runner = doctest.DocTestRunner(optionflags=doctest.NORMALIZE_WHITESPACE | doctest.ELLIPSIS)
    names: dict[str, object] = {}
    for number, body in enumerate(blocks(page, "python")):
        if ">>>" in body:
            test = parser.get_doctest(body, names, f"{page.name}#{number}", str(page), 0)
            runner.run(test, clear_globs=False)
            names = test.globs
    assert runner.summarize(verbose=False).failed == 0


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_commands(page: Path, tmp_path: Path) -> None:
    env = {
        **os.environ,
        "PATH": f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}",
        "COLUMNS": "96",
    }
    for body in blocks(page, "console"):
        for command, expected in commands(body):
            done = subprocess.run(
                ["bash", "-c", command],
                cwd=tmp_path,
                env=env,
                capture_output=True,
                text=True,
                timeout=120,
                check=False,
            )
            printed = done.stdout + done.stderr
            assert matches(expected, printed), f"$ {command}\n{printed}\nthe page says:\n{expected}"


def commands(body: str) -> list[tuple[str, str]]:
    """Each `$ ` line with the lines printed under it."""
    parts = re.split(r"^\$ ", body, flags=re.MULTILINE)
    return [(part.partition("\n")[0], part.partition("\n")[2]) for part in parts if part.strip()]


def matches(expected: str, printed: str) -> bool:
    """Equal line by line; a line `...` stands for any lines."""
    said, found = lines(expected), lines(printed)
    if "..." not in said:
        return said == found
    first = said.index("...")
    if found[:first] != said[:first]:
        return False
    start = first
    for run in runs(said[first + 1 :])[:-1]:
        places = range(start, len(found) - len(run) + 1)
        place = next((at for at in places if found[at : at + len(run)] == run), None)
        if place is None:
            return False
        start = place + len(run)
    last = runs(said[first + 1 :])[-1]
    return len(found) - start >= len(last) and found[len(found) - len(last) :] == last


def lines(text: str) -> list[str]:
    return [line.rstrip() for line in text.strip().splitlines()]


def runs(said: list[str]) -> list[list[str]]:
    """The runs of lines between lines `...`."""
    found: list[list[str]] = [[]]
    for line in said:
        if line == "...":
            found.append([])
        else:
            found[-1].append(line)
    return found


def test_matching_tells_a_difference() -> None:
    assert matches("a\n...\nd", "a\nb\nc\nd")
    assert not matches("a\n...\nd", "a\nb\nc")
    assert not matches("a", "a\nb")
    assert matches("...\nb\n...", "a\nb\nc")
    assert not matches("...\nc\n...\nb", "a\nb\nc")
    assert not matches("a\n...\nb\nc", "a\nb\nb")
    assert not matches("a\n...\na", "a")


@pytest.mark.parametrize("entry", CONTENTS, ids=lambda entry: entry.name)
def test_each_worksheet_has_its_page(entry: object) -> None:
    page = ROOT / "docs" / f"{entry.name}.md"  # type: ignore[attr-defined]
    assert page.exists(), f"docs/{page.name} is missing"


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_links_lead_somewhere(page: Path) -> None:
    for target in re.findall(r"\]\(([^)#]+)", page.read_text("utf-8")):
        if "://" not in target:
            assert (page.parent / target).exists(), f"{page.name} links to {target}"


def test_the_index_lists_every_worksheet_as_the_contents_do() -> None:
    page = (ROOT / "docs" / "worksheets.md").read_text("utf-8")
    rows = re.findall(
        r"^\| (\w+) \| \[([a-z-]+)\]\(([a-z-]+)\.md\) \| (.*) \|$", page, re.MULTILINE
    )
    assert rows == [(entry.stage, entry.name, entry.name, entry.question) for entry in CONTENTS]


def all_text() -> str:
    return "\n".join(page.read_text("utf-8") for page in PAGES)


def test_every_command_is_documented() -> None:
    from kitwright.cli.main import root

    for name in root.list_commands(None):
        assert f"kitwright {name}" in all_text(), name


def test_every_setting_and_page_is_documented() -> None:
    from kitwright.shop.opening import SETTING
    from kitwright.web.site import MENU

    assert SETTING in all_text()
    for entry in MENU:
        assert entry.word.lower().rstrip("s") in all_text().lower(), entry.word


def test_every_page_is_linked() -> None:
    linked = all_text()
    for page in PAGES[1:]:
        assert f"{page.name})" in linked or f"{page.name}#" in linked, f"nothing links to {page}"
