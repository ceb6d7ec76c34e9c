"""The slip of a kit: one page, its code read back, the address in words, and what to have ready."""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable

import pytest
import zxingcpp

from kitwright.books.entries import Entry
from kitwright.books.links import Link
from kitwright.books.opening import Books
from kitwright.paper.kit_slip import NO_ADDRESS, NO_LINK, OPENS, at_hand, in_short, kit_slip_pdf
from kitwright.paper.typesetting import Paper
from kitwright.shop.fitup_stages import STAGES
from kitwright.shop.fitups import FitUpView, view
from kitwright.shop.links import give_for_fit_up

DAY = datetime.date(2026, 5, 4)
NOW = datetime.datetime(2026, 5, 4, 15, tzinfo=datetime.UTC)
ADDRESS = "https://kits.tanager-row.example:8711"


@pytest.fixture
def found(demo_books: Books) -> FitUpView:
    return view(demo_books, 11)


@pytest.fixture
def link(demo_books: Books) -> Link:
    return give_for_fit_up(demo_books, 11, entry=Entry("Ines", NOW), days=30)


def code(rendered: Callable, pdf: bytes) -> str:
    (page,) = rendered(pdf)
    (one,) = zxingcpp.read_barcodes(page)
    assert one.format.name == "QRCode"
    return str(one.text)


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
def test_one_page_with_the_link_as_a_code_and_in_words(
    found: FitUpView, link: Link, printed: Callable, rendered: Callable, paper: Paper
) -> None:
    pdf = kit_slip_pdf(found, date=DAY, link=link, address=ADDRESS, paper=paper)
    assert code(rendered, pdf) == f"{ADDRESS}/f/{link.token}"
    sheet = printed(pdf)
    (text,) = sheet.pages
    assert f"{ADDRESS}/f/{link.token}" in sheet.unbroken
    for words in (
        "Bell HC-0101",
        found.car,
        found.fit_up.fitter,
        "Good until 2026-06-03.",
        OPENS,
        "Slip of the kit, fit-up 11",
        "Stuck or in doubt: stop, and call",
        *at_hand(),
    ):
        assert words in text, words
    for caution in in_short():
        assert f"{caution.word} {caution.text}" in text


def test_what_is_at_hand_is_all_that_the_steps_need() -> None:
    needed = {line for stage in STAGES for line in stage.needed}
    assert needed - set(at_hand()) == {
        "both sweeps, sent and answered",
        "the car off its stands only when all is bolted",
    }
    assert len(at_hand()) == len(set(at_hand()))


def test_nothing_grave_is_left_out() -> None:
    grave = {each for stage in STAGES for each in stage.cautions if each.word != "CAUTION"}
    assert grave < set(in_short())


def test_without_an_address_the_code_is_the_serial(
    found: FitUpView, link: Link, printed: Callable, rendered: Callable
) -> None:
    pdf = kit_slip_pdf(found, date=DAY, link=link)
    assert code(rendered, pdf) == "HC-0101"
    text = printed(pdf).text
    assert NO_ADDRESS in text
    assert link.token not in text
    assert not re.search("Good until|with your phone", text)


def test_without_a_link_the_code_is_the_bells_own(
    found: FitUpView, printed: Callable, rendered: Callable
) -> None:
    pdf = kit_slip_pdf(found, date=DAY, address=ADDRESS)
    assert code(rendered, pdf) == f"{ADDRESS}/bells/HC-0101"
    assert NO_LINK in printed(pdf).text
