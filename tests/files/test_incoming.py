"""Files handed in: their size is known before they are read, their kind by what is inside."""

from __future__ import annotations

import datetime
import io
import os
import tracemalloc
from pathlib import Path

import pytest

from kitwright.errors import FileError
from kitwright.files import incoming
from kitwright.files.incoming import LARGEST_BYTES, read_bytes, table_from_bytes
from kitwright.files.workbook import Sheet, write_workbook

CSV = b"serial,depth [mm]\nB-1,158.012\n"
TOO_LARGE = "larger than 64 MB; hand it in in parts"


def sparse(path: Path, size: int) -> Path:
    path.touch()
    os.truncate(path, size)
    return path


def test_200_megabytes_are_refused_without_being_read(tmp_path: Path) -> None:
    path = sparse(tmp_path / "bells.csv", 200_000_000)
    tracemalloc.start()
    with pytest.raises(FileError) as from_path:
        read_bytes(path)
    with path.open("rb") as file, pytest.raises(FileError) as from_file:
        read_bytes(file, name="bells.csv")
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert from_path.value.lines == from_file.value.lines == [f"bells.csv: {TOO_LARGE}"]
    assert peak < 1_000_000


class Pipe(io.RawIOBase):
    """A source that cannot say how long it is, and does not end."""

    def __init__(self) -> None:
        self.given = 0

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: bytearray) -> int:  # type: ignore[override]
        self.given += len(buffer)
        return len(buffer)


def test_a_stream_without_end_is_read_to_the_bound_at_most(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(incoming, "LARGEST_BYTES", 2**20)
    pipe = Pipe()
    with pytest.raises(FileError, match="upload: larger than 1 MB"):
        read_bytes(io.BufferedReader(pipe), name="upload")
    assert pipe.given < 2**20 + 100_000


def test_bytes_at_hand_are_bounded_too() -> None:
    with pytest.raises(FileError) as caught:
        table_from_bytes("bells.csv", bytes(LARGEST_BYTES + 1))
    assert caught.value.lines == [f"bells.csv: {TOO_LARGE}"]


def test_a_file_is_read_whole_and_a_stream_from_where_it_stands(tmp_path: Path) -> None:
    path = tmp_path / "bells.csv"
    path.write_bytes(CSV)
    assert read_bytes(path) == CSV
    stream = io.BytesIO(b"xx" + CSV)
    stream.seek(2)
    assert read_bytes(stream) == CSV
    assert read_bytes(sparse(tmp_path / "edge", LARGEST_BYTES)).__len__() == LARGEST_BYTES


def test_what_is_not_a_file_says_so(tmp_path: Path) -> None:
    with pytest.raises(FileError) as caught:
        read_bytes(tmp_path / "nothing.csv")
    assert caught.value.lines == ["nothing.csv: there is no such file; check the name"]
    with pytest.raises(FileError) as caught:
        read_bytes(tmp_path, name="folder")
    assert caught.value.lines == ["folder: is not a file; check the name"]
    with pytest.raises(FileError, match="cannot be read: File name too long; check it"):
        read_bytes(tmp_path / ("a" * 300))


def test_the_kind_is_told_by_what_is_inside() -> None:
    made = datetime.datetime(2026, 11, 24, tzinfo=datetime.UTC)
    book = write_workbook(
        [Sheet(name="bells", header=["serial", "depth [mm]"], rows=[["B-1", 158.012]])],
        created=made,
    )
    from_book = table_from_bytes("bells.csv", book)
    from_text = table_from_bytes("bells.xlsx", CSV)
    assert (from_book.header, from_book.rows) == (from_text.header, from_text.rows)


@pytest.mark.parametrize(
    ("data", "line"),
    [
        (b"", "bells: it is empty (0 bytes); save it again and look inside"),
        (
            b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(500),
            "bells: an old workbook, or one with a password; save it as XLSX or CSV",
        ),
        (
            b"PK\x03\x04" + bytes(60),
            (
                "bells: a damaged or locked workbook: File is not a zip file; "
                "save it again as XLSX, or as CSV UTF-8"
            ),
        ),
    ],
)
def test_what_holds_no_table_says_why(data: bytes, line: str) -> None:
    with pytest.raises(FileError) as caught:
        table_from_bytes("bells", data)
    assert caught.value.lines == [line]
