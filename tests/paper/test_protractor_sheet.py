"""The page with protractors: there when a slot is to be set, and true to size on the paper."""

from __future__ import annotations

import datetime
import math
from collections.abc import Iterator
from typing import Any

import numpy as np
import pypdf
import pytest
from pypdf.generic import ContentStream

from kitwright.errors import InputError
from kitwright.paper.fit_up_sheet import FitUpSheet, fit_up_sheet_pdf
from kitwright.paper.further_pages import further_pages
from kitwright.paper.protractor_sheet import protractor_data, slots_of
from kitwright.paper.typesetting import Paper, compiled
from kitwright.paper.worksheet_sheet import worksheet_data, worksheet_pdf
from kitwright.worksheets.declaration import load
from kitwright.worksheets.reading import read

THOU = 0.0254
MM_PER_PT = 25.4 / 72
CASE = {
    "offset": "6 thou",
    "offset_clock_deg": 240,
    "limit": "5 thou",
    "dowel_a": ["-180 mm", "20 mm"],
    "dowel_b": ["180 mm", "20 mm"],
    "sizes": ["7 thou", "14 thou", "21 thou"],
    "hole_clearance": "1 thou",
}
DAY = datetime.date(2026, 11, 25)


def solved(**changed: Any) -> tuple[Any, Any]:
    worksheet = load("dowels")
    case = read(worksheet.case, {**CASE, **changed})
    return case, worksheet.solve(case)


def printed_sheet(paper: Paper = "a4", **changed: Any) -> bytes:
    return worksheet_pdf(load("dowels"), *solved(**changed), lead="in", date=DAY, paper=paper)


def fit_up(**changed: Any) -> FitUpSheet:
    given = {
        "surface": "bore",
        "unit": "thou",
        "limit": "5 thou",
        "graduation": "0.5 thou",
        "readings": [[0, 0], [90, 4.1], [180, -6.0], [270, -8.2]],
    }
    sweep = load("sweep")
    sweep_case = read(sweep.case, given)
    dowels_case, dowels_answer = solved()
    about = {
        "shop_name": "North Yard Kits",
        "name": "12",
        "serial": "NY-0042",
        "car": "",
        "engine": "",
        "gearbox": "",
        "dowels_case": dowels_case,
        "dowels_answer": dowels_answer,
        **changed,
    }
    return FitUpSheet(
        date=DAY, sweep_case=sweep_case, sweep_answer=sweep.solve(sweep_case), **about
    )


# ── what is drawn, where on the paper ────────────────────────────────────────────────────


def paths(
    page: pypdf.PageObject, content: Any = None, resources: Any = None, at: Any = None
) -> Iterator[np.ndarray]:
    """Every path of a page as points in mm, through all transformations and forms."""
    reader = page.pdf
    content = page.get_contents() if content is None else content
    resources = page["/Resources"] if resources is None else resources
    now, kept, run = np.eye(3) if at is None else at, [], []
    for operands, operator in ContentStream(content, reader).operations:
        name = operator.decode()
        numbers = [float(x) for x in operands if isinstance(x, int | float)]
        if name == "q":
            kept.append(now)
        elif name == "Q":
            now = kept.pop()
        elif name == "cm":
            now = matrix(numbers) @ now
        elif name == "m":
            run = [numbers]
        elif name in ("l", "c"):
            run.append(numbers[-2:])
        elif name in ("S", "s", "f", "f*", "B", "n", "b") and run:
            yield (np.c_[np.array(run), np.ones(len(run))] @ now)[:, :2] * MM_PER_PT
            run = []
        elif name == "Do":
            form = resources["/XObject"][operands[0]]
            if form["/Subtype"] == "/Form":
                own = matrix([float(x) for x in form.get("/Matrix", (1, 0, 0, 1, 0, 0))]) @ now
                yield from paths(page, form, form.get("/Resources", resources), own)


def matrix(six: list[float]) -> np.ndarray:
    a, b, c, d, e, f = six
    return np.array([[a, b, 0], [c, d, 0], [e, f, 1]])


def level_lengths(page: pypdf.PageObject) -> list[float]:
    """Lengths in mm of the straight level lines of a page."""
    return [
        abs(run[1, 0] - run[0, 0])
        for run in paths(page)
        if len(run) == 2 and abs(run[1, 1] - run[0, 1]) < 1e-3
    ]


def round_ones(page: pypdf.PageObject) -> list[tuple[float, float, float]]:
    """(diameter, x, y) in mm of the circles of a page, y up from its foot."""
    found = []
    for run in paths(page):
        wide, tall = np.ptp(run, axis=0)
        if len(run) == 5 and abs(wide - tall) < 0.05 and wide > 5:  # four quarter turns
            x, y = (run.max(axis=0) + run.min(axis=0)) / 2
            found.append((float(wide), float(x), float(y)))
    return found


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
def test_it_is_true_to_size_on_the_paper(printed: Any, paper: Paper) -> None:
    page = printed(printed_sheet(paper)).reader.pages[-1]
    lengths = level_lengths(page)
    assert any(abs(length - 100) < 0.05 for length in lengths)
    assert any(abs(length - 101.6) < 0.05 for length in lengths)
    circles = round_ones(page)
    across = sorted(round(diameter, 2) for diameter, *_ in circles)
    assert across == [16.0, 16.0, 66.0, 66.0, 80.0, 80.0]
    wide = float(page.mediabox.width) * MM_PER_PT
    for diameter, x, _ in circles:
        assert 20 < x - diameter / 2 < x + diameter / 2 < wide - 10  # inside the frame


def test_the_arrow_on_the_paper_points_where_the_answer_says(printed: Any) -> None:
    """The barbs' tip, from the disc's middle, lies at the slot's clock angle."""
    case, answer = solved()
    best = answer.candidates[answer.recommended]
    page = printed(printed_sheet()).reader.pages[-1]
    middles = sorted((x, y) for diameter, x, y in round_ones(page) if round(diameter) == 80)
    heads = [
        run[0] for run in paths(page) if len(run) == 3 and 2 < max(np.ptp(run, axis=0)) < 8
    ]  # a triangle with its tip first
    assert len(heads) == 2
    wanted = (best.a_clock_deg, best.b_clock_deg)
    for (x, y), tip, clock in zip(middles, sorted(map(tuple, heads)), wanted, strict=True):
        pointed = math.degrees(math.atan2(tip[0] - x, tip[1] - y)) % 360
        assert pointed == pytest.approx(clock % 360, abs=0.1)
    assert case.dowel_a[0].mm < 0  # dowel a lies to the left, and so does its disc


# ── when it is there, and what it says ───────────────────────────────────────────────────


def test_every_word_on_one_page(printed: Any) -> None:
    found = printed(printed_sheet())
    last = found.pages[-1]
    for words in (
        "Protractors for the slots, full size",
        "DANGER The car stands on stands",
        "Measure these lines: they must be 100 mm and 4 in",
        "Dowel a, 0.0070 in (0.178 mm): slot at 60°, 2 o'clock",
        "Dowel b, 0.0070 in (0.178 mm): slot at 60°, 2 o'clock",
        "Print at actual size, 100 %, never fitted to the page.",
        "this side toward you, 12 up",
        "assumed: no diameter was given",
        "his mark counts",
    ):
        assert words in last, words
    assert not any("full size" in page for page in found.pages[:-1])


def test_only_where_a_slot_is_to_be_set(printed: Any) -> None:
    for changed in ({"offset": "1 thou"}, {"offset": "90 thou"}):
        case, answer = solved(**changed)
        assert answer.recommended is None
        assert further_pages("dowels", case, answer, lead="mm") == []
    assert "full size" not in printed(printed_sheet(offset="1 thou")).text
    assert further_pages("sweep", object(), object(), lead="mm") == []


def test_a_plain_dowel_has_no_disc(printed: Any) -> None:
    """The best setting of one eccentric and one plain dowel, as if it were the one to take."""
    case, answer = solved()
    one = next(
        index
        for index, row in enumerate(answer.candidates)
        if row.a_clock_deg is None and row.b_clock_deg is not None
    )
    slots = list(slots_of(case, answer.model_copy(update={"recommended": one})))
    assert [(slot.letter, slot.other_deg) for slot in slots] == [("b", 270.0)]


def test_after_a_turn_the_slot_goes_by_what_the_dowel_is_to_be_turned() -> None:
    case, answer = solved(
        turned={
            "a_size": "7 thou",
            "a_clock_deg": 60,
            "b_size": "7 thou",
            "b_clock_deg": 60,
        },
        offset_after="4 thou",
        offset_after_clock_deg=165,
    )
    turn = answer.next_turn
    assert turn is not None
    assert turn.a_turn_deg is not None
    slot, _ = slots_of(case, answer)
    assert slot.slot_deg == pytest.approx((60 + turn.a_turn_deg) % 360)
    error = answer.learned.a_error_deg  # how far the dowel points past its slot
    assert (slot.slot_deg + error - turn.a_clock_deg + 180) % 360 - 180 == pytest.approx(0)


def test_the_fitters_sheet_ends_with_it(printed: Any) -> None:
    found = printed(fit_up_sheet_pdf(fit_up(dowel_mm=12.7)))
    assert len(found.pages) == 3
    assert "Protractors for the slots, full size" in found.pages[-1]
    assert "12.7 mm (0.50 in), which was given." in found.pages[-1]
    across = {round(diameter, 1) for diameter, *_ in round_ones(found.reader.pages[-1])}
    assert across == {12.7, 66.0, 80.0}
    without = fit_up(dowels_case=None, dowels_answer=None)
    assert "full size" not in printed(fit_up_sheet_pdf(without)).text


def test_a_dowel_without_room_is_refused_by_its_name() -> None:
    case, answer = solved()
    with pytest.raises(InputError, match="dowel_mm"):
        protractor_data(case, answer, "mm", dowel_mm=40)


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
def test_it_is_accessible_and_silent(paper: Paper) -> None:
    worksheet = load("dowels")
    data = worksheet_data(worksheet, *solved(), lead="mm", date=DAY, shop_name="North Yard Kits")
    _, warnings = compiled("worksheet", data, title="t", date=DAY, paper=paper, standards=("ua-1",))
    assert warnings == []
