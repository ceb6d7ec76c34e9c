"""The promise worksheet: what the day rests on, in words and figures, and bad cases."""

from __future__ import annotations

import datetime

import pytest

from kitwright.errors import InputError
from kitwright.worksheets.declaration import load
from kitwright.worksheets.reading import from_toml, read
from kitwright.worksheets.supply.promise_case import PromiseCase

TODAY = "2026-05-04"
BATCH = {"name": "B-05", "due": "2026-05-18", "count": 12, "days_late": [0, 3, 5, 2, 9]}
YIELD = [{"made": 50, "good": 43}, {"made": 24, "good": 22}]


def solved(**given):
    return load("promise").solve(read(PromiseCase, {"today": TODAY, **given}))


def test_a_free_bell_is_promised_today_and_says_so():
    answer = solved(ahead=1, on_shelf=2)
    assert (answer.day, answer.chance) == (datetime.date(2026, 5, 4), 1.0)
    assert answer.rests_on[0].what.startswith("2 free bells on the shelf, 1 order before")
    assert [(each.source, each.chance) for each in answer.brings] == [("the shelf", 1.0)]
    assert load("promise").say(answer, "mm") == "Promise 2026-05-04; it holds with 100 %."


def test_a_batch_is_promised_later_than_it_is_due_as_that_machinist_comes_late():
    answer = solved(ahead=2, batches=[BATCH], yield_history=YIELD)
    assert answer.day > datetime.date(2026, 5, 18)
    punctual = solved(ahead=2, batches=[{**BATCH, "days_late": [0] * 40}], yield_history=YIELD)
    assert punctual.day < answer.day
    assert answer.chance >= 0.9
    assert answer.slowest == "the bell"
    told = " ".join(each.what for each in answer.rests_on)
    assert "3 good bells still to come" in told
    assert "5 batches of this machinist came 4 days late, on average" in told


@pytest.mark.parametrize(
    ("overdue", "told"),
    [
        ([30], "on average, and another of his is overdue"),
        ([30, 4], "on average, and 2 others of his are overdue"),
    ],
)
def test_his_other_batches_that_are_overdue_make_a_machinist_later(overdue, told):
    plain = solved(ahead=2, batches=[BATCH], yield_history=YIELD)
    later = solved(ahead=2, batches=[{**BATCH, "others_overdue": overdue}], yield_history=YIELD)
    assert later.day > plain.day + datetime.timedelta(days=7)
    assert told in " ".join(each.what for each in later.rests_on)


def test_a_batch_that_is_back_is_there_once_it_is_inspected():
    """Nothing of a machinist's lateness is in it, nor told of it."""
    back = {**BATCH, "due": "2026-04-20", "back": True, "days_to_inspect": 2}
    answer = solved(ahead=2, batches=[back], yield_history=YIELD)
    assert answer.day == datetime.date(2026, 5, 6)
    told = " ".join(each.what for each in answer.rests_on)
    assert "12 bells back already" in told
    assert "2 days to inspect them" in told
    assert "machinist" not in told + " ".join(answer.assumed)


def test_a_batch_that_will_hardly_be_needed_is_not_told():
    first = {**BATCH, "count": 400}
    second = {**BATCH, "name": "B-06", "due": "2026-06-18"}
    told = " ".join(
        each.what for each in solved(ahead=2, batches=[first, second], yield_history=YIELD).rests_on
    )
    assert "batch B-05, 400 bells" in told
    assert "B-06" not in told


def test_what_is_thought_of_a_machinist_is_assumed_unless_every_batch_is_back():
    back = {**BATCH, "due": "2026-04-20", "back": True}
    coming = {**BATCH, "name": "B-06"}
    words = "before anything is known of a machinist"
    assert words in " ".join(solved(ahead=2, batches=[back, coming]).assumed)
    assert words not in " ".join(solved(ahead=2, batches=[back]).assumed)


def test_what_batches_came_late_by_is_told_as_it_was():
    told = solved(ahead=2, batches=[{**BATCH, "days_late": [0]}], yield_history=YIELD).rests_on
    assert any(
        "1 batch of this machinist came on the day, on average" in each.what for each in told
    )


def test_more_bells_than_can_be_reckoned_with_are_refused():
    many = [{**BATCH, "name": f"B-{n}", "count": 5000} for n in range(5)]
    with pytest.raises(InputError, match="batches: 25000 bells in all; give 20000 at most"):
        solved(ahead=2, batches=many, yield_history=YIELD)


def test_the_last_bells_of_a_batch_are_less_sure_than_its_first():
    first = solved(ahead=0, batches=[BATCH], yield_history=YIELD)
    late = solved(ahead=10, batches=[BATCH], yield_history=YIELD)
    assert first.chance_good == late.chance_good
    assert {row.source: row.chance for row in first.brings}["B-05"] > 0.999
    assert {row.source: row.chance for row in late.brings}["B-05"] < 0.7
    assert late.day is None
    assert "promise none until a batch is planned" in load("promise").say(late, "mm")


def test_a_second_batch_takes_up_what_the_first_lacks():
    second = {**BATCH, "name": "B-06", "due": "2026-06-15", "count": 24}
    answer = solved(ahead=10, batches=[second, BATCH], yield_history=YIELD)
    assert answer.day > datetime.date(2026, 6, 15)
    assert sum(row.chance for row in answer.brings) == pytest.approx(1, abs=1e-6)


def test_a_part_that_is_short_is_named():
    part = {"name": "flywheel", "least": 20, "likely": 30, "most": 60}
    answer = solved(on_shelf=1, parts_short=[part])
    assert answer.slowest == "flywheel"
    assert answer.parts_day == answer.day
    assert answer.bell_day == datetime.date(2026, 5, 4)


def test_days_and_chances_rise_together():
    rows = load("promise").solve(read(PromiseCase, from_toml(load("promise").example))).days
    assert [row.day for row in rows] == sorted({row.day for row in rows})
    assert [row.chance for row in rows] == sorted(row.chance for row in rows)


def test_nothing_known_is_said():
    told = " ".join(solved(ahead=0, batches=[{**BATCH, "days_late": []}]).assumed)
    for words in ("3 days late, give or take 7", "all bells of a batch may be good or none",
                  "every other part of the kit is here", "chance: 90%"):  # fmt: skip
        assert words in told


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"today": "4 May"}, "today: .*is not a day"),
        ({"ahead": -1}, "ahead"),
        ({"chance": 1.0}, "chance"),
        ({"batches": [{**BATCH, "count": 0}]}, "batches.*count"),
        ({"yield_history": [{"made": 5, "good": 6}]}, "good"),
        (
            {"parts_short": [{"name": "x", "least": 5, "likely": 2, "most": 9}]},
            r"parts_short\[0\]: 5, 2, 9; give least, likely and most in that order",
        ),
    ],
)
def test_cases_that_cannot_be_used_say_what_to_do(given, words):
    with pytest.raises(InputError, match=words):
        solved(**{"batches": [BATCH], **given})
