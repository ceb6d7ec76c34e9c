"""Any worksheet prints: every figure, title and caution, in both units, however long."""

from __future__ import annotations

import datetime
import io
import re

import pytest
from hypothesis import given as given_any
from hypothesis import settings
from hypothesis import strategies as st
from pydantic import Field
from pypdf import PdfReader

from kitwright.paper.pieces import ruled_data, table_data
from kitwright.paper.typesetting import compiled
from kitwright.paper.worksheet_sheet import worksheet_data, worksheet_pdf
from kitwright.worksheets.contents import CONTENTS, Heading
from kitwright.worksheets.declaration import Caution, Worksheet, load
from kitwright.worksheets.fields import Answer, AnswerPart, Case, Length, Size, TableUnit, shown
from kitwright.worksheets.reading import from_toml, read
from kitwright.worksheets.showing import Grid, assumptions, figures, grids

DAY = datetime.date(2026, 2, 3)
NAMES = [entry.name for entry in CONTENTS]


class PlankCase(Case):
    """A plank, measured along its length."""

    unit: TableUnit
    readings: list[list[float]] = Field(description="Height, by place")
    limit: Size = Field(description="Limit")
    note: str = ""
    wet: Length | None = None


class Place(AnswerPart):
    """One place of the plank."""

    name: str = shown("Place")
    height_mm: float = shown("Height")


class PlankAnswer(Answer):
    """How straight it is."""

    bow_mm: float = shown("Bow", u95="bow_u95_mm")
    bow_u95_mm: float
    toward_clock_deg: float = shown("Toward")
    twist_mrad: float | None = shown("Twist")
    reason: str = shown("Reason")
    places: list[Place] = shown("Places")


def plank(text: str = "pine", count: int = 4) -> tuple[Worksheet, PlankCase, PlankAnswer]:
    """A worksheet that is not in the contents, with an answer of as many rows as wanted."""
    worksheet = Worksheet(
        heading=Heading("plank", "measuring", f"How straight is this plank of {text}?"),
        case=PlankCase,
        answer=PlankAnswer,
        solve=lambda case: case,
        say=lambda answer, lead: f"Leave it in the {text} rack.",
        sources=(f"A handbook on {text}", "common practice, no source"),
        example="",
        cautions=(
            Caution("DANGER", f"A falling {text} plank will hurt you."),
            Caution("CAUTION", "Wear gloves."),
        ),
    )
    case = PlankCase(
        unit=TableUnit("thou"),
        readings=[[float(n), n / 8] for n in range(count)],
        limit=Size("5 thou"),
        note=text,
    )
    answer = PlankAnswer(
        bow_mm=0.11937,
        bow_u95_mm=0.0124,
        toward_clock_deg=60.0,
        twist_mrad=None,
        reason=f"The {text} was stacked wet and dried on one side only.",
        places=[Place(name=f"{text} {n}", height_mm=n / 7) for n in range(count)],
        assumed=[f"{text}: dry"],
        how=f"A straight line through the readings of the {text}.",
    )
    return worksheet, case, answer


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("lead", ["mm", "in"])
def test_every_worksheet_prints_all_that_it_answers(name, lead, printed):
    worksheet = load(name)
    case = read(worksheet.case, from_toml(worksheet.example))
    answer = worksheet.solve(case)
    found = printed(worksheet_pdf(worksheet, case, answer, lead=lead, date=DAY, shop_name="Yard"))
    unbroken = found.unbroken

    def there(text):
        return "".join(text.split()) in unbroken

    assert there(worksheet.question)
    assert there(worksheet.say(answer, lead))
    assert there(answer.how)
    for caution in worksheet.cautions:
        assert there(caution.word + caution.text)
    for line in (*worksheet.sources, *assumptions(worksheet.case, answer)):
        assert there(line), line
    for figure in figures(answer, lead=lead):
        assert there(figure.label + figure.leading + figure.uncertainty + figure.other), figure
    for grid in (*grids(answer, lead=lead), *grids(case, lead=lead)):
        assert there(grid.label)
        for row in grid.rows:
            assert all(there(cell) for cell in row), row
    assert "Date2026-02-03" in unbroken
    assert f"Page1of{len(found.pages)}" in unbroken


@pytest.mark.parametrize("name", NAMES)
def test_same_bytes_our_face_inside_and_accessible(name, printed):
    worksheet = load(name)
    case = read(worksheet.case, from_toml(worksheet.example))
    answer = worksheet.solve(case)
    pdf = worksheet_pdf(worksheet, case, answer, lead="mm")
    assert pdf == worksheet_pdf(worksheet, case, answer, lead="mm")
    fonts = printed(pdf).fonts()
    assert set(fonts) <= {"SourceSans3-Regular", "SourceSans3-Semibold"}
    assert all(fonts.values())
    data = worksheet_data(worksheet, case, answer, lead="mm", date=None, shop_name="")
    assert compiled("worksheet", data, title="t", date=None, standards=["ua-1"])[1] == []


def test_the_sheet_of_a_plank_word_by_word(printed):
    worksheet, case, answer = plank()
    found = printed(worksheet_pdf(worksheet, case, answer, lead="in", date=DAY, shop_name="Yard"))
    assert len(found.pages) == 1
    for words in (
        "Measuring Yard How straight is this plank of pine?",
        "DANGER A falling pine plank will hurt you. CAUTION Wear gloves.",
        "Leave it in the pine rack.",
        "Figure Value Uncertainty, k = 2 Also",
        "Bow 0.0047 in ± 0.0005 in 0.119 mm",
        "Toward 60.0° 2 o'clock",
        "Twist not known",
        "Reason The pine was stacked wet and dried on one side only.",
        "Places Place Height pine 0 0.0000 in",
        "pine 1 0.0056 in",
        "The case, as given Figure As given Unit thou Limit 5 thou Note pine",
        "How it was reached A straight line through the readings of the pine.",
        "What Worksheet Page 1 of 1 Name plank Date 2026-02-03 Shop Yard",
    ):
        assert words in found.text, words
    assert "Wet" not in found.text  # what was not given is not printed


def test_what_was_not_dated_has_an_empty_box(printed):
    worksheet, case, answer = plank()
    found = printed(worksheet_pdf(worksheet, case, answer, lead="mm"))
    assert "Name plank Date Shop" in found.text
    assert not re.search(r"\d{4}-\d{2}-\d{2}", found.text)


def test_a_long_table_flows_with_its_head_on_every_page(printed):
    worksheet, case, answer = plank(text="a rather long name of a plank", count=400)
    found = printed(worksheet_pdf(worksheet, case, answer, lead="mm"))
    with_rows = [page for page in found.pages if re.search(r"plank \d+ \d+\.\d{3} mm", page)]
    assert len(with_rows) > 3
    assert all("Place Height" in page for page in with_rows)
    assert all(f"plank {n} {n / 7:.3f} mm" in found.text for n in range(400))


@pytest.mark.parametrize(
    "text",
    ["#panic($x$) *b* _i_ `c` \\ <l> @r", "\"q\" 'q' & < > ]]", "M" * 40, "ж" * 40, "Ø 100 ⌀ µ"],
)
def test_hostile_and_long_text_stays_text(text, printed):
    worksheet, case, answer = plank(text=text)
    found = printed(worksheet_pdf(worksheet, case, answer, lead="mm", shop_name=text))
    # question, caution, sentence, reason, four places, note, how, assumed, source, shop above;
    # and the shop in each page's title block
    assert found.unbroken.count("".join(text.split())) == 13 + len(found.pages)


@given_any(
    columns=st.integers(1, 6),
    count=st.integers(0, 300),
)
@settings(deadline=None, max_examples=60)
def test_columns_abreast_lose_no_row_and_keep_their_order(columns, count):
    """Read down each column abreast, part by part: the rows come back as they were."""
    rows = [tuple(f"{n}.{c}" for c in range(columns)) for n in range(count)]
    data = ruled_data("t", ("x",) * columns, rows)
    width = columns * data["abreast"]
    assert len(data["columns"]) == len(data["align"]) == len(data["wide"]) == width
    found = []
    for part in data["parts"]:
        assert all(len(line) == width for line in part)
        for place in range(data["abreast"]):
            cells = [tuple(line[place * columns : (place + 1) * columns]) for line in part]
            found += [cell for cell in cells if any(cell)]
    assert found == rows


def test_a_table_wider_than_the_sheet_is_told_in_words(printed):
    columns = tuple(f"Column {n}" for n in range(16))
    rows = (tuple(f"value {n}" for n in range(16)), ("bolt", *[""] * 14, "last"))
    data = table_data(Grid(name="bolts", label="Bolts", columns=columns, rows=rows))
    first, second = data["parts"][0]
    assert data["columns"] == ["Column 0", ""]
    assert first[1].startswith("column 1 value 1, column 2 value 2, ")
    assert second == ["bolt", "column 15 last"]

    narrow = table_data(Grid(name="bolts", label="Bolts", columns=columns[:6], rows=[rows[0][:6]]))
    assert narrow["columns"] == list(columns[:6])


def test_rows_stand_abreast_only_where_they_have_room():
    rows = [(f"{n}°", f"{n / 10:.1f}") for n in range(12)]
    assert ruled_data("t", ("Clock", "Reads"), rows)["abreast"] >= 4
    assert ruled_data("t", ("Clock", "Reads"), rows, room_mm=80)["abreast"] == 2
    assert ruled_data("t", ("Clock", "Reads"), rows[:9])["abreast"] == 1
    assert ruled_data("t", ("Clock", "Reads"), [("a" * 60, "b" * 60)] * 12)["abreast"] <= 2


def test_no_number_of_the_sentence_is_broken() -> None:
    """A number and its unit stay on one line; the sentence of this case once broke inside 0.199."""
    worksheet = load("release-gap")
    case = read(worksheet.case, from_toml(worksheet.example))
    answer = worksheet.solve(case)
    pages = PdfReader(io.BytesIO(worksheet_pdf(worksheet, case, answer, lead="in"))).pages
    lines = pages[0].extract_text(extraction_mode="layout").splitlines()
    assert any(re.search(r"0\.199 in, within", line) for line in lines)
