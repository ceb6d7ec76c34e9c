"""Rows to columns, each at most once, at least total cost, with the proof that none costs less.

The proof is a set of prices, one a row and one a column, that nowhere add up to more than the
cost of a pair and add up to it on every pair chosen. Whatever else is chosen then costs at least
the sum of all prices, which is the cost of what was chosen: linear programming's duality.

References
----------
.. [1] Kuhn, The Hungarian method for the assignment problem, Naval Research Logistics Quarterly 2
   (1955) 83-97: prices as the proof.
.. [2] Crouse, On implementing 2D rectangular assignment algorithms, IEEE Transactions on Aerospace
   and Electronic Systems 52 (2016) 1679-1696: the algorithm, as SciPy has it.
.. [3] Bellman, On a routing problem, Quarterly of Applied Mathematics 16 (1958) 87-90: the prices
   from the pairs chosen.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import linear_sum_assignment

from kitwright.calc.checks import Floats
from kitwright.errors import FaultError, InputError

Indices = NDArray[np.intp]


@dataclass(frozen=True, kw_only=True, eq=False)
class Assignment:
    """The pairs chosen, and the prices that prove them best.

    With n rows and m columns there are k = min(n, m) pairs.
    """

    rows: Indices
    """(k,) rising."""
    columns: Indices
    """(k,) the column of each row."""
    row_prices: Floats
    """(n,)"""
    column_prices: Floats
    """(m,)"""
    cost: float
    """Total cost of the pairs."""
    bound: float
    """Sum of all prices: no choice of k pairs costs less, to rounding."""

    @property
    def gap(self) -> float:
        """What a better choice could still save: no more than this, and only by rounding."""
        return self.cost - self.bound


def assign(cost: ArrayLike, second: ArrayLike | None = None, *, tie: float = 0.0) -> Assignment:
    """Choose min(n, m) pairs at least total cost [1]_ [2]_; of those that tie, at least `second`.

    Parameters
    ----------
    cost, second : shape (n, m), finite; any unit each
    tie : a pair this far from the best counts as tied with it; rounding always does

    Raises
    ------
    InputError
        Not a matrix, or a cost that is not finite.
    FaultError
        The prices do not prove the pairs: a fault of ours.

    Notes
    -----
    With prices u and v, a choice costs the sum of all prices plus what its pairs stand above
    theirs, c - u - v. So the choices that tie are those made of pairs that stand no higher than
    `tie`, and the second cost is minimised among them; the total is then k `tie` from least at
    most. Where n and m differ, the shorter side is filled up with places that cost nothing.

    Examples
    --------
    >>> best = assign([[4, 1, 3], [2, 0, 5], [3, 2, 2]])
    >>> best.columns.tolist(), best.cost, best.gap
    ([1, 0, 2], 5.0, 0.0)
    """
    given = _matrix(cost, "cost")
    n, m = given.shape
    square = _squared(given)
    best = _least(square)
    near = max(tie, _rounding(square))
    chosen = best.chosen
    if second is not None:
        other = _matrix(second, "second")
        if other.shape != given.shape:
            raise InputError("second", f"shape {other.shape}", f"give {given.shape}")
        tied = best.above <= near
        if np.count_nonzero(tied) > len(square):
            _, chosen = linear_sum_assignment(np.where(tied, _squared(other), np.inf))
    rows = np.flatnonzero(chosen[:n] < m)
    columns = chosen[rows]
    total = float(given[rows, columns].sum())
    if not abs(total - best.bound) <= len(square) * 2 * near:
        raise FaultError(f"assignment: costs {total:g}, and its prices add up to {best.bound:g}")
    return Assignment(
        rows=rows,
        columns=columns,
        row_prices=best.row_prices[:n],
        column_prices=best.column_prices[:m],
        cost=total,
        bound=best.bound,
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class _Square:
    """Every row of a square matrix with its column, and the proof."""

    chosen: Indices
    row_prices: Floats
    column_prices: Floats
    above: Floats
    """(n, n) how far each pair stands above its prices."""

    @property
    def bound(self) -> float:
        return float(self.row_prices.sum() + self.column_prices.sum())


def _least(cost: Floats) -> _Square:
    """The least assignment of a square matrix.

    Moving a row from its own column to another's changes the cost by their difference. The
    columns' prices are the shortest ways over such moves; there are such only where no round trip
    saves anything [3]_.
    """
    rows, chosen = linear_sum_assignment(cost)
    own = cost[rows, chosen]
    moves = cost[:, chosen] - own[:, None]
    near = _rounding(cost)
    way, changed = np.zeros(len(rows)), rows
    for _ in range(len(rows)):
        shorter = (way[changed, None] + moves[changed]).min(axis=0)
        changed = np.flatnonzero(shorter < way - near / 4)
        if not len(changed):
            break
        way[changed] = shorter[changed]
    column_prices = np.empty(len(rows))
    column_prices[chosen] = way
    row_prices = own - way
    above = cost - row_prices[:, None] - column_prices
    below = -float(above.min())
    if not below <= near:
        raise FaultError(f"assignment: a pair costs {below:g} less than its prices")
    return _Square(
        chosen=chosen,
        row_prices=row_prices,
        column_prices=column_prices,
        above=above,
    )


def _rounding(cost: Floats) -> float:
    """How far sums of these costs may be off by rounding alone."""
    largest = float(np.abs(cost).max())
    return 4 * len(cost) * float(np.finfo(float).eps) * max(largest, float(np.finfo(float).tiny))


def _matrix(given: ArrayLike, where: str) -> Floats:
    matrix = np.asarray(given, dtype=float)
    if matrix.ndim != 2 or not matrix.size:
        raise InputError(where, f"shape {matrix.shape}", "give a row each and a column each")
    if not np.isfinite(matrix).all():
        raise InputError(where, "a cost is not finite", "give finite costs")
    return matrix


def _squared(matrix: Floats) -> Floats:
    """Filled up with rows or columns of nothing, which whoever is left over takes."""
    n, m = matrix.shape
    if n == m:
        return matrix
    square = np.zeros((max(n, m), max(n, m)))
    square[:n, :m] = matrix
    return square
