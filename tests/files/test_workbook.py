"""Workbooks written and read, and archives that were made to do harm."""

from __future__ import annotations

import datetime
import io
import math
import random
import re
import tracemalloc
import zipfile
from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from python_calamine import load_workbook

from kitwright.errors import FaultError, FileError
from kitwright.files import workbook
from kitwright.files.tables import Cell
from kitwright.files.workbook import Sheet, read_workbook, write_workbook

MADE = datetime.datetime(2026, 11, 24, 9, 30, tzinfo=datetime.UTC)
SHEET = Sheet(
    name="bells",
    header=["serial", "depth [mm]", "note"],
    rows=[["B-1", 158.012, "=1+1"], ["B-2", -0.25, None], ["1042", 7, "@x"]],
)
PAGE = "xl/worksheets/sheet1.xml"


def book(*sheets: Sheet) -> bytes:
    return write_workbook(sheets or [SHEET], created=MADE)


def parts(data: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def packed(contents: dict[str, bytes], method: int = zipfile.ZIP_DEFLATED) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", method) as archive:
        for name, content in contents.items():
            archive.writestr(name, content)
    return out.getvalue()


def changed(part: str, change: Callable[[bytes], bytes]) -> bytes:
    contents = parts(book())
    before = contents[part]
    contents[part] = change(before)
    assert contents[part] != before
    return packed(contents)


def refusal(data: bytes) -> str:
    with pytest.raises(FileError) as caught:
        read_workbook(data, name="bells.xlsx")
    (line,) = caught.value.lines
    return line


# ── written and read back ────────────────────────────────────────────────────────────────


def test_a_sheet_reads_back_as_text_and_exact_numbers() -> None:
    table = read_workbook(book())
    assert table.header == ("serial", "depth [mm]", "note")
    assert table.rows == (
        ("B-1", "158.012", "=1+1"),
        ("B-2", "-0.25", ""),
        ("1042", "7", "@x"),
    )
    assert list(table.row_numbers) == [2, 3, 4]


texts = st.text(st.characters(exclude_categories=["Cs", "Cc"], exclude_characters="\ufffe\uffff"))
names = st.text("abc xyz[]=+@", min_size=1, max_size=8).map(lambda text: f"n{text.strip()}")


@settings(max_examples=40)
@given(
    rows=st.lists(
        st.tuples(names, texts, st.floats(-1e300, 1e300, allow_subnormal=False)), max_size=5
    )
)
def test_any_text_and_any_number_come_back(rows: list[tuple[str, str, float]]) -> None:
    table = read_workbook(book(Sheet(name="a", header=["name", "text", "size"], rows=rows)))
    assert [row[:2] for row in table.rows] == [tuple(row[:2]) for row in rows]
    for row, (_, _, size) in zip(table.rows, rows, strict=True):
        assert float(row[2]) == pytest.approx(size, rel=1e-15, abs=0)


@given(value=st.integers(-(10**7), 10**7).map(lambda n: n / 10_000))
def test_measured_lengths_come_back_exactly(value: float) -> None:
    table = read_workbook(book(Sheet(name="a", header=["x [mm]"], rows=[[value]])))
    assert float(table.rows[0][0]) == value


def test_numbers_are_numbers_and_nothing_is_a_formula_or_a_link() -> None:
    risky: list[Cell] = ["=1+1", "+1", "-1", "@a", "\tx", "https://a.example", "{=1}", "12"]
    data = book(Sheet(name="a", header=["=serial", "x"], rows=[[text, 0.5] for text in risky]))
    sheet = parts(data)[PAGE]
    assert b"<f" not in sheet
    assert b"<hyperlink" not in sheet
    assert sheet.count(b't="s"') == len(risky) + 2
    assert sheet.count(b"<v>0.5</v>") == len(risky)
    cells = load_workbook(io.BytesIO(data)).get_sheet_by_index(0).to_python()
    assert [row[0] for row in cells] == ["=serial", *risky]
    assert all(row[1] == 0.5 for row in cells[1:])


def test_the_header_stays_in_sight() -> None:
    assert re.search(rb'<pane ySplit="1" [^>]*state="frozen"', parts(book())[PAGE])


def test_equal_input_gives_equal_bytes_whenever_it_is_written() -> None:
    first = book()
    assert book() == first
    with zipfile.ZipFile(io.BytesIO(first)) as archive:
        assert {part.date_time[0] for part in archive.infolist()} == {1980}  # none is of today
    assert b"2026-11-24T09:30:00Z" in parts(first)["docProps/core.xml"]
    elsewhere = datetime.timezone(datetime.timedelta(hours=2))
    assert write_workbook([SHEET], created=MADE.astimezone(elsewhere)) == first
    assert write_workbook([SHEET], created=MADE.replace(year=2027)) != first
    with pytest.raises(FaultError, match="needs its time zone"):
        write_workbook([SHEET], created=MADE.replace(tzinfo=None))


def test_several_sheets_and_the_first_is_read() -> None:
    second = Sheet(name="limits", header=["name"], rows=[["depth"]])
    data = book(SHEET, second)
    assert load_workbook(io.BytesIO(data)).sheet_names == ["bells", "limits"]
    assert read_workbook(data).header[0] == "serial"


@pytest.mark.parametrize(
    ("sheet", "words"),
    [
        (Sheet(name="a/b", header=["x"], rows=[]), '"a/b" is no name for a sheet'),
        (Sheet(name="", header=["x"], rows=[]), '"" is no name'),
        (Sheet(name="n" * 32, header=["x"], rows=[]), "is no name"),
        (Sheet(name="a", header=["x"], rows=[[math.nan]]), "nan at row 2, column 1 is not finite"),
        (Sheet(name="a", header=["x"], rows=[[math.inf]]), "inf at row 2"),
        (Sheet(name="a", header=["x"], rows=[["t" * 32_768]]), "32768 characters is too long"),
        (Sheet(name="a", header=["x"] * 16_385, rows=[]), "row 1, column 16385 is beyond a sheet"),
    ],
)
def test_what_a_sheet_cannot_hold_is_a_fault_of_ours(sheet: Sheet, words: str) -> None:
    with pytest.raises(FaultError, match=words):
        book(sheet)
    with pytest.raises(FaultError, match="needs a sheet"):
        write_workbook([], created=MADE)


def test_dates_and_truths_are_text_that_no_number_column_takes() -> None:
    """A spreadsheet makes a date of the serial 3-12; the style of a cell tells."""
    contents = parts(book())
    sheet = (
        contents[PAGE]
        .replace(b'<c r="B2">', b'<c r="B2" t="b">')
        .replace(b"<v>158.012</v>", b"<v>1</v>")
    )
    contents[PAGE] = sheet.replace(b'<c r="B4"><v>7</v>', b'<c r="B4" s="2"><v>46093</v>')
    styles = contents["xl/styles.xml"]
    extra = b'<xf numFmtId="14" fontId="0" fillId="0" borderId="0" xfId="0"/></cellXfs>'
    contents["xl/styles.xml"] = styles.replace(b"</cellXfs>", extra)
    table = read_workbook(packed(contents))
    assert [row[1] for row in table.rows] == ["TRUE", "-0.25", "2026-03-12"]


# ── archives that are not what they seem ─────────────────────────────────────────────────


def test_a_bomb_is_refused_before_it_is_unpacked() -> None:
    contents = parts(book())
    bomb = packed({**contents, "xl/media/image1.xml": b"<" + bytes(workbook.LARGEST_UNPACKED)})
    assert len(bomb) < 200_000
    tracemalloc.start()
    line = refusal(bomb)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert line == "bells.xlsx: larger than 128 MB unpacked; hand it in in parts"
    assert peak < 5_000_000


def test_a_bomb_that_lies_about_its_size_is_not_unpacked_further() -> None:
    size = 100_000_000
    bomb = bytearray(packed({**parts(book()), "xl/bomb.xml": b"<" + b" " * size}))
    told = (size + 1).to_bytes(4, "little")
    while (at := bomb.find(told)) >= 0:
        bomb[at : at + 4] = (10).to_bytes(4, "little")
    tracemalloc.start()
    line = refusal(bytes(bomb))
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert line.startswith("bells.xlsx: a damaged or locked workbook: Bad CRC-32")
    assert peak < 5_000_000


REACH = {
    "one cell in the far corner": (
        changed(PAGE, lambda x: x.replace(b'r="B4"', b'r="XFD1048576"')),
        "its sheet reaches to row 1048576, column 16384; delete what stands beyond the table",
    ),
    "the same in other quotes": (
        changed(PAGE, lambda x: x.replace(b'r="B4"', b"r = 'xfd1048576'")),
        "its sheet reaches to row 1048576, column 16384; delete what stands beyond the table",
    ),
    "a row far below": (
        changed(PAGE, lambda x: x.replace(b'<row r="4"', b'<row r="1000000"')),
        "its sheet reaches to row 1000000, column 3; delete what stands beyond the table",
    ),
    "a row that no sheet has": (
        changed(PAGE, lambda x: x.replace(b'r="B4"', b'r="B99999999999"')),
        "its cells do not say where they stand; save it again as XLSX, or as CSV UTF-8",
    ),
    "a column that no sheet has": (
        changed(PAGE, lambda x: x.replace(b'r="B4"', b'r="ZZZZZZZZZZZZ4"')),
        "its cells do not say where they stand; save it again as XLSX, or as CSV UTF-8",
    ),
    "a hidden reference": (
        changed(PAGE, lambda x: x.replace(b'r="B4"', b'r="&#88;FD4"')),
        "its cells do not say where they stand; save it again as XLSX, or as CSV UTF-8",
    ),
    "cells without references": (
        changed(PAGE, lambda x: x.replace(b'<c r="B4"', b"<c")),
        "its cells do not say where they stand; save it again as XLSX, or as CSV UTF-8",
    ),
    "a list that says it is endless": (
        changed(
            "xl/sharedStrings.xml",
            lambda x: re.sub(rb'uniqueCount="\d+"', b'uniqueCount="999999999999"', x),
        ),
        (
            "its lists say they are longer than a table may be; "
            "save it again as XLSX, or as CSV UTF-8"
        ),
    ),
}


@pytest.mark.parametrize("case", REACH)
def test_a_sheet_that_reaches_too_far_is_refused(case: str) -> None:
    data, line = REACH[case]
    assert refusal(data) == f"bells.xlsx: {line}"


def test_one_long_text_in_many_cells_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(workbook, "LARGEST_TEXTS", 100_000)
    long = Sheet(name="a", header=["x"], rows=[["t" * 3000]] * 40)
    assert refusal(book(long)).startswith("bells.xlsx: its texts are too long for so many cells")
    short = Sheet(name="a", header=["x"], rows=[["t" * 300]] * 40)
    assert len(read_workbook(book(short)).rows) == 40


DAMAGED = {
    "not an archive": (b"PK\x03\x04 and nothing more", "a damaged or locked workbook: File is not"),
    "cut short": (book()[:-600], "a damaged or locked workbook: "),
    "another kind of archive": (packed({"mimetype": b"text"}), "an archive, but not an XLSX"),
    "no sheet": (
        changed("xl/workbook.xml", lambda x: x.replace(b"<sheet ", b"<shoot ")),
        "its first sheet holds no cells; put the table first",
    ),
    "XML cut short": (changed(PAGE, lambda x: x[:700]), "not a workbook that can be read: "),
    "a text that is not in the list": (
        changed(PAGE, lambda x: x.replace(b"<v>0</v>", b"<v>9999</v>")),
        "not a workbook that can be read: ",
    ),
    "packed by other means": (
        packed(parts(book()), zipfile.ZIP_LZMA),
        "packed in a way no spreadsheet packs",
    ),
    "an empty sheet": (
        changed(PAGE, lambda x: re.sub(rb"<sheetData>.*</sheetData>", b"<sheetData/>", x)),
        "it holds no cells",
    ),
}


@pytest.mark.parametrize("case", DAMAGED)
def test_a_damaged_workbook_says_so(case: str) -> None:
    data, words = DAMAGED[case]
    assert refusal(data).startswith(f"bells.xlsx: {words}")


def test_a_part_given_twice_is_refused() -> None:
    out = io.BytesIO(book())
    with (
        pytest.warns(UserWarning, match="Duplicate name"),
        zipfile.ZipFile(out, "a") as archive,
    ):
        archive.writestr(PAGE, "<worksheet><sheetData/></worksheet>")
    assert refusal(out.getvalue()).startswith(f'bells.xlsx: it holds "{PAGE}" twice')


def test_too_many_parts_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(workbook, "_MOST_PARTS", 5)
    assert refusal(book()).startswith("bells.xlsx: more than 5 parts")


def test_pictures_and_programs_are_left_behind() -> None:
    contents = {**parts(book()), "xl/vbaProject.bin": b"\x00<", "xl/media/a.png": b"\x89PNG"}
    assert read_workbook(packed(contents)).rows == read_workbook(book()).rows


def test_a_workbook_changed_anywhere_is_read_or_refused() -> None:
    """Two thousand random changes of its XML: an answer or a line, never anything else."""
    rng = random.Random(4)
    whole = parts(book())
    names = [PAGE, "xl/sharedStrings.xml", "xl/workbook.xml", "xl/styles.xml"]
    bits = [b'"', b"<", b">", b"/", b"&", b"999999999999", b"-1", b"A", b' t="d"', b"\xff", b"<v>"]
    outcomes = {True: 0, False: 0}
    for _ in range(2000):
        name = rng.choice(names)
        content = bytearray(whole[name])
        for _ in range(rng.randint(1, 3)):
            at = rng.randrange(len(content))
            if rng.random() < 0.5:
                content[at:at] = rng.choice(bits)
            else:
                del content[at : at + rng.randint(1, 12)]
        try:
            read_workbook(packed({**whole, name: bytes(content)}, zipfile.ZIP_STORED))
        except FileError as error:
            assert all(error.lines)
            outcomes[False] += 1
        else:
            outcomes[True] += 1
    assert min(outcomes.values()) > 200
