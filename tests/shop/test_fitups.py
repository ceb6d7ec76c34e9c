"""A fitter's sweeps, one after another: what is advised rests on the dowels that are in."""

from __future__ import annotations

import dataclasses
import datetime
from collections.abc import Sequence

import numpy as np
import pytest

from kitwright.books import conversions, inspections
from kitwright.books import fitups as kept
from kitwright.books.entries import Entry
from kitwright.books.opening import Books
from kitwright.calc.centring.clock import clock_vector
from kitwright.calc.centring.rigid import bore_influence
from kitwright.calc.checks import Floats
from kitwright.paper.fit_up_sheet import fit_up_data, fit_up_sheet_pdf
from kitwright.paper.of_shop import fit_up_sheet_of
from kitwright.shop import dowels_in, fitups
from kitwright.worksheets.centring.dowels_case import CandidateRow

ENTRY = Entry(who="Sam", recorded=datetime.datetime(2026, 5, 4, 12, tzinfo=datetime.UTC))
EIGHT = range(0, 360, 45)
BLOCK_A, BLOCK_B = (-186.0, 30.0), (186.0, 30.0)  # the demo's conversion


def opened(books: Books) -> int:
    """A fit-up without a sweep."""
    return fitups.open_for_order(books, 20, fitter="Sam", block="new", entry=ENTRY)


def read_round(offset_mm: Sequence[float] | Floats, oval_mm: float = 0.0) -> list[list[float]]:
    """Clock angle and reading in mm at eight places."""
    return [
        [
            clock,
            float(
                -np.asarray(offset_mm) @ clock_vector(clock)
                + oval_mm / 2 * np.cos(2 * np.radians(clock))
            ),
        ]
        for clock in EIGHT
    ]


def swept(offset_mm: Sequence[float] | Floats, oval_mm: float = 0.0) -> dict[str, object]:
    """A sweep with a good dial of a bore at this offset."""
    fine = {"graduation": "0 mm", "repeatability": "0.001 mm", "dial_error": "0.001 mm"}
    return {"surface": "bore", "unit": "mm", "readings": read_round(offset_mm, oval_mm), **fine}


def bore_after(plain_mm: Sequence[float], row: CandidateRow, a_off: float, b_off: float) -> Floats:
    """Where the bore goes when both dowels point so many degrees past what was advised."""
    a = row.a_size_mm * clock_vector((row.a_clock_deg or 0) + a_off)
    b = row.b_size_mm * clock_vector((row.b_clock_deg or 0) + b_off)
    return np.asarray(plain_mm) + bore_influence(BLOCK_A, BLOCK_B).motion(a, b).bore_shift_mm


def test_the_dowels_clearance_is_the_bells_own_or_the_fitters(demo_books: Books) -> None:
    number = opened(demo_books)
    with demo_books.reading() as connection:
        serial = kept.get_fit_up(connection, number).serial
        newest = inspections.newest_of(connection, serial)
    names = [each.name for each in newest.characteristics]
    holes = [newest.mm[0, names.index(f"dowel {name} diameter"), 0] for name in "ab"]
    advice = fitups.receive_sweep(demo_books, number, swept((0.16, 0.09)), entry=ENTRY)
    assert advice.dowels_case is not None
    assert advice.dowels_answer is not None
    assert advice.dowels_case.hole_clearance is not None
    # the demo's block has dowels of 16 mm
    assert advice.dowels_case.hole_clearance.mm == pytest.approx(sum(holes) / 2 - 16, abs=1e-6)
    assert advice.dowels_answer.assumed[-1].startswith("hole_clearance: this bell's newest")
    assert all(row.chance_binds < 1 for row in advice.dowels_answer.candidates)

    told = fitups.receive_sweep(
        demo_books, number, swept((0.16, 0.09)), entry=ENTRY, hole_clearance="1.5 thou"
    )
    assert told.dowels_case is not None
    assert told.dowels_answer is not None
    assert told.dowels_case.hole_clearance is not None
    assert told.dowels_case.hole_clearance.text == "1.5 thou"
    assert not [line for line in told.dowels_answer.assumed if "hole_clearance" in line]


def test_holes_no_wider_than_their_dowels_give_no_clearance(demo_books: Books) -> None:
    number = opened(demo_books)
    conversion_id = fitups.view(demo_books, number).conversion.id
    with demo_books.writing() as connection:
        holes = conversions.pattern(connection, conversion_id, "block")
        wide = [dataclasses.replace(hole, diameter_mm=16.5) for hole in holes]
        conversions.set_pattern(connection, conversion_id, "block", wide)
    advice = fitups.receive_sweep(demo_books, number, swept((0.16, 0.09)), entry=ENTRY)
    assert advice.dowels_case is not None
    assert advice.dowels_case.hole_clearance is None


def test_after_a_turn_the_advice_starts_from_the_dowels_that_are_in(demo_books: Books) -> None:
    plain = (0.16, 0.09)
    number = opened(demo_books)
    first = fitups.receive_sweep(demo_books, number, swept(plain), entry=ENTRY)
    assert first.dowels_answer is not None
    best = first.dowels_answer.candidates[first.dowels_answer.recommended or 0]
    fitups.corrected(demo_books, number, why="", entry=ENTRY)

    missed = bore_after(plain, best, 40.0, 40.0)  # both slots far off
    second = fitups.receive_sweep(demo_books, number, swept(missed), entry=ENTRY)
    answer = second.dowels_answer
    assert answer is not None
    assert answer.learned is not None
    assert answer.next_turn is not None
    assert answer.learned.plain_offset_mm == pytest.approx(np.hypot(*plain), abs=0.003)
    # the next turn brings the bore in from where the dowels really stand
    if answer.next_turn.a_turn_deg is not None and answer.next_turn.b_turn_deg is not None:
        stands = best.model_copy(
            update={
                "a_clock_deg": (best.a_clock_deg or 0) + 40 + answer.next_turn.a_turn_deg,
                "b_clock_deg": (best.b_clock_deg or 0) + 40 + answer.next_turn.b_turn_deg,
            }
        )
    else:
        stands = answer.next_turn
    left = bore_after(plain, stands, 0.0, 0.0)
    assert 2 * np.hypot(*left) < second.sweep_answer.limit_mm

    sheet = fit_up_sheet_of(fitups.view(demo_books, number))
    turn = fit_up_data(sheet)["turn"]
    assert turn is not None
    assert "clockwise" in str(turn)
    assert fit_up_sheet_pdf(sheet).startswith(b"%PDF")

    # a third sweep, after that turn, rests on it too
    fitups.corrected(demo_books, number, why="", entry=ENTRY)
    third = fitups.receive_sweep(demo_books, number, swept((0.05, -0.09)), entry=ENTRY)
    assert third.dowels_case is not None
    assert third.dowels_case.turned is not None
    assert third.dowels_case.turned.a_size.mm == pytest.approx(answer.next_turn.a_size_mm)


def test_the_next_advice_rests_on_the_dowels_as_the_fitter_says_they_are(
    demo_books: Books,
) -> None:
    plain = (0.16, 0.09)
    number = opened(demo_books)
    fitups.receive_sweep(demo_books, number, swept(plain), entry=ENTRY)
    # he had other dowels, and set them his way
    put = {"a_size": "14 thou", "a_clock_deg": "200", "b_size": "7 thou", "b_clock_deg": "250°"}
    fitups.corrected(demo_books, number, why="", entry=ENTRY, dowels=put)
    shift_a, shift_b = 0.3556 * clock_vector(200), 0.1778 * clock_vector(250)
    influence = bore_influence(BLOCK_A, BLOCK_B)
    went = np.asarray(plain) + influence.motion(shift_a, shift_b).bore_shift_mm
    second = fitups.receive_sweep(demo_books, number, swept(went), entry=ENTRY)
    assert second.dowels_case is not None
    assert second.dowels_answer is not None
    learned = second.dowels_answer.learned
    assert learned is not None
    # true to what he said, the bore went where it should and no slot is off
    assert learned.moved_mm == pytest.approx(learned.expected_move_mm, abs=1e-6)
    assert (learned.a_error_deg, learned.b_error_deg) == pytest.approx((0, 0), abs=1e-4)
    assert learned.plain_offset_mm == pytest.approx(np.hypot(*plain), abs=1e-6)
    with demo_books.reading() as connection:
        step = next(s for s in kept.steps_of(connection, number) if s.state == "corrected")
    assert step.worksheet == dowels_in.AS_TURNED
    assert step.case_json == {
        "a_size": "14 thou", "a_clock_deg": 200.0, "b_size": "7 thou", "b_clock_deg": 250.0
    }  # fmt: skip


def test_after_plain_dowels_a_sweep_is_one_of_plain_dowels(demo_books: Books) -> None:
    number = opened(demo_books)
    fitups.receive_sweep(demo_books, number, swept((0.01, 0.0)), entry=ENTRY)
    put = {"a_size": "14 thou", "a_clock_deg": 90, "b_size": "14 thou", "b_clock_deg": 90}
    fitups.corrected(demo_books, number, why="", entry=ENTRY, dowels=put)
    # never advised, but the first sweep was of plain dowels and he said what is in now
    second = fitups.receive_sweep(demo_books, number, swept((0.3656, 0.0)), entry=ENTRY)
    assert second.dowels_answer is not None
    assert second.dowels_answer.learned is not None
    assert second.dowels_answer.learned.plain_offset_mm == pytest.approx(0.01, abs=1e-5)
    fitups.corrected(demo_books, number, why="", entry=ENTRY, dowels={"a_size": "Plain"})
    third = fitups.receive_sweep(demo_books, number, swept((0.16, 0.09)), entry=ENTRY)
    assert third.dowels_case is not None
    assert third.dowels_case.turned is None
    assert third.dowels_case.offset.mm == pytest.approx(np.hypot(0.16, 0.09))


def test_dowels_that_nobody_advised_are_not_guessed(demo_books: Books) -> None:
    number = opened(demo_books)
    fitups.receive_sweep(demo_books, number, swept((0.01, 0.0)), entry=ENTRY)
    fitups.corrected(demo_books, number, why="turned them all the same", entry=ENTRY)
    advice = fitups.receive_sweep(demo_books, number, swept((0.16, 0.09)), entry=ENTRY)
    assert advice.dowels_answer is None
    with demo_books.reading() as connection:
        assert kept.steps_of(connection, number)[-1].why == fitups.NOT_KNOWN


def test_a_sweep_that_cannot_be_trusted_gets_no_dowels(demo_books: Books) -> None:
    number = opened(demo_books)
    slipped = read_round((0.16, 0.09))
    slipped[3][1] += 0.1
    given = {**swept((0.16, 0.09)), "readings": slipped}
    first = fitups.receive_sweep(demo_books, number, given, entry=ENTRY)
    assert first.sweep_answer.suspects
    assert first.dowels_answer is None
    assert str(first.without).startswith("Read half past 4 again")

    quarters = read_round((0.16, 0.09))[::2]
    given["readings"] = [*quarters, [360, quarters[0][1] + 0.05]]
    second = fitups.receive_sweep(demo_books, number, given, entry=ENTRY)
    assert not second.sweep_answer.suspects
    assert second.dowels_answer is None
    assert str(second.without).startswith("Fasten the dial and sweep again")
    with demo_books.reading() as connection:
        assert kept.steps_of(connection, number)[-1].why == second.without
    # the page that comes later says it too
    read_back = fitups.view(demo_books, number).advice
    assert read_back is not None
    assert read_back.without == second.without

    good = fitups.receive_sweep(demo_books, number, swept((0.16, 0.09)), entry=ENTRY)
    assert good.dowels_answer is not None
    assert good.dowels_answer.outcome == "turn"


def test_an_oval_bore_gets_no_dowels(demo_books: Books) -> None:
    number = opened(demo_books)
    advice = fitups.receive_sweep(demo_books, number, swept((0.01, 0.0), 0.25), entry=ENTRY)
    assert advice.sweep_answer.cause == "out of round"
    assert advice.dowels_answer is None
    with demo_books.reading() as connection:
        assert kept.steps_of(connection, number)[-1].why == fitups.OVAL
