"""A file that someone hands in: its bytes within a bound, and the table or the results in it."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO, Final

from kitwright.errors import FileError
from kitwright.files.inspection import Expected, InspectionTable, read_inspection
from kitwright.files.tables import Table, read_csv

if TYPE_CHECKING:
    from kitwright.files.qif import QifDocument

LARGEST_BYTES: Final = 64 * 2**20

_ARCHIVE: Final = b"PK\x03\x04"
_OLD_OR_LOCKED: Final = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"


def read_bytes(source: Path | BinaryIO, *, name: str = "") -> bytes:
    """The bytes of a file, refused before they are read where there are too many.

    Raises
    ------
    FileError
        Not there, not a file, cannot be read, or larger than `LARGEST_BYTES`.
    """
    if isinstance(source, Path):
        called = name or source.name
        try:
            if not source.is_file():
                problem = "is not a file" if source.exists() else "there is no such file"
                raise FileError(called, problem, "check the name")
            with source.open("rb") as file:
                return read_bytes(file, name=called)
        except OSError as error:
            raise FileError(called, f"cannot be read: {error.strerror}", "check it") from None
    called = name or "file"
    if source.seekable():
        here = source.tell()
        size = source.seek(0, os.SEEK_END) - here
        source.seek(here)
        _check_size(size, called)
    data = source.read(LARGEST_BYTES + 1)
    _check_size(len(data), called)
    return data


def _check_size(size: int, called: str) -> None:
    if size > LARGEST_BYTES:
        given = f"larger than {LARGEST_BYTES // 2**20} MB"
        raise FileError(called, given, "hand it in in parts")


def table_from_bytes(name: str, data: bytes) -> Table:
    """The table in a CSV file or on a workbook's first sheet, told apart by what is inside.

    >>> table_from_bytes("bells.xlsx", b"serial,depth [mm]\\nB-1,158.012").header
    ('serial', 'depth [mm]')
    """
    _check_size(len(data), name)
    if data.startswith(_OLD_OR_LOCKED):
        raise FileError(name, "an old workbook, or one with a password", "save it as XLSX or CSV")
    if data.startswith(_ARCHIVE):
        from kitwright.files.workbook import read_workbook  # noqa: PLC0415 - only when needed

        return read_workbook(data, name=name)
    return read_csv(data, name=name)


def handed_in(name: str, data: bytes) -> Table | QifDocument:
    """What someone handed in, told apart by what is inside: CSV, XLSX, or QIF Results."""
    from kitwright.files.markup import looks_like_xml  # noqa: PLC0415 - only when needed

    if not looks_like_xml(data):
        return table_from_bytes(name, data)
    from kitwright.files.qif import open_qif  # noqa: PLC0415

    _check_size(len(data), name)
    return open_qif(data, name=name)


def inspection_in(handed: Table | QifDocument, expected: Sequence[Expected]) -> InspectionTable:
    """The inspection in what was handed in.

    Raises
    ------
    FileError
        It is not one of these characteristics; a line each fault.
    """
    if isinstance(handed, Table):
        return read_inspection(handed, expected)
    from kitwright.files.qif import read_qif  # noqa: PLC0415

    return read_qif(handed, expected)
