"""A curve for values that are not normal: Johnson's, fitted by four of their quantiles.

A Johnson curve turns values into a standard normal score, z = gamma + delta f((x - xi)/lam), with
f = asinh (unbounded), log(y/(1-y)) (bounded both ways) or log (bounded on one side). The four
quantiles at -3c, -c, c and 3c decide which, and give the four numbers in closed form [1]_; of
several c the one is kept whose scores are most nearly normal [2]_. A curve is good for quantiles
near those that values have shown; chances far out in its tail are not to be trusted, and none is
given.

References
----------
.. [1] Slifker and Shapiro, Technometrics 22 (1980) 239-246.
.. [2] Chou, Polansky and Mason, Journal of Quality Technology 30 (1998) 133-141.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import acosh, asinh, log, sqrt
from typing import Final, Literal

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr

from kitwright.calc.checks import Floats
from kitwright.calc.quality.normality import NormalTest, of_scores

LEAST: Final = 50
"""Values needed: with fewer, four quantiles say little about the tails."""
ENOUGH_P: Final = 0.05
"""The scores must pass as normal with this p."""

_TRIED: Final = np.linspace(0.3, 1.2, 19)
_LOOKED_AT: Final = 2001  # quantiles that stand for the values while c is chosen
_LOG_NORMAL: Final = 0.02  # m n / p² so near 1 is the log-normal between the two others


@dataclass(frozen=True, kw_only=True)
class JohnsonCurve:
    """A fitted curve, and how normal its scores are.

    `sign` is -1 where the log-normal's bound is above the values.
    """

    kind: Literal["unbounded", "bounded", "log-normal"]
    gamma: float
    delta: float
    xi: float
    lam: float
    sign: int = 1
    test: NormalTest

    def scores(self, x: ArrayLike) -> Floats:
        """Standard normal scores; infinite beyond a bound."""
        return _scores(self.kind, self.gamma, self.delta, self.xi, self.lam, self.sign, x)

    def quantile(self, score: float) -> float:
        """The value whose standard normal score is `score`."""
        y = (score * self.sign - self.gamma) / self.delta
        if self.kind == "unbounded":
            return self.xi + self.lam * float(np.sinh(y))
        if self.kind == "bounded":
            return self.xi + self.lam / (1 + float(np.exp(-y)))
        return self.xi + self.sign * float(np.exp(y))


def fit_johnson(ascending: Floats) -> JohnsonCurve | None:
    """The best curve for values in ascending order; None where none passes as normal.

    None also for fewer than `LEAST` values. The test's p takes no account of the fit, as in [2]_.
    """
    n = len(ascending)
    if n < LEAST:
        return None
    looked_at = ascending
    if n > _LOOKED_AT:
        looked_at = ascending[np.linspace(0, n - 1, _LOOKED_AT).round().astype(int)]
    best, least = None, np.inf
    for curve in _candidates(ascending):
        scores = _scores(*curve, looked_at)
        if np.isfinite(scores).all():
            statistic = of_scores(scores).statistic
            if statistic < least:
                best, least = curve, statistic
    if best is None:
        return None
    scores = _scores(*best, ascending)
    if not np.isfinite(scores).all():
        return None
    test = of_scores(scores)
    if test.p < ENOUGH_P:
        return None
    kind, gamma, delta, xi, lam, sign = best
    return JohnsonCurve(kind=kind, gamma=gamma, delta=delta, xi=xi, lam=lam, sign=sign, test=test)


_Numbers = tuple[Literal["unbounded", "bounded", "log-normal"], float, float, float, float, int]


def _candidates(ascending: Floats) -> Iterator[_Numbers]:
    """A curve for each c that gives one [1]_."""
    places = ndtr(np.multiply.outer(_TRIED, [-3.0, -1.0, 1.0, 3.0])) * len(ascending) - 0.5
    quantiles = np.interp(places, np.arange(len(ascending)), ascending)
    for c, (x1, x2, x3, x4) in zip(_TRIED.tolist(), quantiles.tolist(), strict=True):
        m, n, p = x4 - x3, x2 - x1, x3 - x2
        if min(m, n, p) <= 0:
            continue
        up, down, middle = m / p, n / p, (x2 + x3) / 2
        ratio = up * down
        skew = (n - m) / p
        if abs(ratio - 1) <= _LOG_NORMAL:
            # One-sided: fitted with the bound below, seen in a mirror where it is above.
            sign = 1 if up > 1 else -1
            step = up if sign > 0 else down
            if step > 1:
                delta = 2 * c / log(step)
                gamma = delta * log((step - 1) / (p * sqrt(step)))
                xi = middle - sign * p / 2 * (step + 1) / (step - 1)
                yield "log-normal", gamma, delta, xi, 1.0, sign
        elif ratio > 1:
            half = (up + down) / 2
            delta = 2 * c / acosh(half)
            gamma = delta * asinh(skew / (2 * sqrt(ratio - 1)))
            lam = 2 * p * sqrt(ratio - 1) / ((up + down - 2) * sqrt(up + down + 2))
            yield "unbounded", gamma, delta, middle + p * skew / (2 * (up + down - 2)), lam, 1
        else:
            wide, narrow = p / m, p / n
            half = sqrt((1 + wide) * (1 + narrow)) / 2
            delta = c / acosh(half)
            root = sqrt((1 + wide) * (1 + narrow) - 4)
            bend = narrow - wide
            gamma = delta * asinh(bend * root / (2 * (wide * narrow - 1)))
            lam = p * sqrt(((1 + wide) * (1 + narrow) - 2) ** 2 - 4) / (wide * narrow - 1)
            yield (
                "bounded",
                gamma,
                delta,
                middle - lam / 2 + p * bend / (2 * (wide * narrow - 1)),
                lam,
                1,
            )


def _scores(
    kind: str, gamma: float, delta: float, xi: float, lam: float, sign: int, x: ArrayLike
) -> Floats:
    y = sign * (np.asarray(x, dtype=float) - xi) / lam
    with np.errstate(divide="ignore", invalid="ignore"):
        if kind == "unbounded":
            turned = np.arcsinh(y)
        elif kind == "bounded":
            inside = y.clip(0, 1)
            turned = np.log(inside) - np.log1p(-inside)
        else:
            turned = np.log(y.clip(0))
    return np.asarray(sign * (gamma + delta * turned))
