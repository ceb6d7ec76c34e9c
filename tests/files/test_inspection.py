"""Inspections read from tables: values in mm, and every fault by row and column."""

from __future__ import annotations

import datetime

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitwright.errors import FileError, InputError
from kitwright.files.incoming import table_from_bytes
from kitwright.files.inspection import (
    Expected,
    InspectionTable,
    blank_inspection,
    inspection_header,
    inspection_rows,
    read_inspection,
    write_inspection,
)
from kitwright.files.workbook import Sheet, write_workbook

MADE = datetime.datetime(2026, 11, 24, tzinfo=datetime.UTC)
EXPECTED = [Expected("depth"), Expected("bore", "position")]
HEADER = "serial,depth [mm],depth u95 [mm],bore x [mm],bore y [mm],bore u95 [mm]"
GOOD = f"{HEADER}\nB-1,158.012,0.004,0.01,-0.02,0.003\nB-2,158.02,0.004,0,0.03,0.003\n"


def read(text: str | bytes, expected: list[Expected] = EXPECTED) -> InspectionTable:
    data = text.encode() if isinstance(text, str) else text
    return read_inspection(table_from_bytes("bells.csv", data), expected)


def refusals(text: str | bytes, expected: list[Expected] = EXPECTED) -> list[str]:
    with pytest.raises(FileError) as caught:
        read(text, expected)
    return list(caught.value.lines)


# ── what is read ─────────────────────────────────────────────────────────────────────────


def test_values_and_uncertainties_by_bell_and_characteristic() -> None:
    found = read(GOOD)
    assert found.serials == ("B-1", "B-2")
    assert found.characteristics == tuple(EXPECTED)
    np.testing.assert_array_equal(found.values_mm, [[158.012, 0.01], [158.02, 0]])
    np.testing.assert_array_equal(found.y_mm, [[np.nan, -0.02], [np.nan, 0.03]])
    np.testing.assert_array_equal(found.u95_mm, [[0.004, 0.003], [0.004, 0.003]])
    assert set(found.units.values()) == {"mm"}
    assert list(found.row_numbers) == [2, 3]


DIALECTS = {
    "semicolons and decimal commas": GOOD.replace(",", ";").replace(".", ",").encode("utf-8-sig"),
    "tabs and decimal commas, UTF-16": (
        GOOD.replace(",", "\t").replace(".", ",").replace("\n", "\r\n").encode("utf-16")
    ),
    "commas, decimal commas quoted": "\n".join(
        ",".join(f'"{cell.replace(".", ",")}"' for cell in row.split(","))
        for row in GOOD.splitlines()
    ).encode(),
    "trailing empty columns and rows": (GOOD.replace("\n", ",,\n") + ",,,,,,,\n" + "\n").encode(),
    "columns in another order": "\n".join(
        ",".join(row.split(",")[::-1]) for row in GOOD.splitlines()
    ).encode(),
    "a unit each": (
        "serial,depth [cm],depth u95 [um],bore x [m],bore y [mm],bore u95 [µm]\n"
        "B-1,15.8012,4,0.00001,-0.02,3\nB-2,15.802,4,0,0.03,3\n"
    ).encode(),
}


@pytest.mark.parametrize("dialect", DIALECTS)
def test_every_dialect_gives_the_same_numbers(dialect: str) -> None:
    found, plain = read(DIALECTS[dialect]), read(GOOD)
    assert found.serials == plain.serials
    np.testing.assert_array_equal(found.values_mm, plain.values_mm)
    np.testing.assert_array_equal(found.y_mm, plain.y_mm)
    np.testing.assert_array_equal(found.u95_mm, plain.u95_mm)


def test_a_workbook_gives_the_same_numbers() -> None:
    plain = read(GOOD)
    sheet = Sheet(name="bells", header=inspection_header(EXPECTED), rows=inspection_rows(plain))
    found = read(write_workbook([sheet], created=MADE))
    assert found.serials == plain.serials
    np.testing.assert_array_equal(found.values_mm, plain.values_mm)


def test_inches_are_exact_as_on_paper() -> None:
    """NIST SP 811 (2008): 1 in = 25.4 mm exactly; 5 thou are 0.127, not 0.12699999999999997."""
    found = read("serial,d [thou],d u95 [in]\nB-1,5,0.0002\nB-2,6221.3,0\n", [Expected("d")])
    assert found.values_mm[:, 0].tolist() == [0.127, 158.02102]
    assert found.u95_mm[:, 0].tolist() == [0.00508, 0]
    assert dict(found.units) == {"d": "thou", "d u95": "in"}


def test_a_name_may_end_like_an_uncertainty_and_hold_any_space() -> None:
    found = read("serial,a u95 [mm],a u95 u95 [mm]\nB-1,-5,0\n", [Expected(" a  u95")])
    assert found.values_mm.tolist() == [[-5]]


def test_numbers_of_a_spreadsheet_can_be_serials() -> None:
    sheet = Sheet(name="a", header=["serial", "d [mm]", "d u95 [mm]"], rows=[[1042, 1.5, 0]])
    book = write_workbook([sheet], created=MADE)
    assert read(book, [Expected("d")]).serials == ("1042",)


# ── written and read back ────────────────────────────────────────────────────────────────

serials = st.text(st.characters(categories=["L", "N", "P", "S"]), min_size=1, max_size=20)
sizes = st.floats(-1e6, 1e6)


@given(
    names=st.lists(serials, min_size=1, max_size=6, unique=True),
    kinds=st.lists(st.sampled_from(["length", "position"]), min_size=1, max_size=4),
    data=st.data(),
)
def test_what_is_written_reads_back_exactly(
    names: list[str], kinds: list[str], data: st.DataObject
) -> None:
    expected = [Expected(f"c{k} [{k}]", kind) for k, kind in enumerate(kinds)]  # type: ignore[arg-type]
    shape = len(names), len(kinds)

    def numbers(each: st.SearchStrategy[float]) -> np.ndarray:
        row = st.lists(each, min_size=shape[1], max_size=shape[1])
        return np.array(data.draw(st.lists(row, min_size=shape[0], max_size=shape[0])))

    y = numbers(sizes)
    y[:, [kind == "length" for kind in kinds]] = np.nan
    table = InspectionTable(
        serials=tuple(names),
        characteristics=tuple(expected),
        values_mm=numbers(sizes),
        y_mm=y,
        u95_mm=numbers(st.floats(0, 1e6)),
        units={},
        row_numbers=range(2, 2 + len(names)),
    )
    again = read(write_inspection(table), expected)
    assert again.serials == table.serials
    assert again.characteristics == table.characteristics
    np.testing.assert_array_equal(again.values_mm, table.values_mm)
    np.testing.assert_array_equal(again.y_mm, table.y_mm)
    np.testing.assert_array_equal(again.u95_mm, table.u95_mm)


def test_a_blank_inspection_waits_for_its_numbers() -> None:
    text = blank_inspection(EXPECTED, ["B-1", "=B-2"], unit="inch")
    assert text.splitlines() == [
        "serial,depth [in],depth u95 [in],bore x [in],bore y [in],bore u95 [in]",
        "B-1,,,,,",
        "'=B-2,,,,,",
    ]
    assert refusals(text)[:2] == [
        "row 2, depth [in]: empty; measure it, or leave the row out",
        "row 2, depth u95 [in]: empty; measure it, or leave the row out",
    ]


# ── what is refused ──────────────────────────────────────────────────────────────────────

HEADERS = {
    "a column misspelt": (
        HEADER.replace("depth u95", "dept u95"),
        [
            'header: "dept u95 [mm]" is not expected; did you mean "depth u95"?',
            'header: no column "depth u95 [mm]"; add it',
        ],
    ),
    "capitals": (
        HEADER.replace("serial", "Serial"),
        [
            'header: "Serial" is not expected; did you mean "serial"?',
            'header: no column "serial"; add it',
        ],
    ),
    "a column too many": (
        f"{HEADER},remarks",
        ['header: "remarks" is not expected; delete the column'],
    ),
    "a column without a name": (
        HEADER.replace("depth [mm]", ""),
        [
            "header: column 2 has no name; name it or delete it",
            'header: no column "depth [mm]"; add it',
        ],
    ),
    "a column given twice": (
        HEADER.replace("bore u95 [mm]", "depth [in]"),
        [
            'header: "depth [in]" stands twice; leave one out',
            'header: no column "bore u95 [mm]"; add it',
        ],
    ),
    "no unit": (
        HEADER.replace("bore y [mm]", "bore y"),
        ['header: "bore y" has no unit; write "bore y [mm]"'],
    ),
    "an empty unit": (
        HEADER.replace("bore y [mm]", "bore y []"),
        ['header: "bore y" has no unit; write "bore y [mm]"'],
    ),
    "an unknown unit": (
        HEADER.replace("bore y [mm]", "bore y [furlong]"),
        [
            (
                'header: "bore y [furlong]": "furlong" is not a unit; '
                "known are mm, cm, m, µm, in, thou, tenth, ft"
            ),
        ],
    ),
    "a serial with a unit": (
        HEADER.replace("serial", "serial [mm]"),
        [
            'header: "serial [mm]" is not expected; did you mean "serial"?',
            'header: no column "serial"; add it',
        ],
    ),
}


@pytest.mark.parametrize("case", HEADERS)
def test_a_wrong_header_is_told_column_by_column(case: str) -> None:
    header, lines = HEADERS[case]
    rows = GOOD.partition("\n")[2]
    if header.count(",") > HEADER.count(","):
        rows = rows.replace("\n", ",fine\n")
    assert refusals(f"{header}\n{rows}") == lines


ROWS = {
    "text in a number column": (
        "B-1,about 158,0.004,0.01,-0.02,0.003",
        ['row 2, depth [mm]: "about 158" is not a number; write a plain number'],
    ),
    "not a number": (
        "B-1,nan,0.004,inf,-0.02,0.003",
        [
            'row 2, depth [mm]: "nan" is not a number; write a plain number',
            'row 2, bore x [mm]: "inf" is not a number; write a plain number',
        ],
    ),
    "an empty cell": (
        "B-1,158,0.004,0.01,,0.003",
        ["row 2, bore y [mm]: empty; measure it, or leave the row out"],
    ),
    "a negative uncertainty": (
        "B-1,158,-0.004,0.01,-0.02,-1e-9",
        [
            'row 2, depth u95 [mm]: "-0.004" is negative; an uncertainty is 0 or more',
            'row 2, bore u95 [mm]: "-1e-9" is negative; an uncertainty is 0 or more',
        ],
    ),
    "a thousands separator": (
        'B-1,"1,158.0",0.004,0.01,-0.02,0.003',
        ['row 2, depth [mm]: "1,158.0" has a thousands separator; write its digits without one'],
    ),
    "a size that no bell has": (
        "B-1,158e300,0.004,-2e6,-0.02,0.003",
        [
            'row 2, depth [mm]: "158e300" is beyond any bell; check it and its unit',
            'row 2, bore x [mm]: "-2e6" is beyond any bell; check it and its unit',
        ],
    ),
    "an empty serial": (
        " ,158,0.004,0.01,-0.02,0.003",
        ["row 2, serial: empty; give each bell its serial"],
    ),
    "a serial given twice": (
        (
            "B-1,158,0.004,0.01,-0.02,0.003\nB-2,158,0.004,0.01,-0.02,0.003\n"
            " B-1,158,0.004,0.01,-0.02,0.003\nB-1,158,0.004,0.01,-0.02,0.003"
        ),
        [
            'row 4, serial: "B-1" stands in row 2 too; give each bell one row',
            'row 5, serial: "B-1" stands in row 2 too; give each bell one row',
        ],
    ),
    "two empty serials": (
        ",158,0.004,0.01,-0.02,0.003\n,158,0.004,0.01,-0.02,0.003",
        [
            "row 2, serial: empty; give each bell its serial",
            "row 3, serial: empty; give each bell its serial",
        ],
    ),
    "a serial that is a story": (
        f"{'B' * 61},158,0.004,0.01,-0.02,0.003",
        [f'row 2, serial: "{"B" * 40}…" is too long; give 60 characters at most'],
    ),
    "a serial on two lines": (
        '"B\n1",158,0.004,0.01,-0.02,0.003',
        ["row 2, serial: 'B\\n1' holds what cannot be printed; type it again, on one line"],
    ),
    "no bells": ("", ["no bells under the header; give each bell a row"]),
    "rows of another length": (
        "B-1,158,0.004,0.01,-0.02\nB-2,158,0.004,0.01,-0.02,0.003,7",
        [
            "row 2: 5 cells under 6 columns; give one cell under each column",
            "row 3: 7 cells under 6 columns; give one cell under each column",
        ],
    ),
}


@pytest.mark.parametrize("case", ROWS)
def test_a_bad_row_stops_the_file(case: str) -> None:
    rows, lines = ROWS[case]
    assert refusals(f"{HEADER}\n{rows}\n") == lines


def test_every_fault_is_told_at_once_in_the_order_of_the_file() -> None:
    text = (
        "serial,depth [mm],depth u95 [mm],bore x,bore y [mm],bore u95 [mm]\n"
        "B-1,158,0.004,0.01,-0.02,0.003\n"
        "B-2,x,-1,0.01,-0.02,0.003\n"
        "B-1,158,0.004,0.01,y,0.003\n"
    )
    assert refusals(text) == [
        'header: "bore x" has no unit; write "bore x [mm]"',
        'row 3, depth [mm]: "x" is not a number; write a plain number',
        'row 3, depth u95 [mm]: "-1" is negative; an uncertainty is 0 or more',
        'row 4, serial: "B-1" stands in row 2 too; give each bell one row',
        'row 4, bore y [mm]: "y" is not a number; write a plain number',
    ]


def test_a_thousand_faults_are_fifty_lines_and_a_count() -> None:
    lines = refusals(HEADER + "\n" + "".join(f"B-{n},x,1,1,1,1\n" for n in range(1000)))
    assert len(lines) == 51
    assert lines[49].startswith("row 51, ")
    assert lines[50] == "and 950 more"


@pytest.mark.parametrize(
    ("data", "line"),
    [
        (b"", "bells.csv: it is empty (0 bytes); save it again and look inside"),
        (
            GOOD.replace("B-2", "B-ü").encode("latin-1"),
            'bells.csv: not UTF-8 at line 3 (byte 0xfc); save it as "CSV UTF-8" or as XLSX',
        ),
    ],
)
def test_a_file_that_is_no_table_says_why(data: bytes, line: str) -> None:
    assert refusals(data) == [line]


@pytest.mark.parametrize(
    ("expected", "words"),
    [
        ([], "0 given"),
        ([Expected("a"), Expected("a")], "columns a, a u95 meet"),
        ([Expected("bore", "position"), Expected("bore x")], "columns bore x meet"),
        ([Expected("serial")], "columns serial meet"),
    ],
)
def test_characteristics_whose_columns_meet_are_refused(
    expected: list[Expected], words: str
) -> None:
    with pytest.raises(InputError, match=words):
        read(GOOD, expected)
    with pytest.raises(InputError, match=words):
        inspection_header(expected)


@given(text=st.text("B1,.;\t\n\"'x-[]m ", max_size=60), known=st.booleans())
def test_any_table_is_read_or_refused(text: str, known: bool) -> None:
    try:
        found = read((f"{HEADER}\n" if known else "") + text)
    except FileError as error:
        assert all(error.lines)
    else:
        assert np.isfinite(found.values_mm).all()
        assert (found.u95_mm >= 0).all()
        assert len(set(found.serials)) == len(found.serials) > 0
