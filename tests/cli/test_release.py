"""`kitwright batch` and `kitwright sample`, and an inspection that comes as QIF."""

from __future__ import annotations

import datetime
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from kitwright.books import samples, stock
from kitwright.books.characteristics import characteristics
from kitwright.books.entries import Entry
from kitwright.calc.quality.random_sample import draw
from kitwright.cli.main import main
from kitwright.demo.measuring import inspection
from kitwright.files.qif_writing import write_qif
from kitwright.shop.opening import open_shop

Ran = tuple[int, str]
NOW = datetime.datetime.now(datetime.UTC)


@pytest.fixture
def shop(demo_made: Path, tmp_path: Path) -> Path:
    """A demo shop of one's own, its steel batch back from the machinist."""
    folder = tmp_path / "shop"
    shutil.copytree(demo_made, folder)
    with open_shop(folder) as books, books.writing() as connection:
        stock.take_batch_back(connection, 3, Entry("Ines", NOW - datetime.timedelta(hours=1)))
    return folder


@pytest.fixture
def run(
    shop: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Callable[..., Ran]:
    def call(*words: str) -> Ran:
        monkeypatch.setattr("sys.argv", ["kitwright", *words, "--shop", str(shop)])
        status = 0
        try:
            main()
        except SystemExit as stopped:
            status = int(stopped.code or 0)
        said = capsys.readouterr()
        return status, said.out + said.err

    return call


def test_a_batch_is_summed_up(run: Callable[..., Ran], tmp_path: Path) -> None:
    out = tmp_path / "report.pdf"
    status, said = run("batch", "B-04", "--pdf", str(out))
    assert status == 0
    for words in (
        "Of 50 bells: 45 released, 1 held, 4 rejected.",
        "released   45     90.0 %  78.2 to 96.7 %",
        "0.024 thou inside",
        "bore x: HC-0107: beyond limits",
    ):
        assert words in said, words
    assert out.read_bytes().startswith(b"%PDF")
    assert run("batch", "B-77") == (2, 'batch: there is no batch "B-77"; name it as on its page\n')
    assert run("batch", "B-04", "--pdf", str(tmp_path / "no" / "r.pdf"))[0] == 2


def test_a_sample_is_drawn_measured_by_qif_and_judged(
    run: Callable[..., Ran], shop: Path, tmp_path: Path
) -> None:
    lot = [f"HS-{number:04d}" for number in range(5, 11)]
    status, said = run("sample", "B-03", "--n", "3", "--c", "0", "--seed", "20")
    assert status == 0
    assert said.startswith("WARNING: A sampling plan lets bad parts through")
    chosen = draw(lot, 3, seed=20)
    assert said.splitlines()[2:] == [f"  {serial}" for serial in chosen]
    with open_shop(shop) as books, books.reading() as connection:
        drawn = characteristics(connection, stock.get_batch(connection, 3).revision_id)
        (kept,) = samples.samples_of(connection, 3)
        assert samples.drawn_again(connection, kept.id) == chosen
    file = tmp_path / "steel.qif"
    file.write_bytes(write_qif(inspection(drawn, chosen, seed=3), title="try", created=NOW))
    assert run("sample", "B-03", "--judge")[0] == 2
    assert run("import", "B-03", str(file), "--instrument", "gauge") == (0, "release: 3\n")
    status, said = run("sample", "B-03", "--judge")
    assert status == 0
    assert "Accepted: 3 of 6 bells drawn at random (seed 20), 0 bad" in said
    assert "released by the rule “by sample: n = 3, c = 0”" in said
    assert run("sample", "B-03", "--judge")[1].startswith("sample: none waits")


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ((), "n: missing"),
        (("--n", "3"), "c: missing"),
        (("--n", "6", "--c", "0"), "measure every bell"),
        (("--aql", "17"), "is not in the tables"),
        (("--n", "3", "--c", "0", "--seed", "-1"), "seed: -1"),
        (("--judge", "--n", "3"), "judge: given with a plan"),
        (("--judge",), "sample: none waits"),
    ],
)
def test_what_cannot_be_drawn_is_refused(
    run: Callable[..., Ran], words: tuple[str, ...], told: str
) -> None:
    status, said = run("sample", "B-03", *words)
    assert status == 2
    assert told in said
