"""The whole fit-up on paper: every word of every stage, boxes that a pencil finds, one code."""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
import zxingcpp

from kitwright.books.opening import Books
from kitwright.paper.fit_up_blank import HOW, fit_up_blank_data, fit_up_blank_pdf, limits_of
from kitwright.paper.typesetting import Paper, compiled
from kitwright.pictures.palette import PRINT
from kitwright.shop.drawings import bolts_of_conversion
from kitwright.shop.fitting import GRADUATIONS
from kitwright.shop.fitup_stages import STAGES
from kitwright.shop.fitups import FitUpView, view

DAY = datetime.date(2026, 5, 4)
CODE = "https://kits.tanager-row.example:8711/f/Wq3-_xY7bK0pLm9sT2vR4uN6aE8cG1hJ"
PAPERS: tuple[Paper, ...] = ("a4", "us-letter")
DPI = 200


@pytest.fixture
def found(demo_books: Books) -> FitUpView:
    return view(demo_books, 11)


@pytest.fixture
def bolts(demo_books: Books, found: FitUpView) -> dict[str, str]:
    return bolts_of_conversion(demo_books, found.conversion.id, palette=PRINT)


def squeezed(text: str) -> str:
    return re.sub(r"\s", "", text)


@pytest.mark.parametrize("paper", PAPERS)
def test_every_word_of_every_stage_is_on_it_in_order(
    found: FitUpView, bolts: dict[str, str], printed: Callable, paper: Paper
) -> None:
    pdf = fit_up_blank_pdf(found, date=DAY, code=CODE, bolts=bolts, paper=paper)
    sheet = printed(pdf)
    assert len(sheet.pages) <= 12
    limits = limits_of(found)
    starts = []
    for number, stage in enumerate(STAGES, start=1):
        title = f"{number}. {stage.title} Done on"
        (page,) = [text for text in sheet.pages if title in text]
        page, start = page[page.index(title) :], sheet.text.index(title)
        starts.append(start)
        said = [stage.why, *stage.needed, *stage.do, *stage.stop_and_call]
        said += [*stage.seized, *stage.ruins, *(each.text for each in stage.cautions)]
        for field in stage.fields:
            said += [field.label, field.help, *(words for _, words in field.options)]
        if stage.shows:
            said += limits[stage.shows]
        for words in said:
            assert squeezed(words) in squeezed(page), f"{stage.name}: {words}"
        for caution in stage.cautions:
            assert f"{caution.word} {caution.text}" in page
        assert f"Stop and call {found.shop.name} if" in page
    assert starts == sorted(starts)
    for words in (*HOW, "Fit-up 11, bell HC-0101", found.car, found.engine, found.gearbox):
        assert squeezed(words) in squeezed(sheet.pages[0])
    assert "What the shop should know" in sheet.pages[-1]


def test_each_sweep_has_its_places_and_the_dials(
    found: FitUpView, bolts: dict[str, str], printed: Callable
) -> None:
    sheet = printed(fit_up_blank_pdf(found, date=DAY, code=CODE, bolts=bolts))
    sizes = [f"{size} {unit}" for unit, all_of in GRADUATIONS.items() for size in all_of]
    swept = [page for page in sheet.pages if "Graduation of the dial" in page]
    assert len(swept) == sum(stage.works == "sweep" for stage in STAGES) == 3
    for page in swept:
        ring = page[page.index("Done on") :]
        for words in ("12", "3", "6", "9", *(f"half past {hour}" for hour in (1, 4, 7, 10))):
            assert words in ring
        for words in (*sizes, "back at 12", "As you see it from behind the engine", "Highest"):
            assert words in page


def test_the_limits_are_the_conversions_in_both_units(found: FitUpView) -> None:
    assert limits_of(found)["tir"] == ("Limit, TIR", "5 thou", "0.127 mm")
    assert limits_of(found)["gap"][1:] == ("0.118 in to 0.197 in", "3.00 mm to 5.00 mm")
    metric = replace(found, shop=replace(found.shop, lead="mm"))
    assert limits_of(metric)["tir"] == ("Limit, TIR", "0.127 mm", "5 thou")


@pytest.mark.parametrize("paper", PAPERS)
def test_every_page_has_the_code_and_nothing_over_its_frame(
    found: FitUpView, bolts: dict[str, str], rendered: Callable, paper: Paper
) -> None:
    pdf = fit_up_blank_pdf(found, date=DAY, code=CODE, bolts=bolts, paper=paper)
    for page in rendered(pdf, DPI):
        codes = zxingcpp.read_barcodes(page)
        assert [(one.format.name, one.text) for one in codes] == [("QRCode", CODE)]
        # left of the binding and right of the edge there is nothing but paper
        assert (page[:, : pixels(19)] == 255).all()
        assert (page[:, -pixels(9) :] == 255).all()


@pytest.mark.parametrize("paper", PAPERS)
def test_a_pencil_finds_its_boxes(
    found: FitUpView, bolts: dict[str, str], rendered: Callable, paper: Paper
) -> None:
    """Empty boxes of 16 by 8 mm or more for each reading of a sweep; ticks of 4 mm for the rest."""
    pages = rendered(fit_up_blank_pdf(found, date=DAY, code=CODE, bolts=bolts, paper=paper), DPI)
    first = next(page for page in pages[2:] if len(rooms(page, 16, 8)) >= 12)
    large = rooms(first, 16, 8)
    assert len(large) >= 12  # nine readings, three results, and what is written beside them
    centres = np.array([(x + across / 2, y + down / 2) for x, y, across, down in large])
    ring = centres[centres[:, 0] < pixels(25 + 94)]
    assert len(ring) == 9
    away = np.hypot(*(ring - ring.mean(axis=0)).T)
    assert sorted(away.round())[1:] == pytest.approx([pixels(37.5)] * 8, abs=2)  # and one in it
    for page in pages[:2]:
        assert len(rooms(page, 4, 4, most=5)) >= 4


def pixels(mm: float) -> int:
    return round(mm / 25.4 * DPI)


def rooms(page: np.ndarray, across: float, down: float, most: float = 80) -> list[tuple[int, ...]]:
    """x, y, width, height of the white rooms with four straight sides, in pixels."""
    from scipy import ndimage

    white, count = ndimage.label(page > 128)
    found = []
    for number, (rows, columns) in enumerate(ndimage.find_objects(white), start=1):
        high, wide = rows.stop - rows.start, columns.stop - columns.start
        fits = pixels(across) <= wide <= pixels(most) and pixels(down) <= high <= pixels(most)
        if fits and (white[rows, columns] == number).all():
            found.append((columns.start, rows.start, wide, high))
    assert count > 0
    return found


def test_without_a_pattern_the_order_is_left_out(found: FitUpView, printed: Callable) -> None:
    data = fit_up_blank_data(found, date=DAY, code="HC-0101", bolts={})
    assert not any(stage["bolts"] for stage in data["stages"])
    sheet = printed(fit_up_blank_pdf(found, date=DAY, code="HC-0101"))
    assert "Tighten in this order" not in sheet.text
    assert "The bell went on by hand and lies flat" in sheet.text


def test_what_a_person_wrote_is_set_as_it_is_and_the_typesetter_is_content(
    found: FitUpView, bolts: dict[str, str], printed: Callable
) -> None:
    hostile = replace(found, car="#panic() *x* \\", fit_up=replace(found.fit_up, fitter="W" * 60))
    data = fit_up_blank_data(hostile, date=DAY, code=CODE, bolts=bolts)
    pdf, warnings = compiled("fit-up-blank", data, title="t", date=DAY)
    assert warnings == []
    assert "#panic() *x* \\" in printed(pdf).text
    assert pdf == compiled("fit-up-blank", data, title="t", date=DAY)[0]
