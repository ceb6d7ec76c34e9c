"""What is wrong with a case is said in one line a fault, at the name its writer knows."""

from __future__ import annotations

from typing import Annotated, Literal

import pytest
from pydantic import Field

from kitwright.errors import InputError
from kitwright.worksheets.fields import Case, Number, Part, PositiveSize
from kitwright.worksheets.reading import from_json, from_toml, read


class Ring(Part):
    kind: Literal["ring"]
    size: PositiveSize
    count: int = 1


class Bar(Part):
    kind: Literal["bar"]
    bar: Number


class Bench(Case):
    unit: Literal["mm", "thou"] = "mm"
    level: Number
    rows: list[tuple[Number, Number]] = Field(min_length=1)
    parts: list[Annotated[Ring | Bar, Field(discriminator="kind")]] | None = None


GOOD = {"level": 1, "rows": [[1, 2]]}


def lines(**changes: object) -> list[str]:
    with pytest.raises(InputError) as caught:
        read(Bench, {**GOOD, **changes})
    return list(caught.value.lines)


def test_a_good_case_is_read() -> None:
    case = read(Bench, {**GOOD, "parts": [{"kind": "ring", "size": "5 thou"}]})
    assert case.rows == [(1.0, 2.0)]
    assert case.parts is not None


@pytest.mark.parametrize(
    ("changes", "line"),
    [
        ({"level": "1,5"}, 'level: "1,5" has a comma; write a decimal point'),
        ({"level": "wide"}, 'level: "wide" is not a number; write a plain finite number'),
        ({"level": None}, "level: missing; it is needed"),
        ({"level": 1e999}, 'level: "inf" is not a number; write a plain finite number'),
        ({"unit": "cm"}, "unit: \"cm\" is not known; write 'mm' or 'thou'"),
        ({"rows": [[1]]}, "rows[0][1]: missing; it is needed"),
        ({"rows": [[None, 1]]}, "rows[0][0]: missing; it is needed"),
        ({"rows": []}, "rows: 0 given; give 1 or more"),
        (
            {"parts": [{"kind": "ring", "size": "5"}]},
            'parts[0].size: "5" has no unit; write "5 thou" or "5 mm"',
        ),
        (
            {"parts": [{"kind": "ring", "size": "5 mm", "count": 1.5}]},
            'parts[0].count: "1.5" is not a whole number; write a whole number',
        ),
        ({"parts": [{"kind": "ring", "size": None}]}, "parts[0].size: missing; it is needed"),
        (
            {"parts": [{"kind": "bar", "bar": 1, "x": 2}]},
            "parts[0].x: unknown name; leave it out",
        ),
        (
            {"parts": [{"kind": "disc"}]},
            "parts[0].kind: \"disc\" is not known; write one of 'ring', 'bar'",
        ),
        ({"parts": [{}]}, "parts[0].kind: missing; it is needed"),
    ],
)
def test_a_fault_is_one_line(changes: dict[str, object], line: str) -> None:
    assert lines(**changes) == [line]


def test_a_field_named_like_its_kind_keeps_its_name() -> None:
    assert lines(parts=[{"kind": "bar"}]) == ["parts[0].bar: missing; it is needed"]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("a = " + "[" * 5000, "nested too deeply"),
        ("a = " + "9" * 5000, "not TOML"),
        (".".join("a" * 30) + ".a = 1", "30 parts"),
        ("\"a\". 'b'." * 15 + "c = 1", "30 parts"),
        ("[" + ".".join("a" * 100_000) + "]", "30 parts"),
        ("a == 1", "not TOML"),
    ],
)
def test_hostile_toml_is_refused(text: str, words: str) -> None:
    with pytest.raises(InputError, match=words):
        from_toml(text)


def test_a_name_of_29_parts_and_a_row_of_decimals_are_read() -> None:
    assert from_toml(".".join("a" * 29) + " = 1")
    assert from_toml("a = [" + "1.5," * 100 + "]\n# " + "a. " * 20)["a"][99] == 1.5


@pytest.mark.parametrize(
    "text",
    [
        "[" * 5000,
        '{"level": ' + "[" * 900 + "]" * 900 + "}",
        '{"level": "\\ud800", "rows": []}',
        '{"level": 1' + "0" * 5000 + "}",
    ],
    ids=["deep", "deep value", "half a character", "endless number"],
)
def test_hostile_json_is_refused(text: str) -> None:
    with pytest.raises(InputError) as caught:
        read(Bench, from_json(text))
    assert all(len(line) < 300 for line in caught.value.lines)
    "\n".join(caught.value.lines).encode("utf-8")
