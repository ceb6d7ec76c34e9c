"""How far a normal process spreads, from ranges, standard deviations or moving ranges.

The constants of control charts are computed, not typed: the mean d2 and standard deviation d3 of
the range of n standard normal values by integrals of its distribution [1]_, and the mean c4 of
their standard deviation.

References
----------
.. [1] Tippett, Biometrika 17 (1925) 364-387: the range of a normal sample.
.. [2] Patnaik, Biometrika 37 (1950) 78-87: a mean range as a scaled chi.
.. [3] Cryer and Ryan, Journal of Quality Technology 22 (1990) 187-192: the variance of the mean
   moving range of independent normal values.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import pi, sqrt
from typing import Final

import numpy as np
from scipy.special import chdtri, ndtr, poch

from kitwright.calc.checks import Floats
from kitwright.errors import InputError

MOST_IN_RANGE: Final = 1000
"""The largest subgroup whose range is looked at."""

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(20)
_REACH: Final = 9.0  # a normal value further out is 1e-19 of all
_PANELS: Final = 24


def c4(n: float) -> float:
    """Mean standard deviation (n - 1 below the sum) of n standard normal values, n above 1.

    >>> round(c4(10), 4)
    0.9727
    """
    return float(sqrt(2 / (n - 1)) * poch((n - 1) / 2, 0.5))


@lru_cache(maxsize=64)
def range_constants(n: int) -> tuple[float, float]:
    """Mean d2 and standard deviation d3 of the range of n standard normal values [1]_.

    >>> [round(constant, 4) for constant in range_constants(5)]
    [2.3259, 0.8641]

    Raises
    ------
    InputError
        n below 2 or above `MOST_IN_RANGE`.
    """
    if not 2 <= n <= MOST_IN_RANGE:
        raise InputError("n", f"{n}", f"a range needs 2 to {MOST_IN_RANGE} values")
    edges = np.linspace(0, 2 * _REACH, _PANELS + 1)
    half = np.diff(edges)[:, None] / 2
    width = (edges[:-1, None] + half * (1 + _NODES)).ravel()
    weights = (half * _WEIGHTS).ravel()
    # Trapezoids in the least value: analytic and gone at both ends, so they converge at once.
    least, step = np.linspace(-_REACH, _REACH, 241, retstep=True)
    density = n * np.exp(-(least**2) / 2) / sqrt(2 * pi) * step
    held = (ndtr(least[:, None] + width) - ndtr(least)[:, None]) ** (n - 1)
    beyond = 1 - density @ held  # chance of a range above each width
    mean = float(weights @ beyond)
    square = float(2 * (weights * width) @ beyond)
    return mean, sqrt(square - mean**2)


@dataclass(frozen=True, kw_only=True)
class Sigma:
    """A standard deviation of a process, and how well it is known.

    `value / sigma` is near `chi(degrees) / sqrt(degrees) / shrink`: exactly so (shrink 1) for a
    standard deviation and a pooled one, by matching mean and variance [2]_ for the others.
    """

    value: float
    degrees: float
    """Degrees of freedom; fractional where they are matched."""
    shrink: float = 1.0

    def interval(self, confidence: float) -> tuple[float, float]:
        """Two-sided interval for the true sigma by chi-square."""
        tail = (1 - confidence) / 2
        squares = self.degrees * (self.value * self.shrink) ** 2
        above, below = chdtri(self.degrees, tail), chdtri(self.degrees, 1 - tail)
        return float(np.sqrt(squares / above)), float(np.sqrt(squares / below))

    @property
    def u95(self) -> float:
        """Expanded uncertainty (k = 2) of the value."""
        return 2 * self.value / sqrt(2 * self.degrees)


def matched(value: float, relative_variance: float) -> Sigma:
    """An unbiased estimate of sigma as a scaled chi with the same mean and variance [2]_."""
    shrink = 1 / sqrt(1 + relative_variance)
    low, high = 1e-3, 1e9  # c4(degrees + 1) rises with the degrees; halve in their logarithm
    for _ in range(80):
        middle = sqrt(low * high)
        low, high = (middle, high) if c4(middle + 1) < shrink else (low, middle)
    return Sigma(value=value, degrees=sqrt(low * high), shrink=shrink)


def from_moving_ranges(values: Floats) -> Sigma:
    """Mean moving range over d2: what values in the order made vary by from one to the next."""
    count = len(values) - 1
    mean = float(np.abs(np.diff(values)).mean())
    # Neighbouring moving ranges share a value: covariance of |a - b| and |b - c| [3]_.
    own = 2 - 4 / pi
    shared = 4 / pi * (sqrt(3) / 2 + pi / 12 - 1)
    variance = (count * own + 2 * (count - 1) * shared) / count**2
    d2 = 2 / sqrt(pi)
    return matched(mean / d2, variance / d2**2)


def overall(values: Floats) -> Sigma:
    """Standard deviation of all values, n - 1 below the sum."""
    return Sigma(value=float(values.std(ddof=1)), degrees=float(len(values) - 1))


def pooled(values: Floats, sizes: Floats) -> Sigma:
    """Pooled within subgroups that follow one another in `values`; sizes may differ.

    A subgroup of one adds nothing.
    """
    counts = sizes.astype(int)
    starts = np.concatenate(([0], np.cumsum(counts)[:-1]))
    means = np.add.reduceat(values, starts) / counts
    squares = float(((values - np.repeat(means, counts)) ** 2).sum())
    degrees = float((counts - 1).sum())
    return Sigma(value=sqrt(squares / degrees), degrees=degrees)


def from_ranges(table: Floats) -> Sigma:
    """Mean range over d2, from equal subgroups in rows."""
    d2, d3 = range_constants(table.shape[1])
    mean = float(np.ptp(table, axis=1).mean())
    return matched(mean / d2, (d3 / d2) ** 2 / len(table))


def from_sigmas(table: Floats) -> Sigma:
    """Mean standard deviation over c4, from equal subgroups in rows."""
    unbias = c4(table.shape[1])
    mean = float(table.std(axis=1, ddof=1).mean())
    return matched(mean / unbias, (1 / unbias**2 - 1) / len(table))
