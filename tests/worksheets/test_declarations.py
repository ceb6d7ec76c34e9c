"""What every worksheet must hold, whatever it computes."""

from __future__ import annotations

import json
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitwright.errors import InputError, MissingError
from kitwright.worksheets.contents import CONTENTS, STAGES, heading
from kitwright.worksheets.declaration import Worksheet, load
from kitwright.worksheets.reading import from_toml, read
from kitwright.worksheets.showing import assumptions, figures, grids

NAMES = [entry.name for entry in CONTENTS]


@pytest.fixture(params=NAMES)
def worksheet(request: pytest.FixtureRequest) -> Worksheet:
    return load(request.param)


def example(worksheet: Worksheet) -> object:
    return read(worksheet.case, from_toml(worksheet.example))


def test_contents_follow_the_job() -> None:
    stages = [entry.stage for entry in CONTENTS]
    assert stages == sorted(stages, key=STAGES.index)
    assert len(set(NAMES)) == len(NAMES)


def test_an_unknown_name_gets_the_nearest() -> None:
    with pytest.raises(MissingError, match='did you mean "sweep"'):
        heading("sweeep")
    with pytest.raises(MissingError, match="lists them"):
        heading("xyzzy")


def test_the_example_runs_and_answers_a_flat_object(worksheet: Worksheet) -> None:
    answer = worksheet.solve(example(worksheet))
    whole = answer.model_dump(mode="json")
    assert json.loads(json.dumps(whole, allow_nan=False)) == whole
    assert isinstance(answer.assumed, list)
    assert answer.how


def test_the_example_is_commented(worksheet: Worksheet) -> None:
    assert worksheet.example.count("#") >= 3


def test_a_case_goes_round_unchanged(worksheet: Worksheet) -> None:
    case = example(worksheet)
    again = read(worksheet.case, json.loads(case.model_dump_json(exclude_none=True)))
    assert again == case
    assert again.model_dump(mode="json") == case.model_dump(mode="json")


@pytest.mark.parametrize("lead", ["mm", "in"])
def test_the_answer_is_said_in_a_sentence(worksheet: Worksheet, lead: str) -> None:
    said = worksheet.say(worksheet.solve(example(worksheet)), lead)
    assert said[0].isupper() or said[0].isdigit()
    assert said.endswith(".")
    assert "!" not in said
    assert "_" not in said


def test_sources_are_named(worksheet: Worksheet) -> None:
    assert worksheet.sources
    assert all(len(source) > 10 for source in worksheet.sources)
    assert worksheet.question.endswith("?")


def test_unknown_and_missing_names_are_refused(worksheet: Worksheet) -> None:
    with pytest.raises(InputError, match="unknown name"):
        read(worksheet.case, {**from_toml(worksheet.example), "no_such_name": 1})
    with pytest.raises(InputError, match="missing"):
        read(worksheet.case, {})
    with pytest.raises(InputError, match="not a table"):
        read(worksheet.case, ["a", "list"])


def test_each_answer_can_be_shown(worksheet: Worksheet) -> None:
    answer = worksheet.solve(example(worksheet))
    for lead in ("mm", "in"):
        rows = figures(answer, lead=lead)
        assert rows
        labels = [row.label for row in rows]
        assert len(set(labels)) == len(labels), "two figures bear the same label"
        for grid in grids(answer, lead=lead):
            assert {len(row) for row in grid.rows} == {len(grid.columns)}
    keys = [line for line in assumptions(worksheet.case, answer) if re.search("[a-z]_[a-z]", line)]
    assert not keys, "a person reads a label, not a key"


junk = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=12),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner),
    max_leaves=8,
)


@pytest.mark.parametrize("name", NAMES)
@given(data=st.data())
def test_any_junk_is_answered_or_refused(name: str, data: st.DataObject) -> None:
    """A case with any of its values replaced by anything: an answer or an InputError."""
    worksheet = load(name)
    case = from_toml(worksheet.example)
    for key in data.draw(st.sets(st.sampled_from(sorted(case)), min_size=1, max_size=2)):
        case[key] = data.draw(junk)
    try:
        answer = worksheet.solve(read(worksheet.case, case))
    except InputError as error:
        assert all(error.lines)
    else:
        json.dumps(answer.model_dump(mode="json"), allow_nan=False)
