"""Assignment: against every permutation, SciPy's own optimum, and the proof by prices."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import linear_sum_assignment, linprog

from kitwright.calc.centring import assignment
from kitwright.calc.centring.assignment import Assignment, assign
from kitwright.errors import FaultError, InputError


def sizes(most: int) -> st.SearchStrategy[tuple[int, int]]:
    return st.tuples(st.integers(1, most), st.integers(1, most))


@st.composite
def matrices(draw: st.DrawFn, most: int = 6) -> np.ndarray:
    """Costs of few values, so that many choices tie, or of many."""
    rows, columns = draw(sizes(most))
    values = draw(st.sampled_from([st.integers(-3, 3), st.floats(-100, 100)]))
    cells = draw(st.lists(values, min_size=rows * columns, max_size=rows * columns))
    return np.array(cells, dtype=float).reshape(rows, columns)


def choices(shape: tuple[int, int]) -> list[tuple[list[int], list[int]]]:
    """Every way to make as many pairs as there can be."""
    n, m = shape
    if n <= m:
        return [(list(range(n)), list(each)) for each in itertools.permutations(range(m), n)]
    return [(list(each), list(range(m))) for each in itertools.permutations(range(n), m)]


def check_proof(cost: np.ndarray, found: Assignment) -> None:
    """Linear programming's conditions, written out here once more."""
    n, m = cost.shape
    near = 1e-12 * (1 + np.abs(cost).max()) * (n + m)
    assert len(found.rows) == len(found.columns) == min(n, m)
    assert len(set(found.rows.tolist())) == len(set(found.columns.tolist())) == min(n, m)
    above = cost - found.row_prices[:, None] - found.column_prices
    assert above.min() >= -near
    assert np.abs(above[found.rows, found.columns]).max() <= near
    if n < m:  # a column that may stay empty is never paid for, and is free when it stays so
        left = np.setdiff1d(np.arange(m), found.columns)
        assert found.column_prices.max() - found.column_prices[left].min() <= near
    assert found.cost == pytest.approx(cost[found.rows, found.columns].sum(), abs=near)
    assert abs(found.gap) <= near


# ── against every permutation ────────────────────────────────────────────────────────────


@given(cost=matrices())
def test_no_permutation_costs_less(cost: np.ndarray) -> None:
    found = assign(cost)
    least = min(cost[rows, columns].sum() for rows, columns in choices(cost.shape))
    assert found.cost == pytest.approx(least, abs=1e-9)
    check_proof(cost, found)


@given(data=st.data())
def test_of_those_that_tie_the_second_cost_is_least(data: st.DataObject) -> None:
    cost = data.draw(matrices(5))
    cells = st.lists(st.floats(0, 9), min_size=cost.size, max_size=cost.size)
    second = np.array(data.draw(cells)).reshape(cost.shape)
    found = assign(cost, second)
    totals = [
        (cost[rows, columns].sum(), second[rows, columns].sum())
        for rows, columns in choices(cost.shape)
    ]
    least = min(total for total, _ in totals)
    tied = min(other for total, other in totals if total <= least + 1e-10)
    assert found.cost == pytest.approx(least, abs=1e-9)
    assert second[found.rows, found.columns].sum() == pytest.approx(tied, abs=1e-9)


def test_a_wider_tie_lets_the_second_cost_decide() -> None:
    cost, second = [[0.0, 0.1], [0.1, 0.0]], [[5.0, 1.0], [1.0, 5.0]]
    assert assign(cost, second).columns.tolist() == [0, 1]
    assert assign(cost, second, tie=0.2).columns.tolist() == [1, 0]


# ── against other programs and known values ──────────────────────────────────────────────


@pytest.mark.parametrize("shape", [(40, 40), (25, 60), (60, 25), (1, 30), (30, 1)])
def test_scipys_optimum_and_the_linear_programme(shape: tuple[int, int]) -> None:
    """SciPy's linear_sum_assignment, and HiGHS on the same problem as a linear programme."""
    cost = np.random.default_rng(17).normal(0, 3, shape)
    found = assign(cost)
    rows, columns = linear_sum_assignment(cost)
    assert found.cost == pytest.approx(cost[rows, columns].sum(), rel=1e-12)
    assert (found.rows.tolist(), found.columns.tolist()) == (rows.tolist(), columns.tolist())
    n, m = shape
    each_row = np.kron(np.eye(n), np.ones(m))
    each_column = np.kron(np.ones(n), np.eye(m))
    short, long = (each_row, each_column) if n <= m else (each_column, each_row)
    programme = linprog(
        cost.ravel(), A_ub=long, b_ub=np.ones(len(long)), A_eq=short, b_eq=np.ones(len(short))
    )
    assert found.cost == pytest.approx(programme.fun, rel=1e-9)
    check_proof(cost, found)


def test_kuhns_ratings() -> None:
    """Kuhn, Naval Research Logistics Quarterly 2 (1955): four persons rated for four jobs.

    The ratings are from memory; their best total, 27, is the greatest of all 24 ways.
    """
    ratings = np.array([[8, 7, 9, 9], [5, 2, 7, 8], [6, 1, 4, 9], [2, 3, 2, 6]])
    assert max(ratings[rows, columns].sum() for rows, columns in choices((4, 4))) == 27
    assert -assign(-ratings).cost == 27


# ── what it does with the unit, the order, the extremes ──────────────────────────────────


@given(cost=matrices(), seed=st.integers(0, 99), factor=st.sampled_from([1e-9, 0.5, 1e6]))
def test_order_and_scale_change_nothing(cost: np.ndarray, seed: int, factor: float) -> None:
    rng = np.random.default_rng(seed)
    rows, columns = rng.permutation(cost.shape[0]), rng.permutation(cost.shape[1])
    shuffled = cost[rows][:, columns] * factor
    near = 1e-9 * factor
    assert assign(shuffled).cost == pytest.approx(assign(cost).cost * factor, abs=near)
    assert assign(cost.T).cost == pytest.approx(assign(cost).cost, abs=1e-9)


def test_costs_of_every_magnitude() -> None:
    cost = 10.0 ** np.random.default_rng(3).uniform(-300, 0, (30, 30))
    check_proof(cost, assign(cost))
    check_proof(np.zeros((5, 7)), assign(np.zeros((5, 7))))


def test_a_false_optimum_is_a_fault(monkeypatch: pytest.MonkeyPatch) -> None:
    """The run-time proof refuses pairs that are not the best, whoever chose them."""
    cost = np.array([[1.0, 2.0], [5.0, 3.0]])
    monkeypatch.setattr(
        assignment, "linear_sum_assignment", lambda given: (np.arange(2), np.array([1, 0]))
    )
    with pytest.raises(FaultError, match="less than its prices"):
        assign(cost)


@pytest.mark.parametrize(
    ("cost", "second", "line"),
    [
        ([], None, "cost: shape (0,); give a row each and a column each"),
        ([1.0], None, "cost: shape (1,); give a row each and a column each"),
        ([[np.inf]], None, "cost: a cost is not finite; give finite costs"),
        ([[1.0]], [[1.0, 2.0]], "second: shape (1, 2); give (1, 1)"),
        ([[1.0]], [[np.nan]], "second: a cost is not finite; give finite costs"),
    ],
)
def test_bad_costs_are_refused(cost: object, second: object, line: str) -> None:
    with pytest.raises(InputError) as caught:
        assign(cost, second)  # type: ignore[arg-type]
    assert caught.value.lines == [line]
