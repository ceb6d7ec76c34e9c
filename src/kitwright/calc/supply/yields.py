"""How many of a batch will be good: a beta-binomial law learned from the batches before.

The share good differs from batch to batch by more than chance; it is a draw from a beta law, and
what is good of a batch then follows the beta-binomial [1]_. Two batches or fewer cannot show that,
nor batches that differ no more than chance: there one share is learned for all. And no few batches
show that each is all good or all bad, which is what is most likely where some were: the law is
never wider about its mean than the prior of a share of which nothing is known.

References
----------
.. [1] Skellam, Journal of the Royal Statistical Society B 10 (1948) 257-261.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.optimize import minimize
from scipy.special import betaln, gammaln

from kitwright.calc.checks import Floats
from kitwright.errors import InputError

JEFFREYS: Final = 0.5
"""Both numbers of the prior of a share of which nothing is known (Jeffreys)."""
_MOST: Final = 1e6  # beyond it a beta law is one share for all
_LEAST_SIZE: Final = 2 * JEFFREYS
_LEAST_BATCHES: Final = 3


@dataclass(frozen=True, kw_only=True)
class YieldLaw:
    """The beta law of a batch's share good, and from how many batches and bells it was learned."""

    a: float
    b: float
    batches: int
    bells: int

    @property
    def mean(self) -> float:
        return self.a / (self.a + self.b)

    def good(self, count: int) -> Floats:
        """Chance of 0, 1, ... `count` good bells out of a batch of `count`."""
        k = np.arange(count + 1)
        choose = gammaln(count + 1) - gammaln(k + 1) - gammaln(count - k + 1)
        chance = np.exp(choose + betaln(k + self.a, count - k + self.b) - betaln(self.a, self.b))
        return np.asarray(chance / chance.sum())


def learn_yield(good: list[int], made: list[int]) -> YieldLaw:
    """The law of the next batch's share good, from batches of `made` bells of which `good` were.

    Raises
    ------
    InputError
        The two differ in length, or more are good than were made.
    """
    if len(good) != len(made):
        raise InputError("good", f"{len(good)} of {len(made)} batches", "give one a batch")
    for each, of in zip(good, made, strict=True):
        if not 0 <= each <= of:
            raise InputError("good", f"{each} of {of}", "give from none to all of them")
    k, n = np.array(good, dtype=float), np.array(made, dtype=float)
    pooled = YieldLaw(
        a=JEFFREYS + float(k.sum()),
        b=JEFFREYS + float((n - k).sum()),
        batches=len(made),
        bells=int(n.sum()),
    )
    if len(made) < _LEAST_BATCHES or not 0 < k.sum() < n.sum():
        return pooled
    fitted = _most_likely(k, n)
    if fitted is None:
        return pooled
    return YieldLaw(a=fitted[0], b=fitted[1], batches=len(made), bells=int(n.sum()))


def _most_likely(k: Floats, n: Floats) -> tuple[float, float] | None:
    """The beta law that makes what was seen most likely, of those with a + b of `_LEAST_SIZE` or
    more; None where one share for all does."""
    share = float(k.sum() / n.sum())

    def less(at: Floats) -> float:
        mean, size = 1 / (1 + np.exp(-at[0])), max(np.exp(at[1]), _LEAST_SIZE)
        a, b = mean * size, (1 - mean) * size
        return -float((betaln(k + a, n - k + b) - betaln(a, b)).sum())

    best = None
    for size in (3.0, 30.0, 300.0):
        start = np.array([np.log(share / (1 - share)), np.log(size)])
        found = minimize(less, start, method="Nelder-Mead", options={"xatol": 1e-8, "fatol": 1e-10})
        if best is None or found.fun < best.fun:
            best = found
    assert best is not None
    one = -float((k * np.log(share) + (n - k) * np.log1p(-share)).sum())
    size = max(float(np.exp(best.x[1])), _LEAST_SIZE)
    if best.fun > one - 1e-6 or size > _MOST:
        return None
    mean = float(1 / (1 + np.exp(-best.x[0])))
    return mean * size, (1 - mean) * size
