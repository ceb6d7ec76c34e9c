"""`kitwright work sweep` from a cold start, against Python importing numpy."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from benchmarks.ratios import ratio, report

KITWRIGHT = Path(sys.executable).with_name("kitwright")


def test_one_worksheet_starts_in_three_numpy_imports(tmp_path: Path) -> None:
    env = {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
    case = tmp_path / "case.toml"
    case.write_bytes(
        subprocess.run(
            [KITWRIGHT, "work", "sweep", "--example"], capture_output=True, check=True
        ).stdout
    )

    def run(*words: object) -> None:
        subprocess.run([str(word) for word in words], env=env, capture_output=True, check=True)

    found = ratio(
        lambda: run(KITWRIGHT, "work", "sweep", case),
        lambda: run(sys.executable, "-c", "import numpy"),
        rounds=15,
    )
    report("cold start of `kitwright work sweep` over `import numpy`", found, "at most 3")
    assert found <= 3
