"""A grid of labels stays on its sheet, none on another; what cannot be is told by its field."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitwright.errors import InputError
from kitwright.paper.label_layout import PAPERS, Roll, Sheet, read_layout

mm = st.floats(0, 15)
SHEETS = st.builds(
    Sheet,
    paper=st.sampled_from(list(PAPERS)),
    columns=st.integers(1, 6),
    rows=st.integers(1, 12),
    top_mm=mm,
    bottom_mm=mm,
    left_mm=mm,
    right_mm=mm,
    gap_across_mm=st.floats(0, 8),
    gap_down_mm=st.floats(0, 8),
)


@given(SHEETS)
def test_labels_fill_the_sheet_between_its_margins_and_never_each_other(sheet: Sheet) -> None:
    places = [sheet.place(number) for number in range(sheet.each)]
    assert {page for page, _, _ in places} == {0}
    assert min(x for _, x, _ in places) == pytest.approx(sheet.left_mm)
    assert min(y for _, _, y in places) == pytest.approx(sheet.top_mm)
    across, down = sheet.page_mm
    assert max(x for _, x, _ in places) + sheet.width_mm == pytest.approx(across - sheet.right_mm)
    assert max(y for _, _, y in places) + sheet.height_mm == pytest.approx(down - sheet.bottom_mm)
    for (_, a, b), (_, c, d) in itertools.combinations(places, 2):
        beside = abs(a - c) > sheet.width_mm + sheet.gap_across_mm - 1e-9
        beneath = abs(b - d) > sheet.height_mm + sheet.gap_down_mm - 1e-9
        assert beside or beneath


@given(SHEETS, st.data())
def test_skipping_shifts_every_label_by_as_many_places(sheet: Sheet, data: st.DataObject) -> None:
    skip = data.draw(st.integers(0, sheet.each - 1))
    started = Sheet(**{**vars(sheet), "skip": skip})
    for number in range(0, 3 * sheet.each, 5):
        page, x, y = started.place(number)
        assert (page, x, y) == sheet.place(number + skip) or page > 0
        assert (x, y) == sheet.place((number + skip) % sheet.each)[1:]
        assert page == (number + skip) // sheet.each


def test_paper_is_as_the_standards_have_it() -> None:
    # ISO 216: A4 is 210 x 297 mm. Letter is 8 1/2 x 11 in (ANSI/ASME Y14.1, size A).
    assert PAPERS["a4"] == (210, 297)
    assert PAPERS["us-letter"] == pytest.approx((8.5 * 25.4, 11 * 25.4))


def test_a_layout_is_read_as_a_person_writes_it() -> None:
    assert read_layout({}) == Sheet()
    read = read_layout({"paper": "us-letter", "columns": "2", "left": "1/2 in", "skip": "5"})
    assert read == Sheet(paper="us-letter", columns=2, left_mm=12.7, skip=5)
    assert read_layout({"width": "62 mm", "height": "2 in"}) == Roll(width_mm=62, height_mm=50.8)


@pytest.mark.parametrize(
    ("given_texts", "lines"),
    [
        (
            {"columns": "three", "top": "5", "gap_down": "1,5 mm"},
            [
                'top: "5" has no unit; write "5 thou" or "5 mm"',
                'gap_down: "1,5 mm" has a comma; write a decimal point',
                'columns: "three" is not a whole number; count labels',
            ],
        ),
        ({"columns": "0"}, ["columns: 0; give 1 to 50"]),
        ({"rows": "99"}, ["rows: 99; give 1 to 50"]),
        ({"left": "-2 mm"}, ["left: -2 mm; give nothing or more"]),
        (
            {"columns": "20", "gap_across": "11 mm"},
            ["columns: 20 across leave a label no width; take fewer, or smaller margins and gaps"],
        ),
        (
            {"rows": "2", "top": "200 mm", "bottom": "4 in"},
            ["rows: 2 down leave a label no height; take fewer, or smaller margins and gaps"],
        ),
        ({"skip": "24"}, ["skip: 24; a sheet has 24; give 0 to 23"]),
        ({"paper": "a5"}, ['paper: "a5" is not known; write a4 or us-letter']),
        ({"width": "62 mm"}, ["height: missing; a label from a roll has a width and a height"]),
        (
            {"width": "2 mm", "height": "400 mm"},
            ["width: 2 mm; give 5 to 300 mm", "height: 400 mm; give 5 to 300 mm"],
        ),
    ],
)
def test_what_cannot_be_is_told_field_by_field(given_texts, lines) -> None:
    with pytest.raises(InputError) as caught:
        read_layout(given_texts)
    assert caught.value.lines == lines
