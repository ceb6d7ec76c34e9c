"""Inspections as tables: a row a bell, its serial, and each characteristic with its uncertainty.

A length is two columns, `depth [mm]` and `depth u95 [mm]`; a position three, `bore x [mm]`,
`bore y [mm]` and `bore u95 [mm]`, where u95 holds along either axis. Columns may stand in any order
and each says its own unit; inside everything is mm. One fault anywhere, and nothing is taken.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from kitwright.errors import InputError, Problem
from kitwright.files.numbers import CellFault, Floats, cell_fault, number_columns
from kitwright.files.tables import Cell, Table, every_fault, write_csv
from kitwright.units import unit_name, unit_size

Kind = Literal["length", "position"]

SERIAL: Final = "serial"
LONGEST_SERIAL: Final = 60
LARGEST_MM: Final = 1e6

_PARTS: Final[Mapping[Kind, tuple[str, ...]]] = {
    "length": ("", " u95"),
    "position": (" x", " y", " u95"),
}
_NAME_AND_UNIT: Final = re.compile(r"(?P<name>.*[^\s\[])\s*\[(?P<unit>[^\[\]]*)\]")


@dataclass(frozen=True)
class Expected:
    """A characteristic that the inspection must hold: its name on the drawing, and its kind.

    `x_mm` and `y_mm` are a position's true place; only QIF checks a place against them.
    """

    name: str
    kind: Kind = "length"
    x_mm: float = 0.0
    y_mm: float = 0.0

    @property
    def columns(self) -> tuple[str, ...]:
        """Its columns, without units.

        >>> Expected("bore", "position").columns
        ('bore x', 'bore y', 'bore u95')
        """
        name = " ".join(self.name.split())
        return tuple(name + part for part in _PARTS[self.kind])


@dataclass(frozen=True, kw_only=True, eq=False)
class InspectionTable:
    """Measured values of n bells in k characteristics, in mm."""

    serials: tuple[str, ...]
    characteristics: tuple[Expected, ...]
    """In the order in which they were expected."""
    values_mm: Floats
    """(n, k) a length, or a position's x."""
    y_mm: Floats
    """(n, k) a position's y; NaN for a length."""
    u95_mm: Floats
    """(n, k) expanded uncertainty (k = 2), of a position along either axis."""
    units: Mapping[str, str]
    """Column, without its unit → the unit that the file gave it in."""
    row_numbers: Sequence[int]
    """The row of each bell in its file."""


def read_inspection(table: Table, expected: Sequence[Expected]) -> InspectionTable:
    """The inspection in a table, or every fault by row and column.

    Raises
    ------
    FileError
        Columns missing, unknown or given twice, a unit missing or unknown; a cell that is not a
        plain finite number, a negative u95; a serial missing, too long or given twice; no bells.

    Examples
    --------
    >>> from kitwright.files.tables import read_csv
    >>> text = "serial,depth [mm],depth u95 [mm]\\nB-1,158.012,0.004\\n"
    >>> read_inspection(read_csv(text.encode()), [Expected("depth")]).values_mm
    array([[158.012]])
    """
    wanted = wanted_columns(expected)
    faults, places = _header(table, wanted)
    columns = [column for column in wanted if column in places]
    numbers, cell_faults = number_columns(table, [places[column].index for column in columns])
    uncertainties = {characteristic.columns[-1] for characteristic in expected}
    mm: dict[str, Floats] = {}
    for place, column in enumerate(columns):
        at = places[column]
        mm[column] = _in_mm(numbers[:, place], at.unit)
        cell_faults += _beyond(table, mm[column], at.index, column in uncertainties)
    serials: tuple[str, ...] = ()
    if SERIAL in places:
        at_serial = places[SERIAL].index
        serials = tuple(row[at_serial].strip() for row in table.rows)
        cell_faults += _serial_faults(table, serials, at_serial)
    cell_faults.sort(key=lambda fault: (fault.row, fault.column))
    faults += [fault.problem for fault in cell_faults]
    if not table.rows:
        faults.append(Problem("", "no bells under the header", "give each bell a row"))
    if faults:
        raise every_fault(faults)
    shape = len(serials), len(expected)
    values, y, u95 = np.empty(shape), np.full(shape, np.nan), np.empty(shape)
    for k, characteristic in enumerate(expected):
        first, *middle, last = characteristic.columns
        values[:, k], u95[:, k] = mm[first], mm[last]
        if middle:
            y[:, k] = mm[middle[0]]
    return InspectionTable(
        serials=serials,
        characteristics=tuple(expected),
        values_mm=values,
        y_mm=y,
        u95_mm=u95,
        units={column: places[column].unit for column in columns},
        row_numbers=table.row_numbers,
    )


def wanted_columns(expected: Sequence[Expected]) -> tuple[str, ...]:
    """Every number column that the characteristics need, without units, in their order."""
    columns = [column for characteristic in expected for column in characteristic.columns]
    named = [SERIAL, *columns]
    twice = sorted({column for column in named if named.count(column) > 1})
    if twice or not columns:
        given = f"columns {', '.join(twice)} meet" if twice else f"{len(expected)} given"
        raise InputError("characteristics", given, "give each its own name; serial is taken")
    return tuple(columns)


def inspection_header(expected: Sequence[Expected], *, unit: str = "mm") -> tuple[str, ...]:
    """The header of an inspection, every column in one unit.

    >>> inspection_header([Expected("depth")])
    ('serial', 'depth [mm]', 'depth u95 [mm]')
    """
    name = unit_name(unit)
    return (SERIAL, *(f"{column} [{name}]" for column in wanted_columns(expected)))


def inspection_rows(inspection: InspectionTable) -> Iterator[tuple[Cell, ...]]:
    """The rows under `inspection_header`, in mm; for `write_csv` or a workbook."""
    columns = []
    for k, characteristic in enumerate(inspection.characteristics):
        columns.append(inspection.values_mm[:, k].tolist())
        if characteristic.kind == "position":
            columns.append(inspection.y_mm[:, k].tolist())
        columns.append(inspection.u95_mm[:, k].tolist())
    yield from zip(inspection.serials, *columns, strict=True)


def write_inspection(inspection: InspectionTable) -> str:
    """The inspection as CSV text in mm, which reads back to the same numbers exactly."""
    return write_csv(inspection_header(inspection.characteristics), inspection_rows(inspection))


def blank_inspection(
    expected: Sequence[Expected], serials: Iterable[str], *, unit: str = "mm"
) -> str:
    """CSV text to be filled in: the header, and each bell's serial under it."""
    header = inspection_header(expected, unit=unit)
    empty = [None] * (len(header) - 1)
    return write_csv(header, ([serial, *empty] for serial in serials))


# ── the header ───────────────────────────────────────────────────────────────────────────


@dataclass(frozen=True)
class _Place:
    """Where a column stands, and its unit."""

    index: int
    unit: str


def _header(table: Table, wanted: Sequence[str]) -> tuple[list[Problem], dict[str, _Place]]:
    """The columns that were found, and what is wrong with the header."""
    known = {SERIAL, *wanted}
    faults: list[Problem] = []
    places: dict[str, _Place] = {}
    named: set[str] = set()
    for index, written in enumerate(table.header):
        parts = _NAME_AND_UNIT.fullmatch(written)
        column, unit = (parts["name"], parts["unit"].strip()) if parts else (written, "")
        if column not in known or (column == SERIAL and unit):
            faults.append(_unknown(index, written, known))
        elif column in named:
            faults.append(Problem("header", f'"{written}" stands twice', "leave one out"))
        else:
            named.add(column)
            fault = None if column == SERIAL else _unit_fault(column, unit)
            if fault is None:
                places[column] = _Place(index, unit_name(unit) if unit else "")
            else:
                faults.append(fault)
    missing = [column for column in (SERIAL, *wanted) if column not in named]
    faults += [
        Problem("header", f'no column "{column}{"" if column == SERIAL else " [mm]"}"', "add it")
        for column in missing
    ]
    return faults, places


def _unknown(index: int, written: str, known: Iterable[str]) -> Problem:
    if not written:
        return Problem("header", f"column {index + 1} has no name", "name it or delete it")
    name = written.partition("[")[0].strip()
    folded = {column.casefold(): column for column in known}
    near = difflib.get_close_matches(name.casefold(), folded, n=1)
    hint = f'did you mean "{folded[near[0]]}"?' if near else "delete the column"
    return Problem("header", f'"{written}" is not expected', hint)


def _unit_fault(column: str, unit: str) -> Problem | None:
    if not unit:
        return Problem("header", f'"{column}" has no unit', f'write "{column} [mm]"')
    try:
        unit_size(unit)
    except InputError as error:
        told = error.problems[0]
        return Problem("header", f'"{column} [{unit}]": {told.given}', told.expected)
    return None


# ── the rows ─────────────────────────────────────────────────────────────────────────────


def _in_mm(numbers: Floats, unit: str) -> Floats:
    if unit == "mm":
        return numbers
    # The last binary figures are rounded off, so that 5 thou are 0.127 as on paper.
    with np.errstate(over="ignore"):  # what overflows is beyond any bell
        return np.round(numbers * float(unit_size(unit)), 12)


def _beyond(table: Table, mm: Floats, column: int, is_u95: bool) -> list[CellFault]:
    """Numbers that no bell has."""
    faults = []
    for row in np.flatnonzero(np.abs(mm) > LARGEST_MM).tolist():
        shown = f'"{table.rows[row][column].strip()[:40]}"'
        faults.append(
            cell_fault(table, row, column, f"{shown} is beyond any bell", "check it and its unit")
        )
    for row in np.flatnonzero(mm < 0).tolist() if is_u95 else ():
        shown = f'"{table.rows[row][column].strip()[:40]}"'
        faults.append(
            cell_fault(table, row, column, f"{shown} is negative", "an uncertainty is 0 or more")
        )
    return faults


def _serial_faults(table: Table, serials: Sequence[str], column: int) -> list[CellFault]:
    """Serials that are missing, given twice, or not on one short line."""
    faults: list[CellFault] = []
    apart = len(set(serials)) == len(serials) and all(serials)
    if (
        apart
        and "".join(serials).isprintable()
        and max(map(len, serials), default=0) <= LONGEST_SERIAL
    ):
        return faults
    first: dict[str, int] = {}
    for row, serial in enumerate(serials):
        if first.setdefault(serial, row) != row:
            earlier = f"stands in row {table.row_numbers[first[serial]]} too"
            told = f'"{serial[:40]}" {earlier}', "give each bell one row"
        elif len(serial) > LONGEST_SERIAL:
            told = f'"{serial[:40]}…" is too long', f"give {LONGEST_SERIAL} characters at most"
        elif not serial.isprintable():
            told = f"{serial!r} holds what cannot be printed", "type it again, on one line"
        elif serial:
            continue
        if not serial:
            told = "empty", "give each bell its serial"
        faults.append(cell_fault(table, row, column, *told))
    return faults
