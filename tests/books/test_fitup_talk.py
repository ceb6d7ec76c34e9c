"""Notes and records of a fit-up: kept once however often they are sent, undone by new lines."""

from __future__ import annotations

import itertools
import threading
from datetime import UTC, datetime

import pytest

from kitwright.books import decisions, fitup_talk, fitups, links
from kitwright.books.verifying import verify
from kitwright.errors import InputError, MissingError, MoveError


@pytest.fixture
def fit_up(workshop):
    workshop.bring(workshop.serials[0], "shipped")
    return workshop.fit_up(workshop.serials[0])


@pytest.fixture
def other(workshop):
    workshop.bring(workshop.serials[1], "shipped")
    return workshop.fit_up(workshop.serials[1])


def record(c, workshop, fit_up, key, stage="bell bolts", **more):
    said = more.pop("said", {"done": True})
    return fitup_talk.add_record(
        c, fit_up, stage, said, send_key=key, entry=workshop.entry("F."), **more
    )


def test_both_sides_write_notes_in_order(workshop, fit_up, other):
    with workshop.books.writing() as c:
        for side, said, key in (("fitter", "it binds", "k1"), ("shop", "back it off", "k2")):
            fitup_talk.add_note(c, fit_up, side, said, send_key=key, entry=workshop.entry(side))
        fitup_talk.add_note(c, other, "fitter", "all well", send_key="k3", entry=workshop.entry())
        notes = fitup_talk.notes_of(c, fit_up)
        assert [(note.side, note.said) for note in notes] == [
            ("fitter", "it binds"),
            ("shop", "back it off"),
        ]
        newest = fitup_talk.newest_notes(c)
    assert {number: note.said for number, note in newest.items()} == {
        fit_up: "back it off",
        other: "all well",
    }


def test_what_is_sent_twice_is_kept_once(workshop, fit_up):
    with workshop.books.writing() as c:
        first = fitup_talk.add_note(
            c, fit_up, "fitter", "it binds", send_key="k", entry=workshop.entry()
        )
        again = fitup_talk.add_note(
            c, fit_up, "fitter", "it binds", send_key="k", entry=workshop.entry()
        )
        assert again == first
        kept = record(c, workshop, fit_up, "r")
        assert record(c, workshop, fit_up, "r", said={"done": False}) == kept
        assert len(fitup_talk.all_records_of(c, fit_up)) == 1


def test_what_is_sent_twice_at_once_is_kept_once(workshop, fit_up):
    """Two requests under one key, each in a transaction of its own, started together."""
    entry = workshop.entry()
    together = threading.Barrier(2)
    kept, failed = [], []

    def send():
        together.wait()
        try:
            with workshop.books.writing() as c:
                note = fitup_talk.add_note(
                    c, fit_up, "fitter", "it binds", send_key="k", entry=entry
                )
                kept.append(note.id)
        except Exception as error:  # noqa: BLE001 - told to the test's own thread
            failed.append(error)

    threads = [threading.Thread(target=send) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not failed
    assert len(set(kept)) == 1
    with workshop.books.reading() as c:
        assert len(fitup_talk.notes_of(c, fit_up)) == 1


def test_a_key_is_one_fit_ups_alone(workshop, fit_up, other):
    with workshop.books.writing() as c:
        record(c, workshop, fit_up, "k")
        with pytest.raises(InputError, match="send_key: another fit-up sent with it"):
            record(c, workshop, other, "k")
        fitup_talk.add_note(c, fit_up, "shop", "hello", send_key="n", entry=workshop.entry())
        with pytest.raises(InputError, match="send_key: another fit-up sent with it"):
            fitup_talk.add_note(c, other, "shop", "hello", send_key="n", entry=workshop.entry())


def test_undoing_is_a_new_line(workshop, fit_up, other):
    with workshop.books.writing() as c:
        first = record(c, workshop, fit_up, "r1", said={"torque": "40 N m"})
        second = record(c, workshop, fit_up, "r2", said={"torque": "45 N m"})
        undo = record(c, workshop, fit_up, "r3", said={}, undoes=first.id)
        assert [each.id for each in fitup_talk.records_of(c, fit_up)] == [second.id]
        assert [each.id for each in fitup_talk.all_records_of(c, fit_up)] == [
            first.id,
            second.id,
            undo.id,
        ]
        with pytest.raises(MoveError, match="it is undone already"):
            record(c, workshop, fit_up, "r4", undoes=first.id)
        with pytest.raises(MissingError, match="has no record"):
            record(c, workshop, other, "r5", undoes=second.id)
        with pytest.raises(MissingError, match="of that stage"):
            record(c, workshop, fit_up, "r6", stage="clutch", undoes=second.id)
        assert len(fitup_talk.all_records_of(c, fit_up)) == 3
    assert verify(workshop.books) == []


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"said": {"x": float("nan")}}, "said: cannot be kept"),
        ({"worksheet": "sweep"}, "its name or its answer is missing"),
        ({"stage": " "}, "stage: missing"),
    ],
)
def test_a_record_that_cannot_be_kept_leaves_nothing(workshop, fit_up, more, words):
    with workshop.books.writing() as c:
        with pytest.raises(InputError, match=words):
            record(c, workshop, fit_up, "k", **more)
        assert fitup_talk.all_records_of(c, fit_up) == []


def test_a_note_says_something_by_somebody(workshop, fit_up):
    with workshop.books.writing() as c:
        for side, said, words in (("fitter", " ", "note: missing"), ("buyer", "x", "side: ")):
            with pytest.raises(InputError, match=words):
                fitup_talk.add_note(c, fit_up, side, said, send_key="k", entry=workshop.entry())
        assert fitup_talk.notes_of(c, fit_up) == []


def test_many_at_once_are_what_each_alone_is(workshop, fit_up, other):
    """Every reader for several fit-ups against the one for a single fit-up, on both databases."""
    later = datetime(2027, 5, 1, tzinfo=UTC)
    with workshop.books.writing() as c:
        for number, key in ((fit_up, "a"), (other, "b")):
            first = record(c, workshop, number, f"{key}1")
            record(c, workshop, number, f"{key}2", said={}, undoes=first.id)
            fitup_talk.add_note(
                c, number, "fitter", key, send_key=f"{key}3", entry=workshop.entry()
            )
            links.open_for_fit_up(c, number, expires=later, entry=workshop.entry())
        fitups.take_step(c, other, "measuring", workshop.entry())
        both = [fit_up, other]
        for many, one in (
            (fitups.steps_of_many, fitups.steps_of),
            (fitup_talk.all_records_of_many, fitup_talk.all_records_of),
            (fitup_talk.notes_of_many, fitup_talk.notes_of),
            (links.of_fit_ups, links.of_fit_up),
        ):
            assert many(c, both) == {number: one(c, number) for number in both}
            assert many(c, [other]) == {other: one(c, other)}
            assert many(c, []) == {}
        assert fitups.newest_steps(c, both) == {
            number: fitups.steps_of(c, number)[-1] for number in both
        }
        every = fitup_talk.all_records_of(c, fit_up)
        assert fitup_talk.standing(every) == fitup_talk.records_of(c, fit_up) == []


def test_the_mark_of_all_moves_with_every_kind_of_line(workshop, fit_up, other):
    marks = []
    with workshop.books.writing() as c:
        marks.append(fitup_talk.newest_of_all(c))
        record(c, workshop, fit_up, "k")
        marks.append(fitup_talk.newest_of_all(c))
        fitup_talk.add_note(c, other, "shop", "hello", send_key="n", entry=workshop.entry())
        marks.append(fitup_talk.newest_of_all(c))
        fitups.take_step(c, other, "measuring", workshop.entry())
        marks.append(fitup_talk.newest_of_all(c))
        decisions.decide(c, workshop.serials[0], "return", workshop.entry(), why="came home")
        marks.append(fitup_talk.newest_of_all(c))
        assert fitup_talk.newest_of_all(c) == marks[-1]
    assert len(set(marks)) == len(marks)
    assert all(
        earlier <= later
        for before, after in itertools.pairwise(marks)
        for earlier, later in zip(before, after, strict=True)
    )
