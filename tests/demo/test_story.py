"""The demo: the whole thread, twice, on SQLite and from the command line."""

from __future__ import annotations

import csv
import datetime
import subprocess
import sys
from pathlib import Path

import pytest

from kitwright.books import orders, promises, standing, stock
from kitwright.books.opening import Books
from kitwright.books.tables import bell_now
from kitwright.books.verifying import verify
from kitwright.calc.quality.random_sample import draw
from kitwright.demo.story import MARK, run
from kitwright.errors import FileError
from kitwright.shop import batches, bells, corrections, fitups, samples
from kitwright.shop.today import look

TODAY = datetime.date(2026, 5, 4)
KITWRIGHT = Path(sys.executable).with_name("kitwright")


def states(books: Books, batch_id: int) -> dict[str, str]:
    with books.reading() as connection:
        found = standing.where(connection, bell_now.c.batch_id == batch_id)
    return {bell.serial: bell.state for bell in found}


def test_the_books_are_sound_and_every_bell_is_decided(demo_books: Books) -> None:
    assert verify(demo_books) == []
    found = states(demo_books, 4)
    assert len(found) == 50
    assert {serial for serial, state in found.items() if state == "rejected"} == {
        "HC-0107",
        "HC-0119",
        "HC-0131",
        "HC-0145",
    }
    assert {serial for serial, state in found.items() if state == "held"} == {"HC-0140"}
    assert sorted(found.values()).count("released") == 43


def test_corrections_tell_new_blocks_from_line_honed_ones(demo_books: Books) -> None:
    """The promise holds on new blocks and cannot hold where the crank has risen."""
    found = {each.block: each.answer for each in corrections.with_batch(demo_books, 4)}
    assert found["new"].corrections_per_100 < 2
    assert found["line-honed"].corrections_per_100 > 30
    assert all(answer.method == "exact" for answer in found.values())


def test_a_batch_was_judged_by_a_sample(demo_books: Books) -> None:
    """Its plan, the draw that its seed makes again, its verdict, and the bell that it left out."""
    (seen,) = samples.views(demo_books, 2)
    assert seen.say().startswith("Accepted: 3 of 4 bells drawn at random (seed 2017), 0 bad")
    lot = [bell.serial for bell in seen.lot]
    assert list(seen.drawn) == draw(lot, 3, seed=2017)
    (left_out,) = set(lot) - set(seen.drawn)
    bell = bells.view(demo_books, left_out)
    assert bell.release is not None
    assert bell.release.inspection_id is None
    assert bell.bore is None


def test_three_orders(demo_books: Books) -> None:
    with demo_books.reading() as connection:
        taken = {each.label: each for each in orders.orders(connection)}
    assert (taken["O-101"].state, taken["O-101"].promised_for) == ("shipped", TODAY)
    assert (taken["O-102"].state, taken["O-102"].promised_for) == ("allocated", TODAY)
    assert taken["O-103"].state == "promised"
    with demo_books.reading() as connection:
        basis = promises.bases(connection)[taken["O-103"].id]
        due = next(each.due for each in stock.batches(connection) if each.state == "sent")
    assert due < basis.day == taken["O-103"].promised_for  # no batch is that punctual
    assert basis.chance >= basis.wanted == 0.9


def test_the_fitter_is_advised(demo_books: Books) -> None:
    found = fitups.view(demo_books, 11)
    assert found.fit_up.state == "advice"
    assert found.advice is not None
    assert found.advice.sweep_answer.verdict == "outside"
    answer = found.advice.dowels_answer
    assert answer is not None
    assert answer.recommended is not None
    best = answer.candidates[answer.recommended]
    assert best.chance_within > 0.95
    assert best.predicted_tir_mm < 0.127


def test_every_page_has_something_to_show(demo_books: Books) -> None:
    today = look(demo_books, today=TODAY)
    asked = " ".join(task.asked for task in today.tasks)
    for words in ("too close to call", "hear how it went", "ship it", "expires", "rejected"):
        assert words in asked
    assert [each.free for each in today.stock] == [43, 0]


def test_the_files(demo_made: Path) -> None:
    names = {path.name for path in demo_made.iterdir()}
    assert {
        "inspection-B-04.csv",
        "batch-B-04.csv",
        "batch-B-04.xlsx",
        "fitters-sheet-11.pdf",
        "certificate-HC-0101.pdf",
        MARK,
    } <= names
    for name in ("fitters-sheet-11.pdf", "certificate-HC-0101.pdf"):
        assert (demo_made / name).read_bytes().startswith(b"%PDF")
    with (demo_made / "batch-B-04.csv").open(newline="") as file:
        exported = list(csv.DictReader(file))
    assert len(exported) == 50
    assert {row["serial"]: row["bore verdict"] for row in exported}["HC-0140"] == (
        "too close to call"
    )


def test_the_export_holds_what_the_inspection_said(demo_made: Path) -> None:
    with (demo_made / "inspection-B-04.csv").open(newline="") as file:
        given = {row["serial"]: row for row in csv.DictReader(file)}
    with (demo_made / "batch-B-04.csv").open(newline="") as file:
        for row in csv.DictReader(file):
            for column, value in given[row["serial"]].items():
                if column != "serial":
                    assert float(row[column]) == float(value)


def test_the_same_day_makes_the_same_shop(demo_made: Path, tmp_path: Path) -> None:
    run(tmp_path / "again", today=TODAY, tell=lambda line: None)
    for name in ("inspection-B-04.csv", "batch-B-04.csv", "certificate-HC-0101.pdf"):
        assert (tmp_path / "again" / name).read_bytes() == (demo_made / name).read_bytes()


def test_a_folder_that_is_no_demo_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "letter.txt").write_text("keep me")
    with pytest.raises(FileError, match="holds something that is not a demo"):
        run(tmp_path / "mine", today=TODAY, tell=lambda line: None)
    assert (tmp_path / "mine" / "letter.txt").read_text() == "keep me"


def test_a_folder_that_cannot_be_written(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(FileError, match="cannot be written"):
        run(tmp_path / "file" / "demo", today=TODAY, tell=lambda line: None)


def test_the_command_tells_the_story(tmp_path: Path) -> None:
    done = subprocess.run(
        [KITWRIGHT, "demo"], cwd=tmp_path, capture_output=True, text=True, check=False, timeout=120
    )
    assert (done.returncode, done.stderr) == (0, "")
    for words in (
        "Two crates of 30 castings arrive",
        "45 released, 1 held, 4 rejected",
        "fitters in 100 would have to correct",
        "Order O-103: on ",
        "Move it ",
        "slots at ",
        "certificate-HC-0101.pdf",
        "Open the shop's pages",
    ):
        assert words in done.stdout
    again = subprocess.run(
        [KITWRIGHT, "demo"], cwd=tmp_path, capture_output=True, text=True, check=False, timeout=120
    )
    assert again.returncode == 0, "an earlier demo is replaced"
    sound = subprocess.run(
        [KITWRIGHT, "verify"], cwd=tmp_path, capture_output=True, text=True, check=False
    )
    assert (sound.returncode, sound.stdout) == (0, "The books are sound.\n")


def test_a_bells_life_is_told_whole(demo_books: Books) -> None:
    seen = bells.view(demo_books, "HC-0101")
    assert [line.what for line in seen.route] == [
        "Born from a casting",
        "Moved: on the shelf",
        "Inspected",
        "Released",
        "Allocated",
        "Shipped",
        "Moved: with the customer, Ladder Street Garage",
        "Fit-up 11 opened",
        "Done at fit-up 11",
    ]
    assert seen.release is not None
    assert seen.place == "with the customer, Ladder Street Garage"
    shown = batches.view(demo_books, 4)
    assert shown.counts["released"] == 43
