"""CSV as spreadsheets write it, read from bytes; every refusal by its words."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitwright.errors import FileError
from kitwright.files import tables
from kitwright.files.tables import neutral, read_csv, table_of, without_neutral, write_csv

HEADER = ("serial", "depth [mm]", "note")
ROWS = (("B-1", "158.012", "left"), ("B-2", "158.020", "ø 5\u2033; ok"))

PLAIN = "serial,depth [mm],note\nB-1,158.012,left\nB-2,158.020,ø 5\u2033; ok\n"
DIALECTS = {
    "commas": PLAIN.encode(),
    "commas, CR LF, mark": PLAIN.replace("\n", "\r\n").encode("utf-8-sig"),
    "commas, CR": PLAIN.replace("\n", "\r").encode(),
    "no end of the last line": PLAIN.rstrip("\n").encode(),
    "semicolons": b"serial;depth [mm];note\r\nB-1;158.012;left\r\n"
    b'B-2;158.020;"\xc3\xb8 5\xe2\x80\xb3; ok"',
    "tabs, UTF-16 little": b"\xff\xfe" + PLAIN.replace(",", "\t").encode("utf-16-le"),
    "tabs, UTF-16 big": b"\xfe\xff" + PLAIN.replace(",", "\t").encode("utf-16-be"),
    "everything quoted": b'"serial","depth [mm]","note"\n"B-1","158.012","left"\n'
    b'"B-2","158.020","\xc3\xb8 5\xe2\x80\xb3; ok"\n',
    "trailing empty columns and rows": (
        PLAIN.replace("note", "note,,").replace("left", "left,, ").replace("ok", "ok,,")
        + ",,,,\n \n\n"
    ).encode(),
    "blank rows between": ("\n" + PLAIN.replace("\n", "\n\n")).encode(),
    "spaces in the header": PLAIN.replace("depth [mm]", "  depth   [mm] ").encode(),
}


@pytest.mark.parametrize("dialect", DIALECTS)
def test_every_dialect_reads_alike(dialect: str) -> None:
    table = read_csv(DIALECTS[dialect])
    assert table.header == HEADER
    assert table.rows == ROWS


def test_rows_keep_the_numbers_that_a_spreadsheet_shows() -> None:
    text = '\nserial,note\n\nB-1,"two\nlines"\n,\nB-2,x\n'
    table = read_csv(text.encode())
    assert table.rows == (("B-1", "two\nlines"), ("B-2", "x"))
    assert list(table.row_numbers) == [4, 6]


def test_the_delimiter_is_the_one_that_parts_the_header() -> None:
    assert read_csv(b"serial;depth, front [mm]\nB-1;1,5").delimiter == ";"
    assert read_csv(b"serial;depth, front [mm]\nB-1;1,5").rows == (("B-1", "1,5"),)
    assert read_csv(b'serial,"a;b;c",d\nB-1,x,y').header == ("serial", "a;b;c", "d")
    assert read_csv(b"serial\tdepth\nB-1\t1,5").delimiter == "\t"
    assert read_csv(b'"serial";"a, b";"c"\n1;2;3').header == ("serial", "a, b", "c")
    assert read_csv(b"serial\nB-1").rows == (("B-1",),)


REFUSED = {
    "empty": (b"", "bells.csv: it is empty (0 bytes); save it again and look inside"),
    "blank": (
        b" \n,,\n\n",
        "bells.csv: it holds no cells; give a header, and a row under it for each",
    ),
    "only a mark": (
        b"\xef\xbb\xbf",
        "bells.csv: it holds no cells; give a header, and a row under it for each",
    ),
    "latin-1": (
        b"serial,note\r\nB-1,left\r\nB-2,h\xfclse\r\n",
        'bells.csv: not UTF-8 at line 3 (byte 0xfc); save it as "CSV UTF-8" or as XLSX',
    ),
    "latin-1 after a mark": (
        b"\xef\xbb\xbfserial\nB-\xe9\n",
        'bells.csv: not UTF-8 at line 2 (byte 0xe9); save it as "CSV UTF-8" or as XLSX',
    ),
    "half a UTF-16 character": (
        b"\xff\xfea\x00\n\x00b",
        'bells.csv: not UTF-16 at line 2 (byte 0x62); save it as "CSV UTF-8" or as XLSX',
    ),
    "UTF-16 without its mark": (
        "serial".encode("utf-16-le"),
        "bells.csv: not text: a zero byte at line 1; save it as CSV or XLSX",
    ),
    "a zero byte": (
        b"serial\nB-1\nB\x00-2",
        "bells.csv: not text: a zero byte at line 3; save it as CSV or XLSX",
    ),
    "a quote left open": (
        b'serial,note\nB-1,"left\nB-2,right\n',
        "bells.csv: not CSV at line 3: unexpected end of data; check the quotes there",
    ),
    "a quote in the middle": (
        b'serial,note\nB-1,"left" side\n',
        "bells.csv: not CSV at line 2: ',' expected after '\"'; check the quotes there",
    ),
    "a cell without end": (
        b'serial,note\nB-1,"' + b"x" * 140_000 + b'"\n',
        (
            "bells.csv: not CSV at line 2: field larger than field limit (131072); "
            "check the quotes there"
        ),
    ),
    "too many columns": (
        b",".join([b"a"] * 1001),
        "bells.csv: 1001 columns; give 1000 at most",
    ),
    "too many cells": (
        b"a,b\n" + b",\n" * 1_000_000,
        "bells.csv: more than 2000000 cells; hand it in in parts",
    ),
}


@pytest.mark.parametrize("case", REFUSED)
def test_what_cannot_be_read_says_why(case: str) -> None:
    data, line = REFUSED[case]
    with pytest.raises(FileError) as caught:
        read_csv(data, name="bells.csv")
    assert caught.value.lines == [line]


def test_every_row_of_another_length_is_listed() -> None:
    text = b"serial,depth,note\nB-1,1,x\nB-2,2\nB-3\nB-4,4,x,more\nB-5,5,x,\n"
    with pytest.raises(FileError) as caught:
        read_csv(text)
    assert caught.value.lines == [
        "row 3: 2 cells under 3 columns; give one cell under each column",
        "row 4: 1 cell under 3 columns; give one cell under each column",
        "row 5: 4 cells under 3 columns; give one cell under each column",
    ]


def test_beyond_fifty_faults_only_their_number_is_told() -> None:
    with pytest.raises(FileError) as caught:
        read_csv(b"a,b\n" + b"1\n" * 53)
    assert len(caught.value.lines) == 51
    assert caught.value.lines[49].startswith("row 51: ")
    assert caught.value.lines[50] == "and 3 more"
    with pytest.raises(FileError) as caught:
        read_csv(b"a,b\n" + b"1\n" * 50)
    assert len(caught.value.lines) == 50


# ── written and read back ────────────────────────────────────────────────────────────────

texts = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=12)
formulas = st.builds(
    "{}{}".format, st.sampled_from(["=", "+", "-", "@", "\t", "\r", "'", "'="]), texts
)
named = st.text("abcxyzøµ[]. '", min_size=1).map(lambda name: f"n{' '.join(name.split())}")


@given(
    header=st.lists(named, min_size=1, max_size=5),
    data=st.data(),
    delimiter=st.sampled_from([",", ";", "\t"]),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16"]),
    end=st.sampled_from(["\n", "\r\n"]),
    quoting=st.sampled_from([csv.QUOTE_MINIMAL, csv.QUOTE_ALL]),
)
def test_any_dialect_reads_back(
    header: list[str],
    data: st.DataObject,
    delimiter: str,
    encoding: str,
    end: str,
    quoting: int,
) -> None:
    """Written by Python's csv in any dialect (which leaves a lone CR unquoted)."""
    width = len(header)
    cell = texts.filter(lambda text: "\r" not in text)
    row = st.lists(cell, min_size=width, max_size=width).filter(lambda r: any(map(str.strip, r)))
    rows = data.draw(st.lists(row, max_size=4))
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter=delimiter, lineterminator=end, quoting=quoting)  # type: ignore[arg-type]
    writer.writerow(header)
    writer.writerows([[neutral(cell) for cell in row] for row in rows])
    table = read_csv(out.getvalue().encode(encoding))
    assert table.header == tuple(header)
    assert table.rows == tuple(map(tuple, rows))


@given(
    rows=st.lists(
        st.tuples(formulas | texts.map("n".__add__), st.floats(allow_nan=False)), max_size=5
    )
)
def test_what_is_written_reads_back_and_holds_no_formula(rows: list[tuple[str, float]]) -> None:
    text = write_csv(["name", "value [mm]"], rows)
    again = read_csv(text.encode())
    assert [row[0] for row in again.rows] == [name for name, _ in rows]
    assert [float(row[1]) for row in again.rows] == [value for _, value in rows]
    for cells in list(csv.reader(io.StringIO(text, newline="")))[1:]:
        assert cells[0][:1] not in {*"=+-@\t\r\n"}


@given(text=formulas | texts)
def test_neutral_text_is_text_and_comes_back(text: str) -> None:
    assert without_neutral(neutral(text)) == text
    assert neutral(text)[:1] not in {*"=+-@\t\r\n"}


def test_numbers_stay_numbers_and_nothing_stays_nothing() -> None:
    rows = [["-5", -5, -0.25, None], ["@a", 1, 1e-7, "x,y"]]
    assert write_csv(["a", "b", "c", "=d"], rows) == (
        "a,b,c,'=d\r\n'-5,-5,-0.25,\r\n'@a,1,1e-07,\"x,y\"\r\n"
    )


@given(data=st.binary(max_size=200) | st.text("a1,;\t\"'\n\r=", max_size=60).map(str.encode))
def test_any_bytes_are_read_or_refused(data: bytes) -> None:
    try:
        table = read_csv(data)
    except FileError as error:
        assert all(error.lines)
    else:
        assert table.header
        assert {len(row) for row in table.rows} <= {len(table.header)}
        assert len(table.row_numbers) == len(table.rows)


def test_the_bound_on_columns_holds_for_rows_of_any_origin(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tables, "LARGEST_COLUMNS", 2)
    with pytest.raises(FileError, match="3 columns; give 2 at most"):
        table_of([["a", "b", "c"]], delimiter="")
    assert table_of([["a", "b", ""]], delimiter="").header == ("a", "b")
