"""Fit-ups: steps with their worksheets, a page that sends again, corrections per 100."""

from __future__ import annotations

import pytest

import kitwright
from kitwright.books import bells, fitups, orders, standing
from kitwright.books.verifying import verify
from kitwright.errors import InputError, MissingError, MoveError

CASE = {"surface": "bore", "unit": "thou", "readings": [[0, 0], [90, 3.5]], "limit": "10 thou"}
ANSWER = {"tir_mm": 0.21, "verdict": "within", "cause": None, "assumed": ["sag: none"]}


@pytest.fixture
def opened(workshop):
    """The workshop, with the number of a fit-up that is open."""
    workshop.bring(workshop.serials[0], "shipped")
    return workshop, workshop.fit_up(workshop.serials[0])


def test_a_fit_up_keeps_its_worksheets_and_their_version(opened):
    workshop, number = opened
    with workshop.books.writing() as c:
        step = fitups.take_step(
            c,
            number,
            "measuring",
            workshop.entry("F."),
            worksheet="sweep",
            case=CASE,
            answer=ANSWER,
        )
        assert (step.case_json, step.answer_json) == (CASE, ANSWER)
        assert list(step.case_json) == list(CASE)  # in the order written
        assert step.version == kitwright.__version__
        fitups.take_step(c, number, "advice", workshop.entry("F."), why="move it 7 thou")
        fitups.take_step(c, number, "corrected", workshop.entry("F."))
        fitups.take_step(c, number, "measuring", workshop.entry("F."), worksheet="sweep", case=CASE)
        fitups.take_step(c, number, "advice", workshop.entry("F."))
        fitups.take_step(c, number, "succeeded", workshop.entry("F."))
        found = fitups.get_fit_up(c, number)
        assert (found.state, found.serial) == ("succeeded", workshop.serials[0])
        bell = standing.one(c, found.serial)
        assert (bell.state, bell.order_id) == ("fitted", found.order_id)
        assert bells.decisions_of(c, found.serial)[-1].fit_up_id == number
        assert len(fitups.steps_of(c, number)) == 7
        assert [each.id for each in fitups.fit_ups(c)] == [number]
        with pytest.raises(MoveError, match=r"it is succeeded .*; nothing more can be done to it"):
            fitups.take_step(c, number, "failed", workshop.entry())
    assert verify(workshop.books) == []


def test_a_bell_that_failed_may_be_fitted_again(opened):
    workshop, number = opened
    serial = workshop.serials[0]
    with workshop.books.writing() as c:
        with pytest.raises(MoveError, match=f"fit-up {number} of it is under way"):
            fitups.open_fit_up(c, serial, fitter="F.", block="new", entry=workshop.entry())
        fitups.take_step(c, number, "failed", workshop.entry(), why="the block is cracked")
        assert standing.one(c, serial).state == "shipped"
    assert workshop.fit_up(serial) != number
    assert verify(workshop.books) == []


def test_what_cannot_be_fitted(workshop):
    serial = workshop.serials[0]
    workshop.bring(serial, "allocated")
    with workshop.books.writing() as c:
        with pytest.raises(MoveError, match="it is allocated; a shipped bell can be fitted"):
            fitups.open_fit_up(c, serial, fitter="F.", block="new", entry=workshop.entry())
        orders.ship(c, standing.one(c, serial).order_id, workshop.entry())
        for more, words in (
            ({"block": "worn"}, "block"),
            ({"fitter": ""}, "fitter"),
            ({"car_id": 99}, "not in the books"),
        ):
            given = {"fitter": "F.", "block": "new", "entry": workshop.entry(), **more}
            with pytest.raises(InputError, match=words):
                fitups.open_fit_up(c, serial, **given)
        for nothing in (99, 2**70):
            with pytest.raises(MissingError, match="there is no fit-up number"):
                fitups.take_step(c, nothing, "measuring", workshop.entry())
            with pytest.raises(MissingError):
                fitups.get_fit_up(c, nothing)
        assert fitups.fit_ups(c) == []


def test_success_of_a_withdrawn_bell_is_refused_whole(opened):
    workshop, number = opened
    serial = workshop.serials[0]
    with workshop.books.writing() as c:
        for to in ("measuring", "advice"):
            fitups.take_step(c, number, to, workshop.entry())
        bells.withdraw(c, [serial], workshop.entry(), why="porous")
        with pytest.raises(MoveError, match=f'bell {serial}: "fit" is refused, it is withdrawn'):
            fitups.take_step(c, number, "succeeded", workshop.entry())
        assert fitups.get_fit_up(c, number).state == "advice"
    assert verify(workshop.books) == []


def test_a_page_that_sends_again_is_answered_with_what_was_kept(opened):
    workshop, number = opened
    with workshop.books.writing() as c:
        sent = {"worksheet": "sweep", "case": CASE, "send_key": "page-1-step-1"}
        first = fitups.take_step(c, number, "measuring", workshop.entry("F."), **sent)
        fitups.take_step(c, number, "advice", workshop.entry("F."), send_key="page-1-step-2")
        again = fitups.take_step(c, number, "measuring", workshop.entry("F."), **sent)
        assert again == first
        assert len(fitups.steps_of(c, number)) == 3
        with pytest.raises(InputError, match="send_key: another step was sent with it"):
            fitups.take_step(c, number, "corrected", workshop.entry("F."), send_key="page-1-step-1")


def test_a_worksheet_is_whole_and_plain(opened):
    workshop, number = opened
    with workshop.books.writing() as c:
        for more, words in (
            ({"worksheet": "sweep"}, "worksheet: its name or its case is missing"),
            ({"case": CASE}, "worksheet: its name or its case is missing"),
            ({"worksheet": "sweep", "case": {"tir": float("nan")}}, "case: cannot be kept"),
            (
                {"worksheet": "sweep", "case": CASE, "answer": {"tir": float("inf")}},
                "answer: cannot be kept",
            ),
        ):
            with pytest.raises(InputError, match=words):
                fitups.take_step(c, number, "measuring", workshop.entry(), **more)
        assert len(fitups.steps_of(c, number)) == 1


def test_corrections_per_100(workshop):
    """Four fit-ups: one corrected, one failed after a correction, one as it came, one under way."""
    ways = (
        ("new", ["measuring", "advice", "corrected", "succeeded"]),
        ("new", ["measuring", "advice", "succeeded"]),
        ("new", ["measuring"]),
        (
            "line-honed",
            ["measuring", "advice", "corrected", "measuring", "advice", "corrected", "failed"],
        ),
    )
    for serial, (block, way) in zip(workshop.serials, ways, strict=True):
        workshop.bring(serial, "shipped")
        with workshop.books.writing() as c:
            number = fitups.open_fit_up(c, serial, fitter="F.", block=block, entry=workshop.entry())
            for to in way:
                fitups.take_step(c, number, to, workshop.entry())
    with workshop.books.reading() as c:
        found = fitups.corrections(c, workshop.conversion)
        assert found["new"] == fitups.Corrections(ended=2, corrected=1, failed=0)
        assert found["new"].per_100 == 50
        assert found["line-honed"] == fitups.Corrections(ended=1, corrected=1, failed=1)
        assert fitups.corrections(c, 99)["new"].per_100 is None
    assert verify(workshop.books) == []
