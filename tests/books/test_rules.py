"""Rules on certified shells: copied, changed and withdrawn by new lines, on both databases."""

from __future__ import annotations

import dataclasses
import threading
from datetime import UTC, date, datetime

import pytest
import sqlalchemy as sa
from sqlalchemy.exc import DatabaseError

from kitwright.books import rules
from kitwright.books.entries import Entry
from kitwright.books.rules import Terms
from kitwright.books.tables import metadata
from kitwright.errors import InputError, MissingError, MoveError

NOW = datetime(2026, 5, 4, 12, tzinfo=UTC)
ENTRY = Entry("Ada", NOW)
TERMS = Terms(
    demands="certified shell",
    spec="class B",
    from_what="from 400 kW, or 11.5 s",
    from_power_kw=400.0,
    source="book 2026, 4.12",
    copied_on=date(2026, 2, 10),
)


@pytest.fixture
def copied(books):
    with books.writing() as c:
        return rules.add_rule(c, "Body", "drag", TERMS, ENTRY)


def test_a_rule_comes_back_as_it_was_copied(books, copied):
    with books.reading() as c:
        [found] = rules.rules(c)
    assert (found.id, found.body, found.use, found.state) == (copied, "Body", "drag", "stands")
    assert found.terms == TERMS
    assert (found.number, found.who, found.recorded, found.why) == (1, "Ada", NOW, None)


def test_a_change_is_a_new_line_and_the_old_one_stays(books, copied):
    sooner = dataclasses.replace(TERMS, from_power_kw=350.0, copied_on=date(2026, 5, 3))
    with books.writing() as c:
        rules.change_rule(c, copied, sooner, ENTRY, why="the new book", seen=1)
    with books.reading() as c:
        assert rules.get_rule(c, copied).terms == sooner
        assert [(line.number, line.terms, line.why) for line in rules.lines(c, copied)] == [
            (2, sooner, "the new book"),
            (1, TERMS, None),
        ]
        assert len(rules.rules(c)) == 1


def test_a_withdrawn_rule_stands_no_more_and_may_stand_again(books, copied):
    with books.writing() as c:
        rules.withdraw_rule(c, copied, ENTRY, why="the class is gone", seen=1)
    with books.reading() as c:
        assert rules.rules(c, standing=True) == []
        assert rules.get_rule(c, copied).state == "withdrawn"
    with books.writing() as c, pytest.raises(MoveError, match="is withdrawn already"):
        rules.withdraw_rule(c, copied, ENTRY, why="again", seen=2)
    with books.writing() as c:
        rules.change_rule(c, copied, TERMS, ENTRY, why="it is back", seen=2)
    with books.reading() as c:
        [found] = rules.rules(c, standing=True)
        assert (found.number, found.terms) == (3, TERMS)


def test_whoever_comes_second_is_told(books, copied):
    with books.writing() as c:
        rules.change_rule(
            c, copied, dataclasses.replace(TERMS, spec="class C"), Entry("Bo", NOW),
            why="new book", seen=1,
        )  # fmt: skip
    for act in (
        lambda c: rules.change_rule(
            c, copied, dataclasses.replace(TERMS, spec="class D"), ENTRY, why="x", seen=1
        ),
        lambda c: rules.withdraw_rule(c, copied, ENTRY, why="x", seen=1),
    ):
        with books.writing() as c, pytest.raises(MoveError) as caught:
            act(c)
        assert caught.value.lines == [
            "Body, drag: was changed by Bo meanwhile; load the page and look again"
        ]
    with books.reading() as c:
        assert len(rules.lines(c, copied)) == 2


def test_of_two_at_once_one_writes(books, copied):
    """Four change line 1 at the same moment: one new line, three told to look again."""
    told, gate = [], threading.Barrier(4)

    def change(name: str) -> None:
        gate.wait()
        try:
            with books.writing() as c:
                rules.change_rule(
                    c, copied, dataclasses.replace(TERMS, spec=name), Entry(name, NOW),
                    why="new book", seen=1,
                )  # fmt: skip
            told.append("kept")
        except MoveError:
            told.append("look again")

    threads = [threading.Thread(target=change, args=(f"n{n}",)) for n in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(told) == ["kept", "look again", "look again", "look again"]
    with books.reading() as c:
        assert [line.number for line in rules.lines(c, copied)] == [2, 1]


@pytest.mark.parametrize("table", ["rule", "rule_line"])
@pytest.mark.parametrize("act", ["update", "delete"])
def test_the_database_itself_keeps_every_line(books, copied, table, act):
    kept = metadata.tables[table]
    statement = kept.delete() if act == "delete" else kept.update().values(id=kept.c.id)
    with pytest.raises(DatabaseError, match="stands"), books.writing() as c:
        c.execute(statement)
    with books.reading() as c:
        assert c.execute(sa.select(sa.func.count()).select_from(kept)).scalar_one() == 1


@pytest.mark.parametrize(
    "changed",
    [
        {"state": "gone"},
        {"demands": "paper"},
        {"number": 0},
        {"number": 2, "why": None},
        {"from_power_kw": -1.0},
        {"source": None},
    ],
)
def test_the_database_itself_refuses_what_cannot_be(books, copied, changed):
    table = metadata.tables["rule_line"]
    line = {
        "rule_id": copied, "number": 2, "state": "stands", "demands": "certified shell",
        "source": "book", "copied_on": date(2026, 1, 1), "why": "because", **ENTRY.line, **changed,
    }  # fmt: skip
    with pytest.raises(DatabaseError), books.writing() as c:
        c.execute(table.insert().values(**line))


def test_a_body_has_one_rule_for_a_use(books, copied):
    with books.writing() as c, pytest.raises(InputError) as caught:
        rules.add_rule(c, "Body", " drag ", TERMS, ENTRY)
    assert caught.value.lines == [
        'use: "drag" has a rule of Body already; change that one, or name the use otherwise'
    ]
    with books.writing() as c:
        rules.add_rule(c, "Body", "circuit", TERMS, ENTRY)
        rules.add_rule(c, "Another", "drag", TERMS, ENTRY)
    with books.reading() as c:
        assert [each.named for each in rules.rules(c)] == [
            "Another, drag",
            "Body, circuit",
            "Body, drag",
        ]


def test_everything_wrong_is_told_at_once_and_nothing_is_kept(books):
    bad = Terms(
        demands="paper",
        source=" ",
        copied_on=date(2026, 5, 6),
        from_power_kw=0.0,
        from_speed_rpm=float("nan"),
    )
    with books.writing() as c, pytest.raises(InputError) as caught:
        rules.add_rule(c, "", "drag\x07", bad, ENTRY)
    assert [problem.where for problem in caught.value.problems] == [
        "use", "body", "demands", "from_power_kw", "from_speed_rpm", "source", "copied_on",
    ]  # fmt: skip
    with books.reading() as c:
        assert rules.rules(c) == []


def test_a_copy_may_be_of_tomorrow_east_of_here_and_no_later(books):
    with books.writing() as c:
        rules.add_rule(c, "B", "u", dataclasses.replace(TERMS, copied_on=date(2026, 5, 5)), ENTRY)
        with pytest.raises(InputError, match="2026-05-06 lies ahead"):
            rules.add_rule(
                c, "B", "v", dataclasses.replace(TERMS, copied_on=date(2026, 5, 6)), ENTRY
            )


@pytest.mark.parametrize("why", ["", "  ", None])
def test_a_change_and_a_withdrawal_need_a_reason(books, copied, why):
    changed = dataclasses.replace(TERMS, spec="class C")
    with books.writing() as c:
        with pytest.raises(InputError, match="why: missing; a changed rule needs a reason"):
            rules.change_rule(c, copied, changed, ENTRY, why=why, seen=1)
        with pytest.raises(InputError, match="why: missing; a withdrawn rule needs a reason"):
            rules.withdraw_rule(c, copied, ENTRY, why=why, seen=1)


def test_a_change_of_nothing_is_refused(books, copied):
    with books.writing() as c, pytest.raises(InputError, match="nothing is changed"):
        rules.change_rule(c, copied, TERMS, ENTRY, why="x", seen=1)


def test_no_such_rule(books):
    with books.writing() as c:
        for act in (
            lambda: rules.get_rule(c, 7),
            lambda: rules.change_rule(c, 7, TERMS, ENTRY, why="x", seen=1),
            lambda: rules.withdraw_rule(c, 7, ENTRY, why="x", seen=1),
        ):
            with pytest.raises(MissingError, match="there is no rule number 7"):
                act()
        assert rules.lines(c, 7) == []
