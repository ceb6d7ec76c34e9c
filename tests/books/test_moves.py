"""Every state of a bell against every kind of decision, on both databases."""

from __future__ import annotations

import doctest
from pathlib import Path

import pytest

from kitwright.books import decisions, entries, moves, standing
from kitwright.books.verifying import verify
from kitwright.errors import MissingError, MoveError

# Written out from the workshop's rules, apart from the table in the code (common practice, no
# source): state → {decision: state after it}.
LIFE = {
    "made": {"release": "released", "hold": "held", "reject": "rejected"},
    "held": {"remeasure": "made", "concede": "released", "reject": "rejected"},
    "rejected": {"rework": "made", "concede": "released", "scrap": "scrapped"},
    "released": {"allocate": "allocated", "withdraw": "withdrawn"},
    "allocated": {"free": "released", "ship": "shipped", "withdraw": "withdrawn"},
    "shipped": {"fit": "fitted", "return": "returned", "withdraw": "withdrawn"},
    "fitted": {"return": "returned", "withdraw": "withdrawn"},
    "returned": {"hold": "held"},
    "withdrawn": {"hold": "held", "scrap": "scrapped"},
    "scrapped": {},
}
KINDS = sorted({kind for after in LIFE.values() for kind in after})


def test_the_table_is_the_rules():
    assert set(moves.BELL.states) == set(LIFE)
    assert sorted(moves.BELL.kinds) == KINDS
    for state, allowed in LIFE.items():
        assert set(moves.BELL.allowed(state)) == set(allowed)


@pytest.mark.parametrize("state", LIFE)
@pytest.mark.parametrize("kind", KINDS)
def test_after(state, kind):
    if kind in LIFE[state]:
        assert moves.after(state, kind) == LIFE[state][kind]
        return
    with pytest.raises(MoveError) as refused:
        moves.after(state, kind)
    assert f"it is {state}" in str(refused.value)
    for allowed in LIFE[state]:
        assert allowed in str(refused.value)


def test_the_page_of_the_books_says_the_same():
    """docs/books.md: a row a decision, under "A bell's life"."""
    page = Path(__file__).parents[2] / "docs" / "books.md"
    life = page.read_text("utf-8").split("## A bell's life")[1].split("##")[0]
    told = {}
    for line in life.splitlines():
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        if len(cells) == 4 and cells[0] in KINDS:
            told[cells[0]] = (set(cells[1].split(", ")), cells[2], "reason" in cells[3])
    assert told == {
        move.kind: (set(move.starts), move.ends, move.kind in moves.NEED_REASON)
        for move in moves.BELL.table
    }


def test_a_kind_alone_says_the_state():
    """What the view of the bells stands on."""
    for course in (moves.BELL, moves.REVISION, moves.BATCH, moves.ORDER, moves.FIT_UP):
        assert len(course.ends) == len(course.table)


def test_every_state_has_a_place_and_every_way_ends_at_one():
    assert set(moves.PLACES) == set(moves.BELL.states)
    for kind, (sources, to) in moves.CARRIES.items():
        assert to in moves.PLACES[moves.BELL.ends[kind]]
        assert all((source, to) in moves.ROUTES["bell"] for source in sources)


@pytest.mark.parametrize("state", LIFE)
def test_the_books_allow_these_and_no_others(workshop, state):
    """Each decision is tried on a bell in this state; a refusal leaves nothing."""
    serial = workshop.serials[0]
    workshop.bring(serial, state)
    assert workshop.state(serial) == state
    order_id = workshop.order()
    for kind in KINDS:
        outcome = None
        try:
            with workshop.books.writing() as c:
                decisions.decide(
                    c,
                    serial,
                    kind,
                    workshop.entry(),
                    order_id=order_id,
                    why="to see",
                    inspection_id=workshop.inspect_in(c, serial),
                )
                outcome = standing.one(c, serial)
                raise _UndoneError  # so that every kind meets the same state
        except MoveError as refused:
            assert kind not in LIFE[state], refused
            assert state in str(refused)
            assert serial in str(refused)
        except _UndoneError:
            assert outcome.state == LIFE[state][kind]
            assert outcome.place_name in moves.PLACES[outcome.state]
            assert outcome.place.name == moves.CARRIES.get(kind, (None, outcome.place_name))[1]
        else:
            pytest.fail(f"{kind} neither kept nor refused")
        assert workshop.state(serial) == state
    assert verify(workshop.books) == []


@pytest.mark.parametrize("module", [moves, entries])
def test_examples_in_the_docstrings(module):
    told = doctest.testmod(module)
    assert told.attempted
    assert not told.failed


class _UndoneError(Exception):
    """Ends a transaction that is to leave nothing."""


def test_what_is_no_decision_and_no_bell(workshop):
    serial = workshop.serials[0]
    with workshop.books.writing() as c:
        with pytest.raises(MoveError, match='"sell" is refused, it is made, and "sell" is no move'):
            decisions.decide(c, serial, "sell", workshop.entry())
        for nothing in ("", "K-9", "K\0", "K\ud800", "'", "K-010001 "):
            with pytest.raises(MissingError, match="there is no bell of this serial"):
                standing.one(c, nothing)


def test_a_bell_must_be_where_the_decision_finds_it(workshop):
    """A withdrawn bell that a customer still has is not held before it is home."""
    serial = workshop.serials[0]
    workshop.bring(serial, "shipped")
    workshop.decide(serial, "withdraw", why="porous")
    with pytest.raises(MoveError, match="bring it there first: machinist or shelf"):
        workshop.decide(serial, "hold")
    (serial, *_) = workshop.make(1, back=False)
    order_id = workshop.order()
    with workshop.books.writing() as c:
        workshop.release_in(c, serial)
        decisions.decide(c, serial, "allocate", workshop.entry(), order_id=order_id)
        with pytest.raises(MoveError, match=r"it is at machinist \d+; bring it there first: shelf"):
            decisions.decide(c, serial, "ship", workshop.entry())
