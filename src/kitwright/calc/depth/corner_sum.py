"""The sum of a few even spreads, exactly: a piecewise polynomial with its knots at the corners.

For the sum S of m values, each even over [-a_j, a_j],

    P(S > x) = 1 / (m! prod 2 a_j)  sum over all signs  (prod of the signs) (corner - x)_+^m,

a corner being the sum of the half-widths with their signs; equal half-widths gather into binomial
coefficients. The terms alternate and cancel, so they are whole numbers here: nothing is rounded
until the end, and the smallest chance keeps its figures.

References
----------
.. [1] W. Feller, An Introduction to Probability Theory and Its Applications II (1971), I.9, for
   equal widths (Irwin 1927 and Hall 1927, Biometrika 19); unequal ones follow in the same way.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from fractions import Fraction


def corners(halves: Sequence[float]) -> int:
    """How many different corners there are at most: the terms of the sum."""
    return math.prod(count + 1 for count in Counter(halves).values())


def chance_above(x: float, halves: Sequence[float]) -> float:
    """P(S > x) for the sum of values even over [-a, a], one for each a of `halves`, all above zero.

    Examples
    --------
    >>> chance_above(1.5, [0.5] * 4)  # four even over a width of 1: 0.5^4/4! at 1.5 of 2
    0.0026041666666666665
    """
    # Floats are whole numbers over powers of two: over one such power they are all whole.
    ratios = [Fraction(value) for value in (x, *halves)]
    unit = max(ratio.denominator for ratio in ratios)
    at, *wholes = (int(ratio * unit) for ratio in ratios)
    count = len(wholes)
    total = sum(
        weight * (corner - at) ** count
        for corner, weight in _weighted_corners(wholes).items()
        if corner > at
    )
    return float(Fraction(total, math.factorial(count) * math.prod(2 * whole for whole in wholes)))


def _weighted_corners(halves: Sequence[int]) -> dict[int, int]:
    """Corner → the sum of its products of signs."""
    found = {0: 1}
    for half, count in Counter(halves).items():
        steps = [
            ((count - 2 * down) * half, (-1) ** down * math.comb(count, down))
            for down in range(count + 1)
        ]
        spread: dict[int, int] = {}
        for corner, weight in found.items():
            for step, factor in steps:
                spread[corner + step] = spread.get(corner + step, 0) + weight * factor
        found = spread
    return found
