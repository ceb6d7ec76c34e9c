"""How late one machinist's batches come, by those that came and those that have not yet."""

from __future__ import annotations

from dataclasses import dataclass
from math import log, sqrt
from typing import Final

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import log_ndtr, ndtr, stdtr

from kitwright.calc.checks import Floats, positive
from kitwright.errors import InputError


@dataclass(frozen=True, kw_only=True)
class Lateness:
    """How late batches of one machinist come, learned from those that came: a t law in days.

    From a normal law of unknown mean and spread with a conjugate prior, which counts as
    `PRIOR_COUNT` batches; the next batch follows a Student law [1]_.

    .. [1] Gelman and others, Bayesian Data Analysis, 3rd ed. (2013), section 3.3.
    """

    mean: float
    scale: float
    freedom: float
    count: int
    """Batches it was learned from."""

    def by(self, late: Floats) -> Floats:
        """Chance that a batch is no later than this many days after it is due."""
        return np.asarray(stdtr(self.freedom, (late - self.mean) / self.scale))


PRIOR_MEAN: Final = 3.0
PRIOR_SPREAD: Final = 7.0
PRIOR_COUNT: Final = 2.0
"""Before anything is known: some days late, a week either way (common practice, no source)."""


@dataclass(frozen=True, kw_only=True)
class LatenessHeld:
    """The same where batches are overdue and have not come: normal laws, each with its weight."""

    means: Floats
    spreads: Floats
    weights: Floats

    @property
    def scale(self) -> float:
        """Days that it spreads by, as the mean of its laws."""
        return float(self.weights @ self.spreads)

    def by(self, late: Floats) -> Floats:
        """Chance that a batch is no later than this many days after it is due."""
        z = (np.asarray(late, dtype=float)[..., None] - self.means) / self.spreads
        return np.asarray(ndtr(z) @ self.weights)


def lateness(
    days_late: ArrayLike,
    *,
    prior_mean: float = PRIOR_MEAN,
    prior_spread: float = PRIOR_SPREAD,
    prior_count: float = PRIOR_COUNT,
) -> Lateness:
    """How late the next batch will be, from how late the earlier ones were.

    Parameters
    ----------
    days_late : shape (n,), n from 0
        Days from due to back; early ones are negative.
    prior_mean, prior_spread : days, before anything was seen
    prior_count : how many batches that counts as
    """
    seen = np.asarray(days_late, dtype=float).reshape(-1)
    if not np.isfinite(seen).all():
        raise InputError("days_late", "a number that is not finite", "give whole days")
    k0 = positive(prior_count, where="prior_count")
    spread = positive(prior_spread, where="prior_spread")
    n = len(seen)
    mean = float(seen.mean()) if n else 0.0
    freedom = k0 + n
    k = k0 + n
    centre = (k0 * prior_mean + n * mean) / k
    squares = (
        k0 * spread**2 + float(((seen - mean) ** 2).sum()) + k0 * n / k * (mean - prior_mean) ** 2
    )
    scale = sqrt(squares / freedom * (1 + 1 / k))
    return Lateness(mean=centre, scale=scale, freedom=freedom, count=n)


_OFF: Final = np.arange(-8, 24.01, 0.5)
"""Where the mean is looked for, in its own standard deviations; what is overdue only moves it up.
A sum over so even a grid is exact to nine figures for a bell-shaped law."""
_STEP: Final = 0.12
"""The most by which the logarithm of the spread is stepped; less where the spread is well known."""
_LEFT_OUT: Final = 1e-8


def with_overdue(late: Lateness, overdue: ArrayLike) -> Lateness | LatenessHeld:
    """The same law, taught also by batches that are overdue and not back.

    The law of mean and spread, weighed by each batch's chance to come later than it has; that has
    no closed form, so it stands on a grid over the logarithm of the spread and, at each, over the
    mean [1]_.

    Parameters
    ----------
    late : as `lateness` learned it
    overdue : shape (m,), m from 0
        Days past due of batches that are not back.

    .. [1] Gelman and others, Bayesian Data Analysis, 3rd ed. (2013), section 8.7 (censored data).
    """
    waited = np.asarray(overdue, dtype=float).reshape(-1)
    if not (np.isfinite(waited).all() and (waited >= 0).all()):
        raise InputError("overdue", "a number below zero or not finite", "give days past due")
    if not len(waited):
        return late
    later_than = waited - 0.5
    known = late.freedom  # the prior's count and the batches', of the mean as of the spread
    usual = late.scale / sqrt(1 + 1 / known)
    widest = max(usual, float(later_than.max()) - late.mean)
    step = min(_STEP, 0.5 / sqrt(2 * known))
    spread = np.exp(np.arange(log(usual / 6), log(100 * widest), step))[:, None]
    mean = late.mean + _OFF * spread / sqrt(known)
    weight = -known * np.log(spread) - (known * (usual / spread) ** 2 + _OFF**2) / 2
    weight = weight + log_ndtr((mean[..., None] - later_than) / spread[..., None]).sum(axis=-1)
    weight = np.exp(weight - weight.max())
    kept = weight > _LEFT_OUT
    return LatenessHeld(
        means=mean[kept],
        spreads=np.broadcast_to(spread, mean.shape)[kept],
        weights=weight[kept] / weight[kept].sum(),
    )
