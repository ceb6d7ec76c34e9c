"""`kitwright work`, run as a person runs it."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from kitwright.worksheets.contents import CONTENTS
from kitwright.worksheets.declaration import load

KITWRIGHT = Path(sys.executable).with_name("kitwright")


def run(*words: str, cwd: Path, given: bytes = b"") -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(
        [KITWRIGHT, *words], cwd=cwd, input=given, capture_output=True, check=False, timeout=120
    )


def test_the_list_has_a_line_each(tmp_path: Path) -> None:
    done = run("work", cwd=tmp_path)
    assert done.returncode == 0
    for entry in CONTENTS:
        assert f"{entry.name} " in done.stdout.decode()
        assert entry.question in done.stdout.decode()


@pytest.mark.parametrize("name", [entry.name for entry in CONTENTS])
def test_example_answer_json_and_pdf(name: str, tmp_path: Path) -> None:
    case = tmp_path / "case.toml"
    case.write_bytes(run("work", name, "--example", cwd=tmp_path).stdout)
    told = run("work", name, "case.toml", cwd=tmp_path)
    assert (told.returncode, told.stderr) == (0, b"")
    worksheet = load(name)
    text = " ".join(told.stdout.decode().split())
    assert all(caution.text in text for caution in worksheet.cautions)
    assert all(source in text for source in worksheet.sources)

    asked = run("work", name, "case.toml", "--json", cwd=tmp_path)
    answer = json.loads(asked.stdout)
    assert answer["assumed"] is not None
    assert answer["sources"] == list(worksheet.sources)

    printed = run("work", name, "case.toml", "--pdf", "sheet.pdf", cwd=tmp_path)
    assert printed.returncode == 0, printed.stderr
    assert (tmp_path / "sheet.pdf").read_bytes().startswith(b"%PDF")


def test_json_from_standard_input(tmp_path: Path) -> None:
    case = {"value": "0.1 mm", "u95": "0.01 mm", "limits": {"high": "0.127 mm"}}
    done = run("work", "conformity", "-", "--json", cwd=tmp_path, given=json.dumps(case).encode())
    assert json.loads(done.stdout)["verdict"] == "within"


@pytest.mark.parametrize(
    ("words", "given", "line"),
    [
        (["work", "swep"], b"", 'worksheet: there is no worksheet "swep"; did you mean "sweep"?'),
        (["work", "sweep"], b"", "CASE: missing; try `kitwright work sweep --example > case.toml`"),
        (
            ["work", "sweep", "none.toml"],
            b"",
            "none.toml: cannot be read: No such file or directory; check the name",
        ),
        (
            ["work", "sweep", "case.txt"],
            b"",
            "case.txt: the ending is not known; give a .toml or a .json file, or -",
        ),
        (
            ["work", "sweep", "-"],
            b"{",
            (
                "standard input: not JSON: Expecting property name enclosed "
                "in double quotes: line 1 column 2 (char 1)"
            ),
        ),
        (
            ["work", "sweep", "-"],
            b"\xff\xfe",
            "standard input: not UTF-8 at byte 0; save it as UTF-8",
        ),
        (
            ["work", "sweep", "-"],
            b"[1]",
            "the case is not a table of names and values; see --example",
        ),
        (
            ["work", "conformity", "-"],
            b'{"value": "5", "u95": "1 thou", "limits": {"high": "5 thou"}}',
            'value: "5" has no unit; write "5 thou" or "5 mm"',
        ),
    ],
)
def test_bad_input_gets_its_line_and_exit_2(
    words: list[str], given: bytes, line: str, tmp_path: Path
) -> None:
    done = run(*words, cwd=tmp_path, given=given)
    assert done.returncode == 2
    assert done.stdout == b""
    assert done.stderr.decode().strip() == line


def test_a_pdf_that_cannot_be_written(tmp_path: Path) -> None:
    case = b'{"value": "5 mm", "u95": "1 thou", "limits": {"high": "6 mm"}}'
    done = run("work", "conformity", "-", "--pdf", "no/such/sheet.pdf", cwd=tmp_path, given=case)
    assert done.returncode == 2
    assert done.stderr.decode().startswith("no/such/sheet.pdf: cannot be written: No such file")
