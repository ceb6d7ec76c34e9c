"""Ranking by ratios: a textbook's example, and what must hold whatever the figures."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from kitwright.calc.shell.ranking import Criterion, Ranking, rank
from kitwright.errors import InputError

# E. Triantaphyllou, Multi-Criteria Decision Making Methods: A Comparative Study (2000), ch. 2:
# three alternatives, four criteria, more is better; ratios 1.007, 1.067, 1.059. From memory.
WEIGHTS = (0.20, 0.15, 0.40, 0.25)
ALTERNATIVES = ((25, 20, 15, 30), (10, 30, 20, 30), (30, 10, 30, 10))


def textbook(weights=WEIGHTS, alternatives=ALTERNATIVES) -> Ranking:
    return rank(
        [
            Criterion(name=f"c{n}", weight=weight, better="more", values=values)
            for n, (weight, values) in enumerate(
                zip(weights, zip(*alternatives, strict=True), strict=True)
            )
        ]
    )


def test_the_textbooks_example() -> None:
    found = textbook()
    assert found.order == (0, 1, 2)
    a, b, c = found.scores
    assert a / b == pytest.approx(1.007, abs=5e-4)
    assert a / c == pytest.approx(1.067, abs=5e-4)
    assert b / c == pytest.approx(1.059, abs=5e-4)


def figures(count: int):
    return st.lists(
        st.tuples(
            st.floats(0, 10),
            st.sampled_from(["less", "more"]),
            st.lists(st.floats(0.01, 1e4), min_size=count, max_size=count),
        ),
        min_size=1,
        max_size=4,
    ).filter(lambda rows: sum(weight for weight, _, _ in rows) > 1e-3)


def made(rows) -> list[Criterion]:
    return [
        Criterion(name=f"c{n}", weight=weight, better=better, values=tuple(values))
        for n, (weight, better, values) in enumerate(rows)
    ]


def value(rows, design: int, weights=None) -> float:
    """Our own sum of logs, another way round than the code's."""
    return sum(
        (row[0] if weights is None else weights[n])
        * math.log(row[2][design])
        * (1 if row[1] == "more" else -1)
        for n, row in enumerate(rows)
    )


@given(rows=figures(4))
def test_scores_are_products_and_the_order_is_theirs(rows) -> None:
    found = rank(made(rows))
    total = sum(weight for weight, _, _ in rows)
    for design in range(4):
        factors = found.times_best[design] ** -found.shares
        assert found.scores[design] == pytest.approx(float(np.prod(factors)))
        apart = (value(rows, design) - value(rows, found.order[0])) / total
        assert found.scores[design] / found.scores[found.order[0]] == pytest.approx(
            math.exp(apart), rel=1e-9
        )
        assert apart <= 1e-9
    assert np.all(found.times_best >= 1)
    assert np.all(found.times_best.min(axis=0) == 1)


@given(rows=figures(4), out=st.integers(1, 3), scale=st.floats(0.01, 100))
def test_units_and_the_others_on_the_list_change_nothing(rows, out: int, scale: float) -> None:
    """No order between two depends on a third, nor on the unit of a figure."""
    found = rank(made(rows))
    loser = found.order[out]
    shorter = [(w, b, [v * scale for n, v in enumerate(vs) if n != loser]) for w, b, vs in rows]
    kept = [n for n in range(4) if n != loser]
    again = [kept[n] for n in rank(made(shorter)).order]
    before = [n for n in found.order if n != loser]
    for one, other in zip(again, before, strict=True):
        assert value(rows, one) == pytest.approx(value(rows, other), abs=1e-8)


@given(rows=figures(3))
def test_beyond_a_turn_another_comes_first_and_before_it_none(rows) -> None:
    found = rank(made(rows))
    first = found.order[0]
    weights = [weight for weight, _, _ in rows]
    for column, turn in enumerate(found.turns):
        for level, rival, way in (
            (turn.below, turn.below_first, -1),
            (turn.above, turn.above_first, 1),
        ):
            beyond = list(weights)
            if level is None:
                beyond[column] = 0.0 if way < 0 else 1e4
                lead = value(rows, first, beyond)
                assert all(lead >= value(rows, n, beyond) - 1e-6 for n in range(3))
                continue
            assume(level < 1e4)
            step = 1e-3 * max(1.0, level)
            beyond[column] = level + way * step
            if beyond[column] >= 0:
                assert value(rows, rival, beyond) >= value(rows, first, beyond) - 1e-9
            inside = list(weights)
            inside[column] = (level + weights[column]) / 2
            lead = value(rows, first, inside)
            assert all(lead >= value(rows, n, inside) - 1e-6 for n in range(3))


@given(rows=figures(3), signs=st.lists(st.sampled_from([-1, 1]), min_size=4, max_size=4))
def test_within_the_room_no_weights_put_another_first(rows, signs) -> None:
    found = rank(made(rows))
    first, room = found.order[0], found.room
    assert room is not None
    assert 0 <= room <= 1
    moved = [row[0] * (1 + room * sign) for row, sign in zip(rows, signs, strict=False)]
    assert all(value(rows, first, moved) >= value(rows, n, moved) - 1e-6 for n in range(3))


def test_the_room_is_where_a_rival_draws_level() -> None:
    """By hand: twice as good in one figure, half as good in the other: level at equal weights, so
    weights 3 and 1 may both move by a half."""
    rows = [(3.0, "more", [2.0, 1.0]), (1.0, "more", [1.0, 2.0])]
    found = rank(made(rows))
    assert found.order == (0, 1)
    assert found.room == pytest.approx(0.5)
    first, second = found.turns
    assert (first.below, first.below_first, first.above) == (pytest.approx(1), 1, None)
    assert (second.above, second.above_first, second.below) == (pytest.approx(3), 1, None)


def test_better_in_all_leaves_all_room_and_equals_none() -> None:
    assert rank(made([(1, "less", [1.0, 2.0]), (1, "more", [2.0, 1.0])])).room == 1
    level = rank(made([(1, "less", [1.0, 2.0]), (1, "less", [2.0, 1.0])]))
    assert level.room == 0
    assert level.order == (0, 1)
    assert rank(made([(1, "less", [3.0])])).room is None


@pytest.mark.parametrize(
    ("make", "line"),
    [
        (lambda: rank([]), "figures: for [] designs; give one for each design"),
        (
            lambda: rank(made([(1, "less", []), (1, "less", [])])),
            "figures: for [0] designs; give one for each design",
        ),
        (
            lambda: rank(made([(1, "less", [1.0]), (1, "less", [1.0, 2.0])])),
            "figures: for [1, 2] designs; give one for each design",
        ),
        (lambda: rank(made([(0, "less", [1.0])])), "weights: all are zero; give one above zero"),
        (
            lambda: rank(made([(1, "less", [0.0])])),
            "c0: 0 is not above zero; give more than zero",
        ),
        (
            lambda: rank(made([(-1, "less", [1.0])])),
            "c0 weight: -1 is negative; give zero or more",
        ),
    ],
)
def test_what_cannot_be_ranked_is_refused(make, line: str) -> None:
    with pytest.raises(InputError) as caught:
        make()
    assert caught.value.lines == [line]
