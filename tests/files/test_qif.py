"""QIF Results: files that differ in what may differ give the same inspection; others are refused.

The names of the elements are those of the open schema of QIF 3.0.0; that a combined uncertainty is
a standard one (k = 1) is the GUM's word (JCGM 100:2008, 2.3.4), from memory.
"""

from __future__ import annotations

import datetime
import re
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree

from kitwright.errors import FileError
from kitwright.files.incoming import handed_in, inspection_in
from kitwright.files.inspection import Expected, InspectionTable, write_inspection
from kitwright.files.qif import NAMESPACE, QifDocument, open_qif, read_qif
from kitwright.files.qif_writing import _decimal, write_qif
from kitwright.files.tables import read_csv

FOLDER = Path(__file__).parent / "results"
DRAWING = [Expected("depth"), Expected("bore", "position"), Expected("bore diameter")]
WHEN = datetime.datetime(2026, 5, 4, 9, tzinfo=datetime.UTC)
PLAIN = (FOLDER / "plain_mm.qif").read_text()


def read(text: str | bytes, drawing=DRAWING) -> InspectionTable:
    data = text if isinstance(text, bytes) else text.encode()
    return read_qif(open_qif(data, name="bells.qif"), drawing)


def lines(text: str, drawing=DRAWING) -> list[str]:
    with pytest.raises(FileError) as refused:
        read(text, drawing)
    return list(refused.value.lines)


def test_a_file_in_mm():
    found = read(PLAIN)
    assert found.serials == ("B-1041", "B-1042")
    np.testing.assert_array_equal(
        found.values_mm, [[158.012, 0.011, 124.02], [158.019, -0.004, 124.018]]
    )
    np.testing.assert_array_equal(found.y_mm[:, 1], [-0.02, 0.008])
    assert np.isnan(found.y_mm[:, [0, 2]]).all()
    np.testing.assert_array_equal(found.u95_mm, [[0.004, 0.003, 0.002]] * 2)


def test_prefixes_inches_designators_and_any_order_of_ids():
    """1 in = 25.4 mm exactly; on the second bell one value and the place are in mm."""
    found = read((FOLDER / "prefixed_inch.qif").read_bytes())
    at = {serial: row for row, serial in enumerate(found.serials)}
    assert set(at) == {"B-1041", "B-1042"}
    first, second = at["B-1041"], at["B-1042"]
    np.testing.assert_array_equal(found.values_mm[first], [158.7246, 0.01016, 124.0155])
    np.testing.assert_array_equal(found.values_mm[second], [158.75, -0.00508, 124.018])
    np.testing.assert_array_equal(found.y_mm[[first, second], 1], [-0.02032, 0.00762])
    # the larger of the two axes, not the one of all three; doubled, and 25.4 mm an inch
    np.testing.assert_allclose(found.u95_mm[first], [0.00508, 0.003048, 0.002032], rtol=1e-12)
    np.testing.assert_allclose(found.u95_mm[second], [0.00508, 0.003, 0.002], rtol=1e-12)


def test_without_file_units_a_length_is_in_metres():
    found = read((FOLDER / "metres.qif").read_bytes(), [Expected("depth")])
    assert found.values_mm.tolist() == [[158.012]]
    assert found.u95_mm.tolist() == [[0.004]]


def test_the_same_bells_as_csv_are_the_same_inspection():
    found = read(PLAIN)
    again = inspection_in(handed_in("b.csv", write_inspection(found).encode()), DRAWING)
    np.testing.assert_array_equal(found.values_mm, again.values_mm)
    np.testing.assert_array_equal(found.u95_mm, again.u95_mm)
    assert isinstance(handed_in("b.csv", PLAIN.encode()), QifDocument), "told by what is inside"


@given(
    st.lists(
        st.tuples(
            st.floats(-99_000, 99_000, allow_subnormal=False),
            st.floats(-0.5, 0.5, allow_subnormal=False),
            st.floats(-0.5, 0.5, allow_subnormal=False),
            st.floats(0, 10, allow_subnormal=False),
        ),
        min_size=1,
        max_size=4,
    )
)
def test_a_round_trip_gives_back_what_went_in(rows):
    """To the 1e-12 mm to which every file's numbers are rounded."""
    table = np.array(rows)
    given_in = InspectionTable(
        serials=tuple(f"B & <{number}>" for number in range(len(rows))),
        characteristics=tuple(DRAWING[:2]),
        values_mm=table[:, :2],
        y_mm=np.column_stack([np.full(len(rows), np.nan), table[:, 2]]),
        u95_mm=np.column_stack([table[:, 3], table[:, 3]]),
        units={},
        row_numbers=range(len(rows)),
    )
    written = write_qif(given_in, title="batch B", created=WHEN)
    back = read(written, DRAWING[:2])
    assert back.serials == given_in.serials
    for name in ("values_mm", "y_mm", "u95_mm"):
        np.testing.assert_allclose(
            getattr(back, name), getattr(given_in, name), rtol=1e-15, atol=1.01e-12
        )
    assert written == write_qif(given_in, title="batch B", created=WHEN)


@given(st.floats(-1e6, 1e6, allow_subnormal=False))
def test_a_number_is_written_plainly_and_reads_back_the_same(mm):
    """XML Schema's decimal, which has no exponent (W3C XML Schema 1.1, part 2, 3.3.3)."""
    written = _decimal(mm)
    assert re.fullmatch(r"-?\d+(\.\d+)?", written)
    assert float(written) == mm


def test_what_is_written_holds_together():
    """Every id once, every reference answered, every n the number of children."""
    root = etree.fromstring(write_qif(read(PLAIN), title="batch B", created=WHEN))
    assert root.findtext(f"{{{NAMESPACE}}}Header/{{{NAMESPACE}}}Description") == "batch B"
    ids = [element.get("id") for element in root.iter() if element.get("id")]
    assert len(ids) == len(set(ids))
    assert int(root.get("idMax")) == max(map(int, ids))
    for element in root.iter():
        if element.get("n"):
            assert int(element.get("n")) == len(element)
        if etree.QName(element).localname in ("Id", "CharacteristicItemId"):
            assert element.text in ids
        assert etree.QName(element).namespace == NAMESPACE
    csv = read_csv(write_inspection(read(etree.tostring(root))).encode())
    assert len(csv.rows) == 2


DEPTH_1 = '<Value combinedUncertainty="0.002" meanError="0">158.012</Value>'
PLACE_1 = '<Location combinedUncertainty="0.0015">0.011 -0.020 165.01</Location>'
UNIT = "<UnitConversion><Factor>0.001</Factor></UnitConversion>"
ONE = [
    # where it is changed, to what, the one line that is told
    (DEPTH_1, DEPTH_1.replace("158.012", "about 158"), 'B-1041, depth: Value "about 158" is not a'),
    (DEPTH_1, DEPTH_1.replace("158.012", "NaN"), 'B-1041, depth: Value "NaN" is not a number'),
    (DEPTH_1, DEPTH_1.replace("158.012", "158,012"), 'B-1041, depth: Value "158,012" is not a'),
    (DEPTH_1, DEPTH_1.replace("158.012", ""), "B-1041, depth: its Value is empty"),
    (DEPTH_1, DEPTH_1.replace("158.012", "1580120000"), "is beyond any bell; check its unit"),
    (DEPTH_1, "", "B-1041, depth: it has no Value"),
    (DEPTH_1, "<Value>158.012</Value>", "B-1041, depth: it has no combinedUncertainty"),
    (DEPTH_1, DEPTH_1.replace('"0.002"', '"-0.002"'), "is not an uncertainty; give zero or more"),
    (DEPTH_1, DEPTH_1.replace('meanError="0"', 'meanError="0.01"'), "it has a meanError; correct"),
    (DEPTH_1, DEPTH_1.replace("meanError", 'linearUnit="ell" meanError'), 'unit "ell" is not in'),
    (PLACE_1, "", "B-1041, bore: no measured feature gives its place"),
    (PLACE_1, PLACE_1.replace("165.01", ""), 'B-1041, bore: "0.011 -0.020" is not a place'),
    (PLACE_1, PLACE_1.replace("0.011 -0.020", "0.011 x"), "is not a place; give x, y and z"),
    (PLACE_1, PLACE_1.replace("combinedUncertainty", "zCombinedUncertainty"), "bore: it has no co"),
    (
        PLACE_1,
        PLACE_1.replace("combinedUncertainty", "xCombinedUncertainty"),
        "B-1041, bore: it has no combinedUncertainty",
    ),
    # swapped axes leave the distance; another frame does not
    (
        PLACE_1,
        PLACE_1.replace("0.011 -0.020", "186.011 29.980"),
        "its place is Ø 376.8 mm from true, its Value says 0.04565 mm; give the place in the draw",
    ),
    ("<Name>depth</Name>", "<Name>dept</Name>", 'dept: is not on the drawing; did you mean "depth'),
    ("DistanceFromCharacteristicM", "AngleCharacteristicM", 'B-1041, depth: measured as "Angle"'),
    ("PositionCharacteristicM", "DiameterCharacteristicM", "the drawing has a position"),
    ("DiameterCharacteristicM", "PositionCharacteristicM", "the drawing has a length"),
    ("<CharacteristicItemId>3</", "<CharacteristicItemId>1</", "B-1041, depth: measured twice"),
    ("<CharacteristicItemId>1</", "<CharacteristicItemId>77</", "characteristic 77, which is not"),
    ("<CharacteristicItemId>1</", '<CharacteristicItemId xId="4">1</', "another file (xId)"),
    ("<SerialNumber>B-1042</SerialNumber>", "", "part 21: has no SerialNumber"),
    ("B-1042", "B-1041", 'part 21: bears "B-1041", as another part does; give each bell its own'),
    ("B-1042", "B" * 61, "part 21: has a serial that cannot be"),
    ('<ActualComponentIds n="1"><Id>21</Id></ActualComponentIds>', "", "results 15: 0 parts are"),
    ("<Id>21</Id>", "<Id>20</Id><Id>21</Id>", "results 15: 2 parts are named"),
    ("<Id>21</Id>", "<Id>22</Id>", "results 15: no part 22; say by ActualComponentIds which"),
    ('<MeasurementResults id="15">', '<MeasurementResults id="15"><ActualTransforms/>', "moved (A"),
    (UNIT, "", '"mm" has no UnitConversion; give its Factor to metres'),
    (UNIT, UNIT.replace("0.001", "0.0254"), 'the Factor of "mm" makes it 25.4 mm; it is 1 mm'),
    (UNIT, UNIT.replace("0.001", "0"), "is no number above zero"),
    (UNIT, UNIT.replace("<Factor>", "<Offset>1</Offset><Factor>"), "has an Offset"),
    ("<UnitName>mm</UnitName>", "", "a linear unit has no UnitName"),
    ("xsd/qif3", "xsd/qif2", "QIF of another version"),
    ("xsd/qif3", "xsd/other", "not a QIF document; hand in QIF Results, CSV or XLSX"),
    ("QIFDocument", "Invoice", 'its root is "Invoice", not a QIF document'),
]


@pytest.mark.parametrize(("old", "new", "told"), ONE, ids=range(len(ONE)))
def test_what_is_not_understood_is_refused_in_words(old, new, told):
    assert old in PLAIN
    every = old in (
        "QIFDocument",
        "PositionCharacteristicM",
        "DiameterCharacteristicM",
        "DistanceFromCharacteristicM",
        "xsd/qif3",
    )
    found = lines(PLAIN.replace(old, new, -1 if every else 1))
    assert any(told in line for line in found), found


def test_every_fault_is_listed_and_nothing_is_taken():
    bad = PLAIN.replace("158.012", "?").replace("124.018", "?").replace("158.019", "?")
    assert lines(bad) == [
        'B-1041, depth: Value "?" is not a number; write a plain number',
        'B-1042, depth: Value "?" is not a number; write a plain number',
        'B-1042, bore diameter: Value "?" is not a number; write a plain number',
    ]


def test_what_was_not_measured_is_named():
    assert lines(PLAIN, [*DRAWING, Expected("span")]) == [
        "B-1041, span: not measured; measure it, or leave the bell out",
        "B-1042, span: not measured; measure it, or leave the bell out",
    ]


def test_a_set_of_results_without_measurements_is_of_the_bell_it_names():
    """Nothing was measured of the bell it names; a part that is not in the file is no bell."""
    nothing = (
        '<MeasurementResults id="90"><ActualComponentIds n="1"><Id>%d</Id></ActualComponentIds>'
        "</MeasurementResults></MeasurementResultsSet>"
    )
    third = '<ActualComponent id="22"><SerialNumber>B-1043</SerialNumber></ActualComponent>'
    more = PLAIN.replace("</ActualComponentSet>", third + "</ActualComponentSet>")
    assert lines(more.replace("</MeasurementResultsSet>", nothing % 22)) == [
        f"B-1043, {name}: not measured; measure it, or leave the bell out"
        for name in ("depth", "bore", "bore diameter")
    ]
    stray = read(PLAIN.replace("</MeasurementResultsSet>", nothing % 99))
    assert stray.serials == ("B-1041", "B-1042")


def test_the_largest_length_is_a_kilometre():
    """Ten thousand times any bell: what is beyond is a wrong unit."""
    assert read(PLAIN.replace("158.012", "1000000")).values_mm[0, 0] == 1e6
    assert "is beyond any bell; check its unit" in lines(PLAIN.replace("158.012", "1000000.1"))[0]


def test_a_name_and_a_designator_that_disagree_are_refused():
    both = (
        "<Name>depth</Name><CharacteristicDesignator><Designator>bore diameter</Designator>"
        "</CharacteristicDesignator>"
    )
    found = lines(PLAIN.replace("<Name>depth</Name>", both))
    assert found[0] == (
        'depth: its name is "depth" and its designator "bore diameter"; these are two '
        "characteristics of the drawing: leave one"
    )


def test_a_file_without_results_says_so():
    only = f'<QIFDocument xmlns="{NAMESPACE}"/>'
    assert lines(only) == ["Results: there are none in the file; export the measured parts"]
    empty = f'<QIFDocument xmlns="{NAMESPACE}"><Results/></QIFDocument>'
    assert lines(empty) == ["bells.qif: it holds no results; export the measured parts"]


def test_truncated_anywhere_it_is_refused():
    data = PLAIN.rstrip().encode()
    for end in range(0, len(data) - 1, 97):
        with pytest.raises(FileError):
            inspection_in(handed_in("bells.qif", data[:end]), DRAWING)


def test_laughing_a_thousand_million_times_is_refused():
    laughs = "<!DOCTYPE QIFDocument [<!ENTITY a0 'ha'>" + "".join(
        f"<!ENTITY a{k} '{f'&a{k - 1};' * 10}'>" for k in range(1, 10)
    )
    bomb = PLAIN.replace("<QIFDocument", f"{laughs}]><QIFDocument").replace("B-1041", "&a9;")
    (told,) = lines(bomb)
    assert told.startswith("bells.qif: it has a document type (DOCTYPE); have it written again")
