"""Workbooks (XLSX): tables written, and the first sheet read into the same table as CSV gives.

A workbook is a compressed archive that may come from anyone, and the reader behind this page trusts
it. So before it is read it is unpacked within bounds and packed again without anything but its
XML, and its sheets may not reach further than a table may be large.
"""

from __future__ import annotations

import datetime
import io
import math
import re
import zipfile
import zlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import xlsxwriter
from python_calamine import CalamineError, SheetTypeEnum, load_workbook

from kitwright.errors import FaultError, FileError
from kitwright.files.tables import LARGEST_CELLS, Cell, Table, table_of

LARGEST_UNPACKED: Final = 128 * 2**20
LARGEST_TEXTS: Final = 512 * 2**20

_AGAIN: Final = "save it again as XLSX, or as CSV UTF-8"
_MOST_PARTS: Final = 2000
_LONGEST_CELL: Final = 32_767
_SHEET_NAME: Final = re.compile(r"[^\[\]:*?/\\]{1,31}")

_ATTRIBUTE_R: Final = re.compile(rb"""(?<![\w:.-])r\s*=\s*(?:"([^"]*)"|'([^']*)')""")
_COUNT: Final = re.compile(rb"""ount\s*=\s*(?:"([^"]*)"|'([^']*)')""")
_BEYOND: Final = re.compile(rb"[0-9]{8}|&")
_REFERENCE: Final = re.compile(rb"([A-Za-z]{0,3})([0-9]{1,7})")
_CELL_TAG: Final = re.compile(rb"<(?:\w+:)?c[\s/>]")
_TEXT_TAG: Final = re.compile(rb"<(?:\w+:)?si[\s/>]")


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """What a sheet of a workbook shows: its name, its header with units, its rows."""

    name: str
    header: Sequence[str]
    rows: Iterable[Sequence[Cell]]


def write_workbook(sheets: Sequence[Sheet], *, created: datetime.datetime) -> bytes:
    """The sheets as the bytes of an XLSX workbook; equal input and `created`, equal bytes.

    Numbers are written as numbers, to 16 figures, and text as text: nothing is a formula or a
    link, whatever its first character. The header stays in sight when the rows are scrolled.

    Raises
    ------
    FaultError
        No sheet, a name that a sheet cannot have, a number that is not finite, a text or a table
        too large for a sheet, a date without its time zone.
    """
    if not sheets:
        raise FaultError("a workbook needs a sheet")
    if created.tzinfo is None:
        raise FaultError("a workbook's date needs its time zone")
    out = io.BytesIO()
    book = xlsxwriter.Workbook(out, {"in_memory": True})
    book.set_properties({"created": created.astimezone(datetime.UTC)})
    bold = book.add_format({"bold": True})
    for sheet in sheets:
        if not _SHEET_NAME.fullmatch(sheet.name):
            raise FaultError(f'"{sheet.name}" is no name for a sheet')
        page = book.add_worksheet(sheet.name)
        page.freeze_panes(1, 0)
        for column, title in enumerate(sheet.header):
            page.set_column(column, column, max(10, len(title) + 1))
            _write(page, 0, column, title, bold)
        for row, cells in enumerate(sheet.rows, 1):
            for column, cell in enumerate(cells):
                _write(page, row, column, cell, None)
    book.close()
    return out.getvalue()


def _write(page: Any, row: int, column: int, cell: Cell, style: Any) -> None:
    if cell is None:
        return
    if isinstance(cell, str):
        if len(cell) > _LONGEST_CELL:
            raise FaultError(f"a text of {len(cell)} characters is too long for a cell")
        refused = page.write_string(row, column, cell, style)
    elif math.isfinite(cell):
        refused = page.write_number(row, column, cell, style)
    else:
        raise FaultError(f"{cell} at row {row + 1}, column {column + 1} is not finite")
    if refused:
        raise FaultError(f"row {row + 1}, column {column + 1} is beyond a sheet")


def read_workbook(data: bytes, *, name: str = "file") -> Table:
    """The table on the first sheet of a workbook; numbers as text that reads back exactly.

    Raises
    ------
    FileError
        Not an XLSX workbook, damaged, locked, larger unpacked than `LARGEST_UNPACKED`, or a sheet
        that reaches further than a table may.
    """
    parts = _unpacked(data, name)
    _check_reach(parts, name)
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_STORED) as archive:
        for part, content in parts.items():
            archive.writestr(part, content)
    packed.seek(0)
    try:
        book = load_workbook(packed)
        if not book.sheets_metadata or book.sheets_metadata[0].typ is not SheetTypeEnum.WorkSheet:
            raise FileError(name, "its first sheet holds no cells", "put the table first")
        rows = book.get_sheet_by_index(0).to_python(skip_empty_area=False)
    except (CalamineError, ValueError) as error:
        told = str(error).partition("\n")[0]
        raise FileError(name, f"not a workbook that can be read: {told}", _AGAIN) from None
    return table_of([[_text(cell) for cell in row] for row in rows], delimiter="", name=name)


def _text(cell: object) -> str:
    """A cell as text: whole numbers without a point, dates as ISO 8601."""
    if isinstance(cell, str):
        return cell
    if isinstance(cell, bool):
        return "TRUE" if cell else "FALSE"
    if isinstance(cell, float):
        return repr(cell).removesuffix(".0")
    if isinstance(cell, datetime.date | datetime.time):
        return cell.isoformat()
    return str(cell)


# ── within bounds ────────────────────────────────────────────────────────────────────────


def _unpacked(data: bytes, name: str) -> dict[str, bytes]:
    """The XML parts of the archive, by name. Pictures and programs are left behind."""
    parts: dict[str, bytes] = {}
    left = LARGEST_UNPACKED
    if data.count(b"PK\x01\x02") > _MOST_PARTS:
        raise FileError(name, f"more than {_MOST_PARTS} parts", _AGAIN)
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            members = archive.infolist()
            if "[Content_Types].xml" not in archive.namelist():
                raise FileError(name, "an archive, but not an XLSX workbook", _AGAIN)
            for member in members:
                left -= member.file_size
                if left < 0:
                    size = f"larger than {LARGEST_UNPACKED // 2**20} MB unpacked"
                    raise FileError(name, size, "hand it in in parts")
                if member.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
                    raise FileError(name, "packed in a way no spreadsheet packs", _AGAIN)
                with archive.open(member) as packed:  # read(n) unpacks no more, read() might
                    content = packed.read(member.file_size)
                if content.lstrip(b"\xef\xbb\xbf \r\n\t").startswith(b"<") and b"\0" not in content:
                    if member.filename in parts:
                        raise FileError(name, f'it holds "{member.filename}" twice', _AGAIN)
                    parts[member.filename] = content
    except (zipfile.BadZipFile, zlib.error, RuntimeError, EOFError, OSError, ValueError) as error:
        raise FileError(name, f"a damaged or locked workbook: {error}", _AGAIN) from None
    return parts


def _check_reach(parts: dict[str, bytes], name: str) -> None:
    """Refuse sheets that reach further than a table may be large.

    The reader lays out every cell between the first and the last; one cell in the far corner
    would be seventeen thousand million. It makes room for as many shared texts as their list
    says it holds, and copies a shared text for each cell that shows it.
    """
    cells = 0
    for content in parts.values():
        if any(_BEYOND.search(a or b) for a, b in _COUNT.findall(content)):
            raise FileError(name, "its lists say they are longer than a table may be", _AGAIN)
        if b"sheetData" in content:
            cells += _cells_of_sheet(content, name)
    for content in parts.values():
        longest = max(map(len, _TEXT_TAG.split(content)[1:]), default=0)
        if longest * cells > LARGEST_TEXTS:
            raise FileError(name, "its texts are too long for so many cells", "shorten them")


def _cells_of_sheet(content: bytes, name: str) -> int:
    """How many cells a sheet fills, all of them within the reach of a table."""
    references = [_REFERENCE.fullmatch(a or b) for a, b in _ATTRIBUTE_R.findall(content)]
    places = [(_column(found[1]), int(found[2])) for found in references if found]
    count = len(_CELL_TAG.findall(content))
    if len(places) < len(references) or sum(column > 0 for column, _ in places) < count:
        raise FileError(name, "its cells do not say where they stand", _AGAIN)
    column = max((column for column, _ in places), default=0)
    row = max((row for _, row in places), default=0)
    if row * column > LARGEST_CELLS:
        given = f"its sheet reaches to row {row}, column {column}"
        raise FileError(name, given, "delete what stands beyond the table")
    return count


def _column(letters: bytes) -> int:
    """The number of a column: A is 1, Z 26, AA 27; 0 without letters."""
    number = 0
    for letter in letters.upper():
        number = 26 * number + letter - 64
    return number
