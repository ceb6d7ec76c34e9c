"""`kitwright labels` writes what was named, and says what cannot be."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pypdf
import pytest
import zxingcpp

from kitwright.cli.main import main

Ran = tuple[int, str]


@pytest.fixture
def run(
    demo_made: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> Callable[..., Ran]:
    def call(*words: str) -> Ran:
        out = tmp_path / "labels.pdf"
        monkeypatch.setattr(
            "sys.argv", ["kitwright", "labels", *words, "--shop", str(demo_made), "--out", str(out)]
        )
        status = 0
        try:
            main()
        except SystemExit as stopped:
            status = int(stopped.code or 0)
        said = capsys.readouterr()
        return status, said.out + said.err

    return call


def codes(pages: list[np.ndarray]) -> list[str]:
    return [one.text for page in pages for one in zxingcpp.read_barcodes(page)]


def test_a_batch_a_serial_and_a_crate_in_the_order_named(run, tmp_path, rendered) -> None:
    status, said = run("CR-05", "HC-0101", "B-03", "--width", "62 mm", "--height", "29 mm")
    assert (status, said.strip()) == (0, f"wrote {tmp_path / 'labels.pdf'}, 8 labels")
    pages = rendered((tmp_path / "labels.pdf").read_bytes())
    read = codes(pages)
    assert read[:2] == ["CR-05", "HC-0101"]
    assert len(read) == len(pages) == 8
    assert read[2:] == sorted(set(read[2:]))


def test_an_address_leads_to_the_bells_page(run, tmp_path, rendered) -> None:
    roll = ("--width", "62 mm", "--height", "29 mm")
    assert run("HC-0101", "CR-05", "--address", "http://Bench.example:8710/", *roll)[0] == 0
    pages = rendered((tmp_path / "labels.pdf").read_bytes())
    assert codes(pages) == ["http://bench.example:8710/bells/HC-0101", "CR-05"]


def test_shelves_need_no_shop(run, tmp_path) -> None:
    assert run("--shelf", "A3; dowels, 7 thou", "--shop", "nowhere", "--skip", "23")[0] == 0
    reader = pypdf.PdfReader(io.BytesIO((tmp_path / "labels.pdf").read_bytes()))
    assert "dowels, 7 thou" in reader.pages[0].extract_text()


@pytest.mark.parametrize(
    ("words", "line"),
    [
        (("NO-1",), 'labels: nothing bears "NO-1"; name a batch, a serial, a crate or a part as'),
        ((), "labels: nothing is named; name a batch, a serial, a crate or a part"),
        (("B-04", "--gap-down", "3"), 'gap-down: "3" has no unit; write "3 thou" or "3 mm"'),
        (("B-04", "--address", "bench"), 'address: "bench" is not an address; write it as'),
        (("B-04", "--columns", "19"), "label: 10.0 x 34.6 mm is too small for the code of HC-0101"),
    ],
)
def test_what_cannot_be_is_said_and_nothing_is_written(run, tmp_path, words, line) -> None:
    status, said = run(*words)
    assert status == 2
    assert line in said
    assert not (tmp_path / "labels.pdf").exists()
