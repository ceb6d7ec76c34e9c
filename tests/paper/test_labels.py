"""Every code is read back from the printed page; nothing leaves its label or meets its neighbour.

The codes are read by zxing-cpp, an independent reader, from pages drawn by Poppler at 200 dpi.
"""

from __future__ import annotations

import datetime
import io
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pypdf
import pytest
import segno
import zxingcpp

from kitwright.errors import InputError
from kitwright.paper.label_layout import Layout, Roll, Sheet
from kitwright.paper.labels import (
    EDGE_MM,
    LINE,
    MODULE_MM,
    Label,
    arranged,
    bell_address,
    bell_label,
    crate_label,
    labels_pdf,
    shelf_labels,
)
from kitwright.paper.typesetting import qr_side, qr_svg
from kitwright.pictures.lettering import text_width
from kitwright.shop.labelled import LabelledBell, LabelledCrate

Rendered = Callable[..., list[np.ndarray]]
DPI = 200
ADDRESS = "http://garage.test:8711"
BELL = LabelledBell(serial="HC-0101", design="Heron cast bell", revision="C", batch="B-04")
SERIALS = (
    "HC-0101",
    "7",
    "KW-2026-HERON-SIX-SPEED-CAST-000012345678",
    "W" * 40,
    "i" * 40,
    "Größe-Ø-17",
    "Колокол-0042",
    "鐘-0042",
    "HC 7, the long one",
    "e\u0301" * 20,
)
LAYOUTS: dict[str, Layout] = {
    "A4, 3 x 8": Sheet(skip=2),
    "Letter, 4 x 7, with gaps": Sheet(
        paper="us-letter",
        columns=4,
        rows=7,
        left_mm=8,
        right_mm=4,
        top_mm=13,
        bottom_mm=6,
        gap_across_mm=3,
        gap_down_mm=2,
    ),
    "roll, 62 x 29 mm": Roll(width_mm=62, height_mm=29),
    "roll, 40 x 60 mm": Roll(width_mm=40, height_mm=60),
    "roll, 102 x 152 mm": Roll(width_mm=102, height_mm=152),
}


def bells(address: str | None) -> list[Label]:
    return [bell_label(replace(BELL, serial=serial), address=address) for serial in SERIALS]


def pixels(mm: float) -> int:
    return round(mm / 25.4 * DPI)


def cut(pages: list[np.ndarray], layout: Layout, number: int) -> np.ndarray:
    """The label of this number, cut out of its page."""
    page, left, top = layout.place(number)
    right, bottom = left + layout.width_mm, top + layout.height_mm
    return pages[page][pixels(top) : pixels(bottom), pixels(left) : pixels(right)]


def read(image: np.ndarray) -> list[str]:
    found = zxingcpp.read_barcodes(np.ascontiguousarray(image))
    assert all(one.format == zxingcpp.BarcodeFormat.QRCode for one in found)
    return [one.text for one in found]


@pytest.mark.parametrize("layout", LAYOUTS.values(), ids=LAYOUTS)
@pytest.mark.parametrize("address", [None, ADDRESS], ids=["serial", "address"])
def test_every_code_is_read_back(layout: Layout, address: str | None, rendered: Rendered) -> None:
    labels = bells(address)
    pages = rendered(labels_pdf(labels, layout), DPI)
    across, down = layout.page_mm
    assert all(abs(page.shape[0] - down / 25.4 * DPI) <= 1 for page in pages)
    assert all(abs(page.shape[1] - across / 25.4 * DPI) <= 1 for page in pages)
    for number, serial in enumerate(SERIALS):
        assert read(cut(pages, layout, number)) == [bell_address(serial, address)]


@pytest.mark.parametrize("layout", LAYOUTS.values(), ids=LAYOUTS)
def test_ink_stays_inside_its_label_and_off_the_quiet_zone(
    layout: Layout, rendered: Rendered
) -> None:
    labels = bells(ADDRESS)
    pages = [page.copy() for page in rendered(labels_pdf(labels, layout), DPI)]
    for number, label in enumerate(labels):
        page, left, top = layout.place(number)
        shown = pages[page]
        modules = qr_side(qr_svg(label.code))
        placed = arranged(label, layout, modules)
        side, module = placed.code_side_mm, placed.code_side_mm / modules
        assert module >= MODULE_MM - 1e-9
        x, y = left + placed.code_x_mm, top + placed.code_y_mm
        code = shown[pixels(y) : pixels(y + side), pixels(x) : pixels(x + side)]
        quiet = pixels(4 * module) - 2
        assert code.min() < 50
        for edge in (code[:quiet], code[-quiet:], code[:, :quiet], code[:, -quiet:]):
            assert edge.min() == 255
        # what is inside the edge kept clear is blanked: nothing may be left on the whole page
        inner = EDGE_MM - 0.3
        shown[
            pixels(top + inner) : pixels(top + layout.height_mm - inner),
            pixels(left + inner) : pixels(left + layout.width_mm - inner),
        ] = 255
    assert all(page.min() == 255 for page in pages)


@pytest.mark.parametrize("layout", LAYOUTS.values(), ids=LAYOUTS)
@pytest.mark.parametrize("serial", SERIALS)
def test_lines_keep_clear_of_the_code_and_of_each_other(layout: Layout, serial: str) -> None:
    label = bell_label(replace(BELL, serial=serial, design="Long cone " * 9), address=None)
    placed = arranged(label, layout, qr_side(qr_svg(label.code)))
    boxes = [
        (
            line.x_mm,
            line.y_mm,
            line.x_mm + text_width(line.text, line.size_pt, semibold=line.bold) * 25.4 / 72,
            line.y_mm + line.size_pt * LINE * 25.4 / 72,
        )
        for line in placed.lines
    ]
    code = (
        placed.code_x_mm,
        placed.code_y_mm,
        placed.code_x_mm + placed.code_side_mm,
        placed.code_y_mm + placed.code_side_mm,
    )
    everything = [code, *boxes]
    for left, top, right, bottom in everything:
        assert left >= EDGE_MM - 1e-9
        assert top >= EDGE_MM - 1e-9
        assert right <= layout.width_mm - EDGE_MM + 1e-9
        assert bottom <= layout.height_mm - EDGE_MM + 1e-9
    for one in range(len(everything)):
        for other in range(one):
            a, b = everything[one], everything[other]
            assert a[0] >= b[2] - 1e-9 or b[0] >= a[2] - 1e-9 or a[1] >= b[3] - 1e-9 or b[1] >= a[3]


@pytest.mark.parametrize("layout", LAYOUTS.values(), ids=LAYOUTS)
def test_a_serial_is_never_shortened(layout: Layout) -> None:
    for label in bells(None):
        placed = arranged(label, layout, qr_side(qr_svg(label.code)))
        large = [line for line in placed.lines if line.bold]
        assert "".join(line.text for line in large).replace(" ", "") == label.name.replace(" ", "")
        assert min(line.size_pt for line in large) >= 6
        assert max(line.size_pt for line in placed.lines if not line.bold) <= large[0].size_pt


def test_the_page_says_what_the_label_says() -> None:
    text = "".join(
        page.extract_text()
        for page in pypdf.PdfReader(io.BytesIO(labels_pdf(bells(None), Sheet()))).pages
    )
    for words in ("HC-0101", "Heron cast bell", "Revision C, batch B-04", "Колокол-0042"):
        assert words in text.replace("\n", "")


def test_the_quiet_zone_is_four_modules_and_the_code_no_micro_qr() -> None:
    # ISO/IEC 18004: four modules all round; version 1 is 21 modules, Micro QR 11 to 17
    assert qr_side(qr_svg("7")) == 21 + 2 * 4
    assert segno.make_qr("7", error="q", boost_error=False).symbol_size(border=4)[0] == 29


def test_a_crate_says_its_number_and_what_came_in_it() -> None:
    crate = LabelledCrate(
        label="CR-04", design="Heron cast bell", count=30, received=datetime.date(2026, 3, 31)
    )
    label = crate_label(crate)
    assert label.name == label.code == "CR-04"
    assert label.lines == ("Heron cast bell", "30 castings, received 2026-03-31")
    assert crate_label(replace(crate, count=1)).lines[1].startswith("1 casting,")


def test_shelves_are_written_a_line_each() -> None:
    text = "A3; dowels, 7 thou; drawer 2\n\n  B 1  \n"
    assert shelf_labels(text) == [
        Label(name="A3", lines=("dowels, 7 thou", "drawer 2"), code="A3"),
        Label(name="B 1", lines=(), code="B 1"),
    ]
    for nothing in ("", " \n ", ";only lines"):
        with pytest.raises(InputError):
            shelf_labels(nothing)


def test_a_small_label_takes_name_and_code_only_where_asked(rendered: Rendered) -> None:
    small = Roll(width_mm=22, height_mm=13)
    label = bell_label(BELL, address=None)
    with pytest.raises(InputError, match="print name and code only"):
        labels_pdf([label], small)
    (page,) = rendered(labels_pdf([label], small, bare=True), DPI)
    assert read(page) == ["HC-0101"]


def test_a_long_serial_is_broken_after_its_marks_first() -> None:
    label = bell_label(replace(BELL, serial=SERIALS[2]), address=None)
    placed = arranged(label, Roll(width_mm=62, height_mm=29), qr_side(qr_svg(label.code)))
    rows = [line.text for line in placed.lines if line.bold]
    assert len(rows) > 1
    assert all(row.endswith("-") for row in rows[:-1])


@pytest.mark.parametrize(
    ("layout", "words"),
    [
        # version 1 with its quiet zone is 29 modules: 29 x 0.33 = 9.57 mm, and 1.5 mm each side
        (Roll(width_mm=50, height_mm=12.5), r"50.0 x 12.5 mm .* needs 12.6 mm each way, 0.33 mm"),
        (Sheet(columns=20), r"too small for the code of HC-0101"),
        (Roll(width_mm=13, height_mm=13), r"too small for the name"),
    ],
)
def test_a_label_too_small_is_refused_with_what_it_needs(layout: Layout, words: str) -> None:
    with pytest.raises(InputError, match=words) as caught:
        labels_pdf([bell_label(BELL, address=None)], layout)
    assert caught.value.problems[0].where == "label"


def test_the_least_label_that_is_promised_is_printed(rendered: Rendered) -> None:
    """12.6 mm is what the refusal asks for, and enough."""
    least = Roll(width_mm=40, height_mm=12.58)
    (page,) = rendered(labels_pdf([bell_label(BELL, address=None)], least), DPI)
    assert read(page) == ["HC-0101"]


def test_a_line_round_each_label_is_drawn_where_asked(rendered: Rendered) -> None:
    sheet = Sheet()
    (plain,) = rendered(labels_pdf(bells(None)[:1], sheet), DPI)
    (lined,) = rendered(labels_pdf(bells(None)[:1], sheet, outline=True), DPI)
    row = pixels(sheet.top_mm)
    edge = slice(pixels(sheet.left_mm) + 2, pixels(sheet.left_mm + sheet.width_mm) - 2)
    assert plain[row - 2 : row + 3, edge].min() == 255
    assert (lined[row - 2 : row + 3, edge].min(axis=0) < 255).all()


def test_none_and_too_many_are_refused() -> None:
    with pytest.raises(InputError, match="labels: 0; print 1 to 5000"):
        labels_pdf([], Sheet())
    with pytest.raises(InputError, match="no name"):
        Label(name="\u200b ", code="x")


def test_same_labels_same_bytes_whatever_the_clock_says() -> None:
    printed = labels_pdf(bells(ADDRESS), Sheet())
    assert printed == labels_pdf(bells(ADDRESS), Sheet())
    told = pypdf.PdfReader(io.BytesIO(printed)).metadata
    assert told is not None
    assert told.creation_date is None
    assert told.modification_date is None
