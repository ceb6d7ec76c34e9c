"""A curve for values that are not normal: Pearson's, by mean, sigma, skewness and kurtosis.

The density's slope is p'/p = -(d x + c1) / (c0 + c1 x + c2 x²), its four numbers given by the four
moments [1]_. Where the quadratic has roots, the curve is a beta, a gamma or a beta of the second
kind between or beyond them; where it has none, it is summed along its whole line. Capability by
the quantiles of such a curve is Clements' method [2]_: from 400 values the distance from the median
to the outer quantile is good to about 10 %, from 100 to about 30 % and rather too short.

References
----------
.. [1] Pearson, Philosophical Transactions of the Royal Society A 216 (1916) 429-457.
.. [2] Clements, Quality Progress 22 (1989) 95-100.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import sqrt
from typing import Final

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import betainc, betaincinv, gammainc, gammaincinv, ndtr, ndtri

from kitwright.calc.checks import Floats
from kitwright.calc.quality.normality import NormalTest, of_scores

LEAST: Final = 100
"""Values needed: with fewer, four moments say little about the tails."""
ENOUGH_P: Final = 0.01
"""The scores of the values must pass as normal with this p."""

_FLAT: Final = 1e-7
_STEPS: Final = 8001

Curve = Callable[[Floats], Floats]


@dataclass(frozen=True, kw_only=True)
class PearsonCurve:
    """A fitted curve, and how well it fits."""

    mean: float
    sigma: float
    side: int
    """-1 where the longer tail is the lower one, and the curve is seen in a mirror."""
    below: Curve
    """Chance below, of standard values seen with the longer tail above."""
    inverse: Curve
    test: NormalTest | None = None
    """Of the values' scores; p takes no account of the fit."""

    def scores(self, x: ArrayLike) -> Floats:
        """The standard normal values with the same chance below; infinite beyond an end."""
        z = self.side * (np.asarray(x, dtype=float) - self.mean) / self.sigma
        return np.asarray(self.side * ndtri(self.below(z)))

    def quantile(self, score: float) -> float:
        """The value whose standard normal score is `score`."""
        z = self.inverse(np.array([ndtr(self.side * score)]))
        return self.mean + self.side * self.sigma * float(z[0])


def fit_pearson(ascending: Floats) -> PearsonCurve | None:
    """The curve with the moments of values in ascending order; None where it does not fit.

    None also for fewer than `LEAST` values.
    """
    if len(ascending) < LEAST:
        return None
    mean, sigma = float(ascending.mean()), float(ascending.std())
    z = (ascending - mean) / sigma
    curve = curve_of(mean, sigma, float((z**3).mean()), float((z**4).mean()))
    if curve is None:
        return None
    # Values just beyond an end of the curve count as its last.
    most = float(ndtri(1 - 0.5 / len(ascending)))
    test = of_scores(curve.scores(ascending).clip(-most, most))
    if test.p < ENOUGH_P:
        return None
    return PearsonCurve(
        mean=mean,
        sigma=sigma,
        side=curve.side,
        below=curve.below,
        inverse=curve.inverse,
        test=test,
    )


def curve_of(mean: float, sigma: float, skewness: float, kurtosis: float) -> PearsonCurve | None:
    """The curve with these moments (a normal law has kurtosis 3); None where there is none."""
    side, skew = (-1 if skewness < 0 else 1), abs(skewness)
    d = 10 * kurtosis - 12 * skew**2 - 18
    c0, c1 = 4 * kurtosis - 3 * skew**2, skew * (kurtosis + 3)
    c2 = 2 * kurtosis - 3 * skew**2 - 6
    if c0 <= 0 or kurtosis <= skew**2 + 1:
        return None
    inside = c1**2 - 4 * c0 * c2
    pair: tuple[Curve, Curve] | None
    if abs(c2) < _FLAT:
        pair = _normal() if skew < _FLAT else _gamma(skew)
    elif c2 < 0:
        pair = _beta(d, c1, c2, sqrt(inside))
    elif inside > 0:
        pair = _beta_of_the_second_kind(d, c1, c2, sqrt(inside))
    else:
        pair = _along_the_line(d, c1, c2, sqrt(-inside))
    if pair is None:
        return None
    return PearsonCurve(mean=mean, sigma=sigma, side=side, below=pair[0], inverse=pair[1])


def _normal() -> tuple[Curve, Curve]:
    return (lambda z: np.asarray(ndtr(z))), (lambda p: np.asarray(ndtri(p)))


def _gamma(skew: float) -> tuple[Curve, Curve]:
    shape = 4 / skew**2

    def below(z: Floats) -> Floats:
        return np.asarray(gammainc(shape, np.maximum(shape + z * sqrt(shape), 0)))

    def inverse(p: Floats) -> Floats:
        return np.asarray((gammaincinv(shape, p) - shape) / sqrt(shape))

    return below, inverse


def _beta(d: float, c1: float, c2: float, root: float) -> tuple[Curve, Curve] | None:
    """Between the roots, one on each side of the mean."""
    start, end = (-c1 + root) / (2 * c2), (-c1 - root) / (2 * c2)
    wide = end - start
    a, b = 1 + (d * start + c1) / (c2 * wide), 1 - (d * end + c1) / (c2 * wide)
    if min(a, b) <= 0:
        return None

    def below(z: Floats) -> Floats:
        return np.asarray(betainc(a, b, ((z - start) / wide).clip(0, 1)))

    def inverse(p: Floats) -> Floats:
        return np.asarray(start + wide * betaincinv(a, b, p))

    return below, inverse


def _beta_of_the_second_kind(
    d: float, c1: float, c2: float, root: float
) -> tuple[Curve, Curve] | None:
    """From the upper of two roots below the mean onward."""
    far, near = (-c1 - root) / (2 * c2), (-c1 + root) / (2 * c2)
    wide = near - far
    at_near, at_far = -(d * near + c1) / (c2 * wide), (d * far + c1) / (c2 * wide)
    a, b = at_near + 1, -at_near - at_far - 1
    if min(a, b) <= 0:
        return None

    def below(z: Floats) -> Floats:
        y = np.maximum((z - near) / wide, 0)
        return np.asarray(betainc(a, b, y / (1 + y)))

    def inverse(p: Floats) -> Floats:
        part = betaincinv(a, b, p)
        return np.asarray(near + wide * part / (1 - part))

    return below, inverse


def _along_the_line(d: float, c1: float, c2: float, root: float) -> tuple[Curve, Curve] | None:
    """No roots: x = middle + wide tan(t), the density in t summed over half a turn."""
    middle, wide = -c1 / (2 * c2), root / (2 * c2)
    power, lean = d / c2 - 2, (c1 + d * middle) / (c2 * wide)
    if power <= 0:
        return None
    t = np.linspace(-np.pi / 2, np.pi / 2, _STEPS)
    with np.errstate(divide="ignore"):
        level = power * np.log(np.cos(t).clip(0)) - lean * t
    density = np.exp(level - level.max())
    sums = np.concatenate(([0.0], np.cumsum((density[1:] + density[:-1]) / 2)))
    shares = sums / sums[-1]
    rising = np.concatenate(([True], np.diff(shares) > 0))

    def below(z: Floats) -> Floats:
        return np.asarray(np.interp(np.arctan((z - middle) / wide), t, shares))

    def inverse(p: Floats) -> Floats:
        return np.asarray(middle + wide * np.tan(np.interp(p, shares[rising], t[rising])))

    return below, inverse
