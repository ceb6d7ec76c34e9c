"""Are values normal? Anderson and Darling's test, mean and sigma taken from the values.

References
----------
.. [1] Anderson and Darling, Journal of the American Statistical Association 49 (1954) 765-769.
.. [2] D'Agostino and Stephens, Goodness-of-Fit Techniques (1986), 4.8: case 3, the statistic for
   any number of values and its p.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, expm1
from typing import Final

import numpy as np
from scipy.special import log_ndtr

from kitwright.calc.checks import Floats

LEAST: Final = 8
"""The formulas for p hold from so many values on [2]_."""

_LARGEST: Final = 10.0  # the formula was fitted below; there p is 4e-24


@dataclass(frozen=True, kw_only=True)
class NormalTest:
    """How badly a normal fits: the statistic, and how often chance alone does worse."""

    statistic: float
    """A² as summed, not adjusted for the number of values."""
    p: float


def anderson_darling(values: Floats) -> NormalTest:
    """The test of values in any order, 8 or more that vary [1]_ [2]_."""
    return of_scores(np.sort(values - values.mean()) / values.std(ddof=1))


def of_scores(scores: Floats) -> NormalTest:
    """The test of ascending values with mean 0 and sigma 1."""
    n = len(scores)
    weights = np.arange(1, 2 * n, 2, dtype=float)
    sums = weights @ log_ndtr(scores) + weights[::-1] @ log_ndtr(-scores)
    statistic = -n - float(sums) / n
    return NormalTest(statistic=statistic, p=_chance(statistic * (1 + 0.75 / n + 2.25 / n**2)))


def _chance(adjusted: float) -> float:
    a = min(adjusted, _LARGEST)
    if a >= 0.6:
        return exp(1.2937 - 5.709 * a + 0.0186 * a * a)
    if a > 0.34:
        return exp(0.9177 - 4.279 * a - 1.38 * a * a)
    if a > 0.2:
        return -expm1(-8.318 + 42.796 * a - 59.938 * a * a)
    return -expm1(-13.436 + 101.14 * a - 223.73 * a * a)
