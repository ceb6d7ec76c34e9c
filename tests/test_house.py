"""The rules of the house that no other tool checks."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
SOURCE = ROOT / "src" / "kitwright"
MODULES = sorted(SOURCE.rglob("*.py"))
FORBIDDEN_IN_CALC = {"open", "print", "input", "now", "today", "time", "seed", "perf_counter"}


def names_called(tree: ast.AST) -> set[str]:
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            function = node.func
            if isinstance(function, ast.Name):
                found.add(function.id)
            elif isinstance(function, ast.Attribute):
                found.add(function.attr)
    return found


@pytest.mark.parametrize(
    "module", sorted((SOURCE / "calc").rglob("*.py")), ids=lambda m: str(m.relative_to(SOURCE))
)
def test_computation_is_pure(module: Path) -> None:
    """No file, no output, no clock, no global random state in calc."""
    called = names_called(ast.parse(module.read_text("utf-8")))
    assert not called & FORBIDDEN_IN_CALC


def test_the_check_of_purity_sees_a_breach() -> None:
    assert names_called(ast.parse("import time\nx = time.time()")) & FORBIDDEN_IN_CALC
    assert names_called(ast.parse("np.random.seed(1)")) & FORBIDDEN_IN_CALC


@pytest.mark.parametrize("module", MODULES, ids=lambda m: str(m.relative_to(SOURCE)))
def test_no_drawers(module: Path) -> None:
    """A module has a subject: none is called util or helpers, none runs on and on."""
    assert module.stem not in {"util", "utils", "helper", "helpers", "common", "misc"}
    assert len(module.read_text("utf-8").splitlines()) <= 450, "split it by subject"
    assert ast.get_docstring(ast.parse(module.read_text("utf-8"))), "say what it is for"


def imported_by(command: str) -> set[str]:
    code = (
        f"import sys; sys.argv = {command.split()!r}\nfrom kitwright.cli.main import main\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\nprint('#', *sys.modules)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT
    )
    return set(done.stdout.rpartition("#")[2].split())


def test_help_loads_nothing_heavy() -> None:
    loaded = imported_by("kitwright --help")
    assert not loaded & {"numpy", "pydantic", "sqlalchemy", "fastapi", "scipy", "typst"}


def test_only_the_worksheet_asked_for_is_loaded() -> None:
    loaded = imported_by("kitwright work sweep --example")
    assert "kitwright.worksheets.centring.sweep" in loaded
    assert not loaded & {
        "kitwright.worksheets.centring.dowels",
        "scipy",
        "sqlalchemy",
        "fastapi",
        "typst",
    }


@pytest.mark.parametrize("name", ["tap", "heard", "modes"])
def test_an_example_of_the_shell_is_written_without_scipy(name: str) -> None:
    loaded = imported_by(f"kitwright work {name} --example")
    assert f"kitwright.worksheets.shell.{name}" in loaded
    assert "scipy" not in loaded


def test_no_committed_file_names_a_registry_or_this_machine() -> None:
    listed = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout.split("\n")
    needles = [b"pypi" + b".org", b"npmjs" + b".org", b"pythonhosted" + b".org", b"/wor" + b"k/"]
    for name in filter(None, listed):
        path = ROOT / name
        if path.is_file() and path.suffix not in {".ttf", ".woff2", ".png"}:
            data = path.read_bytes()
            assert not [needle for needle in needles if needle in data], name
