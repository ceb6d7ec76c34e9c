"""Whose turn each fit-up is, what a bell's life says of it, and what the block teaches by phone."""

from __future__ import annotations

import datetime
import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pytest
from sqlalchemy import event

from kitwright.books import bells as kept_bells
from kitwright.books import fitup_talk, fitups
from kitwright.books.entries import Entry
from kitwright.books.opening import Books
from kitwright.calc.centring.clock import clock_of
from kitwright.demo.measuring import Block
from kitwright.shop import bells, learning, send_keys, today
from kitwright.shop import fitups as shop_fitups
from kitwright.shop import links as giving
from kitwright.shop.fitting import UNDOES, Item, receive
from kitwright.shop.fitup_watch import Watched, of_turn, version_of_all, watch, watch_one

START = datetime.datetime(2026, 5, 5, 8, tzinfo=datetime.UTC)
OWNER = Entry("Ines", datetime.datetime(2026, 5, 4, 16, tzinfo=datetime.UTC))
EIGHT = [*range(0, 360, 45), 360]
OUTSIDE, WITHIN = (0.16, 0.09), (0.004, 0.003)


def sweep(x_mm: float, y_mm: float, *, graduation: str = "0.01") -> dict[str, Any]:
    turns = [math.radians(clock) for clock in EIGHT]
    first = y_mm
    texts = [f"{first - x_mm * math.sin(t) - y_mm * math.cos(t):.3f}" for t in turns]
    return {
        "graduation": graduation,
        "readings": [list(pair) for pair in zip(EIGHT, texts, strict=True)],
    }


@dataclass
class Garage:
    """One fitter with his link; each thing that he sends comes a minute after the one before."""

    books: Books
    order: int
    fitter: str = "Sam"
    block: str = "new"
    minutes: list[int] = field(default_factory=lambda: [0])

    def __post_init__(self) -> None:
        self.number = shop_fitups.open_for_order(
            self.books, self.order, fitter=self.fitter, block=self.block, entry=OWNER
        )
        self.link = giving.give_for_fit_up(self.books, self.number, entry=OWNER)

    @property
    def now(self) -> datetime.datetime:
        self.minutes[0] += 1
        return START + datetime.timedelta(minutes=self.minutes[0])

    def send(self, stage: str, **values: Any) -> str:
        key = send_keys.stock(self.link.token, 1)[0]
        values = values if UNDOES in values else {"unit": "mm", **values}
        item = Item(send_key=key, stage=stage, values=values)
        receive(self.books, self.link, item, now=self.now)
        return key

    def answer(self, said: str) -> None:
        now = self.now
        with self.books.writing() as connection:
            fitup_talk.add_note(
                connection, self.number, "shop", said, send_key=str(now), entry=Entry("Ines", now)
            )

    @property
    def watched(self) -> Watched:
        found = {each.fit_up.id: each for each in watch(self.books)}[self.number]
        assert found == watch_one(self.books, self.number)
        return found


@pytest.fixture
def garage(demo_books: Books) -> Garage:
    return Garage(demo_books, 20)


def turn(garage: Garage) -> tuple[str, str]:
    return garage.watched.turn, garage.watched.asked


# ── whose turn it is ─────────────────────────────────────────────────────────────────────


def test_a_note_waits_until_it_is_answered(garage: Garage) -> None:
    assert turn(garage) == ("fitter", "the first sweep")
    garage.send("before", stands=True, battery=True, serial=True, makers=True)
    kind, asked = turn(garage)
    assert kind == "fitter"
    assert asked.endswith("dowels”, 1 of 14 steps done")
    garage.send("note", said="It binds\n at 3 o'clock.", at="before")
    assert turn(garage) == (
        "shop",
        "answer the fitter: “Before you start: It binds at 3 o'clock.”",
    )
    assert garage.watched.said == "a note by Sam"
    garage.answer("Back it off.")
    assert turn(garage)[0] == "fitter"
    assert garage.watched.said == "a note by Ines"
    garage.send("note", said="x" * 300, at="before")
    assert len(turn(garage)[1]) < 150


def test_a_stop_waits_until_the_shop_has_written_after_it(garage: Garage) -> None:
    garage.answer("Go on as you like.")
    key = garage.send("dowels-out", a="hole", b="sound")
    assert turn(garage)[0] == "shop"
    assert turn(garage)[1].startswith("stopped at “")
    garage.answer("Ream it, then an oversize dowel.")
    assert turn(garage)[0] == "fitter"
    garage.send("bell-on", by_hand=True, passes=True, figure="sheet 4")
    assert turn(garage)[0] == "shop", "it was heard of again, and still stands at a stop"
    garage.send("dowels-out", **{UNDOES: key})
    assert turn(garage)[0] == "fitter"
    assert garage.watched.said.endswith("taken back, Sam")


def test_one_that_failed_waits_until_something_became_of_it(
    demo_books: Books, garage: Garage
) -> None:
    garage.send("result", outcome="failed", why="the disc touches")
    assert turn(garage) == ("shop", "it failed: the disc touches")
    garage.answer("Send it back.")
    assert turn(garage)[0] == "ended"
    garage.send("note", said="Which way?", at="result")
    assert turn(garage)[0] == "shop", "a question after the end is a question"
    other = Garage(demo_books, 19)
    other.send("result", outcome="failed", why="no time")
    serial = other.watched.fit_up.serial
    again = Garage(demo_books, 19)
    assert turn(other)[0] == "ended", "it is tried again"
    again.send("result", outcome="failed", why="no time either")
    assert turn(again)[0] == "shop"
    with demo_books.writing() as connection:
        entry = Entry("Ines", again.now)
        kept_bells.take_back(connection, serial, entry, why="came home")
    assert turn(again)[0] == "ended", "its bell came back"


def test_success_ends_it(garage: Garage) -> None:
    garage.send("bore", **sweep(*WITHIN))
    garage.send("result", outcome="succeeded")
    assert turn(garage) == ("ended", "")
    assert garage.watched.said == "succeeded, Sam"


def test_the_longest_waiting_comes_first_then_the_newest(demo_books: Books) -> None:
    minutes = [0]
    first = Garage(demo_books, 20, minutes=minutes)
    second = Garage(demo_books, 19, minutes=minutes)
    third = Garage(demo_books, 18, minutes=minutes)
    for each in (first, second, third):
        each.send("note", said="Well?", at="before")
    third.answer("Yes.")
    found = watch(demo_books)
    assert [each.turn for each in found] == sorted(
        (each.turn for each in found), key=["shop", "fitter", "ended"].index
    )
    assert [each.fit_up.id for each in of_turn(found, "shop")] == [first.number, second.number]
    assert [each.fit_up.id for each in of_turn(found, "fitter")] == [third.number, 11]
    ended = of_turn(found, "ended")
    assert [each.heard for each in ended] == sorted((e.heard for e in ended), reverse=True)
    assert sorted(each.fit_up.id for each in found) == list(range(1, third.number + 1))


def test_the_list_is_marked_anew_by_whatever_may_change_it(demo_books: Books) -> None:
    marks = [version_of_all(demo_books)]
    one = Garage(demo_books, 20)
    marks.append(version_of_all(demo_books))
    one.send("before", stands=True, battery=True, serial=True, makers=True)
    marks.append(version_of_all(demo_books))
    one.send("note", said="Well?", at="before")
    marks.append(version_of_all(demo_books))
    one.send("bore", **sweep(*WITHIN))
    marks.append(version_of_all(demo_books))
    assert len(set(marks)) == len(marks)
    assert version_of_all(demo_books) == marks[-1]


@pytest.fixture
def asked(demo_books: Books) -> Iterator[Callable[[Callable[[], object]], int]]:
    """Count the statements that something sends to the books."""
    sent: list[str] = []

    def note(connection: object, cursor: object, statement: str, *rest: object) -> None:
        sent.append(statement)

    def count(work: Callable[[], object]) -> int:
        sent.clear()
        work()
        return len(sent)

    engines = {id(each): each for each in (demo_books._engine, demo_books._reads)}.values()
    for engine in engines:
        event.listen(engine, "before_cursor_execute", note)
    yield count
    for engine in engines:
        event.remove(engine, "before_cursor_execute", note)


def test_the_books_are_asked_as_often_for_many_as_for_few(
    demo_books: Books, asked: Callable[[Callable[[], object]], int]
) -> None:
    def look() -> object:
        return today.look(demo_books, today=START.date())

    listed, looked = asked(lambda: watch(demo_books)), asked(look)
    for order in (20, 19, 18, 17, 16):
        one = Garage(demo_books, order)
        one.send("bore", **sweep(*WITHIN))
        one.send("note", said="Well?", at="bore")
    assert listed == asked(lambda: watch(demo_books)) > 0
    assert looked == asked(look) > 0
    tasks = [task for task in today.look(demo_books, today=START.date()).tasks
             if task.subject.startswith("Fit-up")]  # fmt: skip
    assert len(tasks) == 6
    assert tasks[0].asked == "answer the fitter: “Sweep the bore: Well?”"
    assert tasks[-1].asked == "hear how it went"


# ── a bell's life ────────────────────────────────────────────────────────────────────────


def test_a_bells_life_has_its_fit_ups(demo_books: Books, garage: Garage) -> None:
    garage.send("before", stands=True, battery=True, serial=True, makers=True)
    wrong = garage.send("bore", **sweep(0.3, 0.3))
    garage.send("bore", **{UNDOES: wrong})
    garage.send("bore", **sweep(*OUTSIDE))
    garage.send("note", said="Go on?", at="bore")
    garage.answer("Yes.")
    garage.send("dowels", a_size="0.178 mm", a_clock_deg="241", b_size="plain", b_clock_deg="")
    giving.withdraw(demo_books, garage.link.id, why="phone lost", entry=Entry("Owner", garage.now))
    again = giving.give_for_fit_up(demo_books, garage.number, entry=Entry("Ines", garage.now))
    garage.link = again
    garage.send("result", outcome="failed", why="the disc touches")
    serial = garage.watched.fit_up.serial
    told = [(line.who, line.what, line.detail) for line in bells.view(demo_books, serial).route]
    number = garage.number
    start = told.index(("Ines", f"Fit-up {number} opened", "Sam, new block"))
    assert told[start + 1 :] == [
        ("Ines", f"Fit-up {number}: link given", "until 2026-07-03"),
        ("Ines", f"Fit-up {number}: 2 notes, 1 of the fitter's", ""),
        (
            "Sam",
            f"Done at fit-up {number}",
            (
                "Before you start; Sweep the bore: 14.5 thou TIR, outside; "
                "Turn the dowels: a 0.178 mm, b plain"
            ),
        ),
        ("Owner", f"Fit-up {number}: link withdrawn", "phone lost"),
        ("Ines", f"Fit-up {number}: link given", "until 2026-07-04"),
        ("Sam", f"Fit-up {number} failed", "the disc touches"),
    ]
    times = [line.when for line in bells.view(demo_books, serial).route]
    assert times == sorted(times)


def test_what_the_shop_wrote_down_itself_is_told_too(demo_books: Books) -> None:
    route = bells.view(demo_books, "HC-0003").route
    assert [line.what for line in route[-4:]] == [
        "Fit-up 3 opened",
        "Done at fit-up 3",
        "Fitted",
        "Fit-up 3 succeeded",
    ]
    details = [line.detail for line in route]
    assert (
        "Sweep of the bore: 6.3 thou TIR, outside; Corrected: both dowels changed and turned; "
        "Sweep of the bore: 1.5 thou TIR, within"
    ) in details


# ── the block population ─────────────────────────────────────────────────────────────────


def block_of(books: Books, number: int) -> learning.Sample:
    with books.reading() as connection:
        found = learning.samples(connection, 1)
    return next(each for each in [*found["new"], *found["line-honed"]] if each.fit_up_id == number)


def test_a_sweep_by_phone_is_a_sample_of_its_block(demo_books: Books) -> None:
    """The block that was put into the sweep comes back out, whatever bell was on it.

    Beside the value: the sample turns with its block, and a later sweep changes nothing.
    """
    for order, clock_deg in ((20, 30.0), (19, 120.0)):
        one = Garage(demo_books, order, block="line-honed")
        serial = one.watched.fit_up.serial
        bore = bells.view(demo_books, serial).bore
        assert bore is not None
        assert bore.x_mm is not None
        assert bore.y_mm is not None
        t = math.radians(clock_deg)
        block = Block(0.06 * math.sin(t), 0.06 * math.cos(t))
        swept = (bore.x_mm + block.x_mm, bore.y_mm + block.y_mm)
        wrong = one.send("bore", **sweep(0.3, 0.3))
        one.send("bore", **{UNDOES: wrong})
        one.send("bore", **sweep(*swept, graduation="0.001"))
        sample = block_of(demo_books, one.number)
        assert (sample.x_mm, sample.y_mm) == pytest.approx((block.x_mm, block.y_mm), abs=0.001)
        assert np.hypot(sample.x_mm, sample.y_mm) == pytest.approx(0.06, abs=0.001)
        assert clock_of([sample.x_mm, sample.y_mm]) == pytest.approx(clock_deg, abs=1.5)
        one.send("dowels", a_size="plain", b_size="plain", a_clock_deg="", b_clock_deg="")
        one.send("bore-again", **sweep(*WITHIN))
        assert block_of(demo_books, one.number) == sample


def test_a_sweep_that_was_taken_back_teaches_nothing(demo_books: Books, garage: Garage) -> None:
    key = garage.send("bore", **sweep(*OUTSIDE))
    assert block_of(demo_books, garage.number)
    garage.send("bore", **{UNDOES: key})
    with pytest.raises(StopIteration):
        block_of(demo_books, garage.number)
    with demo_books.reading() as connection:
        states = [step.state for step in fitups.steps_of(connection, garage.number)]
    assert states == ["opened", "measuring", "advice"], "nothing is edited away"


def test_ten_by_phone_take_the_place_of_the_guess(demo_books: Books) -> None:
    assert learning.learned(demo_books, 1) == {}
    for order in (20, 19, 18):
        one = Garage(demo_books, order)
        one.send("bore", **sweep(0.01 * (order - 19), 0.02))
    assert list(learning.learned(demo_books, 1)) == ["new"]
