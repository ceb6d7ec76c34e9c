"""Columns of text to columns of numbers, by one decimal mark for the whole table.

A thousands separator is never read: "1,234" in a file of decimal points is refused, and so is a
file in which every comma could be one.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import chain
from typing import Final

import numpy as np
from numpy.typing import NDArray

from kitwright.errors import Problem
from kitwright.files.tables import Delimiter, Table

Floats = NDArray[np.float64]

_PLAIN: Final = re.compile(r"\s*[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?\s*")
_NUMBER_LIKE: Final = re.compile(r"\s*[+\-−]?[0-9.,]*[0-9][0-9.,]*(?:[eE][+\-−]?[0-9]+)?\s*")
_COULD_BE_THOUSANDS: Final = re.compile(r"\s*[+\-−]?[1-9][0-9]{0,2}(?:,[0-9]{3})+\s*")
_SPACED: Final = re.compile(
    r"\s*[+\-−]?[0-9]{1,3}(?:[ '’\u00a0\u2009\u202f][0-9]{3})+(?:[.,][0-9]*)?\s*"
)


@dataclass(frozen=True)
class CellFault:
    """A fault at a cell of a table: indices of row and column, and its line."""

    row: int
    column: int
    problem: Problem


def cell_fault(table: Table, row: int, column: int, given: str, expected: str) -> CellFault:
    """A fault at this cell, named by the file's row number and the column's header."""
    where = f"row {table.row_numbers[row]}, {table.header[column]}"
    return CellFault(row, column, Problem(where, given, expected))


def number_columns(table: Table, columns: Sequence[int]) -> tuple[Floats, list[CellFault]]:
    """The numbers in these columns, shape (rows, columns), and every cell that is not one.

    NaN and infinity are not numbers here. A cell with a fault is NaN in the array.
    """
    cells = list(zip(*table.rows, strict=True)) if table.rows else [()] * len(table.header)
    chosen = [cells[column] for column in columns]
    joined = ["".join(column) for column in chosen]
    mark = _decimal_mark(chosen, joined, table.delimiter)
    numbers = np.empty((len(table.rows), len(columns)))
    faults: list[CellFault] = []
    for place, (column, texts, whole) in enumerate(zip(columns, chosen, joined, strict=True)):
        fast = _at_once(texts, whole, mark)
        if fast is not None:
            numbers[:, place] = fast
            continue
        for row, text in enumerate(texts):
            found = _one(text, mark)
            if isinstance(found, float):
                numbers[row, place] = found
            else:
                numbers[row, place] = np.nan
                faults.append(cell_fault(table, row, column, *found))
    return numbers, faults


def _at_once(texts: Sequence[str], whole: str, mark: str) -> Floats | None:
    """The whole column by numpy, or nothing where any cell needs a look.

    float() takes digits of other scripts, underscores, nan and inf as well: these need a look.
    """
    if not whole.isascii() or "_" in whole:
        return None
    if "," in whole:
        if mark != "," or "." in whole:
            return None
        texts = [text.replace(",", ".") for text in texts]
    elif mark == "," and "." in whole:
        return None
    try:
        numbers = np.array(texts, dtype=float)
    except ValueError:
        return None
    return numbers if np.isfinite(numbers).all() else None


def _one(text: str, mark: str) -> float | tuple[str, str]:
    """One cell's number, or what is wrong with it and what to write."""
    stripped = text.strip()
    shown = f'"{stripped[:40]}"'
    if not stripped:
        return "empty", "measure it, or leave the row out"
    numeric = _NUMBER_LIKE.fullmatch(text) is not None
    if _SPACED.fullmatch(text) or (numeric and text.count(".") + text.count(",") > 1):
        return f"{shown} has a thousands separator", "write its digits without one"
    if numeric and "," in text and not mark:
        either = f"{stripped.replace(',', '.')} or {stripped.replace(',', '')}"
        return f"{shown} could mean {either}", "write a decimal point, and no thousands separator"
    if numeric and mark == "." and "," in text:
        return f"{shown} has a comma, other numbers have a point", "write a decimal point"
    if numeric and mark == "," and "." in text:
        return f"{shown} has a point, other numbers have a comma", "write a decimal comma"
    plain = text.replace("−", "-").replace(",", ".")
    value = float(plain) if numeric and _PLAIN.fullmatch(plain) else np.nan
    return value if np.isfinite(value) else (f"{shown} is not a number", "write a plain number")


def _decimal_mark(columns: Sequence[Sequence[str]], joined: Sequence[str], by: Delimiter) -> str:
    """The table's decimal mark: a point, a comma, or nothing where commas could be thousands."""
    if not any("," in whole for whole in joined):
        return "."
    if any("." in whole for whole in joined):
        commas = sum("," in text for text in _numeric(columns))
        points = sum("." in text for text in _numeric(columns))
        if points:
            return "," if commas > points else "."
    if by == ";":
        return ","
    clear = (text for text in _numeric(columns) if not _COULD_BE_THOUSANDS.fullmatch(text))
    return "," if any("," in text for text in clear) else ""


def _numeric(columns: Sequence[Sequence[str]]) -> Iterator[str]:
    return (text for text in chain.from_iterable(columns) if _NUMBER_LIKE.fullmatch(text))
