"""Two texts are equal where they mean the same, and only where they are of one kind."""

from __future__ import annotations

import pytest
from pydantic import TypeAdapter, ValidationError

from kitwright.worksheets.centring.match_case import TableLength
from kitwright.worksheets.fields import Expansion, Length, Size, TableUnit
from kitwright.worksheets.money import Amount
from kitwright.worksheets.supply.kit_cost_case import RateText
from kitwright.worksheets.written import Written

KINDS: list[tuple[type[Written], str]] = [
    (Length, "5 thou"),
    (Expansion, "21.8 ppm/K"),
    (TableUnit, "in"),
    (TableLength, "0.4"),
    (Amount, "12.50"),
    (RateText, "1.0842"),
]


@pytest.mark.parametrize(
    ("one", "other"),
    [
        # The international inch is 25.4 mm (ISO 80000-3).
        (Size("5 thou"), Length("0.127 mm")),
        (TableUnit("inches"), TableUnit("in")),
        (Amount("12.5"), Amount("12.50")),
        (RateText("1.10"), RateText("1.1")),
        (TableLength(0.4), TableLength("0.40")),
    ],
)
def test_the_same_meaning_is_equal_and_hashes_alike(one: Written, other: Written) -> None:
    assert one == other
    assert hash(one) == hash(other)


def test_another_kind_or_value_is_not_equal() -> None:
    assert Amount("1") != RateText("1")
    assert TableLength("1") != Length("1 mm")
    assert Length("1 mm") != Length("1.001 mm")
    assert Length("1 mm") != "1 mm"


@pytest.mark.parametrize(("kind", "text"), KINDS)
def test_it_is_kept_as_it_was_written(kind: type[Written], text: str) -> None:
    adapter = TypeAdapter(kind)
    read = adapter.validate_python(text)
    assert adapter.validate_python(read) is read
    assert adapter.dump_json(read) == f'"{text}"'.encode()
    assert adapter.json_schema()["type"] == "string"


@pytest.mark.parametrize(("kind", "text"), KINDS)
@pytest.mark.parametrize("value", [None, True, [], {}, "", "soon"])
def test_what_cannot_be_read_is_refused(kind: type[Written], text: str, value: object) -> None:
    with pytest.raises(ValidationError, match="missing" if value is None else None):
        TypeAdapter(kind).validate_python(value)
