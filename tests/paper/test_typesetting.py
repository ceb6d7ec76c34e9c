"""Text stays text, the same data gives the same bytes, and a reader finds what was printed."""

from __future__ import annotations

import datetime
from concurrent.futures import ThreadPoolExecutor

import pytest
import segno
from hypothesis import given, settings
from hypothesis import strategies as st

from kitwright.errors import FaultError, InputError
from kitwright.paper.typesetting import QR_MOST, compiled, one_line, qr_svg, typeset

INFO = {
    "what": "Worksheet",
    "name_label": "Name",
    "name": "level",
    "revision": "",
    "content": "",
    "shop": "North Yard Kits",
    "date": None,
    "qr": None,
    "qr_text": "",
}
DATA = {
    "info": INFO,
    "stage": "Centring",
    "question": "Is it level?",
    "cautions": [],
    "sentence": "It is level.",
    "pictures": [],
    "figures": [],
    "tables": [],
    "case_figures": [],
    "case_tables": [],
    "how": "",
    "assumed": [],
    "sources": ["common practice, no source"],
    "further": [],
}
DAY = datetime.date(2026, 2, 3)


def sheet(**changes):
    return typeset("worksheet", {**DATA, **changes}, title="Is it level?", date=DAY)


HOSTILE = [
    "#panic(1)",
    "$x^2$ and $",
    "*bold* _slanted_ `raw`",
    "a \\ b \\u{1f600} // not a comment /* nor this */",
    "<label> @reference",
    "\"double\" 'single' “curly”",
    "]] [ #[ ({",
    "= heading - item + item / term: x",
    "--- ... ~ -?",
    "https://north-yard.example/#a&b=<c>",
    "Ø µ ⌀ ° ± − × ≤ Ωβ жк",
    '#image("sheet.typ")',
    "&amp; &#60; </text><script>",
]


@pytest.mark.parametrize("text", HOSTILE)
def test_text_is_never_read_as_markup(text, printed):
    found = printed(
        sheet(sentence=text, question=text, sources=[text], info={**INFO, "shop": text})
    )
    assert len(found.pages) == 1
    wanted = "".join(text.split())
    # as title, as answer, as source, above the title, and in the title block
    assert found.unbroken.count(wanted) == 5


@given(st.text(max_size=60))
@settings(max_examples=60, deadline=None)
def test_any_text_can_be_set(text):
    pdf = typeset("worksheet", {**DATA, "sentence": text, "assumed": [text]}, title=text, date=None)
    assert pdf.startswith(b"%PDF")


def test_what_no_face_has_takes_only_its_own_place(printed):
    """A box is drawn for it; what stands round it is untouched."""
    found = printed(sheet(sentence="left 🙂 middle 中 right"))
    order = [found.text.index(word) for word in ("left", "middle", "right")]
    assert order == sorted(order)
    assert len(found.pages) == 1


@pytest.mark.parametrize("length", [40, 400])
def test_a_word_longer_than_a_line_is_broken_not_cut(length, printed):
    word = "M" * length
    found = printed(sheet(sentence=word, assumed=[word], sources=[word]))
    assert found.unbroken.count("M") == 3 * length

    # 170 mm of the smallest M set here, 7.5 pt at 0.7 em, are 92; a caption's column holds half
    lines = found.reader.pages[0].extract_text().splitlines()
    assert max(line.count("M") for line in lines) < 92


def test_figures_over_two_pages_repeat_their_heads(printed):
    figure = {"leading": "1 mm", "other": "", "uncertainty": "± 1 mm", "wide": False}
    found = printed(sheet(figures=[{"label": f"Figure {n}.", **figure} for n in range(70)]))
    assert len(found.pages) == 2
    assert all("Figure Value Uncertainty, k = 2" in page for page in found.pages)
    assert all(f"Figure {n}. 1 mm ± 1 mm" in found.text for n in range(70))


@pytest.mark.parametrize(
    ("given_text", "seen"),
    [
        ("two\nlines\tof  text ", "two lines of text"),
        ("bell\x00\x07\x1b[31m", "bell [31m"),
        ("KW-\u202e2400\u202c", "KW-2400"),
        ("half \ud800", "half \ufffd"),
        ("\ufeffserial\u200b", "serial"),
    ],
)
def test_what_cannot_be_seen_is_not_printed(given_text, seen):
    assert one_line(given_text) == seen
    assert one_line(seen) == seen


def test_same_data_same_bytes_in_every_thread():
    sentences = [f"Move it {n} thou." for n in range(6)]
    alone = [sheet(sentence=one) for one in sentences]
    with ThreadPoolExecutor(4) as pool:
        together = list(pool.map(lambda one: sheet(sentence=one), sentences * 3))
    assert together == alone * 3
    assert len(set(alone)) == len(sentences)


def test_the_document_says_what_it_is(printed):
    reader = printed(sheet()).reader
    assert reader.metadata.title == "Is it level?"
    assert reader.metadata.author == "North Yard Kits"
    assert reader.metadata.creation_date.date() == DAY
    root = reader.trailer["/Root"]
    assert root["/Lang"] == "en"
    assert root["/MarkInfo"]["/Marked"]
    assert "/StructTreeRoot" in root


def test_no_clock_without_a_date(printed):
    reader = printed(typeset("worksheet", DATA, title="Is it level?", date=None)).reader
    assert reader.metadata.creation_date is None
    assert reader.metadata.modification_date is None


def test_our_face_is_inside(printed):
    fonts = printed(sheet()).fonts()
    assert set(fonts) == {"SourceSans3-Regular", "SourceSans3-Semibold"}
    assert all(fonts.values())


def test_paper_sizes(printed):
    # ISO 216: A4 is 210 x 297 mm. Letter: 8 1/2 x 11 in (ANSI/ASME Y14.1 size A).
    a4 = printed(typeset("worksheet", DATA, title="t", date=None)).reader.pages[0].mediabox
    letter = typeset("worksheet", DATA, title="t", date=None, paper="us-letter")
    us = printed(letter).reader.pages[0].mediabox
    assert [float(side) / 72 * 25.4 for side in (a4.width, a4.height)] == pytest.approx([210, 297])
    assert [float(side) / 72 for side in (us.width, us.height)] == pytest.approx([8.5, 11])


def test_accessible_as_the_typesetter_proves_it():
    """PDF/UA-1 (ISO 14289-1), as far as the typesetter checks it; and no warnings."""
    table = {
        "label": "Bolts",
        "columns": ["bolt", "turn"],
        "align": ["left", "right"],
        "wide": [False, False],
        "abreast": 1,
        "parts": [[["a", "12°"], ["b", "−3°"]]],
    }
    figure = {"label": "TIR", "leading": "1 mm", "other": "", "uncertainty": "", "wide": False}
    data = {
        **DATA,
        "figures": [figure],
        "tables": [table],
        "cautions": [{"word": "WARNING", "text": "It can fall."}],
    }
    pdf, warnings = compiled("worksheet", data, title="t", date=DAY, standards=["ua-1"])
    assert pdf.startswith(b"%PDF")
    assert warnings == []


def test_data_the_template_does_not_take_is_our_fault():
    lacking = {name: value for name, value in DATA.items() if name != "sentence"}
    with pytest.raises(FaultError, match="sentence"):
        typeset("worksheet", lacking, title="t", date=None)


@pytest.mark.parametrize(
    "text",
    ["KW-0042", "A", "https://north-yard.example/b/KW-0042?k=8f3a2c71e0b94d55", "ж" * 100],
)
def test_the_printed_code_is_the_code_of_its_text(text, printed):
    """ISO/IEC 18004 as segno encodes it, never a Micro QR, read back from the page's strokes."""
    found = printed(sheet(info={**INFO, "qr": qr_svg(text), "qr_text": text}))
    modules = [
        [bool(module) for module in row]
        for row in segno.make_qr(text, error="q", boost_error=False).matrix
    ]
    assert found.code() == modules
    assert len(modules) >= 21  # a version 1 QR; Micro QR are 11 to 17
    assert "".join(text.split()) in found.unbroken


def test_the_quiet_zone_is_four_modules():
    # ISO/IEC 18004: four modules on all sides
    side = len(segno.make_qr("KW-0042", error="q", boost_error=False).matrix) + 8
    assert f'viewBox="0 0 {side} {side}"' in qr_svg("KW-0042")


@pytest.mark.parametrize("text", ["", "x" * (QR_MOST + 1)])
def test_a_code_that_no_phone_reads_is_refused(text):
    with pytest.raises(InputError, match="link"):
        qr_svg(text)
