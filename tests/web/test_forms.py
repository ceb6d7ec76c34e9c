"""A form made from a case model: what was typed comes back, what was meant is read."""

from __future__ import annotations

import time
from collections.abc import Iterator
from typing import Annotated, Any, Literal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import Field

from kitwright.errors import InputError, Problem
from kitwright.web.forms import Form
from kitwright.web.forms.lists import FIRST_ROWS, MOST_BLOCKS, MOST_ROWS, SPARE_ROWS
from kitwright.web.forms.views import BlocksView, EntryView, GroupView, TableView, View
from kitwright.worksheets.contents import CONTENTS
from kitwright.worksheets.declaration import load
from kitwright.worksheets.fields import (
    Angle,
    Case,
    Length,
    Number,
    Part,
    PositiveSize,
    Size,
    TableUnit,
)
from kitwright.worksheets.reading import from_toml, read


class Limits(Part):
    """Either may be missing."""

    low: Length | None = Field(default=None, description="Low limit")
    high: Length | None = Field(default=None, description="High limit")


class Ring(Part):
    kind: Literal["ring"] = Field(description="Kind")
    name: str = Field(description="Name")
    ring: PositiveSize = Field(description="Ring")
    hole: Limits | None = Field(default=None, description="Hole")


class Cloud(Part):
    kind: Literal["cloud"] = Field(description="Kind")
    unit: TableUnit = Field(description="Unit")
    vectors: list[tuple[Number, Number]] = Field(description="Vectors: x, y")


class Link(Part):
    name: str = Field(description="Name")
    nominal: Length = Field(description="Nominal")
    sense: Literal[1, -1] = Field(description="Sense")


class Stack(Part):
    label: str = Field(description="Label")
    links: list[Link] = Field(description="Links")


class Bench(Case):
    """One field of every kind that a worksheet may have."""

    limit: PositiveSize = Field(description="Limit (TIR)")
    turn_deg: Angle = Field(description="Turned by")
    count: int | None = Field(default=None, description="Count")
    error_deg: float = Field(default=5, description="Error")
    lubricated: bool | None = Field(default=None, description="Lubricated")
    surface: Literal["bore", "face"] = Field(default="bore", description="Surface")
    unit: TableUnit | None = Field(default=None, description="Unit")
    readings: list[tuple[Angle, Number]] = Field(description="Readings: clock angle, reading")
    place: tuple[Length, Length] | None = Field(default=None, description="Hole a: x, y")
    limits: Limits | None = Field(default=None, description="Limits")
    sizes: list[Size] = Field(default_factory=list, description="Sizes")
    values: list[Number] | None = Field(default=None, description="Values")
    depth: Size | list[Size] | None = Field(default=None, description="Depth, or several")
    holes: dict[str, tuple[Number, Number]] | None = Field(default=None, description="Holes")
    parts: list[Annotated[Ring | Cloud, Field(discriminator="kind")]] | None = Field(
        default=None, description="Parts"
    )
    stacks: list[Stack] | None = Field(default=None, description="Stacks")
    again: list[list[tuple[Angle, Number]]] = Field(
        default_factory=list, description="Taken again: clock angle, reading"
    )
    note: str | None = Field(default=None, description="Note")


FORM = Form.of_model(Bench)

WHOLE: dict[str, Any] = {
    "limit": "10 thou",
    "turn_deg": -30.5,
    "count": 3,
    "error_deg": 4,
    "lubricated": True,
    "surface": "face",
    "unit": "thou",
    "readings": [[0, 1.5], [90, -2], [180, 0.25], [270, 1e-7]],
    "place": ["-165 mm", "1 1/8 in"],
    "limits": {"low": "1 mm"},
    "sizes": ["7 thou", "14 thou"],
    "values": [1.5, -2, 3e5],
    "depth": ["5 mm", "6 mm"],
    "holes": {"a": [1, 2], "b": [3.5, 4]},
    "parts": [
        {"kind": "ring", "name": "first", "ring": "2 thou", "hole": {"high": "3 thou"}},
        {"kind": "cloud", "unit": "mm", "vectors": [[1, 2], [3, 4]]},
        {"kind": "ring", "name": "third", "ring": "4 thou"},
    ],
    "stacks": [
        {"label": "upper", "links": [{"name": "n", "nominal": "1 mm", "sense": -1}]},
    ],
    "again": [[[0, 1], [90, 2]], [[0, 1.5]]],
    "note": "as found",
}


def entries(view: View) -> Iterator[EntryView]:
    """Every input of a view, in the order of the page."""
    if isinstance(view, EntryView):
        yield view
    elif isinstance(view, GroupView):
        for part in view.parts:
            yield from entries(part)
    elif isinstance(view, TableView):
        for row in view.rows:
            yield from entries(row)
    else:
        for _, block in view.blocks:
            yield from entries(block)


def inputs(parts: tuple[View, ...]) -> dict[str, EntryView]:
    return {entry.name: entry for part in parts for entry in entries(part)}


def named(parts: tuple[View, ...], name: str) -> View:
    return next(part for part in parts if part.name == name)


def sent(values: dict[str, str]) -> list[tuple[str, str]]:
    """What a browser sends of a page that shows these texts: all its inputs, empty ones too."""
    view = FORM.filled(values)
    shown = {name: entry.value for name, entry in inputs(view.parts).items()}
    return list({**shown, **values}.items())


def test_a_whole_case_goes_through_the_form_and_back() -> None:
    values = FORM.written(WHOLE)
    again = FORM.read(sent(values))
    assert again.data == WHOLE
    assert again.values == values
    assert read(Bench, again.data) == read(Bench, WHOLE)


@pytest.mark.parametrize("name", [entry.name for entry in CONTENTS])
def test_each_example_goes_through_its_form_and_back(name: str) -> None:
    worksheet = load(name)
    form, data = Form.of(worksheet), from_toml(worksheet.example)
    assert form.read(form.written(data).items()).data == data
    assert read(worksheet.case, data)


lengths = st.integers(-900, 900).map(lambda n: f"{n} thou") | st.just("1 1/8 in")
numbers = st.integers(-(10**9), 10**9) | st.floats(-1e300, 1e300)
pairs = st.lists(numbers, min_size=2, max_size=2)
words = st.text(st.characters(categories=["L", "N"]), min_size=1, max_size=8)
limits = st.dictionaries(st.sampled_from(["low", "high"]), lengths, min_size=1)
ring = st.fixed_dictionaries(
    {"kind": st.just("ring"), "name": words, "ring": lengths}, optional={"hole": limits}
)
cloud = st.fixed_dictionaries(
    {
        "kind": st.just("cloud"),
        "unit": st.sampled_from(["mm", "thou"]),
        "vectors": st.lists(pairs, min_size=1, max_size=5),
    }
)
link = st.fixed_dictionaries({"name": words, "nominal": lengths, "sense": st.sampled_from([1, -1])})
stack = st.fixed_dictionaries({"label": words, "links": st.lists(link, min_size=1, max_size=4)})
cases = st.fixed_dictionaries(
    {},
    optional={
        "limit": lengths,
        "turn_deg": numbers,
        "count": st.integers(-5, 10**12),
        "lubricated": st.booleans(),
        "surface": st.sampled_from(["bore", "face"]),
        "unit": st.sampled_from(["mm", "thou", "furlong"]),
        "readings": st.lists(pairs, min_size=1, max_size=8),
        "place": st.lists(lengths, min_size=2, max_size=2),
        "limits": limits,
        "sizes": st.lists(lengths, min_size=1, max_size=6),
        "values": st.lists(numbers, min_size=1, max_size=9),
        "depth": lengths | st.lists(lengths, min_size=2, max_size=4),
        "holes": st.dictionaries(words, pairs, min_size=1, max_size=3),
        "parts": st.lists(ring | cloud, min_size=1, max_size=5),
        "stacks": st.lists(stack, min_size=1, max_size=3),
        "again": st.lists(st.lists(pairs, min_size=1, max_size=3), min_size=1, max_size=3),
        "note": words,
    },
)


@given(cases)
def test_any_case_goes_through_the_form_and_back(data: dict[str, Any]) -> None:
    values = FORM.written(data)
    again = FORM.read(sent(values))
    assert again.data == data
    assert again.values == values


def test_empty_fields_are_not_given() -> None:
    blank = FORM.read(sent({}))
    assert blank.data == {}
    with pytest.raises(InputError) as caught:
        read(Bench, blank.data)
    assert list(caught.value.lines) == [
        "limit: missing; it is needed",
        "turn_deg: missing; it is needed",
        "readings: missing; it is needed",
    ]


def test_numbers_come_as_typed_and_are_refused_by_the_case() -> None:
    typed = {
        "limit": " 5 thou ",
        "turn_deg": "1,5",
        "readings[0][0]": "−30",
        "readings[0][1]": "+2.",
    }
    filled = FORM.read(typed.items())
    assert filled.values == typed
    assert filled.data == {"limit": "5 thou", "turn_deg": "1,5", "readings": [[-30, 2.0]]}
    with pytest.raises(InputError) as caught:
        read(Bench, filled.data)
    assert list(caught.value.lines) == ['turn_deg: "1,5" has a comma; write a decimal point']


@pytest.mark.parametrize("text", ["1e999", "nan", "inf", "0x10", "1_000", "٣", "9" * 400, "1 2"])
def test_what_is_no_plain_number_is_left_for_the_case_to_refuse(text: str) -> None:
    data = FORM.read([("turn_deg", text), ("limit", "1 mm"), ("readings[0][0]", "1")]).data
    with pytest.raises(InputError) as caught:
        read(Bench, data)
    assert [problem.where for problem in caught.value.problems] == ["turn_deg", "readings[0][1]"]


def test_a_decimal_comma_in_a_list_of_numbers_is_not_two_numbers() -> None:
    data = FORM.read([("values", "1,5 2.5\n3")]).data
    assert data == {"values": ["1,5", 2.5, 3]}


def test_empty_rows_close_up_and_a_gap_is_said_at_its_place() -> None:
    filled = FORM.read(
        [
            ("readings[0][0]", ""),
            ("readings[0][1]", ""),
            ("readings[2][0]", "90"),
            ("readings[2][1]", ""),
            ("readings[5][0]", "180"),
            ("readings[5][1]", "2"),
        ]
    )
    assert filled.data == {"readings": [[90, None], [180, 2]]}
    assert filled.values == {
        "readings[0][0]": "90",
        "readings[1][0]": "180",
        "readings[1][1]": "2",
    }
    with pytest.raises(InputError, match=r"readings\[0\]\[1\]: missing; it is needed"):
        read(Bench, {**filled.data, "limit": "1 mm", "turn_deg": 1})


def test_messages_land_beside_their_fields() -> None:
    problems = [
        Problem("limit", "bad", "mend"),
        Problem("readings[1][1]", "bad", "mend"),
        Problem("readings[2]", "a row", ""),
        Problem("readings", "too few", ""),
        Problem("limits.low", "bad", ""),
        Problem("limits", "swapped", ""),
        Problem("sizes[1]", '"5" has no unit', "write it"),
        Problem("parts[1].vectors[0][1]", "bad", ""),
        Problem("parts[0].ring", "bad", ""),
        Problem("parts[0]", "a block", ""),
        Problem("parts[2].foo", "unknown name", ""),
        Problem("again[1][0][1]", "bad", ""),
        Problem("again[0]", "too few", ""),
        Problem("nowhere", "lost", ""),
        Problem("", "the whole", ""),
        Problem("limits2", "not limits", ""),
    ]
    view = FORM.filled(FORM.written(WHOLE), problems)
    found = inputs(view.parts)
    assert found["limit"].messages == ("bad; mend",)
    assert found["readings[1][1]"].messages == ("bad; mend",)
    assert found["limits.low"].messages == ("bad",)
    assert found["sizes"].messages == ('sizes[1]: "5" has no unit; write it',)
    assert found["parts[1].vectors[0][1]"].messages == ("bad",)
    assert found["parts[0].ring"].messages == ("bad",)
    assert found["again[1][0][1]"].messages == ("bad",)
    readings, parts = named(view.parts, "readings"), named(view.parts, "parts")
    assert isinstance(readings, TableView)
    assert readings.messages == ("too few",)
    assert readings.rows[2].messages == ("a row",)
    assert isinstance(parts, BlocksView)
    assert parts.blocks[0][1].messages == ("a block",)
    assert parts.blocks[2][1].messages == ("parts[2].foo: unknown name",)
    assert named(view.parts, "limits").messages == ("swapped",)
    assert view.messages == ("nowhere: lost", "the whole", "limits2: not limits")
    assert len(view.faults) == len(problems)
    labels = {fault.label for fault in view.faults}
    assert "Readings, row 2, reading" in labels
    assert "Parts, row 2, Vectors, row 1, y" in labels
    assert all(
        entry.id in {fault.id for fault in view.faults}
        for entry in found.values()
        if entry.messages
    )


def test_identifiers_are_unique() -> None:
    view = FORM.filled(FORM.written(WHOLE))
    ids = [entry.id for entry in inputs(view.parts).values()]
    assert len(ids) == len(set(ids))


@pytest.mark.parametrize("name", [entry.name for entry in CONTENTS])
def test_every_input_of_a_worksheet_has_a_word_for_its_label(name: str) -> None:
    """The description of a pair names its columns: `Dowel hole a: x, y`."""
    worksheet = load(name)
    form = Form.of(worksheet)
    every = dict(form.written(from_toml(worksheet.example)))
    for kind in ("zone", "shift", "line", "float", "growth", "measured"):
        place = sum(key.endswith(".kind") for key in every)
        every[f"contributors[{place}].kind"] = kind
    labels = [entry.label for entry in inputs(form.filled(every).parts).values()]
    assert labels
    assert not [label for label in labels if not label or label[0].isdigit()]


def test_labels_units_hints_and_defaults() -> None:
    form = Form.of_model(Bench, example={"limit": "10 thou", "sizes": ["7 thou", "14 thou"]})
    found = inputs(form.filled({}).parts)
    assert found["limit"].label == "Limit (TIR)"
    assert found["limit"].hint == "10 thou"
    assert found["sizes"].hint == "7 thou, 14 thou"
    assert found["turn_deg"].unit == "°"
    assert found["error_deg"].default == "5"
    assert not found["error_deg"].needed
    assert found["surface"].default == "bore"
    assert [text for text, _ in found["surface"].options] == ["bore", "face"]
    assert [text for text, _ in found["lubricated"].options] == ["yes", "no"]
    assert found["place[0]"].label == "x"
    readings = named(form.filled({}).parts, "readings")
    assert isinstance(readings, TableView)
    assert readings.columns == ("Clock angle, °", "Reading, in the unit above")
    assert readings.label == "Readings"


def test_a_choice_that_is_none_comes_back_as_typed() -> None:
    filled = FORM.read([("surface", "xyzzy")])
    assert filled.data == {"surface": "xyzzy"}
    assert ("xyzzy", "xyzzy") in inputs(FORM.filled(filled.values).parts)["surface"].options


def rows(view: View) -> int:
    assert isinstance(view, TableView)
    return len(view.rows)


def test_more_rows() -> None:
    assert rows(named(FORM.filled({}).parts, "readings")) == FIRST_ROWS
    values = {f"readings[{i}][0]": "1" for i in range(7)}
    assert rows(named(FORM.filled(values).parts, "readings")) == 7 + SPARE_ROWS
    posted = sent({**values, "limit": "5 thou"})
    grown = FORM.changed(posted, more="readings")
    view = FORM.filled(grown.values, shown=grown.shown)
    assert rows(named(view.parts, "readings")) == 7 + 2 * SPARE_ROWS
    assert grown.values["limit"] == "5 thou"


def test_blocks_are_added_and_taken_out() -> None:
    posted = sent(FORM.written(WHOLE))
    added = FORM.changed(posted, add="parts:cloud")
    assert added.values["parts[3].kind"] == "cloud"
    less = FORM.changed(posted, remove="parts[0]")
    assert less.data["parts"] == WHOLE["parts"][1:]
    assert less.values["parts[1].name"] == "third"
    alone = FORM.changed(sent({}), add="stacks:")
    stacks = named(FORM.filled(alone.values, shown=alone.shown).parts, "stacks")
    assert isinstance(stacks, BlocksView)
    assert len(stacks.blocks) == 1
    filled = FORM.changed(sent(FORM.written(WHOLE)), add="again:")
    again = named(FORM.filled(filled.values, shown=filled.shown).parts, "again")
    assert isinstance(again, BlocksView)
    assert len(again.blocks) == 3
    for nonsense in ("parts:foo", "nowhere:ring", "limit", "::", "parts"):
        assert FORM.changed(posted, add=nonsense).values == FORM.read(posted).values


def test_taking_out_one_block_leaves_those_of_a_longer_number() -> None:
    posted = [(f"parts[{i}].kind", "ring") for i in range(12)]
    posted += [(f"parts[{i}].name", str(i)) for i in range(12)]
    less = FORM.changed(posted, remove="parts[1]")
    assert [part["name"] for part in less.data["parts"]] == [str(i) for i in range(12) if i != 1]


def test_more_rows_than_a_form_holds_are_said_not_dropped() -> None:
    filled = FORM.read([(f"readings[{MOST_ROWS}][0]", "1")])
    assert [problem.where for problem in filled.problems] == ["readings"]
    with pytest.raises(InputError, match="a form takes 400"):
        FORM.written({"readings": [[1, 2]] * (MOST_ROWS + 1)})
    with pytest.raises(InputError, match=r"parts\[0\].vectors: 401 rows"):
        FORM.written({"parts": [{"kind": "cloud", "vectors": [[1, 2]] * (MOST_ROWS + 1)}]})
    with pytest.raises(InputError, match="a form takes 60"):
        FORM.written({"parts": [{"kind": "cloud"}] * (MOST_BLOCKS + 1)})
    values = {f"readings[{i}][0]": "1" for i in range(MOST_ROWS)}
    full = named(FORM.filled(values, shown={"readings": 10**9}).parts, "readings")
    assert isinstance(full, TableView)
    assert full.full
    assert len(full.rows) == MOST_ROWS


HOSTILE = [
    "readings[999999][0]",
    "readings[9999999999999999999][0]",
    "readings[-1][0]",
    "readings[0]" * 50,
    "[0]" * 60,
    "parts[59].vectors[399][1]",
    "parts[0].kind.kind",
    "parts[0].__class__",
    "limits.low.low",
    "." * 190,
    "[" * 190,
    "a" * 100_000,
    "",
    "\x00",
    "readings[0][0]\x00",
]


@given(
    st.lists(
        st.tuples(
            st.sampled_from(HOSTILE) | st.text("readngspt[].0123456789kivo", max_size=40),
            st.text(max_size=10),
        ),
        max_size=30,
    )
)
def test_hostile_names_and_texts_cannot_break_it(posted: list[tuple[str, str]]) -> None:
    filled = FORM.read(posted)
    FORM.filled(filled.values, filled.problems, filled.shown)
    try:
        read(Bench, filled.data)
    except InputError as error:
        FORM.filled(filled.values, error.problems, filled.shown)


def test_hostile_names_cost_little() -> None:
    posted = [(f"parts[{i}].vectors[399][1]", "1") for i in range(MOST_BLOCKS)]
    posted += [(f"parts[{i}].kind", "cloud") for i in range(MOST_BLOCKS)]
    posted += [("[0]" * 60 + str(i), "1") for i in range(4800)]
    start = time.perf_counter()
    filled = FORM.read(posted)
    FORM.filled(filled.values, filled.problems, {**filled.shown, "readings": 10**9})
    assert time.perf_counter() - start < 20  # a hundred times that if each name were walked


junk = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=6), inner),
    max_leaves=10,
)


@given(
    st.dictionaries(
        st.sampled_from(sorted(Bench.model_fields)) | st.text(max_size=5), junk, max_size=5
    )
)
def test_any_pasted_data_can_be_shown(data: dict[str, Any]) -> None:
    """A case pasted as text may hold anything anywhere: the form shows what it can."""
    values = FORM.written(data)
    assert all(isinstance(text, str) for text in values.values())
    FORM.filled(values)


def test_a_case_cannot_take_the_buttons_names() -> None:
    class Bad(Case):
        more: int

    with pytest.raises(ValueError, match="more"):
        Form.of_model(Bad)
