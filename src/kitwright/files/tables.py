"""Tables as spreadsheets write them: CSV of any dialect in, CSV out.

Read are comma, semicolon and tab; UTF-8 with or without its mark, and UTF-16 with one; any line
end; quoted cells. Blank rows are passed over, and so are empty cells beyond the header. A row of
another length stops the file: its cells may stand in the wrong columns.
"""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from kitwright.errors import FileError, InputError, Problem

Delimiter = Literal[",", ";", "\t", ""]
Cell = str | int | float | None

LARGEST_CELLS: Final = 2_000_000
LARGEST_COLUMNS: Final = 1000
MOST_FAULTS: Final = 50

_MARKS: Final = (
    (codecs.BOM_UTF8, "utf-8-sig", "UTF-8"),
    (codecs.BOM_UTF16_LE, "utf-16", "UTF-16"),
    (codecs.BOM_UTF16_BE, "utf-16", "UTF-16"),
)
_DELIMITERS: Final[tuple[Delimiter, ...]] = ("\t", ";", ",")
_HEAD: Final = 100_000
_NEUTRALISED: Final = re.compile(r"'+[=+\-@\t\r\n]")
_WOULD_CALCULATE: Final = re.compile(r"'*[=+\-@\t\r\n]")


@dataclass(frozen=True, kw_only=True)
class Table:
    """A header and the rows under it, as text; each row is as long as the header."""

    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    row_numbers: Sequence[int]
    """The number of each row in its file, as a spreadsheet counts: the header is usually 1."""
    delimiter: Delimiter = ""
    """What parted the cells; nothing in a workbook."""


def read_csv(data: bytes, *, name: str = "file") -> Table:
    """The table in the bytes of a CSV file.

    Raises
    ------
    FileError
        Empty, not text in UTF-8 or UTF-16, too many cells, a quote left open, or rows of another
        length than the header (each is listed).

    Examples
    --------
    >>> read_csv(b"serial;depth [mm]\\r\\nB-1;158,012\\r\\n").rows
    (('B-1', '158,012'),)
    """
    text = _decoded(data, name)
    delimiter = _delimiter_of(text)
    ends = (delimiter, "\n", "\r")
    if len(text) > LARGEST_CELLS and sum(map(text.count, ends)) > LARGEST_CELLS:
        raise FileError(name, f"more than {LARGEST_CELLS} cells", "hand it in in parts")
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    try:
        rows = list(map(tuple, reader))
    except csv.Error as error:
        raise FileError(
            name, f"not CSV at line {reader.line_num}: {error}", "check the quotes there"
        ) from None
    if "'" in text:
        rows = [tuple(map(without_neutral, row)) for row in rows]
    return table_of(rows, delimiter=delimiter, name=name)


def table_of(rows: Sequence[Sequence[str]], *, delimiter: Delimiter, name: str = "file") -> Table:
    """The table in rows of text: the first row that is not blank is the header."""
    filled = [(number, row) for number, row in enumerate(rows, 1) if not _is_blank(row)]
    if not filled:
        raise FileError(name, "it holds no cells", "give a header, and a row under it for each")
    header = _trimmed([" ".join(cell.split()) for cell in filled[0][1]])
    width = len(header)
    if width > LARGEST_COLUMNS:
        raise FileError(name, f"{width} columns", f"give {LARGEST_COLUMNS} at most")
    body, faults = [], []
    for number, row in filled[1:]:
        kept = tuple(row) if len(row) == width else (*row[:width], *_trimmed(row[width:]))
        if len(kept) != width:
            given = f"{len(kept)} {'cell' if len(kept) == 1 else 'cells'} under {width} columns"
            faults.append(Problem(f"row {number}", given, "give one cell under each column"))
        body.append(kept)
    if faults:
        raise every_fault(faults)
    numbers = [number for number, _ in filled[1:]]
    return Table(header=header, rows=tuple(body), row_numbers=numbers, delimiter=delimiter)


def every_fault(faults: Sequence[Problem]) -> InputError:
    """One error for all faults; beyond the first fifty only their number is told."""
    told = list(faults[:MOST_FAULTS])
    if len(faults) > MOST_FAULTS:
        told.append(Problem("", f"and {len(faults) - MOST_FAULTS} more"))
    return FileError.of(told)


def write_csv(header: Sequence[str], rows: Iterable[Sequence[Cell]]) -> str:
    """Header and rows as CSV text: commas, decimal points, lines ended by CR and LF (RFC 4180).

    Numbers are written so that they read back exactly. Text that a spreadsheet would take for a
    formula gets a leading apostrophe, which `read_csv` takes away again.

    >>> write_csv(["serial", "depth [mm]"], [["=B-1", -0.25]]).splitlines()
    ['serial,depth [mm]', "'=B-1,-0.25"]
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow([neutral(name) for name in header])
    writer.writerows(
        [neutral(cell) if isinstance(cell, str) else cell for cell in row] for row in rows
    )
    return out.getvalue()


def neutral(text: str) -> str:
    """The text with a leading apostrophe, where a spreadsheet would calculate with it.

    >>> neutral("=1+1"), neutral("B-1"), neutral("'=1")
    ("'=1+1", 'B-1', "''=1")
    """
    return f"'{text}" if _WOULD_CALCULATE.match(text) else text


def without_neutral(text: str) -> str:
    """What `neutral` was given."""
    return text[1:] if _NEUTRALISED.match(text) else text


# ── from bytes to rows ───────────────────────────────────────────────────────────────────


def _decoded(data: bytes, name: str) -> str:
    if not data:
        raise FileError(name, "it is empty (0 bytes)", "save it again and look inside")
    encoding, called = next(
        ((encoding, called) for mark, encoding, called in _MARKS if data.startswith(mark)),
        ("utf-8", "UTF-8"),
    )
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError as error:
        before = error.object[: error.start].decode(encoding, "replace")
        raise FileError(
            name,
            f"not {called} at line {_line_of(before)} (byte {error.object[error.start]:#04x})",
            'save it as "CSV UTF-8" or as XLSX',
        ) from None
    if "\0" in text:
        line = _line_of(text[: text.index("\0")])
        raise FileError(name, f"not text: a zero byte at line {line}", "save it as CSV or XLSX")
    return text


def _line_of(before: str) -> int:
    """The number of the line that follows this much text."""
    return len(re.findall(r"\r\n|\n|\r", before)) + 1


def _delimiter_of(text: str) -> Delimiter:
    """The delimiter that parts the header into the most cells, and leaves no quote in them."""
    if not text[:_HEAD].strip("\t;,\r\n "):
        return ","

    def fitness(delimiter: Delimiter) -> tuple[bool, int]:
        rows = csv.reader(io.StringIO(text[:_HEAD], newline=""), delimiter=delimiter)
        try:
            header = next((row for row in rows if "".join(row).strip("\t;, ")), [])
        except csv.Error:
            header = []
        return not any('"' in cell for cell in header), len(header)

    return max(_DELIMITERS, key=fitness)


def _is_blank(row: Sequence[str]) -> bool:
    return not any(map(str.strip, row))


def _trimmed(row: Sequence[str]) -> tuple[str, ...]:
    """The row without the empty cells at its end."""
    end = len(row)
    while end and not row[end - 1].strip():
        end -= 1
    return tuple(row[:end])
