"""The picture in the documentation is the one that its example draws."""

from __future__ import annotations

import doctest
from pathlib import Path
from typing import Any

DOCS = Path(__file__).parents[2] / "docs"


def test_the_target_in_the_documentation_is_up_to_date(read_back: Any) -> None:
    page = (DOCS / "pictures.md").read_text("utf-8")
    names: dict[str, Any] = {}
    for example in doctest.DocTestParser().get_examples(page):
        exec(compile(example.source, "pictures.md", "single"), names)
    kept = (DOCS / "images" / "target.svg").read_text("utf-8")
    assert kept == names["svg"] + "\n", (
        "write the svg of docs/pictures.md to docs/images/target.svg"
    )
    read_back(kept).check_clear()
