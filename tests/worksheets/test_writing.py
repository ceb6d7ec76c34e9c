"""A case's plain data goes to TOML and comes back the same."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitwright.worksheets.contents import CONTENTS
from kitwright.worksheets.declaration import load
from kitwright.worksheets.reading import from_toml, read
from kitwright.worksheets.writing import flat, to_toml

texts = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
scalars = st.booleans() | st.integers(-(2**63), 2**63 - 1) | st.floats(allow_nan=False) | texts
values = st.recursive(
    scalars,
    lambda inner: st.lists(inner, max_size=5) | st.dictionaries(texts, inner, max_size=4),
    max_leaves=20,
)


@given(st.dictionaries(texts, values, max_size=6))
def test_toml_reads_back_as_it_was(data: dict[str, object]) -> None:
    assert tomllib.loads(to_toml(data)) == data


def test_rows_stand_below_each_other_and_tables_last() -> None:
    data = {
        "parts": [{"kind": "ring", "size": "1 mm", "note": None}, {"kind": "bar"}],
        "rows": [[number, 1.25e-7] for number in range(10)],
        "absent": None,
        "unit": "mm",
    }
    text = to_toml(data)
    assert text.index("unit") < text.index("[[parts]]")
    assert text.count("[[parts]]") == 2
    assert all(len(line) < 100 for line in text.splitlines())
    assert tomllib.loads(text) == {
        "rows": data["rows"],
        "unit": "mm",
        "parts": [{"kind": "ring", "size": "1 mm"}, {"kind": "bar"}],
    }


@pytest.mark.parametrize("name", [entry.name for entry in CONTENTS])
def test_each_example_reads_back(name: str) -> None:
    data = from_toml(load(name).example)
    assert from_toml(to_toml(data)) == data


def test_an_answer_for_a_program_names_sources_and_cautions() -> None:
    worksheet = load(CONTENTS[0].name)
    answer = worksheet.solve(read(worksheet.case, from_toml(worksheet.example)))
    whole = flat(worksheet, answer)
    assert whole["sources"] == list(worksheet.sources)
    assert len(whole["cautions"]) == len(worksheet.cautions)
    assert whole["assumed"] == answer.assumed
