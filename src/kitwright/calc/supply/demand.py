"""How many kits will be asked for: a law learned from how many were asked for before.

Counts of equal periods. Where they scatter no more than a Poisson law does, the rate is learned
with Jeffreys' prior, and what comes follows a negative binomial law [1]_. Where they scatter more
(the index of dispersion, chi-square [2]_), a negative binomial law is fitted by what makes the
counts most likely.

References
----------
.. [1] Gelman and others, Bayesian Data Analysis, 3rd ed. (2013), section 2.6.
.. [2] Cochran, Biometrics 10 (1954) 417-451.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal, Protocol

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import minimize_scalar
from scipy.special import gammaincc, gammaln

from kitwright.calc.checks import Floats, positive
from kitwright.errors import InputError

OVER_DISPERSED_BELOW: Final = 0.05
_LEAST_PERIODS: Final = 2
_MOST_SIZE: Final = 1e4


@dataclass(frozen=True, kw_only=True)
class Demand:
    """What was learned: kits a period, and how they scatter.

    `size` is the negative binomial's over one period (variance = mean + mean²/size), None where
    the counts scatter as a Poisson law; `chance_poisson` is the p-value of the test.
    """

    rate: float
    periods: int
    total: int
    size: float | None
    index: float | None
    """Index of dispersion: variance over mean; None where it cannot be told."""
    chance_poisson: float | None

    @property
    def kind(self) -> Literal["Poisson", "over-dispersed"]:
        return "Poisson" if self.size is None else "over-dispersed"

    def law(self, periods: float, most: int) -> Floats:
        """Chance of 0, 1, ... `most` kits over so many periods (not a whole number as needed)."""
        return self._law(periods, most, more=0.0)

    def before_a_kit(self, periods: float, most: int) -> Floats:
        """The same as a kit finds it that is asked for at the end: the kits before it.

        A kit is asked for sooner where many are, so it finds more than `law` tells: the gamma law
        behind the negative binomial has one more in its shape, be it of a rate that is not known
        or of orders that come several at once.
        """
        return self._law(periods, most, more=1.0)

    def _law(self, periods: float, most: int, *, more: float) -> Floats:
        length = positive(periods, where="periods")
        if self.size is None:
            return _negative_binomial(0.5 + self.total + more, length / self.periods, most)
        return _negative_binomial(self.size * length + more, self.rate / self.size, most)

    def mean(self, periods: float) -> float:
        """Kits expected over so many periods."""
        if self.size is None:
            return (0.5 + self.total) / self.periods * periods
        return self.rate * periods


class Asked(Protocol):
    """Demand whose law over a stretch of time can be asked for, learned or known."""

    def law(self, periods: float, most: int) -> Floats: ...

    def before_a_kit(self, periods: float, most: int) -> Floats: ...

    def mean(self, periods: float) -> float: ...


@dataclass(frozen=True, kw_only=True)
class KnownRate:
    """Kits asked for one by one at a rate that is taken as known: a Poisson law."""

    rate: float

    def law(self, periods: float, most: int) -> Floats:
        """Chance of 0, 1, ... `most` kits over so many periods."""
        mean = self.rate * positive(periods, where="periods")
        k = np.arange(most + 1)
        return np.asarray(np.exp(k * np.log(mean) - mean - gammaln(k + 1)) if mean else k == 0.0)

    def before_a_kit(self, periods: float, most: int) -> Floats:
        """The same: kits that come apart from each other tell nothing of each other."""
        return self.law(periods, most)

    def mean(self, periods: float) -> float:
        return self.rate * periods


def learn_demand(counts: ArrayLike) -> Demand:
    """The law of demand from kits asked for in equal periods, the newest with the oldest.

    Raises
    ------
    InputError
        No period, or a count that is not a whole number from zero.
    """
    x = np.asarray(counts, dtype=float).reshape(-1)
    if not len(x):
        raise InputError("history", "no period", "give the kits asked for in each period")
    if not np.isfinite(x).all() or (x < 0).any() or (x != np.round(x)).any():
        raise InputError("history", "a count that is none", "give whole numbers from zero")
    total, n = int(x.sum()), len(x)
    rate = total / n
    index = chance = size = None
    if n >= _LEAST_PERIODS and total:
        index = float(x.var(ddof=1) / rate)
        chance = float(gammaincc((n - 1) / 2, index * (n - 1) / 2))
        if chance < OVER_DISPERSED_BELOW:
            size = _most_likely_size(x, rate)
    return Demand(rate=rate, periods=n, total=total, size=size, index=index, chance_poisson=chance)


def _most_likely_size(x: Floats, rate: float) -> float | None:
    def less(log_size: float) -> float:
        size = np.exp(log_size)
        terms = gammaln(x + size) - gammaln(size) + x * np.log(rate / (rate + size))
        return -float((terms + size * np.log(size / (rate + size))).sum())

    top = float(np.log(_MOST_SIZE))
    found = minimize_scalar(less, bounds=(-7.0, top), method="bounded", options={"xatol": 1e-10})
    return None if found.x > top - 1e-3 else float(np.exp(found.x))


def _negative_binomial(size: float, scale: float, most: int) -> Floats:
    """Poisson counts whose rate is a gamma draw of this shape and scale, 0 to `most`."""
    k = np.arange(most + 1)
    log = (
        gammaln(k + size)
        - gammaln(size)
        - gammaln(k + 1)
        + k * np.log(scale / (1 + scale))
        - size * np.log1p(scale)
    )
    return np.asarray(np.exp(log))


def over_lead_time(
    demand: Asked, lead: Floats, per_period: float, most: int, *, before_a_kit: bool = False
) -> Floats:
    """The law of demand over a lead time that is itself uncertain.

    Parameters
    ----------
    lead : shape (days,), the chance of each whole number of days, from 0
    per_period : days in one of the demand's periods
    most : the last count of the law
    before_a_kit : as a kit finds it that is asked for at the end of the lead time
    """
    of = demand.before_a_kit if before_a_kit else demand.law
    law = np.zeros(most + 1)
    for days, chance in enumerate(lead):
        if chance <= 0:
            continue
        if days == 0:
            law[0] += chance
        else:
            law += chance * of(days / per_period, most)
    return law / float(np.sum(lead))
