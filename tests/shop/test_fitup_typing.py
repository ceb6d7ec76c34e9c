"""What a fitter wrote on paper comes in by the way of his page, once, on the day it was done."""

from __future__ import annotations

import datetime
import math
from typing import Any

import pytest

from kitwright.books import fitup_talk, fitups
from kitwright.books.entries import Entry
from kitwright.books.opening import Books
from kitwright.books.verifying import verify
from kitwright.errors import InputError, MoveError
from kitwright.shop import fitups as shop_fitups
from kitwright.shop import links as giving
from kitwright.shop import send_keys
from kitwright.shop.fitting import NOTE, UNDOES, Item, receive
from kitwright.shop.fitup_course import course_of, version_of
from kitwright.shop.fitup_stages import STAGES
from kitwright.shop.fitup_typing import next_stage, offered, type_in

ZONE = datetime.timezone(datetime.timedelta(hours=2))
OPENED = datetime.datetime(2026, 5, 4, 15, tzinfo=datetime.UTC)
NOW = datetime.datetime(2026, 5, 9, 9, tzinfo=datetime.UTC)
EIGHT = [*range(0, 360, 45), 360]


def noon(day: int) -> datetime.datetime:
    return datetime.datetime(2026, 5, day, 12, tzinfo=ZONE)


@pytest.fixture
def number(demo_books: Books) -> int:
    entry = Entry("Owner", OPENED)
    return shop_fitups.open_for_order(demo_books, 20, fitter="Sam", block="new", entry=entry)


def typed(
    books: Books, number: int, stage: str, values: dict[str, Any], key: str = "", day: int = 6
) -> None:
    item = Item(send_key=key or f"paper-{stage}", stage=stage, values={"unit": "mm", **values})
    type_in(books, number, item, who="Ines", day=noon(day), now=NOW)


def sweep(x_mm: float, y_mm: float) -> dict[str, Any]:
    turns = [math.radians(clock) for clock in EIGHT]
    texts = [f"{-x_mm * math.sin(t) - y_mm * math.cos(t):.3f}" for t in turns]
    return {
        "graduation": "0.01",
        "readings": [list(pair) for pair in zip(EIGHT, texts, strict=True)],
    }


BY_HAND: dict[str, dict[str, Any]] = {
    "before": {"stands": True, "battery": True, "serial": True, "makers": True},
    "dowels-out": {"a": "sound", "b": "sound"},
    "bell-on": {"by_hand": True, "passes": True, "figure": "sheet 4"},
    "bore": sweep(0.16, 0.09),
    "face": {**sweep(0.002, 0.003), "sweep_radius": "66"},
    "dowels": {"a_size": "0.178 mm", "a_clock_deg": "241", "b_size": "0.178 mm",
               "b_clock_deg": "241"},
    "bore-again": sweep(0.002, 0.004),
    "clutch": {"disc": True, "slides": True, "figure": "sheet 5"},
    "gap": {"face_to_fingers": ["50", "50.1", "49.9"], "face_to_bearing": ["46", "46.1", "45.9"]},
    "pilot": {"face_to_pilot": "12", "face_to_bottom": "60", "face_to_tip": "30"},
    "gearbox-on": {"by_hand": True, "turns": True},
    "final": {"passes": True, "figure": "sheet 6", "free": True},
    "result": {"outcome": "succeeded"},
}  # fmt: skip


def test_a_whole_fit_up_from_paper_is_what_the_phone_would_have_made(
    demo_books: Books, number: int
) -> None:
    """Typed in at the shop, or sent by the page on another bell: same answers, same steps."""
    other = shop_fitups.open_for_order(
        demo_books, 19, fitter="Bo", block="new", entry=Entry("Owner", OPENED)
    )
    link = giving.give_for_fit_up(demo_books, other, entry=Entry("Owner", OPENED))
    for name, values in BY_HAND.items():
        chosen = next_stage(course_of(demo_books, number))
        assert chosen is not None
        assert chosen.name == name
        typed(demo_books, number, name, values)
        key = send_keys.stock(link.token, 1)[0]
        sent = Item(send_key=key, stage=name, values={"unit": "mm", **values}, typed=noon(6))
        receive(demo_books, link, sent, now=NOW)
    with demo_books.reading() as connection:
        steps = [fitups.steps_of(connection, each) for each in (number, other)]
        records = [fitup_talk.records_of(connection, each) for each in (number, other)]
    for mine, his in zip(*steps, strict=True):
        assert (mine.state, mine.worksheet) == (his.state, his.worksheet)
        if mine.worksheet == "sweep":
            assert mine.answer_json == his.answer_json
    for mine, his in zip(*records, strict=True):
        assert (mine.stage, mine.said_json) == (his.stage, his.said_json)
        if mine.stage in ("bore", "bore-again"):
            assert mine.answer_json == his.answer_json
        assert (mine.who, his.who) == ("Ines", "Bo")
        assert mine.happened == his.happened == noon(6)
        assert mine.recorded == NOW
    assert course_of(demo_books, number).view.fit_up.state == "succeeded"
    assert next_stage(course_of(demo_books, number)) is None
    assert verify(demo_books) == []


def test_a_step_sent_twice_is_kept_once_and_a_second_one_is_refused(
    demo_books: Books, number: int
) -> None:
    for _ in range(2):
        typed(demo_books, number, "before", BY_HAND["before"], key="one")
    with demo_books.reading() as connection:
        assert len(fitup_talk.all_records_of(connection, number)) == 1
    with pytest.raises(MoveError, match=r"Before you start.*stands at: done; take it back first"):
        typed(demo_books, number, "before", BY_HAND["before"], key="two")
    with pytest.raises(InputError, match="something else was sent"):
        typed(demo_books, number, "before", {**BY_HAND["before"], "unit": "thou"}, key="one")
    with pytest.raises(MoveError, match="Verdict"):
        typed(demo_books, number, "verdict", {})


def test_what_was_typed_wrong_is_taken_back_and_typed_again(demo_books: Books, number: int) -> None:
    typed(demo_books, number, "dowels-out", {"a": "hole", "b": "sound"}, key="wrong")
    assert course_of(demo_books, number).status["dowels-out"] == "stop"
    back = Item(send_key="back", stage="dowels-out", values={UNDOES: "wrong"})
    for _ in range(2):
        type_in(demo_books, number, back, who="Ines", day=NOW, now=NOW)
    course = course_of(demo_books, number)
    assert course.status["dowels-out"] == "open"
    typed(demo_books, number, "dowels-out", BY_HAND["dowels-out"], key="right")
    assert course_of(demo_books, number).status["dowels-out"] == "done"
    with demo_books.reading() as connection:
        every = fitup_talk.all_records_of(connection, number)
    assert [each.send_key for each in every] == ["wrong", "back", "right"]
    assert verify(demo_books) == []


@pytest.mark.parametrize(
    ("stage", "day", "words"),
    [
        ("before", 10, "day: 2026-05-10 lies ahead; give the day on which it was done"),
        ("before", 3, "day: 2026-05-03 is before its step “opened”, 2026-05-04"),
        ("bore", 5, "day: 2026-05-05 is before its step “advice”, 2026-05-06"),
    ],
)
def test_a_day_that_cannot_be_is_refused_and_nothing_is_kept(
    demo_books: Books, number: int, stage: str, day: int, words: str
) -> None:
    if stage == "bore":
        typed(demo_books, number, "bore", sweep(0.16, 0.15), key="first")
        back = Item(send_key="back", stage="bore", values={UNDOES: "first"})
        type_in(demo_books, number, back, who="Ines", day=noon(6), now=NOW)
    before = version_of(demo_books, number)
    with pytest.raises(InputError) as told:
        typed(demo_books, number, stage, BY_HAND[stage], key="late", day=day)
    assert told.value.lines[0].startswith(words)
    assert version_of(demo_books, number) == before


def test_a_day_is_kept_in_its_order(demo_books: Books, number: int) -> None:
    """The day of the opening, the day itself, and this very day: never before, never ahead."""
    typed(demo_books, number, "before", BY_HAND["before"], day=4)
    typed(demo_books, number, "bore", BY_HAND["bore"], day=6)
    typed(demo_books, number, "clutch", BY_HAND["clutch"], day=5)
    early = datetime.datetime(2026, 5, 9, 9, tzinfo=datetime.UTC)
    typed(demo_books, number, "gap", BY_HAND["gap"], day=9)
    with demo_books.reading() as connection:
        happened = {each.stage: each.happened for each in fitup_talk.records_of(connection, number)}
    assert happened == {"before": OPENED, "bore": noon(6), "clutch": noon(5), "gap": early}


@pytest.mark.parametrize(
    ("stage", "values", "where"),
    [
        ("before", {"stands": True}, ["battery", "serial", "makers"]),
        ("bore", {"graduation": "3", "readings": [[0, "0"]]}, ["graduation"]),
        ("bore", {"graduation": "0.01", "readings": [[0, "0"], [90, "a"]]}, ["reading_90"]),
        ("gap", {"face_to_fingers": ["x"]}, ["face_to_fingers", "face_to_bearing"]),
        ("dowels", {"a_size": "7 thou"}, ["dowels"]),
        ("result", {"outcome": "failed"}, ["why"]),
    ],
)
def test_faults_are_at_their_fields_and_nothing_is_kept(
    demo_books: Books, number: int, stage: str, values: dict[str, Any], where: list[str]
) -> None:
    before = version_of(demo_books, number)
    with pytest.raises(InputError) as told:
        typed(demo_books, number, stage, values)
    assert [problem.where for problem in told.value.problems] == where
    assert version_of(demo_books, number) == before


def test_a_note_is_the_fitters_and_says_who_typed_it(demo_books: Books, number: int) -> None:
    shop_fitups.finish(
        demo_books, number, succeeded=False, why="clutch", entry=Entry("Sam", OPENED)
    )
    item = Item(send_key="note", stage=NOTE, values={"said": "It shudders."})
    type_in(demo_books, number, item, who="Ines", day=noon(6), now=NOW)
    with demo_books.reading() as connection:
        (note,) = fitup_talk.notes_of(connection, number)
    assert (note.side, note.said, note.who) == ("fitter", "It shudders.", "Ines")
    course = course_of(demo_books, number)
    assert not any(offered(course, stage) for stage in STAGES)
    with pytest.raises(MoveError, match="it has failed"):
        typed(demo_books, number, "before", BY_HAND["before"])


def test_nobody_is_no_one(demo_books: Books, number: int) -> None:
    item = Item(send_key="k", stage="before", values={"unit": "mm", **BY_HAND["before"]})
    with pytest.raises(InputError, match="who: missing"):
        type_in(demo_books, number, item, who=" ", day=noon(6), now=NOW)
