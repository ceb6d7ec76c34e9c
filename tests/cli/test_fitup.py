"""`kitwright fit-up`: where fit-ups stand, and their papers."""

from __future__ import annotations

import datetime
import io
import re
import shutil
from collections.abc import Callable
from pathlib import Path

import pypdf
import pytest

from kitwright.books import fitup_talk
from kitwright.books.entries import Entry
from kitwright.books.links import set_address
from kitwright.cli.main import main
from kitwright.shop import fitups
from kitwright.shop import links as giving
from kitwright.shop.fitting import Item
from kitwright.shop.fitup_typing import type_in
from kitwright.shop.opening import open_shop

Ran = tuple[int, str]
NOW = datetime.datetime.now(datetime.UTC)
WHO = Entry("Ines", NOW - datetime.timedelta(hours=2))


@pytest.fixture
def shop(demo_made: Path, tmp_path: Path) -> Path:
    """A demo shop of one's own with a fit-up under way, its link, a step and a note."""
    folder = tmp_path / "shop"
    shutil.copytree(demo_made, folder)
    with open_shop(folder) as books:
        number = fitups.open_for_order(books, 20, fitter="Sam", block="new", entry=WHO)
        values = {"unit": "mm", "stands": True, "battery": True, "serial": True, "makers": True}
        item = Item(send_key="k", stage="before", values=values)
        type_in(books, number, item, who="Ines", day=NOW.astimezone(), now=NOW)
        giving.give_for_fit_up(books, number, entry=WHO)
        with books.writing() as connection:
            set_address(connection, "http://garage.test:8711", WHO)
            fitup_talk.add_note(
                connection, number, "fitter", "It binds.\nWhy?", send_key="n", entry=Entry("S", NOW)
            )
    return folder


@pytest.fixture
def run(
    shop: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Callable[..., Ran]:
    def call(*words: str) -> Ran:
        monkeypatch.setattr("sys.argv", ["kitwright", "fit-up", *words, "--shop", str(shop)])
        status = 0
        try:
            main()
        except SystemExit as stopped:
            status = int(stopped.code or 0)
        said = capsys.readouterr()
        return status, said.out + said.err

    return call


def test_which_wait_and_for_whom(run: Callable[..., Ran]) -> None:
    status, said = run()
    assert status == 0
    assert re.fullmatch(
        r"Waiting for the shop:\n"
        r"  fit-up 12, bell HC-00\d\d: answer the fitter: “It binds. Why\?”\n"
        r"Waiting for the fitter:\n"
        r"  fit-up 11, bell HC-0101: hear how it went\n"
        r"Ended: 10.\n",
        said,
    )


def test_where_one_stands(run: Callable[..., Ran]) -> None:
    status, said = run("12")
    assert status == 0
    for words in (
        "; Sam, new block.\nWaiting for the shop: answer the fitter",
        "   1. Before you start         done\n",
        "  14. Result                   to do\n",
        f"  {NOW.astimezone().date()}, Ines: Before you start\n",
        f"  {NOW.astimezone().date()}, S: It binds. Why?\n",
    ):
        assert words in said
    assert "Steps:" not in run("11")[1]
    assert "Sweep of the bore: 13 thou TIR, outside" in run("11")[1]
    assert "It has succeeded." in run("3")[1]


def test_its_papers(run: Callable[..., Ran], tmp_path: Path) -> None:
    blank, slip = tmp_path / "blank.pdf", tmp_path / "slip.pdf"
    status, said = run("12", "--blank", str(blank), "--slip", str(slip), "--letter")
    assert (status, said[said.index("wrote") :]) == (0, f"wrote {blank}\nwrote {slip}\n")
    for path, pages in ((blank, 12), (slip, 1)):
        found = pypdf.PdfReader(io.BytesIO(path.read_bytes()))
        assert len(found.pages) <= pages
        assert [round(float(side)) for side in found.pages[0].mediabox[2:]] == [612, 792]
        assert "http://garage.test:8711/f/" in found.pages[0].extract_text().replace("\n", "")


def test_what_cannot_be(run: Callable[..., Ran], tmp_path: Path) -> None:
    assert run("99") == (2, "fit-up: there is no fit-up number 99\n")
    assert run("--blank", "x.pdf")[0] == 2
    away = str(tmp_path / "no" / "x.pdf")
    status, said = run("12", "--slip", away)
    assert status == 2
    assert said.endswith(f"slip: {away}: No such file or directory; choose another file\n")
