"""`kitwright stock`: once as a person runs it, else in this process, which is faster."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from kitwright.books.opening import open_books
from kitwright.books.verifying import verify
from kitwright.cli.main import root
from kitwright.errors import InputError

KITWRIGHT = Path(sys.executable).with_name("kitwright")


@pytest.fixture
def shop(demo_made: Path, tmp_path: Path) -> Path:
    shutil.copytree(demo_made, tmp_path / "demo-shop")
    return tmp_path


def run(folder: Path, *words: str) -> tuple[int, str, str]:
    """Exit status, what was said, what was refused: as `main` gives them."""
    shop = [] if "--shop" in words else ["--shop", str(folder / "demo-shop")]
    done = CliRunner().invoke(root, ["stock", *words, *shop], standalone_mode=False)
    if done.exception is None:
        return 0, done.stdout, ""
    assert isinstance(done.exception, InputError), done.exception
    return 2, done.stdout, "\n".join(done.exception.lines)


def test_as_a_person_runs_it(shop: Path) -> None:
    given = ["scrap", "P-04", "12", "--why", "bent"]
    done = subprocess.run(
        [KITWRIGHT, "stock", *given],
        cwd=shop,
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == (
        "part P-04: 12 asked, 1 free on the shelf, 2 more reserved; move what is there\n"
    )


def test_what_is_there(shop: Path) -> None:
    status, told, _ = run(shop)
    lines = [" ".join(line.split()) for line in told.splitlines()]
    assert status == 0
    assert lines[0] == "Parts"
    assert "P-04 dowel, plain, 16 mm 1 2 3 1 short" in lines
    assert "Heron cast bell released shelf 43" in lines
    assert "CR-05 Heron cast bell 30 10" in lines
    _, told, _ = run(shop, "--at", "2026-04-16")
    lines = [" ".join(line.split()) for line in told.splitlines()]
    assert lines[0] == "Parts at the end of 2026-04-16"
    assert "P-03 crossmember 7 0 7" in lines


def test_a_part_comes_goes_and_is_counted(shop: Path) -> None:
    """Every move says what is there after it; the last line is the books' own check."""
    for words, line in (
        (["receive", "P-06", "4"], "P-06, block plate, steel: 4 on the shelf, 4 free, 0 reserved."),
        (["receive", "p-06", "1", "--supplier", "Underwell Foundry"], ": 5 on the shelf"),
        (["scrap", "P-06", "1", "--why", "bent"], ": 4 on the shelf"),
        (["send-back", "P-06", "1", "--why", "too thin"], ": 3 on the shelf"),
        (["send", "P-06", "1", "--customer", "Moor Top Motors"], ": 2 on the shelf"),
        (["return", "P-06", "1", "--customer", "Moor Top Motors"], ": 3 on the shelf"),
        (["count", "P-06", "3"], "3 counted, as the books have it."),
        (["count", "P-06", "5", "--why", "found"], "5 counted, +2 put right."),
        (["return", "P-04", "2", "--order", "O-101"], ": 5 on the shelf, 3 free, 2 reserved."),
        (["send", "P-04", "1", "--order", "O-101"], ": 4 on the shelf"),
        (["receive", "P-04", "6", "--on", "2026-05-03"], ": 10 on the shelf"),
    ):
        status, told, wrong = run(shop, *words)
        assert (status, wrong) == (0, ""), words
        assert line in told, words
    with open_books(shop / "demo-shop" / "books.sqlite") as books:
        assert verify(books) == []


@pytest.mark.parametrize(
    ("words", "line"),
    [
        (
            ["scrap", "P-04", "12", "--why", "bent"],
            "part P-04: 12 asked, 1 free on the shelf, 2 more reserved; move what is there",
        ),
        (["scrap", "P-04", "1"], "why: missing; scrap needs a reason"),
        (["scrap", "P-04", "0", "--why", "x"], "count: 0; give 1 or more"),
        (["count", "P-04", "-3", "--why", "x"], "count: -3; give 0 or more"),
        (["receive", "P-04", "2.5"], 'count: "2.5" is not a whole number; give 1 or more'),
        (
            ["receive", "P-99", "2"],
            'part: there is no part "P-99"; see `kitwright stock` for their labels',
        ),
        (["return", "P-04", "1"], "order: missing; say --order LABEL or --customer NAME"),
        (
            ["return", "P-04", "1", "--order", "O-999"],
            'order: there is no order "O-999"; name it as on its page',
        ),
        (
            ["return", "P-04", "9", "--order", "O-101"],
            "part P-04: 9 asked, 2 are out with this order",
        ),
        (
            ["send", "P-04", "1", "--customer", "Nobody"],
            'customer: there is no customer "Nobody"; write the whole name',
        ),
        (["receive", "P-04", "1", "--on", "soon"], 'on: "soon" is not a day; write it as '),
        (["--at", "9999-01-01"], "at: 9999-01-01 lies ahead; give "),
        (["--shop", "nowhere"], 'shop: "nowhere" holds no shop'),
    ],
)
def test_what_cannot_be_gets_its_line(shop: Path, words: list[str], line: str) -> None:
    status, told, wrong = run(shop, *words)
    assert (status, told) == (2, "")
    assert wrong.startswith(line)
    assert len(wrong.strip().splitlines()) == 1
