"""Columns of numbers: decimal points and commas, and never a thousands separator."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitwright.files.numbers import number_columns
from kitwright.files.tables import Delimiter, Table


def table(*cells: str, by: Delimiter = ",") -> Table:
    return Table(
        header=("serial", "depth [mm]"),
        rows=tuple((f"B,{row}", cell) for row, cell in enumerate(cells)),
        row_numbers=range(2, 2 + len(cells)),
        delimiter=by,
    )


def read(*cells: str, by: Delimiter = ",") -> tuple[list[float], list[str]]:
    numbers, faults = number_columns(table(*cells, by=by), [1])
    assert np.isnan(numbers[:, 0]).sum() == len(faults)
    return numbers[:, 0].tolist(), [str(fault.problem) for fault in faults]


READ = {
    "points": (["1.5", "-0.25", "+3", " 4 ", ".5", "5.", "1e-3"], [1.5, -0.25, 3, 4, 0.5, 5, 1e-3]),
    "commas": (["1,5", "-0,25", "3", "124,012"], [1.5, -0.25, 3, 124.012]),
    "a true minus": (["−0.5", "2"], [-0.5, 2]),
    "a true minus and a comma": (["−0,5", "2"], [-0.5, 2]),
}


@pytest.mark.parametrize("case", READ)
@pytest.mark.parametrize("by", [",", ";", "\t", ""])
def test_both_decimal_marks_are_read(case: str, by: Delimiter) -> None:
    cells, expected = READ[case]
    assert read(*cells, by=by) == (expected, [])


def test_after_semicolons_a_comma_is_decimal_without_more_proof() -> None:
    assert read("124,012", "1,234", by=";") == ([124.012, 1.234], [])


@pytest.mark.parametrize("by", [",", "\t", ""])
def test_commas_that_could_all_be_thousands_are_refused(by: Delimiter) -> None:
    _, lines = read("124,012", "7", "-1,234", by=by)
    assert lines == [
        (
            'row 2, depth [mm]: "124,012" could mean 124.012 or 124012; '
            "write a decimal point, and no thousands separator"
        ),
        (
            'row 4, depth [mm]: "-1,234" could mean -1.234 or -1234; '
            "write a decimal point, and no thousands separator"
        ),
    ]
    assert read("124,012", "7", "-0,234", by=by) == ([124.012, 7, -0.234], [])
    assert read("124,012", "7", "0,5", by=by) == ([124.012, 7, 0.5], [])


NOT_NUMBERS = {
    "abc": '"abc" is not a number; write a plain number',
    "1.5 mm": '"1.5 mm" is not a number; write a plain number',
    "nan": '"nan" is not a number; write a plain number',
    "inf": '"inf" is not a number; write a plain number',
    "-Infinity": '"-Infinity" is not a number; write a plain number',
    "1e999": '"1e999" is not a number; write a plain number',
    "1_0": '"1_0" is not a number; write a plain number',
    "１２": '"１２" is not a number; write a plain number',
    "0x10": '"0x10" is not a number; write a plain number',
    "2026-03-12": '"2026-03-12" is not a number; write a plain number',
    "": "empty; measure it, or leave the row out",
    "  ": "empty; measure it, or leave the row out",
    "1,234.5": '"1,234.5" has a thousands separator; write its digits without one',
    "1.234.567": '"1.234.567" has a thousands separator; write its digits without one',
    "1 234.5": '"1 234.5" has a thousands separator; write its digits without one',
    "1\u202f234": '"1\u202f234" has a thousands separator; write its digits without one',
    "1'234": '"1\'234" has a thousands separator; write its digits without one',
    "1,5": '"1,5" has a comma, other numbers have a point; write a decimal point',
    "1,234": '"1,234" has a comma, other numbers have a point; write a decimal point',
}


@pytest.mark.parametrize("cell", NOT_NUMBERS)
def test_a_cell_that_is_not_a_number_is_told_by_row_and_column(cell: str) -> None:
    numbers, lines = read("0.5", cell, "2.25")
    assert lines == [f"row 3, depth [mm]: {NOT_NUMBERS[cell]}"]
    assert (numbers[0], numbers[2]) == (0.5, 2.25)


def test_among_decimal_commas_a_point_is_the_fault() -> None:
    _, lines = read("0,5", "1.5", "2,25", "1.234,5", by=";")
    assert lines == [
        'row 3, depth [mm]: "1.5" has a point, other numbers have a comma; write a decimal comma',
        'row 5, depth [mm]: "1.234,5" has a thousands separator; write its digits without one',
    ]


def test_the_mark_is_one_for_all_columns() -> None:
    both = Table(
        header=("a [mm]", "b [mm]"),
        rows=(("0,5", "0.004"), ("1,5", "0"), ("2,5", "0")),
        row_numbers=[2, 3, 4],
        delimiter=";",
    )
    _, faults = number_columns(both, [0, 1])
    assert [(fault.row, fault.column) for fault in faults] == [(0, 1)]
    texts_aside, none = number_columns(both, [0])
    assert texts_aside[:, 0].tolist() == [0.5, 1.5, 2.5]
    assert none == []


@given(
    values=st.lists(st.floats(allow_nan=False, allow_infinity=False), min_size=1, max_size=8),
    comma=st.booleans(),
)
def test_any_number_reads_back_exactly(values: list[float], comma: bool) -> None:
    cells = [repr(value).replace(".", "," if comma else ".") for value in values]
    found, lines = read(*cells, by=";")
    assert lines == []
    assert [math.copysign(1, value) for value in found] == [
        math.copysign(1, value) for value in values
    ]
    assert found == values


@given(cells=st.lists(st.text("0123456789.,-+e_ nai'\u00a0", max_size=8), min_size=1, max_size=5))
def test_what_is_read_at_once_is_read_cell_by_cell_too(cells: list[str]) -> None:
    """A good cell reads the same beside a bad one, which forces a look at each."""
    together, lines = read(*cells, by=";")
    apart, with_bad = read(*cells, "?", by=";")
    assert with_bad[:-1] == lines
    np.testing.assert_array_equal(together, apart[:-1])


def test_no_rows_are_no_numbers() -> None:
    numbers, faults = number_columns(table(), [1])
    assert numbers.shape == (0, 1)
    assert faults == []
